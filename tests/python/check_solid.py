"""Looks at the files of `bladeform solid` with general-purpose libraries.

Triangles with trimesh; STEP with gmsh and, for the validity check of the kernel itself, with OCP (both are built on
Open CASCADE, so they are two readers but one kernel); DXF with ezdxf; SVG with the standard library; PDF with pdfplumber.

Usage: check_solid.py --volume MM3 [--triangles FILE]... [--step FILE]... [--dxf FILE]... [--svg FILE]...
       [--propeller FILE MM3]... [--pdf FILE --svg-folder DIR]
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


def check_mesh(path: str) -> bool:
    """A surface mesh by gmsh: every edge of its triangles has one triangle on either side, running against each other."""
    import collections

    import gmsh

    gmsh.initialize()
    gmsh.option.setNumber("General.Verbosity", 1)
    gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
    gmsh.option.setNumber("Mesh.MeshSizeMax", 15)
    try:
        gmsh.model.occ.importShapes(path)
        gmsh.model.occ.synchronize()
        gmsh.model.mesh.generate(2)
        _, corners = gmsh.model.mesh.getElementsByType(2)
    finally:
        gmsh.finalize()
    triangles = corners.reshape(-1, 3).tolist()
    edges = collections.Counter((t[i], t[(i + 1) % 3]) for t in triangles for i in range(3))
    bad = sum(1 for (a, b), n in edges.items() if n != 1 or edges.get((b, a)) != 1) if triangles else -1
    return tell(f"{path} meshed", bad == 0, f"{len(triangles)} triangles, {bad} edges without their opposite")


def check_pdf(path: str, svg_folder: str) -> bool:
    """Every page as large as the SVG sheet of its station, its ruler 100 mm, its outline as wide and high as the SVG's."""
    import pathlib

    import pdfplumber

    millimetre = 72 / 25.4
    sheets = sorted(pathlib.Path(svg_folder).glob("*.svg"))
    good = True
    with pdfplumber.open(path) as pdf:
        good &= tell(f"{path}: a page a station", len(pdf.pages) == len(sheets), f"{len(pdf.pages)}")
        for page, sheet in zip(pdf.pages, sheets):
            root = xml.etree.ElementTree.parse(sheet).getroot()
            size = [float(root.get(k).removesuffix("mm")) for k in ("width", "height")]
            found = [float(page.width) / millimetre, float(page.height) / millimetre]
            off = max(abs(a - b) for a, b in zip(size, found))
            good &= tell(f"page of {sheet.name}", off < 2e-3, f"{found[0]:.3f} x {found[1]:.3f} mm")
            # The ruler is the lowest level line.
            level = [line for line in page.lines if abs(line["top"] - line["bottom"]) < 1e-3]
            ruler = max(level, key=lambda line: line["top"])
            length = (ruler["x1"] - ruler["x0"]) / millimetre
            good &= tell("ruler", abs(length - 100) < 1e-2, f"{length:.4f} mm")
            polygon = next(e for e in root.iter() if e.tag.endswith("polygon"))
            points = [tuple(map(float, p.split(","))) for p in polygon.get("points").split()]
            outline = max(page.curves, key=lambda c: c["x1"] - c["x0"])
            for axis, (low, high) in enumerate((("x0", "x1"), ("top", "bottom"))):
                told = max(p[axis] for p in points) - min(p[axis] for p in points)
                drawn = (outline[high] - outline[low]) / millimetre
                good &= tell("outline", abs(told - drawn) < 1e-2, f"{drawn:.3f} mm for {told:.3f} mm")
    return bool(good)


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
    parser.add_argument("--propeller", nargs=2, action="append", default=[])
    parser.add_argument("--pdf")
    parser.add_argument("--svg-folder")
    asked = parser.parse_args()
    try:
        findings = [check_triangles(f, asked.volume) for f in asked.triangles]
        findings += [check_step(f, asked.volume) for f in asked.step]
        for path, volume in asked.propeller:
            findings += [check_step(path, float(volume)), check_mesh(path)]
        if asked.pdf:
            findings += [check_pdf(asked.pdf, asked.svg_folder)]
        findings += [check_dxf(f) for f in asked.dxf] + [check_svg(f) for f in asked.svg]
    except ImportError as missing:
        print(f"missing: {missing}")
        return 3
    return 0 if findings and all(findings) else 1


if __name__ == "__main__":
    sys.exit(main())
