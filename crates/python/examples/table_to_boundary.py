"""A table to a solver's boundary condition: a prediction's loading as the jump of pressure and swirl across a disc, by radius.

    python table_to_boundary.py TABLE BLADES RPM SPEED OUT.csv        e.g. stations.json 2 1750 120mph disc.csv

The thrust of all blades on a ring of width dr and area 2 pi r dr is a jump of pressure, their torque a moment about the axis: the actuator disc
(W. J. M. Rankine, Trans. Inst. Naval Architects 6 (1865); H. Glauert in W. F. Durand (ed.), Aerodynamic Theory IV (1935), from memory).
"""

from __future__ import annotations

import csv
import math
import sys
import warnings

import bladeform


def main(table: str, blades: str, rpm: str, speed: str, out: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", bladeform.BladeformWarning)
        prediction = bladeform.predict(table, blades=int(blades), rpm=float(rpm), speed=speed, no_free_wake=True)
    point = prediction.points[0]
    rows = []
    for radial in point.radial:
        ring_m = 2 * math.pi * radial.radius_m
        pressure_pa = int(blades) * radial.thrust_n_per_m / ring_m
        shear_pa = int(blades) * radial.torque_n / ring_m / radial.radius_m
        rows.append((radial.radius_m, pressure_pa, shear_pa))
    with open(out, "w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["radius_m", "pressure_jump_pa", "swirl_stress_pa"])
        writer.writerows(rows)
    # What the disc gives back, by the trapezoidal rule: the solver is right if it finds the same.
    thrust_n = torque_nm = 0.0
    for (r, p, s), (r2, p2, s2) in zip(rows, rows[1:]):
        thrust_n += 0.5 * (p * r + p2 * r2) * 2 * math.pi * (r2 - r)
        torque_nm += 0.5 * (s * r * r + s2 * r2 * r2) * 2 * math.pi * (r2 - r)
    print(f"thrust {thrust_n:.2f} N on the disc, {point.thrust_n:.2f} N in the prediction")
    print(f"torque {torque_nm:.3f} N m on the disc, {point.torque_nm:.3f} N m in the prediction")
    for notice in prediction.warnings:
        print(f"warning: {notice}")
    print(bladeform.CAUTION)


if __name__ == "__main__":
    main(*sys.argv[1:])
