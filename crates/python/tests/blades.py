"""Blades for the tests: closed surfaces of published sections, made here and not by the package."""

from __future__ import annotations

from pathlib import Path

import numpy as np

ROOT_M, TIP_M = 0.12, 0.60


def section(camber: float, thickness: float, count: int) -> np.ndarray:
    """NACA four-digit section, position of greatest camber 0.4: n x 2 in chords, closed, anticlockwise.

    Source: E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460 (1933), equations on page 4; thickness normal to the mean line.
    """
    x = 0.5 * (1 - np.cos(np.linspace(0, np.pi, count)))
    half = 5 * thickness * (0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)
    p = 0.4
    line = np.where(x < p, camber / p**2 * (2 * p * x - x**2), camber / (1 - p) ** 2 * (1 - 2 * p + 2 * p * x - x**2))
    slope = np.arctan(np.where(x < p, 2 * camber / p**2 * (p - x), 2 * camber / (1 - p) ** 2 * (p - x)))
    upper = np.column_stack([x - half * np.sin(slope), line + half * np.cos(slope)])
    lower = np.column_stack([x + half * np.sin(slope), line - half * np.cos(slope)])
    return np.vstack([upper[::-1], lower[1:]])


def shape(ratio: float) -> tuple[float, float, float, float]:
    """Chord in m, blade angle in degrees, thickness and camber in chords at a fraction of the tip radius."""
    chord = 0.095 * np.sqrt(np.clip(1 - ((ratio - 0.45) / 0.58) ** 2, 0.02, None))
    angle = np.degrees(np.arctan(0.75 * np.tan(np.radians(18.0)) / ratio))
    return float(chord), float(angle), float(0.24 - 0.16 * ratio), 0.035


def blade(spanwise: int = 110, around: int = 75) -> tuple[np.ndarray, np.ndarray]:
    """A lone right-hand blade along z in millimetres, closed at both ends: vertices and triangles.

    Flight is along y. Seen from behind the blade moves clockwise, to +x at the top, so that the leading edge and the nose of each section point there.
    """
    rings = []
    for z in np.linspace(ROOT_M, TIP_M, spanwise):
        chord, angle, thickness, camber = shape(z / TIP_M)
        points = (section(camber, thickness, around) - [0.4, 0.0]) * chord
        a = np.radians(angle)
        along, across = points[:, 0], points[:, 1]
        x = -(along * np.cos(a) + across * np.sin(a))
        y = -along * np.sin(a) + across * np.cos(a)
        rings.append(np.column_stack([x, y, np.full_like(x, z)]))
    n = len(rings[0])
    vertices = np.vstack([*rings, rings[0].mean(axis=0), rings[-1].mean(axis=0)]) * 1e3
    faces = []
    following = np.roll(np.arange(n), -1)
    for ring in range(spanwise - 1):
        a, b = ring * n + np.arange(n), ring * n + following
        faces += [np.column_stack([a, b, b + n]), np.column_stack([a, b + n, a + n])]
    first, last = len(vertices) - 2, len(vertices) - 1
    faces.append(np.column_stack([following, np.arange(n), np.full(n, first)]))
    top = (spanwise - 1) * n
    faces.append(np.column_stack([top + np.arange(n), top + following, np.full(n, last)]))
    return vertices.astype(np.float32).astype(np.float64), np.vstack(faces)[:, ::-1]


LENGTH_M = TIP_M - ROOT_M
OPTIONS = {"length": LENGTH_M, "diameter": 2 * TIP_M, "setting": "18deg@0.75", "at": [0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9]}


def write_ply(path: Path, vertices: np.ndarray, triangles: np.ndarray) -> None:
    """A binary PLY file of single precision, as scanners write them."""
    head = (
        "ply\nformat binary_little_endian 1.0\n"
        f"element vertex {len(vertices)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = np.zeros(len(triangles), dtype=[("n", "u1"), ("i", "<i4", 3)])
    rows["n"], rows["i"] = 3, triangles
    path.write_bytes(head.encode() + vertices.astype("<f4").tobytes() + rows.tobytes())
