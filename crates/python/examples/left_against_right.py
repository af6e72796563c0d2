"""Left against right: two blades of a pair measured, compared, and the verdict with what it rests on.

    python left_against_right.py LEFT RIGHT LENGTH        e.g. left.ply right.ply 52in
"""

from __future__ import annotations

import sys
import warnings

import bladeform


def main(left: str, right: str, length: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", bladeform.BladeformWarning)
        one, other = (bladeform.measure(path, length=length) for path in (left, right))
        compared = bladeform.compare(one, other, names=("left", "right"), tolerance="chord=1mm")
    for table, name in ((one, "left"), (other, "right")):
        assert table.frame is not None
        print(f"{name}: {table.frame.hand}-hand, tip radius {1e3 * table.blade.radius_m:.1f} mm, {len(table)} stations")
    print("\n".join(compared.verdict))
    rows = [row for row in compared.rows if row["figure"] == "chord_m"]
    worst = max(rows, key=lambda row: abs(row["difference"]))
    print(
        f"Greatest difference in chord: {1e3 * worst['difference']:.2f} mm at {worst['radius_ratio']:.2f} R "
        f"(standard uncertainty {1e3 * worst['u']:.2f} mm); {sum(row['beyond_tolerance'] for row in rows)} of {len(rows)} beyond 1 mm"
    )
    for notice in compared.warnings:
        print(f"warning: {notice}")


if __name__ == "__main__":
    main(*sys.argv[1:])
