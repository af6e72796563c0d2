"""Meshes as NumPy arrays: what is accepted, and how it is handed over without scrambling rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._errors import OptionError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

_MOST = 2**32 - 1


def _rows(name: str, values: ArrayLike) -> NDArray[Any]:
    import numpy as np

    try:
        array = np.asarray(values)
    except Exception as reason:
        raise OptionError("array", f"`{name}` is no array: {reason}") from None
    if isinstance(values, np.ma.MaskedArray) and np.ma.getmaskarray(values).any():
        raise OptionError("array", f"`{name}` has masked numbers; fill or remove them")
    if array.ndim != 2 or array.shape[1] != 3:
        shape = " x ".join(str(n) for n in array.shape) or "a single value"
        raise OptionError("array", f"`{name}` must be n x 3, and is {shape}")
    if array.shape[0] == 0:
        raise OptionError("array", f"`{name}` is empty; pass the {name} of a surface")
    if array.dtype.kind not in "fiu":
        raise OptionError("array", f"`{name}` must hold numbers, and holds {array.dtype}")
    return array


def vertices_bytes(values: ArrayLike) -> bytes:
    """n x 3 coordinates of any real type, order, alignment and byte order, as bytes of 8-byte numbers, little-endian, row by row.

    Numbers that are not finite are kept: repair drops those vertices, as for a file.
    """
    import numpy as np

    with np.errstate(over="ignore"):
        return np.ascontiguousarray(_rows("vertices", values), dtype="<f8").tobytes()


def triangles_bytes(values: ArrayLike, count: int) -> bytes:
    """m x 3 vertex indices counted from 0, of any type, as bytes of 4-byte numbers. ``count``: how many vertices there are.

    Floating-point indices are taken if all of them are whole numbers.
    """
    import numpy as np

    array = _rows("triangles", values)
    if array.dtype.kind == "f":
        if not np.isfinite(array).all() or (array != np.floor(array)).any():
            raise OptionError("array", "`triangles` must hold whole numbers, and holds fractions or NaN")
    lowest, highest = array.min(), array.max()
    if lowest < 0:
        raise OptionError("array", f"`triangles` names vertex {lowest}; vertices are counted from 0")
    if highest >= min(count, _MOST):
        row = int(np.argmax((array >= count).any(axis=1)))
        raise OptionError(
            "face-index",
            f"triangle {row} names vertex {int(array[row].max())}, but there are {count} vertices, counted from 0; "
            "check the order of rows and columns",
        )
    return np.ascontiguousarray(array, dtype="<u4").tobytes()


def from_bytes(vertices: bytes, triangles: bytes) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The arrays of a mesh: vertices n x 3, triangles m x 3."""
    import numpy as np

    points = np.frombuffer(vertices, dtype="<f8").reshape(-1, 3).astype(np.float64)
    faces = np.frombuffer(triangles, dtype="<u4").reshape(-1, 3).astype(np.int64)
    return points, faces
