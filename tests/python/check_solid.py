"""Looks at a solid with general-purpose libraries: trimesh (triangles) and the kernel inside gmsh (STEP).

Usage: check_solid.py TRIANGLES_FILE EXPECTED_VOLUME_MM3 [STEP_FILE]
Prints one line a finding; exit status 0 when all hold, 1 when one does not, 3 when a library is missing.
"""

import sys

# The share by which volumes may differ: issue 5 asks for 0.1 %.
VOLUME_TOLERANCE = 1e-3


def tell(name: str, holds: bool, detail: str) -> bool:
    print(f"{'holds' if holds else 'FAILS'}: {name}: {detail}")
    return holds


def check_triangles(path: str, expected_mm3: float) -> bool:
    import trimesh

    mesh = trimesh.load(path, force="mesh", process=True)
    ratio = mesh.volume / expected_mm3
    return all(
        [
            tell("watertight", bool(mesh.is_watertight), f"{len(mesh.faces)} triangles"),
            tell("windings agree", bool(mesh.is_winding_consistent), ""),
            tell("one body", mesh.body_count == 1, f"{mesh.body_count}"),
            tell("volume", abs(ratio - 1) < VOLUME_TOLERANCE, f"{mesh.volume:.1f} mm3, {100 * (ratio - 1):+.4f} %"),
        ]
    )


def check_step(path: str, expected_mm3: float) -> bool:
    import gmsh

    gmsh.initialize()
    gmsh.option.setNumber("General.Verbosity", 1)
    gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
    # Nothing may be sewn or mended on reading: the file itself must be a solid.
    for option in ("OCCFixDegenerated", "OCCFixSmallEdges", "OCCFixSmallFaces", "OCCSewFaces", "OCCMakeSolids"):
        gmsh.option.setNumber(f"Geometry.{option}", 0)
    try:
        gmsh.model.occ.importShapes(path)
        gmsh.model.occ.synchronize()
        solids = gmsh.model.getEntities(3)
        faces = gmsh.model.getEntities(2)
        good = tell("one solid in the STEP file", len(solids) == 1, f"{len(solids)} solids, {len(faces)} faces")
        if good:
            volume = gmsh.model.occ.getMass(3, solids[0][1])
            ratio = volume / expected_mm3
            good = tell("STEP volume", abs(ratio - 1) < VOLUME_TOLERANCE, f"{volume:.1f} mm3, {100 * (ratio - 1):+.4f} %")
            boundary = gmsh.model.getBoundary(faces, combined=True, oriented=False)
            good &= tell("STEP shell is closed", not boundary, f"{len(boundary)} open edges")
    finally:
        gmsh.finalize()
    return good


def main() -> int:
    expected = float(sys.argv[2])
    try:
        good = check_triangles(sys.argv[1], expected)
        if len(sys.argv) > 3:
            good &= check_step(sys.argv[3], expected)
    except ImportError as missing:
        print(f"missing: {missing}")
        return 3
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
