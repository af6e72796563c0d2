"""Measuring from Python: equal to the command, to the published sections, and to a general-purpose mesh library."""

from __future__ import annotations

import json
import os
import pickle
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pytest
from blades import OPTIONS, ROOT_M, TIP_M, section, shape

import bladeform
from bladeform import _native

LINE = ["--length", "0.48m", "--diameter", "1.2m", "--setting", "18deg@0.75", "--at", "0.4,0.5,0.6,0.7,0.75,0.8,0.9"]


def test_a_table_equals_that_of_the_command_to_the_last_digit(table, scan, command, tmp_path):
    command(tmp_path, "measure", scan, *LINE, "--no-record")
    assert table.to_json() == (tmp_path / "stations.json").read_text()
    assert table.to_csv() == (tmp_path / "stations.csv").read_bytes().decode()
    assert bladeform.read(tmp_path / "stations.json") == table
    table.write(tmp_path / "written")
    for name in ["stations.json", "stations.csv", "stations.csv-metadata.json"]:
        assert (tmp_path / "written" / name).read_bytes() == (tmp_path / name).read_bytes()


def test_arrays_give_the_figures_of_the_file(table, mesh):
    by_arrays = bladeform.measure(vertices=mesh[0], triangles=mesh[1], name="blade.ply", **OPTIONS)
    (a, b) = ({k: v for k, v in t.data.items() if k != "source"} for t in (table, by_arrays))
    assert a == b
    assert by_arrays.source.triangles == len(mesh[1]) and by_arrays.source.sha256 is None


def test_figures_are_those_of_the_published_sections(table):
    # NACA Report 460 (1933): the surface was made from its equations. The stations lie between rings of 3 mm, and a facet is flat: 0.2 mm are allowed.
    assert [s.radius_ratio for s in table.stations] == pytest.approx(OPTIONS["at"], abs=1e-9)
    for station in table.stations:
        chord, angle, thickness, camber = shape(station.radius_ratio)
        assert station.chord_m == pytest.approx(chord, abs=2e-4)
        assert station.blade_angle_deg == pytest.approx(angle, abs=0.2)
        assert station.thickness_ratio == pytest.approx(thickness, abs=0.003)
        assert station.camber_ratio == pytest.approx(camber, abs=0.003)
    assert table.blade.radius_m == pytest.approx(TIP_M, abs=5e-4)
    assert table.frame.hand == "right"


def polygon_area(x, y) -> float:
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def test_volume_and_cuts_are_those_of_a_mesh_library(table, mesh):
    trimesh = pytest.importorskip("trimesh")
    body = trimesh.Trimesh(mesh[0] * 1e-3, mesh[1], process=False)
    # The scale is that of the stated length along the span that was found, 0.02 % from the millimetres of the array; its standard uncertainty is 0.1 %.
    scale = table["scale"].metres_per_unit / 1e-3
    assert abs(scale - 1) < 2 * table["scale"].relative_uncertainty
    assert body.is_watertight and table.blade.volume_m3 == pytest.approx(body.volume * scale**3, rel=1e-8)
    for i, station in enumerate(table.stations):
        cut = body.section(plane_origin=[0, 0, station.radius_m], plane_normal=[0, 0, 1])
        [loop] = cut.discrete
        area = polygon_area(loop[:, 0], loop[:, 1])
        assert station.area_m2 == pytest.approx(area, rel=3e-3)
        assert polygon_area(*table.outline(i).T) == pytest.approx(area, rel=3e-3)
    ideal = section(0.035, shape(0.75)[2], 400)
    x, y = table.outline(4, "chord").T
    assert np.ptp(y) == pytest.approx(np.ptp(ideal[:, 1]), abs=4e-3) and x.max() == pytest.approx(1.0, abs=5e-3)


def test_attributes_items_and_missing_figures(table):
    station = table.stations[2]
    assert station.chord_m == station["chord_m"] == json.loads(table.to_json())["stations"][2]["chord_m"]
    assert 0 < station.u.chord_m < 1e-3 and "chord_m" in dir(station) and len(table) == 7
    with pytest.raises(AttributeError, match="chord_m"):
        station.chord_mm
    assert all(isinstance(f, bladeform.Notice) and f.code for s in table.stations for f in s.flags)
    assert pickle.loads(pickle.dumps(table)) == table and hash(table) == hash(pickle.loads(pickle.dumps(table)))
    assert pickle.loads(pickle.dumps(station)) == station
    with pytest.raises(bladeform.OptionError, match="'m' or 'chord'"):
        table.outline(0, "inch")


def test_a_data_frame_has_units_and_uncertainties(table):
    pandas = pytest.importorskip("pandas")
    frame = table.to_pandas()
    assert list(frame["chord_m"]) == [s.chord_m for s in table.stations]
    assert list(frame["u_chord_m"]) == [s.u.chord_m for s in table.stations]
    units, meaning = frame.attrs["units"], frame.attrs["meaning"]
    assert (units["chord_m"], units["u_blade_angle_deg"]) == ("m", "deg")
    assert set(units) == set(meaning) == set(frame.columns) and all(meaning.values())
    assert frame.dtypes.drop("flags").map(lambda t: t.kind in "fi").all()
    written = pandas.read_csv(__import__("io").StringIO(table.to_csv()))
    assert set(frame.columns) <= set(written.columns)
    assert np.allclose(written["thickness_m"], frame["thickness_m"], rtol=1e-9, atol=0, equal_nan=True)


def test_a_notebook_shows_table_and_planform(table):
    from xml.etree import ElementTree

    svg = ElementTree.fromstring(table.planform_svg())
    assert svg.tag.endswith("svg") and len(svg.findall("{*}circle")) == len(table)
    shown = table._repr_html_()
    assert shown.count("<tr>") == len(table) + 1 and "&plusmn;" in shown and bladeform.CAUTION[:40] in shown
    assert "7 stations" in repr(table)


def test_warnings_have_codes_and_name_keywords(scan):
    with pytest.warns(bladeform.BladeformWarning) as told:
        table = bladeform.measure(scan, unit="mm", at=[0.5, 0.75])
    codes = [w.message.code for w in told]
    assert "relative-angles" in codes and set(codes) <= {w.code for w in table.warnings}
    relative = next(w for w in told if w.message.code == "relative-angles")
    assert "`setting`" in relative.message.sentence and "--" not in relative.message.sentence
    assert relative.filename == __file__


def test_numbers_are_si_and_texts_have_units(scan, table):
    mixed = {**OPTIONS, "length": np.float64(0.48), "diameter": "1200mm", "at": "0.4,0.5,0.6,0.7,0.75,0.8,0.9"}
    assert bladeform.measure([str(scan)], threads=1, **mixed) == table


def test_errors_are_one_family_with_code_and_sentence(scan, tmp_path):
    cases = [
        (bladeform.OptionError, "option", "`length`", {"length": "50"}),
        (bladeform.OptionError, "option", "0m", {"length": -1.0}),
        (bladeform.OptionError, "option", "no finite", {"length": float("nan")}),
        (bladeform.OptionError, "option", "unit", {"setting": 17.0}),
        (bladeform.OptionError, "option", "has no effect", {"length_uncertainty": 1e-3}),
        (bladeform.OptionError, "option", "stations", {"stations": 8, "at": [0.5]}),
        (bladeform.OptionError, "option", "threads", {"threads": 0}),
        (bladeform.OptionError, "option", "`swap`.*edges", {"swap": "everything"}),
        (bladeform.OptionError, "option", "NUL", {"title": "a\0b"}),
        (bladeform.OptionError, "option", "UTF-8", {"title": "\ud800"}),
        (bladeform.InputError, "station-outside", "outside the blade", {"at": ["5m"], "diameter": 1.2, "length": 0.48}),
    ]
    for kind, code, words, options in cases:
        with pytest.raises(kind, match=words) as caught:
            bladeform.measure(scan, **options)
        assert isinstance(caught.value, bladeform.BladeformError) and "--" not in caught.value.sentence
        assert caught.value.code == code and caught.value.sentence in str(caught.value), caught.value
        assert pickle.loads(pickle.dumps(caught.value)).code == code
    (tmp_path / "text.ply").write_text("no mesh")
    for path, code in [("missing.ply", "input"), (tmp_path, "input"), (tmp_path / "text.ply", "format-unknown")]:
        with pytest.raises(bladeform.InputError) as caught:
            bladeform.measure(path)
        assert caught.value.code == code, caught.value
    for wrong in [b"blade.ply", 3, None, [], [3], "a\0b", ""]:
        with pytest.raises(bladeform.OptionError):
            bladeform.measure(wrong)
    with pytest.raises(bladeform.OptionError, match="not both"):
        bladeform.measure(scan, vertices=[[0, 0, 0]])


def test_a_fault_is_one_exception_and_prints_nothing(capfd):
    for _ in range(2):
        with pytest.raises(bladeform.FaultError, match="on purpose") as caught:
            _native.fault()
        assert caught.value.code == "fault"
    assert capfd.readouterr() == ("", "")


def test_every_option_of_the_command_has_its_name_here():
    import inspect

    # Files, folders and what is printed are the command's; their place is a method of the result, or nowhere.
    files = {"out", "output", "overwrite", "no_record", "outlines", "plots", "templates", "one_file", "ascii", "units"}
    left = {
        "measure": files | {"photograph"},
        "predict": (files - {"units"}) | {"slipstream", "scan", "title", "part_note", "date"},
        "compare": (files - {"units"}) | {"title", "part_note", "date"},
        "solid": files | {"scan"},
        "record": files - {"units"},
    }
    for name, elsewhere in left.items():
        known = set(_native.option_names(name))
        here = set(inspect.signature(getattr(bladeform, name)).parameters)
        assert len(known) > 5 and known - elsewhere <= here, (name, known - elsewhere - here)
        assert not (known & elsewhere & here), (name, known & elsewhere & here)


def test_progress_is_told_and_may_end_the_call(scan):
    seen = []
    bladeform.measure(scan, progress=lambda *stage: seen.append((*stage, threading.current_thread())), **OPTIONS)
    names = [s[0] for s in seen]
    assert names[0] == "reading the mesh" and "measuring stations" in names
    assert all(0 <= done and s[3] is threading.current_thread() for s in seen for done in s[1:3])

    def refuse(stage: str, done: int, total: int) -> None:
        raise RuntimeError("enough")

    with pytest.raises(RuntimeError, match="enough"):
        bladeform.measure(scan, progress=refuse, **OPTIONS)
    with pytest.raises(bladeform.OptionError, match="progress"):
        bladeform.measure(scan, progress=3, **OPTIONS)


def test_other_threads_run_meanwhile(scan):
    ticks, over = [0], threading.Event()

    def tick() -> None:
        while not over.is_set():
            ticks[0] += 1
            time.sleep(0.001)

    thread = threading.Thread(target=tick)
    thread.start()
    bladeform.measure(scan, **OPTIONS)
    over.set()
    thread.join()
    assert ticks[0] > 20


@pytest.mark.skipif(os.name != "posix", reason="signals are sent as POSIX has them")
def test_ctrl_c_ends_a_long_call_within_half_a_second(tmp_path):
    # A fine blade takes several seconds; the child says when it begins and how long after the signal it ended.
    script = (
        "import sys, time; sys.path[:0] = sys.argv[1:]; import blades, bladeform\n"
        "v, f = blades.blade(700, 300)\n"
        "print('begin', flush=True)\n"
        "try:\n    bladeform.measure(vertices=v, triangles=f, **blades.OPTIONS)\n"
        "except KeyboardInterrupt:\n    print('ended', time.time(), flush=True)\n"
    )
    # A shell starts what runs in its background with the signal ignored.
    child = subprocess.Popen(
        [sys.executable, "-c", script, os.path.dirname(__file__)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert child.stdout.readline() == "begin\n", child.stderr.read()
    time.sleep(0.3)
    sent = time.time()
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=60)
    assert out.startswith("ended"), (out, err)
    assert float(out.split()[1]) - sent < 0.5 and err == ""
