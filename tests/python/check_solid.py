"""Looks at the files of `bladeform solid` with general-purpose libraries.

Triangles with trimesh; STEP with gmsh and, for the validity check of the kernel itself, with OCP (both are built on
Open CASCADE, so they are two readers but one kernel); DXF with ezdxf; SVG with the standard library.

Usage: check_solid.py --volume MM3 [--triangles FILE]... [--step FILE]... [--dxf FILE]... [--svg FILE]...
Prints one line a finding; exit status 0 when all hold, 1 when one does not, 3 when a library is missing.
"""

import argparse
import sys
import xml.etree.ElementTree

# The share by which volumes may differ: 0.1 %.
VOLUME_TOLERANCE = 1e-3


def tell(name: str, holds: bool, detail: str) -> bool:
    print(f"{'holds' if holds else 'FAILS'}: {name}: {detail}")
    return holds


def volume_agrees(name: str, volume: float, expected_mm3: float) -> bool:
    ratio = volume / expected_mm3
    return tell(name, abs(ratio - 1) < VOLUME_TOLERANCE, f"{volume:.1f} mm3, {100 * (ratio - 1):+.4f} %")


def check_triangles(path: str, expected_mm3: float) -> bool:
    import trimesh

    # Corners with the same coordinates are made one: an STL file has no other way to say so.
    mesh = trimesh.load(path, force="mesh", process=True)
    return all(
        [
            tell(f"{path} watertight", bool(mesh.is_watertight), f"{len(mesh.faces)} triangles"),
            tell("windings agree", bool(mesh.is_winding_consistent), ""),
            tell("encloses a volume", bool(mesh.is_volume), ""),
            tell("one body", mesh.body_count == 1, f"{mesh.body_count}"),
            tell("a closed body without handles", mesh.euler_number == 2, f"Euler number {mesh.euler_number}"),
            volume_agrees("volume", mesh.volume, expected_mm3),
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
        good = tell(f"{path} one solid", len(solids) == 1, f"{len(solids)} solids, {len(faces)} faces")
        kinds = [gmsh.model.getType(*f) for f in faces]
        good &= tell("smooth surfaces", "BSpline surface" in kinds, ", ".join(kinds))
        if good:
            good = volume_agrees("volume by gmsh", gmsh.model.occ.getMass(3, solids[0][1]), expected_mm3)
            boundary = gmsh.model.getBoundary(faces, combined=True, oriented=False)
            good &= tell("shell is closed", not boundary, f"{len(boundary)} open edges")
    finally:
        gmsh.finalize()
    return good & check_step_with_kernel(path, expected_mm3)


def check_step_with_kernel(path: str, expected_mm3: float) -> bool:
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    status = reader.ReadFile(path)
    reader.TransferRoots()
    shape = reader.OneShape()
    figures = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, figures, 1e-5)
    return all(
        [
            tell("read by OCP", "RetDone" in str(status), str(status)),
            tell("a solid", "SOLID" in str(shape.ShapeType()), str(shape.ShapeType())),
            tell("valid by the kernel's analyser", BRepCheck_Analyzer(shape).IsValid(), ""),
            volume_agrees("volume by OCP", figures.Mass(), expected_mm3),
        ]
    )


def check_dxf(path: str) -> bool:
    import ezdxf

    drawing = ezdxf.readfile(path)
    outlines = [e for e in drawing.modelspace().query("POLYLINE") if e.dxf.layer == "SECTION"]
    errors = drawing.audit().errors
    good = tell(f"{path} without errors", not errors, f"{len(errors)} errors, {drawing.dxfversion}")
    good &= tell("one outline", len(outlines) == 1, f"{len(outlines)}")
    return good and tell("outline is closed", bool(outlines[0].is_closed), f"{len(outlines[0])} points")


def check_svg(path: str) -> bool:
    sheet = xml.etree.ElementTree.parse(path).getroot()
    width = float(sheet.get("width").removesuffix("mm"))
    box = [float(part) for part in sheet.get("viewBox").split()]
    return tell(f"{path} at 1:1", abs(width - box[2]) < 1e-6, f"{width} mm for {box[2]} units")


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--volume", type=float, required=True)
    for kind in ("triangles", "step", "dxf", "svg"):
        parser.add_argument(f"--{kind}", action="append", default=[])
    asked = parser.parse_args()
    try:
        findings = [check_triangles(f, asked.volume) for f in asked.triangles]
        findings += [check_step(f, asked.volume) for f in asked.step]
        findings += [check_dxf(f) for f in asked.dxf] + [check_svg(f) for f in asked.svg]
    except ImportError as missing:
        print(f"missing: {missing}")
        return 3
    return 0 if findings and all(findings) else 1


if __name__ == "__main__":
    sys.exit(main())
