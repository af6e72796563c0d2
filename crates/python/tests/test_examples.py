"""The example of the front page and the three notebooks as scripts, run as a user runs them; their figures are looked at."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from blades import blade

HERE = Path(__file__).parent.parent
FRONT = HERE.parent.parent / "README.md"


def run(folder: Path, *line: object, polars: Path | None = None) -> str:
    # Polars are kept for the other tests, not in the user's folder.
    environment = {**os.environ, "XDG_CACHE_HOME": str(polars.parent.parent if polars else folder / "kept")}
    done = subprocess.run([sys.executable, "-W", "error::DeprecationWarning", *map(str, line)], cwd=folder, env=environment, capture_output=True, text=True)
    assert done.returncode == 0 and done.stderr == "", done.stderr
    return done.stdout


def test_the_example_of_the_front_page(scan, tmp_path):
    if not FRONT.exists():
        pytest.fail("README.md is missing")
    shutil.copy(scan, tmp_path / "blade.ply")
    [example] = re.findall(r"```python\n(.*?)```", FRONT.read_text(), re.DOTALL)
    assert len(example.strip().splitlines()) <= 12
    (tmp_path / "example.py").write_text(example)
    out = run(tmp_path, "-W", "ignore", "example.py")
    assert "chord_m" in out and (tmp_path / "record" / "stations.json").exists()


def test_a_folder_of_scans(scan, tmp_path):
    (tmp_path / "scans").mkdir()
    for name in ["a.ply", "b.ply"]:
        shutil.copy(scan, tmp_path / "scans" / name)
    (tmp_path / "scans" / "c.stl").write_text("solid nothing\nendsolid nothing\n")
    out = run(tmp_path, HERE / "examples" / "folder_to_frame.py", "scans", "480mm", "all.csv")
    assert "c.stl: not measured: no-" in out and "a.ply: " in out
    rows = (tmp_path / "all.csv").read_text().splitlines()
    assert len(rows) == 15 and rows[0].startswith("scan,radius_m,u_radius_m,radius_ratio,")
    assert [r.split(",", 1)[1] for r in rows[1:8]] == [r.split(",", 1)[1] for r in rows[8:]]


def test_left_against_right(scan, tmp_path):
    from bladeform import _arrays, _native

    vertices, triangles = blade()
    mirrored = vertices * [-1, 1, 1]
    _native.write_mesh(_arrays.vertices_bytes(mirrored), _arrays.triangles_bytes(triangles[:, ::-1], len(mirrored)), tmp_path / "left.ply")
    out = run(tmp_path, HERE / "examples" / "left_against_right.py", "left.ply", scan, "480mm")
    assert "left: left-hand" in out and "right: right-hand" in out, out
    found = re.search(r"Greatest difference in chord: (-?[0-9.]+) mm", out)
    # A mirror image has the same chords.
    assert found and abs(float(found[1])) < 0.05 and "0 of " in out, out


def test_a_boundary_condition(small, cache, tmp_path):
    small.write(tmp_path)
    out = run(tmp_path, HERE / "examples" / "table_to_boundary.py", "stations.json", 2, 2400, "30m/s", "disc.csv", polars=cache)
    for what, unit in [("thrust", "N"), ("torque", "N m")]:
        on_disc, predicted = map(float, re.search(rf"{what} ([0-9.]+) {unit} on the disc, ([0-9.]+) {unit}", out).groups())
        # Between the middles of the first and the last element: half an element at either end is missing.
        assert on_disc == pytest.approx(predicted, rel=0.02) and 0 < predicted, out
    jump = np.loadtxt(tmp_path / "disc.csv", delimiter=",", skiprows=1)
    assert len(jump) > 20 and (np.diff(jump[:, 0]) > 0).all()
