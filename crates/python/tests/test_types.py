"""The package's types, for a type checker and for a reader of help()."""

from __future__ import annotations

import inspect
import os
import subprocess
import sys
from pathlib import Path

import pytest

import bladeform

USE = """
import bladeform
import numpy as np
table = bladeform.measure(vertices=np.zeros((4, 3)), triangles=[[0, 1, 2]], length=1.3, at=[0.3, "12in"], swap=["ends"])
reveal_type(table.outline(0))
reveal_type(table.warnings[0].code)
reveal_type(bladeform.predict(table, blades=2, rpm=1750, speed=["70mph", 50.0]).points)
reveal_type(bladeform.solid("stations.json").triangles)
bladeform.measure("a.ply", lenght="52in")
bladeform.measure("a.ply", hand="both")
bladeform.predict(table, rpm=1750)
table.outline(0, "inch")
table.station
"""


def test_a_type_checker_knows_the_package(tmp_path):
    pytest.importorskip("mypy")
    (tmp_path / "use.py").write_text(USE)
    package = Path(bladeform.__file__).parent
    line = [sys.executable, "-m", "mypy", "--strict", "--python-version", "3.10", "--cache-dir", str(tmp_path / "cache")]
    environment = {**os.environ, "MYPYPATH": str(package.parent)}
    # Types of other libraries are their own affair.
    line += ["--follow-untyped-imports", "use.py", "-p", "bladeform"] if False else ["use.py", str(package)]
    found = subprocess.run([*line, "--ignore-missing-imports"], cwd=tmp_path, env=environment, capture_output=True, text=True)
    told = [l for l in found.stdout.splitlines() if "note: Revealed" in l or "error:" in l]
    in_use = [l for l in told if l.startswith("use.py")]
    assert [l for l in told if not l.startswith("use.py")] == [], found.stdout
    revealed = [l.split('"')[1] for l in in_use if "Revealed" in l]
    assert len(revealed) == 4 and "float64" in revealed[0] and revealed[1].endswith("str"), found.stdout
    assert "Figures" in revealed[2] and "int" in revealed[3], found.stdout
    wrong = [l.split(": error: ")[1] for l in in_use if "error:" in l]
    assert [any(w in l for l in wrong) for w in ["lenght", '"hand"', '"blades"', '"unit"' , "station"]].count(True) >= 4, found.stdout
    assert len(wrong) == 5, found.stdout
    assert (package / "py.typed").exists() and (package / "_native.pyi").exists()


def test_help_teaches():
    for name in bladeform.__all__:
        item = getattr(bladeform, name)
        if not callable(item):
            continue
        text = inspect.getdoc(item) or ""
        assert len(text) > 40, name
        if inspect.isfunction(item) and name not in ("columns", "read"):
            assert all(part in text for part in ["Parameters", "Returns", "Raises"]), name
            missing = [p for p in inspect.signature(item).parameters if p not in text and p not in ("threads", "progress", "polar_cache")]
            assert not missing or "as :func:`predict`" in text, (name, missing)
    for kind in (bladeform.Table, bladeform.Prediction, bladeform.Comparison, bladeform.Solid, bladeform.Page):
        public = [n for n in vars(kind) if not n.startswith("_")]
        assert all(inspect.getdoc(getattr(kind, n)) for n in public), kind


def test_importing_is_quick_and_loads_no_numpy():
    script = "import time; t = time.perf_counter(); import bladeform, sys; print(time.perf_counter() - t, 'numpy' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    assert out[1] == "False"
