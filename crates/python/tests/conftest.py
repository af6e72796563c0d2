"""What several tests need: a scan, tables, the command."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
from blades import OPTIONS, blade, write_ply

import bladeform

@pytest.fixture(scope="session")
def mesh() -> tuple[np.ndarray, np.ndarray]:
    return blade()


@pytest.fixture(scope="session")
def scan(mesh, tmp_path_factory) -> Path:
    """The same mesh as a file."""
    path = tmp_path_factory.mktemp("scan") / "blade.ply"
    write_ply(path, *mesh)
    return path


@pytest.fixture(scope="session")
def table(scan) -> bladeform.Table:
    return bladeform.measure(scan, **OPTIONS)


@pytest.fixture(scope="session")
def command():
    """Runs the built command in a folder."""
    program = os.environ.get("BLADEFORM_COMMAND")
    if not program:
        pytest.skip("BLADEFORM_COMMAND does not name the command")

    def run(folder: Path, *arguments: object) -> None:
        subprocess.run([program, "--quiet", *map(str, arguments)], cwd=folder, check=True, capture_output=True)

    return run


@pytest.fixture(scope="session")
def small(tmp_path_factory) -> bladeform.Table:
    """A table without outlines: its polars are those of few sections."""
    path = tmp_path_factory.mktemp("table") / "table.json"
    rows = [(0.15, 0.080, 40.0, 0.20, 0.02), (0.36, 0.075, 22.0, 0.12, 0.03), (0.54, 0.055, 15.0, 0.09, 0.03)]
    keys = ["radius_m", "chord_m", "blade_angle_deg", "thickness_ratio", "camber_ratio"]
    blade = {"radius_m": 0.6, "setting": {"angle_deg": 18.0, "radius_ratio": 0.75}}
    path.write_text(json.dumps({"blade": blade, "stations": [dict(zip(keys, row)) for row in rows]}))
    return bladeform.read(path)


@pytest.fixture(scope="session")
def cache(tmp_path_factory) -> Path:
    """Computed polars, where the command would keep them in a cache folder."""
    path = tmp_path_factory.mktemp("kept") / "bladeform" / "polars"
    path.mkdir(parents=True)
    return path
