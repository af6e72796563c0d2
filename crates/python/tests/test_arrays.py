"""Arrays of every kind: read right, or refused in one sentence; never a crash, never scrambled, never a leak."""

from __future__ import annotations

import gc

import numpy as np
import pytest
from blades import blade

import bladeform
from bladeform import _arrays

TETRAHEDRON = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=np.float64)
FACES = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]], dtype=np.int64)


def unaligned(array: np.ndarray) -> np.ndarray:
    raw = np.zeros(array.nbytes + 1, dtype=np.uint8)
    view = raw[1:].view(array.dtype).reshape(array.shape)
    view[...] = array
    assert not view.flags.aligned
    return view


def arranged(array: np.ndarray) -> list[np.ndarray]:
    """The same rows in every layout."""
    wide = np.zeros((len(array), 7), dtype=array.dtype)
    wide[:, ::3] = array
    backwards = np.ascontiguousarray(array[::-1])[::-1]
    read_only = array.copy()
    read_only.flags.writeable = False
    return [
        np.asfortranarray(array),
        array.astype(array.dtype.newbyteorder(">")),
        np.asfortranarray(array.astype(array.dtype.newbyteorder(">"))),
        wide[:, ::3],
        backwards,
        np.repeat(array, 2, axis=0)[::2],
        unaligned(array),
        read_only,
        array.view(np.ndarray),
    ]


def test_rows_are_the_same_in_every_layout(mesh):
    for expected, array in [(_arrays.vertices_bytes(TETRAHEDRON), TETRAHEDRON), (_arrays.vertices_bytes(mesh[0]), mesh[0])]:
        assert expected == array.astype("<f8").tobytes()
        assert all(_arrays.vertices_bytes(a) == expected for a in arranged(array))
    for count, array in [(4, FACES), (len(mesh[0]), mesh[1])]:
        expected = _arrays.triangles_bytes(array, count)
        assert expected == array.astype("<u4").tobytes()
        assert all(_arrays.triangles_bytes(a, count) == expected for a in arranged(array))


def test_every_number_type_is_taken():
    expected = _arrays.vertices_bytes(TETRAHEDRON), _arrays.triangles_bytes(FACES, 4)
    for kind in ["f2", "f4", "f8", "g", "i1", "i4", "i8", "u1", "u2", "u8", ">f4", ">i2"]:
        assert _arrays.vertices_bytes(TETRAHEDRON.astype(kind)) == expected[0], kind
        assert _arrays.triangles_bytes(FACES.astype(kind), 4) == expected[1], kind
    assert _arrays.vertices_bytes(TETRAHEDRON.tolist()) == expected[0]


def scrambled(mesh, order: str) -> np.ndarray:
    return mesh[0].reshape(-1, order=order).reshape(mesh[0].shape)


def test_wrong_arrays_are_refused_in_one_sentence(mesh):
    v, f = mesh
    good_v, good_f = TETRAHEDRON, FACES
    wrong = [
        (np.zeros((0, 3)), good_f, "empty"),
        (good_v, np.zeros((0, 3), dtype=int), "empty"),
        (good_v.ravel(), good_f, "n x 3"),
        (good_v.T, good_f, "n x 3"),
        (good_v[None], good_f, "n x 3"),
        (3.0, good_f, "n x 3"),
        (good_v, good_f[:, :2], "n x 3"),
        (good_v.astype(complex), good_f, "numbers"),
        (good_v.astype(str), good_f, "numbers"),
        (good_v.astype(object), good_f, "numbers"),
        (good_v.astype(bool), good_f, "numbers"),
        (good_v.astype("M8[s]"), good_f, "numbers"),
        ([[0, 0, 0], [1, 1]], good_f, "array"),
        (good_v, good_f + 0.5, "whole numbers"),
        (good_v, np.where(good_f == 3, np.nan, good_f), "whole numbers"),
        (good_v, np.where(good_f == 3, np.inf, good_f), "whole numbers"),
        (good_v, good_f - 1, "counted from 0"),
        (good_v, good_f + 1, "names vertex 4"),
        (good_v, good_f.astype(np.uint64) + (1 << 63), "names vertex"),
        (good_v, good_f + (1 << 32), "names vertex"),
        (np.ma.masked_equal(good_v, 0), good_f, "masked"),
        (v, f[:, [0, 0, 0]], None),
        (np.full_like(v, np.nan), f, None),
        (np.full_like(v, np.inf), f, None),
        (np.full_like(v, 1e308), f, None),
        (np.zeros_like(v), f, None),
        (v * 1e300, f, None),
        (scrambled(mesh, "F"), f, None),
        (good_v, good_f, None),
    ]
    for vertices, triangles, words in wrong:
        with pytest.raises(bladeform.BladeformError, match=words) as caught:
            bladeform.measure(vertices=vertices, triangles=triangles, length=0.48)
        assert caught.value.code != "fault", caught.value
        assert len(caught.value.sentence) < 420 and "--" not in caught.value.sentence, caught.value
    # Rows of triangles in the wrong order that still join neighbours look like a surface: a result says so.
    rows_lost = f.reshape(-1, order="F").reshape(f.shape)
    assert "open-surface" in [w.code for w in bladeform.measure(vertices=v, triangles=rows_lost, length=0.48, stations=4).warnings]
    for one in [{"vertices": v}, {"triangles": f}, {}]:
        with pytest.raises(bladeform.OptionError, match="both vertices and triangles"):
            bladeform.measure(**one)


def test_random_arguments_never_crash():
    random = np.random.default_rng(7)
    kinds = ["f4", "f8", ">f8", "i4", "u8", "i1", "?", "U3", "c16", "O"]
    refused = 0
    for _ in range(300):
        shapes = [tuple(random.integers(0, 6, random.integers(0, 4))) if random.random() < 0.3 else (int(random.integers(1, 9)), 3) for _ in "vf"]
        v, f = (
            (random.normal(0, 10.0 ** random.integers(-5, 300 if random.random() < 0.1 else 3), s)).astype("f8") for s in shapes
        )
        v.flat[: random.integers(0, 2)] = random.choice([np.nan, np.inf, 0.0])
        with np.errstate(all="ignore"):
            import warnings

            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                v = v.astype(random.choice(kinds)) if random.random() < 0.5 else v
                f = np.nan_to_num(f).astype(random.choice(["i4", "u4", "i8", "f8", "u1"])) % random.integers(1, 9)
        try:
            bladeform.measure(vertices=v, triangles=f, length=1.0, threads=1)
        except bladeform.BladeformError as reason:
            assert reason.code != "fault", reason
            refused += 1
    assert refused == 300


def resident_kb() -> int:
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * 4


@pytest.mark.skipif(not __import__("os").path.exists("/proc/self/statm"), reason="memory is read as Linux tells it")
def test_a_thousand_runs_leak_nothing(table):
    mesh = blade(40, 40)

    def runs(count: int) -> None:
        for _ in range(count):
            with pytest.raises(bladeform.OptionError):
                # The mesh is handed over, 0.15 MB for each run, before the options are refused.
                bladeform.measure(vertices=mesh[0], triangles=mesh[1], length_uncertainty=1.0)

    def measured(count: int) -> None:
        for _ in range(count):
            with pytest.raises(bladeform.InputError):
                bladeform.measure(vertices=TETRAHEDRON, triangles=FACES, length=1.0, threads=1)
            bladeform.Table(table._bytes).to_csv()

    measured(1)
    runs(50)
    gc.collect()
    before = resident_kb()
    runs(1000)
    measured(1)
    gc.collect()
    # A thousand leaked meshes would be 150 MB.
    assert resident_kb() - before < 60_000
