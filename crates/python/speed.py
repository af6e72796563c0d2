"""How long the package takes over the library, and to be imported: python speed.py COMMAND [RUNS]. Both must be built with the same profile.

The command measures the same file with the same library and writes three small files; it is the yardstick. Runs alternate, and the least time of each counts,
since other work on the machine only adds. CPU time (user and system, all threads) is shown beside wall time.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np

import bladeform

sys.path.insert(0, str(Path(__file__).parent / "tests"))
from blades import blade  # noqa: E402


def cpu_s(who: int) -> float:
    used = resource.getrusage(who)
    return used.ru_utime + used.ru_stime


def timed(work: Callable[[], object], who: int) -> tuple[float, float]:
    wall, cpu = time.perf_counter(), cpu_s(who)
    work()
    return time.perf_counter() - wall, cpu_s(who) - cpu


def main(command: str, runs: int = 3) -> None:
    warnings.simplefilter("ignore", bladeform.BladeformWarning)
    vertices, triangles = blade(1500, 341)
    print(f"{len(triangles)} triangles, least of {runs} runs")
    with tempfile.TemporaryDirectory() as folder:
        scan = Path(folder) / "blade.ply"
        mesh = bladeform._arrays.vertices_bytes(vertices), bladeform._arrays.triangles_bytes(triangles, len(vertices))
        bladeform._native.write_mesh(*mesh, scan)
        line = [command, "--quiet", "measure", str(scan), "--length", "48cm", "--diameter", "1.2m", "--no-record", "--overwrite", "--out", folder]
        options = {"length": "48cm", "diameter": "1.2m"}
        ways: list[tuple[str, Callable[[], object], int]] = [
            ("command", lambda: subprocess.run(line, check=True, capture_output=True), resource.RUSAGE_CHILDREN),
            ("by path", lambda: bladeform.measure(scan, **options), resource.RUSAGE_SELF),
            ("by arrays", lambda: bladeform.measure(vertices=vertices, triangles=triangles, **options), resource.RUSAGE_SELF),
            (
                "by arrays in Fortran order",
                lambda: bladeform.measure(vertices=np.asfortranarray(vertices), triangles=np.asfortranarray(triangles), **options),
                resource.RUSAGE_SELF,
            ),
            ("handing over the arrays alone", lambda: (bladeform._arrays.vertices_bytes(vertices), bladeform._arrays.triangles_bytes(triangles, len(vertices))), resource.RUSAGE_SELF),
        ]
        found: dict[str, list[tuple[float, float]]] = {name: [] for name, _, _ in ways}
        for _ in range(runs):
            for name, work, who in ways:
                found[name].append(timed(work, who))
        least = {name: [min(t[k] for t in times) for k in (0, 1)] for name, times in found.items()}
        for name, (wall, cpu) in least.items():
            more = [100 * (a / b - 1) for a, b in zip((wall, cpu), least["command"])]
            print(f"{name:30} {wall:7.3f} s ({more[0]:+6.1f} %), CPU {cpu:7.3f} s ({more[1]:+6.1f} %)")
    script = "import time; t = time.perf_counter(); import bladeform; print(time.perf_counter() - t)"
    took = min(float(subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout) for _ in range(10))
    print(f"import: {took:.3f} s")


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:]))
