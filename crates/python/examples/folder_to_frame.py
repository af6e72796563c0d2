"""A folder of scans to one data frame: each scan in a process of its own, what cannot be measured named and left out.

    python folder_to_frame.py FOLDER LENGTH OUT.csv        e.g. scans 52in blades.csv
"""

from __future__ import annotations

import sys
import warnings
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pandas as pd

import bladeform

SCANS = {".ply", ".stl", ".obj", ".glb"}


def measured(path: Path, length: str) -> bladeform.Table | bladeform.BladeformError:
    """The table of a scan, or why there is none. Both can be sent between processes."""
    with warnings.catch_warnings():
        # They are in the table.
        warnings.simplefilter("ignore", bladeform.BladeformWarning)
        try:
            return bladeform.measure(path, length=length, at=[0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9], threads=1)
        except bladeform.BladeformError as reason:
            return reason


def main(folder: str, length: str, out: str) -> None:
    paths = sorted(p for p in Path(folder).iterdir() if p.suffix.lower() in SCANS)
    frames = []
    with ProcessPoolExecutor() as pool:
        for path, result in zip(paths, pool.map(measured, paths, [length] * len(paths))):
            if isinstance(result, bladeform.BladeformError):
                print(f"{path.name}: not measured: {result}")
                continue
            frame = result.to_pandas()
            frame.insert(0, "scan", path.name)
            frames.append(frame)
            print(f"{path.name}: {', '.join(w.code for w in result.warnings) or 'no warnings'}")
    table = pd.concat(frames, ignore_index=True)
    table.to_csv(out, index=False)
    shown = table.pivot(index="radius_ratio", columns="scan", values="chord_m")
    print(f"Chord in {frames[0].attrs['units']['chord_m']}:")
    print(shown.round(5).to_string())


if __name__ == "__main__":
    main(*sys.argv[1:])
