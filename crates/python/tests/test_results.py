"""Prediction, comparison, solid, page and polars from Python: equal to the command, and the solid to a general-purpose mesh library."""

from __future__ import annotations

import json

import numpy as np
import pytest
from blades import OPTIONS

import bladeform

FLIGHT = {"blades": 2, "rpm": 2400, "speed": 30.0, "setting": "18deg@0.75", "no_free_wake": True}
LINE = ["--blades", "2", "--rpm", "2400", "--speed", "30m/s", "--setting", "18deg@0.75", "--no-free-wake"]


@pytest.fixture(scope="session")
def prediction(small, cache) -> bladeform.Prediction:
    return bladeform.predict(small, polar_cache=cache, **FLIGHT)


def test_a_prediction_equals_that_of_the_command(small, prediction, cache, command, tmp_path):
    small.write(tmp_path)
    path = tmp_path / "stations.json"
    command(tmp_path, "predict", path, *LINE, "--polar-cache", cache, "--no-record")
    written = (tmp_path / "prediction.json").read_text()
    by_path = bladeform.predict(path, polar_cache=cache, **FLIGHT)
    assert by_path.to_json() == written
    # A table in memory is the same but for its name, which a file alone has.
    assert prediction.data == json.loads(written)
    by_path.write(tmp_path / "again")
    for name in ["prediction.json", "prediction.csv"]:
        assert (tmp_path / "again" / name).read_bytes() == (tmp_path / name).read_bytes()


def test_a_prediction_does_not_replace_that_of_another_blade(table, small, prediction, tmp_path):
    data = json.loads(small.to_json())
    data["source"] = {**(data.get("source") or {}), "file": "other.ply", "sha256": "ab" * 32}
    (tmp_path / "stations.json").write_text(json.dumps(data))
    with pytest.raises(bladeform.InputError, match="another scan"):
        prediction.write(tmp_path)
    assert not (tmp_path / "prediction.json").exists()
    # A prediction that was read knows its table by its sum alone.
    with pytest.raises(bladeform.InputError, match="another table"):
        bladeform.Prediction(prediction.to_json().encode(), "").write(tmp_path)
    prediction.write(tmp_path, overwrite=True)
    assert (tmp_path / "prediction.json").read_text() == prediction.to_json()


def test_a_frame_has_the_intervals_of_the_methods(prediction):
    pytest.importorskip("pandas")
    [row] = prediction.to_pandas().to_dict("records")
    assert row["u_method_thrust_n"] == prediction.data["points"][0]["u_method"]["thrust_n"]


def test_a_prediction_is_consistent(prediction):
    [point] = prediction.points
    assert 0.5 < point.efficiency < 1
    # Efficiency is thrust times speed over power (NACA Report 640, symbols).
    assert point.efficiency == pytest.approx(point.thrust_n * 30.0 / point.power_w, rel=1e-8)
    frame = prediction.to_pandas()
    assert frame["thrust_n"][0] == point.thrust_n and frame["flags"][0] == " | ".join(point.flags)
    assert "thrust" in str(prediction).lower() and "<pre>" in prediction._repr_html_()


def test_wrong_predictions_are_refused(small, table):
    cases = [
        ({"blades": 2, "rpm": 2400}, "speed"),
        ({"blades": 0, "rpm": 2400, "speed": 30.0}, "blades"),
        ({"blades": 2, "rpm": 2400, "speed": 30.0, "depth": 1.0}, "`depth`"),
        ({"blades": 2, "rpm": 2400, "speed": 30.0, "altitude": 90_000.0}, "`altitude`"),
        ({"blades": 2, "rpm": 2400, "speed": "fast"}, "`speed`"),
        ({"blades": 2, "rpm": 2400, "speed": []}, "empty"),
    ]
    for options, words in cases:
        with pytest.raises(bladeform.OptionError, match=words) as caught:
            bladeform.predict(small, **options)
        assert "--" not in caught.value.sentence
    with pytest.raises(bladeform.InputError, match="cannot be read"):
        bladeform.predict("missing.json", blades=2, rpm=2400, speed=30.0)
    with pytest.raises(bladeform.OptionError, match="no path"):
        bladeform.predict(table.data, blades=2, rpm=2400, speed=30.0)


def test_a_comparison_equals_that_of_the_command(table, small, command, tmp_path):
    other = bladeform.Table(table.to_json().replace('"chord_m": 0.09', '"chord_m": 0.08').encode())
    assert other != table
    table.write(tmp_path / "a")
    other.write(tmp_path / "b", overwrite=True)
    paths = [tmp_path / name / "stations.json" for name in "ab"]
    command(tmp_path, "compare", *paths, "--tolerance", "chord=1mm", "--no-record")
    compared = bladeform.compare(*paths, tolerance="chord=1mm")
    assert compared.to_csv() == (tmp_path / "comparison.csv").read_bytes().decode()
    # Two tables of one scan have its errors in common: there is nothing to judge a difference by.
    assert compared.alike is None and compared.verdict and not compared.is_of_blades
    beyond = [r for r in compared.rows if r["figure"] == "chord_m" and r["beyond_tolerance"]]
    assert beyond and all(r["difference"] == pytest.approx(0.01, abs=1e-9) for r in beyond)
    assert len(compared.to_pandas()) == len(compared.rows)
    same = bladeform.compare(table, table, names=("left", "right"))
    assert same.alike is not False and "left" in str(same) and max(abs(r["difference"]) for r in same.rows) < 1e-15
    with pytest.raises(bladeform.InputError):
        bladeform.compare(table)
    with pytest.raises(bladeform.OptionError, match="`density`"):
        bladeform.compare(table, small, density=600.0)


def test_blades_of_one_table_equal_those_of_the_command(table, command, tmp_path):
    data = json.loads(table.to_json())
    data["blade"]["blades_in_scan"] = 2
    stations = [{k: v for k, v in s.items() if k != "outline"} for s in data["stations"]]
    wider = [{**s, "chord_m": 1.1 * s["chord_m"]} for s in stations]
    data["blades"] = [
        {"index": k, "azimuth_deg": 180.0 * k, "stations": rows} for k, rows in enumerate([stations, wider])
    ]
    path = tmp_path / "stations.json"
    path.write_text(json.dumps(data))
    command(tmp_path, "compare", path)
    compared = bladeform.compare(path)
    assert compared.is_of_blades and compared.to_json() == (tmp_path / "blades.json").read_text()
    chords = [r for r in compared.rows if r["figure"] == "chord_m"]
    # Of two blades the first is compared with the second, whose chords are 10 % wider.
    assert [r["difference"] for r in chords] == pytest.approx([-0.1 * s["chord_m"] for s in stations], rel=1e-6)
    assert compared.verdict and len(compared.to_pandas()) == len(compared.rows)
    with pytest.raises(bladeform.OptionError, match="`tolerance`"):
        bladeform.compare(path, tolerance="chord=1mm")
    with pytest.raises(bladeform.OptionError, match="to_json"):
        compared.to_csv()


def test_a_solid_is_what_a_mesh_library_says(small, command, tmp_path):
    trimesh = pytest.importorskip("trimesh")
    made = bladeform.solid(small, setting="20deg@0.75", unit="m", tolerance=5e-4, density="0.6g/cm3")
    assert made.vertices.shape[1] == made.triangles.shape[1] == 3 and made.setting_deg == 20.0
    body = trimesh.Trimesh(made.vertices, made.triangles, process=False)
    assert body.is_watertight and body.is_winding_consistent
    assert body.volume == pytest.approx(made.figures.volume_m3, rel=1e-9)
    assert body.area == pytest.approx(made.figures.area_m2, rel=1e-9)
    assert made.figures.mass_kg == pytest.approx(600 * body.volume, rel=1e-9)
    centre = [made.figures[f"centre_{axis}_m"] for axis in "xyz"]
    assert np.allclose(centre, body.center_mass, atol=1e-9)
    small.write(tmp_path)
    line = ["--setting", "20deg@0.75", "--unit", "m", "--tolerance", "0.5mm", "-o", "blade.ply"]
    command(tmp_path, "solid", "stations.json", *line)
    made.write(tmp_path / "again.ply")
    again, theirs = (trimesh.load(tmp_path / name, process=False) for name in ["again.ply", "blade.ply"])
    assert np.array_equal(again.faces, theirs.faces) and np.allclose(again.vertices, theirs.vertices, rtol=1e-6)
    with pytest.raises(bladeform.OptionError, match="one angle"):
        bladeform.solid(small, setting="10:20:5@0.75")
    with pytest.raises(bladeform.OptionError, match="ending"):
        made.write(tmp_path / "blade.step")


def test_a_page_equals_that_of_the_command(table, scan, command, tmp_path):
    table.write(tmp_path)
    texts = ["--title", "Port <1>", "--date", "2026-01-31"]
    command(tmp_path, "record", "stations.json", "--scan", scan, *texts, "-o", "page.html", "--plots", "plots")
    page = bladeform.record(table, scan=scan, title="Port <1>", date="2026-01-31")
    assert page.html == (tmp_path / "page.html").read_text()
    assert page.plots == {p.name: p.read_text() for p in (tmp_path / "plots").iterdir()}
    page.write(tmp_path / "again.html")
    assert (tmp_path / "again.html").read_bytes() == (tmp_path / "page.html").read_bytes()
    with pytest.raises(bladeform.InputError):
        bladeform.record(table, scan=tmp_path / "stations.csv")
    with pytest.raises(bladeform.OptionError, match="Table"):
        bladeform.record(tmp_path / "stations.json")


def test_the_record_of_another_scan_is_not_replaced(table, mesh, tmp_path):
    table.write(tmp_path)
    other = bladeform.measure(vertices=mesh[0], triangles=mesh[1], **OPTIONS)
    with pytest.raises(bladeform.InputError, match="`overwrite`"):
        other.write(tmp_path)
    table.write(tmp_path)
    other.write(tmp_path, overwrite=True)
    assert bladeform.read(tmp_path / "stations.json") == other


def test_polars_have_the_slope_of_thin_sections(small, cache):
    polars = bladeform.polars(small, rpm=2400, reynolds=5e5, angles=[-2, 0, 2, 90], polar_cache=cache)
    assert [p.radius_ratio for p in polars] == pytest.approx([0.25, 0.6, 0.9])
    outer = polars[-1]
    # 2 pi per radian of thin-section theory; viscosity takes up to a tenth (Abbott, von Doenhoff, Theory of Wing Sections (1959), section 5.3, from memory).
    slope = (outer.lift[2] - outer.lift[0]) / np.radians(4)
    assert slope == pytest.approx(2 * np.pi, rel=0.15)
    assert outer.source[:3] == ["computed"] * 3 and outer.source[3] == "beyond-stall"
    assert outer.drag[3] > 1 and (outer.drag[:3] < 0.03).all() and outer.lift[1] > 0.2
    with pytest.raises(bladeform.OptionError, match="`mach`"):
        bladeform.polars(small, rpm=2400, reynolds=5e5, mach=1.5)
    with pytest.raises(bladeform.OptionError, match="numbers"):
        bladeform.polars(small, rpm=2400, reynolds="many")
