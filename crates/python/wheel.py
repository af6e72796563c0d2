"""Packs a built library as a wheel, without compiling anything: python wheel.py LIBRARY FOLDER. It prints the wheel's path.

`maturin build` makes the same from the sources; continuous integration has the library already. The format: Python Packaging User Guide, Binary distribution format.
"""

from __future__ import annotations

import base64
import hashlib
import re
import sys
import sysconfig
import zipfile
from pathlib import Path

HERE = Path(__file__).parent


def main(library: str, folder: str) -> None:
    root = (HERE / "../../Cargo.toml").read_text()
    version = re.search(r'^version = "(.+)"', root, re.MULTILINE).group(1)
    project = (HERE / "pyproject.toml").read_text()
    of = lambda key: re.search(rf'^{key} = "(.+)"', project, re.MULTILINE).group(1)
    platform = re.sub(r"[-.]", "_", sysconfig.get_platform())
    # One wheel for 3.10 and all later versions.
    tag = f"cp310-abi3-{platform}"
    info = f"bladeform-{version}.dist-info"
    files = {f"bladeform/{p.name}": p.read_bytes() for p in sorted((HERE / "python/bladeform").iterdir()) if p.is_file()}
    files["bladeform/_native.abi3.so"] = Path(library).read_bytes()
    needs = re.search(r"^dependencies = \[(.*)\]", project, re.MULTILINE).group(1).replace('"', "").split(",")
    files[f"{info}/METADATA"] = "\n".join(
        ["Metadata-Version: 2.4", "Name: bladeform", f"Version: {version}", f"Summary: {of('description')}"]
        + [f"Requires-Python: {of('requires-python')}", f"License-Expression: {of('license')}"]
        + [f"Requires-Dist: {need.strip()}" for need in needs]
        + [""]
    ).encode()
    files[f"{info}/WHEEL"] = f"Wheel-Version: 1.0\nGenerator: bladeform\nRoot-Is-Purelib: false\nTag: {tag}\n".encode()
    rows = []
    for name, content in files.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode()
        rows.append(f"{name},sha256={digest},{len(content)}")
    files[f"{info}/RECORD"] = "\n".join([*rows, f"{info}/RECORD,,", ""]).encode()
    goal = Path(folder) / f"bladeform-{version}-{tag}.whl"
    goal.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(goal, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as wheel:
        for name, content in files.items():
            wheel.writestr(name, content)
    print(goal)


if __name__ == "__main__":
    main(*sys.argv[1:])
