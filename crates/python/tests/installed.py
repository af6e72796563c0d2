"""The installed package in an environment without anything else: the front page's example and a folder of scans, on a blade made here."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

from blades import blade, write_ply

import bladeform

HERE = Path(__file__).resolve().parent.parent


def main() -> None:
    home = Path(bladeform.__file__).resolve()
    assert Path(sys.prefix).resolve() in home.parents, f"{home} is not in this environment"
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "scans").mkdir()
        for name in ["blade.ply", "scans/left.ply", "scans/right.ply"]:
            write_ply(Path(folder) / name, *blade())
        [example] = re.findall(r"```python\n(.*?)```", (HERE / "../../README.md").read_text(), re.DOTALL)
        for line in [["-W", "ignore", "-c", example], [HERE / "examples/folder_to_frame.py", "scans", "48cm", "all.csv"]]:
            subprocess.run([sys.executable, *map(str, line)], cwd=folder, check=True)


if __name__ == "__main__":
    main()
