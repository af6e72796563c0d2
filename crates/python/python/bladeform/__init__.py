"""From a scan of a propeller blade to numbers that can be defended.

>>> import bladeform                                                     # doctest: +SKIP
>>> table = bladeform.measure("blade.ply", length="52in")                # doctest: +SKIP
>>> table.to_pandas()[["radius_m", "chord_m", "u_chord_m"]]              # doctest: +SKIP

Functions: :func:`measure` and :func:`read` make a :class:`Table`; :func:`predict`, :func:`compare`, :func:`solid`, :func:`record` and :func:`polars` use it.

Every option of the command has the same name here, with ``_`` for ``-``. A quantity is a text with a unit (``"52in"``, ``"17deg@0.75"``), or where it is a
length, speed, power or density a number in SI. Angles are always texts with a unit. Results are in SI, angles in degrees, with the unit in the name.

Nothing is printed. What must be known about a result goes through ``warnings`` as :class:`BladeformWarning`, and stays in ``result.warnings``. What cannot be
done raises a :class:`BladeformError` with a code and one sentence.

A measured or rebuilt propeller is not an airworthy one; see ``bladeform.CAUTION``.
"""

from __future__ import annotations

import os
import warnings as _warnings
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, Literal

from . import _arrays, _native
from ._documents import (
    Comparison,
    Figures,
    Notice,
    Page,
    Path,
    Polar,
    Prediction,
    Solid,
    Station,
    Table,
    columns,
)
from ._errors import (
    BladeformError,
    BladeformWarning,
    FaultError,
    InputError,
    OptionError,
    StoppedError,
)
from ._options import options as _options

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = [
    "CAUTION",
    "BladeformError",
    "BladeformWarning",
    "Comparison",
    "FaultError",
    "Figures",
    "InputError",
    "Notice",
    "OptionError",
    "Page",
    "Polar",
    "Prediction",
    "Solid",
    "Station",
    "StoppedError",
    "Table",
    "columns",
    "compare",
    "measure",
    "polars",
    "predict",
    "read",
    "record",
    "solid",
]

__version__: str = _native.VERSION
CAUTION: str = _native.CAUTION
"""What must be known before anything is built, run or flown."""

Quantity = str | float
"""A text with a unit, or a number in SI."""
Progress = Callable[[str, int, int], object]
"""Called with the stage, the steps done and all steps (0 if they are not counted), on the calling thread. What it raises ends the call."""


def _tell(told: Sequence[tuple[str, str]]) -> list[Notice]:
    notices = [Notice(code, sentence) for code, sentence in told]
    for notice in notices:
        # At the line of the caller of the function that tells.
        _warnings.warn(BladeformWarning(notice.code, notice.sentence), stacklevel=3)
    return notices


def _path(name: str, value: Any) -> str:
    try:
        path = os.fspath(value)
        text = os.fsdecode(path)
    except TypeError:
        raise OptionError("option", f"`{name}`: {type(value).__name__} is no path; give a text or a path") from None
    if not text or "\0" in text:
        raise OptionError("option", f"`{name}`: {text!r} is no path of a file")
    return text


def _table(value: Table | Path) -> bytes | str:
    return value._bytes if isinstance(value, Table) else _path("table", value)


def _called(progress: Any) -> Progress | None:
    if progress is not None and not callable(progress):
        raise OptionError("option", "`progress` must be a function of stage, steps done and all steps")
    called: Progress | None = progress
    return called


def measure(
    scan: Path | Sequence[Path] | None = None,
    *,
    vertices: ArrayLike | None = None,
    triangles: ArrayLike | None = None,
    name: str = "mesh",
    length: Quantity | None = None,
    diameter: Quantity | None = None,
    length_uncertainty: Quantity | None = None,
    distance: str | Iterable[str] | None = None,
    root_radius: Quantity | None = None,
    unit: Literal["mm", "cm", "m", "in", "ft"] | None = None,
    resolution: Quantity | None = None,
    scan_accuracy: Quantity | None = None,
    sections: Literal["plane", "cylinder"] | None = None,
    stations: int | None = None,
    at: str | Iterable[str | float] | None = None,
    setting: str | None = None,
    setting_of: Literal["chord", "face"] | None = None,
    reading: str | Iterable[str] | None = None,
    hand: Literal["right", "left"] | None = None,
    swap: str | Iterable[Literal["ends", "edges", "sides"]] | None = None,
    title: str | None = None,
    part_note: str | None = None,
    date: str | None = None,
    maker: str | None = None,
    number: str | None = None,
    owner: str | None = None,
    scanned_by: str | None = None,
    scanned_with: str | None = None,
    accession_number: str | None = None,
    density: Quantity | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Table:
    """Measures a scan of one blade or of a whole propeller.

    Parameters
    ----------
    scan : path, or several paths
        PLY, STL, OBJ or GLB, recognised by content. Several scans of one blade: their mean, and whether they agree.
    vertices, triangles : array_like, n x 3 and m x 3
        In place of a file: coordinates in any unit and pose, and indices of vertices counted from 0. Any number type, memory order and byte order.
        Rows are checked as in a file; vertices that are not finite are dropped and counted.
    name : str
        What the table calls a mesh from arrays.
    length, diameter, length_uncertainty, root_radius, resolution, scan_accuracy : text with a unit, or m
        Overall length of a lone blade; diameter of the propeller; standard uncertainty of that length (0.5 mm); from the axis to the root end of a lone blade
        (``"120mm+-1mm"``); the smallest width that the scan shows; what its report states over long distances.
    distance : text or texts
        A known distance between two points of the scan, ``"250mm+-0.1mm@12,40.5,-3..262,40,-2"``.
    unit : "mm", "cm", "m", "in" or "ft"
        What one unit of the coordinates is, where no length is known.
    sections : "plane" or "cylinder"
        What sections are cut on: planes across the span, or cylinders about the axis of rotation, which need a whole propeller.
    stations, at
        Number of evenly spaced stations (24); or where: fractions of the tip radius (``[0.3, 0.75]``) or radii (``["12in", "18in"]``).
    setting, setting_of
        A known absolute angle of a lone blade, ``"22.5deg@0.75"``, and the line that has it.
    reading : text or texts
        A reading by hand to compare, ``"thickness=24.8mm+-0.2mm@0.6"``.
    hand, swap
        The hand, if known; a choice to reverse: ``"ends"``, ``"edges"`` or ``"sides"``.
    title, part_note, date, maker, number, owner, scanned_by, scanned_with, accession_number : str
        Texts about the part for the table and the page.
    density : text with a unit, or kg/m3
        Density of the part: its mass is shown beside its volume. An empty text takes that of the record away.
    threads : int
        Number of threads, 1 to 64; results do not depend on it.
    progress : callable
        Called with stage, steps done and all steps. Ctrl-C ends the call within half a second.

    Returns
    -------
    Table
        ``to_json()`` equals the stations.json of the command to the last digit.

    Raises
    ------
    OptionError
        An argument is wrong or contradicts another.
    InputError
        The scan is no mesh, holds no blade, or no station can be measured.

    Notes
    -----
    Sections are plane cuts perpendicular to the span unless ``sections`` says otherwise; uncertainties follow JCGM 100:2008. docs/methods says how each figure is obtained, with sources.

    Examples
    --------
    >>> table = bladeform.measure("blade.ply", length="52in", setting="17deg@0.75")     # doctest: +SKIP
    >>> table.stations[11].chord_m, table.stations[11].u.chord_m                       # doctest: +SKIP
    (0.2013, 0.0002)
    """
    given = _options(
        {
            "length": length,
            "diameter": diameter,
            "length_uncertainty": length_uncertainty,
            "distance": distance,
            "root_radius": root_radius,
            "unit": unit,
            "resolution": resolution,
            "scan_accuracy": scan_accuracy,
            "sections": sections,
            "stations": stations,
            "at": at,
            "setting": setting,
            "setting_of": setting_of,
            "reading": reading,
            "hand": hand,
            "swap": swap,
            "title": title,
            "part_note": part_note,
            "date": date,
            "maker": maker,
            "number": number,
            "owner": owner,
            "scanned_by": scanned_by,
            "scanned_with": scanned_with,
            "accession_number": accession_number,
            "density": density,
            "threads": threads,
        }
    )
    called = _called(progress)
    if scan is not None:
        if vertices is not None or triangles is not None:
            raise OptionError("option", "give a file or arrays, not both")
        if isinstance(scan, (str, os.PathLike)):
            paths = [_path("scan", scan)]
        elif isinstance(scan, Sequence) and not isinstance(scan, (bytes, bytearray, memoryview)):
            paths = [_path("scan", one) for one in scan]
        else:
            raise OptionError("option", f"`scan`: {type(scan).__name__} is no path; give a text, a path, or several")
        if not paths:
            raise OptionError("option", "`scan`: the list is empty; give at least one file")
        json, told = _native.measure_files(given, paths, called)
    elif vertices is None or triangles is None:
        raise OptionError("option", "give a file, or both vertices and triangles")
    else:
        points = _arrays.vertices_bytes(vertices)
        faces = _arrays.triangles_bytes(triangles, len(points) // 24)
        json, told = _native.measure_mesh(given, points, faces, _path("name", name), called)
    _tell(told)
    return Table(json)


def read(path: Path, *, diameter: float | None = None) -> Table:
    """Reads a station table: stations.json, or a CSV file with at least ``radius_m, chord_m, blade_angle_deg, thickness_ratio, camber_ratio``.

    ``diameter``: in m, for a CSV file that has only radius ratios or only radii. Warnings are not told again; they are in ``warnings``.

    Raises
    ------
    InputError
        The file cannot be read, or is no table.
    """
    if diameter is not None and not (isinstance(diameter, (int, float)) and 0.0 < diameter < float("inf")):
        raise OptionError("option", "`diameter` must be a number above 0, in m")
    return Table(_native.read(_path("path", path), diameter)[0])


def predict(
    table: Table | Path,
    *,
    blades: int,
    rpm: float | None = None,
    speed: Quantity | Iterable[Quantity] | None = None,
    advance: str | float | None = None,
    diameter: Quantity | None = None,
    max_rpm: float | None = None,
    setting: str | None = None,
    setting_of: Literal["chord", "face"] | None = None,
    altitude: Quantity | None = None,
    warmer: float | None = None,
    fluid: Literal["air", "freshwater", "seawater"] | None = None,
    temperature: float | None = None,
    depth: Quantity | None = None,
    power: Quantity | None = None,
    engine: Path | None = None,
    spinner: Quantity | None = None,
    blunt_hub: Quantity | None = None,
    shank_diameter: Quantity | None = None,
    body: Quantity | None = None,
    body_length: Quantity | None = None,
    body_gap: Quantity | None = None,
    body_drag: float | None = None,
    stream_factor: float | None = None,
    surface: Literal["old", "smooth", "rough"] | None = None,
    no_stall_delay: bool = False,
    smooth_blade: bool = False,
    no_free_wake: bool = False,
    polar: str | Iterable[str] | None = None,
    polar_cache: Path | None = None,
    units: Literal["mm", "in"] | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Prediction:
    """Predicts thrust, power and efficiency of a propeller with the blades of a table.

    Parameters
    ----------
    table : Table or path
    blades : int
        Number of blades, 1 to 12.
    rpm, max_rpm : float
        Revolutions per minute; greatest of the engine.
    speed : text with a unit or m/s, or several; advance : ratio V/nD, or ``"0.2:1.2:0.05"``
        One of them is needed. 0 is the static point.
    setting, setting_of
        ``"17deg@0.75"``, or a range in degrees, ``"5:40:1"``, and the line that has the angle.
    diameter, altitude, depth : text with a unit, or m; power : text with a unit, or W
        ``power="120hp@2600rpm"`` is an engine of this torque at every speed.
    warmer, temperature : kelvin above the standard atmosphere; degrees Celsius of water
    engine, polar, polar_cache
        Torque curve (CSV with ``rpm,torque_nm``); your own polar, ``"0.7=polar.csv"``; the folder in which computed polars are kept.
    spinner, blunt_hub, shank_diameter : text with a unit, or m
        Diameters of a spinner that covers the shanks, of a blunt hub, and of the shanks.
    body, body_length, body_gap : text with a unit, or m; body_drag, stream_factor : float
        A nacelle or fuselage behind the propeller: its diameter, length, distance from the blades, and drag coefficient; or the axial speed of the stream over the disc as a fraction of the speed of flight.
    fluid, surface, no_stall_delay, no_free_wake, smooth_blade
        As the command.
    units : of the text that ``str`` returns.

    Returns
    -------
    Prediction
        ``to_json()`` equals the prediction.json of the command to the last digit for a table that is named by its path.

    Raises
    ------
    OptionError, InputError

    Notes
    -----
    Blade elements with Prandtl's tip loss, a lifting line and a free wake beside them; docs/methods/prediction.md has formulas, sources and limits.
    The slipstream is written by the command alone.
    """
    given = _options(
        {
            "blades": blades,
            "rpm": rpm,
            "speed": speed,
            "advance": advance,
            "diameter": diameter,
            "max_rpm": max_rpm,
            "setting": setting,
            "setting_of": setting_of,
            "altitude": altitude,
            "warmer": warmer,
            "fluid": fluid,
            "temperature": temperature,
            "depth": depth,
            "power": power,
            "engine": engine,
            "spinner": spinner,
            "blunt_hub": blunt_hub,
            "shank_diameter": shank_diameter,
            "body": body,
            "body_length": body_length,
            "body_gap": body_gap,
            "body_drag": body_drag,
            "stream_factor": stream_factor,
            "surface": surface,
            "no_stall_delay": no_stall_delay,
            "smooth_blade": smooth_blade,
            "no_free_wake": no_free_wake,
            "polar": polar,
            "polar_cache": polar_cache,
            "units": units,
            "threads": threads,
        }
    )
    made_of = _table(table)
    (json, told), text, stations = _native.predict(given, made_of, _called(progress))
    _tell(told)
    return Prediction(json, text, (stations, made_of if isinstance(made_of, str) else None))


def compare(
    first: Table | Path,
    second: Table | Path | None = None,
    *,
    names: tuple[str, str] = ("first", "second"),
    tolerance: str | Iterable[str] | None = None,
    tolerance_class: str | None = None,
    reference: float | None = None,
    diameter: Quantity | None = None,
    density: Quantity | None = None,
    weight_radius: Quantity | None = None,
    units: Literal["mm", "in"] | None = None,
    threads: int | None = None,
) -> Comparison:
    """Compares two tables, or without a second one the blades of a whole propeller with one another.

    Parameters
    ----------
    first, second : Table or path
        Differences are the first minus the second.
    names : what the sentences call tables in memory; a file is called by its path.
    tolerance : text or texts
        Allowed difference, ``"chord=2mm"``, ``"angle=0.5deg"``, ``"pitch=1.5%"``.
    tolerance_class : text
        Judge a screw measured on cylinders by a class, ``"S"``, ``"I"``, ``"II"``, ``"III"`` (ISO 484-2:1981), or tolerances of your own, ``"radius-pitch=1%,chord=1.5%"``; the report is in the text of ``str``.
    reference : fraction of the tip radius at which both angles are zero where twist is compared.
    density, weight_radius : text with a unit, or kg/m3 and m
        For one table: the static unbalance, and where a weight would be put.
    diameter : text with a unit, or m; for a CSV file that has only radius ratios or only radii.
    units : of the text that ``str`` returns.

    Returns
    -------
    Comparison
        ``alike``, ``verdict``, ``rows``; the text of the command by ``str``.

    Raises
    ------
    OptionError, InputError

    Notes
    -----
    A difference counts beyond what chance exceeds in one of twenty pairs of equal blades (Z. Sidak, J. Am. Stat. Assoc. 62 (1967), 626-633).
    """
    given = _options(
        {
            "tolerance": tolerance,
            "tolerance_class": tolerance_class,
            "reference": reference,
            "diameter": diameter,
            "density": density,
            "weight_radius": weight_radius,
            "units": units,
            "threads": threads,
        }
    )
    tables = [_table(one) for one in (first, second) if one is not None]
    if not isinstance(names, (tuple, list)) or len(names) != 2 or not all(isinstance(n, str) for n in names):
        raise OptionError("option", "`names` must be two texts")
    called = [one if isinstance(one, str) else name for one, name in zip(tables, names)]
    (data, told), alike, verdict, text = _native.compare(given, tables, called)
    return Comparison(data, alike, verdict, text, _tell(told))


def solid(
    table: Table | Path,
    *,
    blades: int | None = None,
    diameter: Quantity | None = None,
    hub_diameter: Quantity | None = None,
    hub_length: Quantity | None = None,
    nose_length: Quantity | None = None,
    bore: Quantity | None = None,
    bolts: str | None = None,
    shank_diameter: Quantity | None = None,
    setting: str | None = None,
    setting_of: Literal["chord", "face"] | None = None,
    without: str | Iterable[str | float] | None = None,
    smooth_blade: bool = False,
    hand: Literal["right", "left"] | None = None,
    tolerance: Quantity | None = None,
    unit: Literal["mm", "m"] | None = None,
    density: Quantity | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Solid:
    """Builds a closed surface of a blade or of a whole propeller at one setting.

    Parameters
    ----------
    table : Table or path
    blades : int
        One blade (the default) without a hub is a lone closed blade.
    diameter, hub_diameter, hub_length, nose_length, bore, shank_diameter, tolerance : text with a unit, or m
        ``tolerance``: greatest distance between facets and smooth surface (0.05 mm). ``bore``: by default that of the table; 0 makes a full hub.
    bolts : ``"8x10mm@114mm"`` or ``"8x10mm@114mm@22.5deg"``, or ``"none"``
        Bolt holes on a circle, and the angle of the first one from the first blade in the direction of rotation; by default those of the table.
    setting, setting_of : ``"20deg@0.75"`` and the line that has the angle. One angle for each call.
    without : stations to leave out, fractions of the tip radius or radii.
    smooth_blade : build the smooth blade that all stations together show.
    hand : "right" or "left"; by default that of the table.
    unit : "mm" (the default) or "m", of the coordinates.
    density : text with a unit, or kg/m3, for mass and moments of inertia in ``figures``.

    Returns
    -------
    Solid
        ``vertices`` n x 3, ``triangles`` m x 3, ``figures``, ``write``.

    Raises
    ------
    OptionError, InputError

    Notes
    -----
    The solid is checked before it is returned: closed, consistently wound, free of self-intersection. STEP files, templates and the distance of the scan are
    made by the command.
    """
    given = _options(
        {
            "blades": blades,
            "diameter": diameter,
            "hub_diameter": hub_diameter,
            "hub_length": hub_length,
            "nose_length": nose_length,
            "bore": bore,
            "bolts": bolts,
            "shank_diameter": shank_diameter,
            "setting": setting,
            "setting_of": setting_of,
            "without": without,
            "smooth_blade": smooth_blade,
            "hand": hand,
            "tolerance": tolerance,
            "unit": unit,
            "density": density,
            "threads": threads,
        },
        tolerance="m",
    )
    if isinstance(setting, str) and ":" in setting:
        raise OptionError("option", "`setting`: give one angle, such as 20deg@0.75, and call once for each")
    [(angle, vertices, triangles, unit_m, figures, told)] = _native.solid(given, _table(table), _called(progress))
    return Solid(angle, vertices, triangles, unit_m, dict(figures), _tell(told))


def record(
    table: Table,
    *predictions: Prediction,
    scan: Path | None = None,
    title: str | None = None,
    part_note: str | None = None,
    date: str | None = None,
    maker: str | None = None,
    number: str | None = None,
    owner: str | None = None,
    scanned_by: str | None = None,
    scanned_with: str | None = None,
    accession_number: str | None = None,
    density: Quantity | None = None,
    photograph: Path | str | Iterable[Path | str] | None = None,
    units: Literal["mm", "in"] | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Page:
    """Makes one page of a table, its scan and its predictions. It opens in any browser and prints.

    Parameters
    ----------
    table : Table
    predictions : Prediction
        Made from this very table.
    scan : path
        The file that was measured; without it the page shows no scan.
    title, part_note, date, maker, number, owner, scanned_by, scanned_with, accession_number : str
        In place of those of the table. Without a date: today, UTC.
    density : text with a unit, or kg/m3
        In place of that of the table.
    photograph : path, or list of paths
        JPEG, PNG or WebP pictures of the part, with ``=`` and what each shows: ``"back.jpg=The back"``. The page holds them.
    units : "mm" or "in", what the page shows.

    Returns
    -------
    Page
        ``html``, ``plots``, ``write``.

    Raises
    ------
    OptionError, InputError
    """
    if not isinstance(table, Table) or not all(isinstance(p, Prediction) for p in predictions):
        raise OptionError("option", "give a Table, and Predictions made from it; bladeform.read reads a table's file")
    given = _options(
        {
            "scan": scan,
            "title": title,
            "part_note": part_note,
            "date": date,
            "maker": maker,
            "number": number,
            "owner": owner,
            "scanned_by": scanned_by,
            "scanned_with": scanned_with,
            "accession_number": accession_number,
            "density": density,
            "photograph": photograph,
            "units": units,
            "threads": threads,
        }
    )
    made = [p._bytes for p in predictions]
    (page, told), plots = _native.record(given, table._bytes, made, _called(progress))
    return Page(page, dict(plots), _tell(told))


def polars(
    table: Table | Path,
    *,
    rpm: float,
    reynolds: float,
    angles: Iterable[float] = tuple(range(-10, 21)),
    mach: float = 0.0,
    diameter: Quantity | None = None,
    altitude: Quantity | None = None,
    warmer: float | None = None,
    fluid: Literal["air", "freshwater", "seawater"] | None = None,
    temperature: float | None = None,
    surface: Literal["old", "smooth", "rough"] | None = None,
    no_stall_delay: bool = False,
    smooth_blade: bool = False,
    polar: str | Iterable[str] | None = None,
    polar_cache: Path | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> list[Polar]:
    """Section polars that a prediction with these options would use, read at one Reynolds and Mach number.

    Parameters
    ----------
    table : Table or path
    rpm : float
        Rotational speed; the polars are computed for the Reynolds numbers that it brings about.
    reynolds, mach : float
        Of the chord, above 0; from 0 to below 1.
    angles : degrees of the chord line, -180 to 180.
    others : as :func:`predict`.

    Returns
    -------
    list of Polar
        One for each usable station, from root to tip.

    Raises
    ------
    OptionError, InputError

    Notes
    -----
    Panels coupled with boundary layers; beyond stall bluff-body relations; docs/methods/prediction.md has sources and limits.
    """
    import numpy as np

    given = _options(
        {
            "rpm": rpm,
            "diameter": diameter,
            "altitude": altitude,
            "warmer": warmer,
            "fluid": fluid,
            "temperature": temperature,
            "surface": surface,
            "no_stall_delay": no_stall_delay,
            "smooth_blade": smooth_blade,
            "polar": polar,
            "polar_cache": polar_cache,
            "threads": threads,
        }
    )
    try:
        at = ([float(a) for a in angles], float(reynolds), float(mach))
    except (TypeError, ValueError):
        raise OptionError("option", "`angles`, `reynolds` and `mach` must be numbers") from None
    found = []
    for ratio, chord, rows in _native.polars(given, _table(table), at, _called(progress)):
        angle, lift, drag, moment = np.array([row[:4] for row in rows], dtype=np.float64).reshape(-1, 4).T
        found.append(Polar(ratio, chord, angle, lift, drag, moment, [row[4] for row in rows]))
    return found
