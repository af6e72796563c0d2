"""Results: the documents of the command as objects, as data frames and as arrays."""

from __future__ import annotations

import csv
import functools
import html
import io
import json
import math
import os
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from . import _arrays, _native
from ._errors import OptionError

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

Path = str | os.PathLike[str]


class Notice(NamedTuple):
    """A warning or a flag.

    ``code``: a short word that does not change, empty for a text without one; ``sentence``: what is wrong, what it does to the figures, what to do.
    """

    code: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.code}: {self.sentence}" if self.code else self.sentence

    @classmethod
    def read(cls, text: str) -> Notice:
        """A notice from its text in a document, ``code: sentence``."""
        code, colon, sentence = text.partition(": ")
        is_code = bool(colon) and bool(code) and all(c == "-" or "a" <= c <= "z" for c in code)
        return cls(code, sentence) if is_code else cls("", text)


class Figures(Mapping[str, Any]):
    """An object of a document: its keys as attributes and as items. The end of a key is its unit. A figure without meaning is ``None``.

    Keys are those of docs/definitions.md. Objects within are :class:`Figures` too.
    """

    __slots__ = ("_data",)

    def __init__(self, data: dict[str, Any]) -> None:
        self._data = data

    def __getitem__(self, key: str) -> Any:
        return _wrapped(self._data[key])

    def __getattr__(self, key: str) -> Any:
        if key.startswith("_"):
            raise AttributeError(key)
        try:
            return self[key]
        except KeyError:
            raise AttributeError(f"there is no {key!r}; there are {', '.join(self._data)}") from None

    def __iter__(self) -> Iterator[str]:
        return iter(self._data)

    def __len__(self) -> int:
        return len(self._data)

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._data]

    def __repr__(self) -> str:
        shown = ", ".join(f"{k}={_short(v)}" for k, v in self._data.items())
        return f"{type(self).__name__}({shown})"

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self._data,)

    def to_dict(self) -> dict[str, Any]:
        """The same as plain dictionaries and lists; a copy."""
        copy: dict[str, Any] = json.loads(json.dumps(self._data))
        return copy


class Station(Figures):
    """One station: its figures in SI, angles in degrees, as in stations.json; ``u`` has the standard uncertainty of each, ``flags`` what must be known."""

    __slots__ = ()

    @property
    def flags(self) -> list[Notice]:
        """What must be known about this station."""
        return [Notice.read(text) for text in self._data.get("flags") or []]


def _wrapped(value: Any) -> Any:
    if isinstance(value, dict):
        return Figures(value)
    if isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
        return [Figures(v) for v in value]
    return value


def _short(value: Any) -> str:
    if isinstance(value, dict):
        return "{...}"
    if isinstance(value, list):
        return f"[{len(value)}]"
    return repr(value)


class _Document:
    """A document of the command, as its bytes."""

    def __init__(self, data: bytes) -> None:
        self._bytes = bytes(data)

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and isinstance(other, _Document) and other._bytes == self._bytes

    def __hash__(self) -> int:
        return hash(self._bytes)

    def __getstate__(self) -> dict[str, Any]:
        # What was parsed is not sent to other processes.
        return {k: v for k, v in self.__dict__.items() if k != "data"}


class _Json(_Document):
    @functools.cached_property
    def data(self) -> dict[str, Any]:
        """The whole document as dictionaries and lists, by the keys of docs/definitions.md."""
        parsed: dict[str, Any] = json.loads(self._bytes)
        return parsed

    def __getitem__(self, key: str) -> Any:
        return _wrapped(self.data[key])

    def to_json(self) -> str:
        """The document as the command writes it, to the last digit."""
        return self._bytes.decode()

    @property
    def warnings(self) -> list[Notice]:
        """All notices of the document, with codes: also those that are not told when it is made."""
        return [Notice.read(text) for text in self.data.get("warnings") or []]


@functools.cache
def columns() -> dict[str, tuple[str, str]]:
    """Unit and meaning of every column of the station table, by key.

    >>> columns()["chord_m"][0]
    'm'
    """
    return {key: (unit, meaning) for key, unit, meaning, _ in _native.columns()}


class Table(_Json):
    """A station table: what ``bladeform measure`` writes as stations.json.

    Made by :func:`bladeform.measure` and :func:`bladeform.read`. It can be pickled and sent to other processes, and compared with ``==``.
    """

    @property
    def stations(self) -> list[Station]:
        """The stations, from root to tip."""
        return [Station(s) for s in self.data["stations"]]

    @property
    def blade(self) -> Figures:
        """Figures of the whole blade: ``radius_m``, ``root_radius_m``, ``activity_factor`` ...; ``u`` has their standard uncertainties."""
        return Figures(self.data["blade"])

    @property
    def frame(self) -> Figures | None:
        """How the part lies in the scan: ``scan_to_blade`` (4 x 4, from the scan's coordinates to blade axes in metres), ``hand`` ..."""
        return Figures(self.data["frame"]) if "frame" in self.data else None

    @property
    def source(self) -> Figures | None:
        """The scan: file, SHA-256, format, numbers of vertices and triangles."""
        return Figures(self.data["source"]) if "source" in self.data else None

    def __len__(self) -> int:
        return len(self.data["stations"])

    def to_csv(self) -> str:
        """The rows as the command writes them into stations.csv."""
        return _native.rows(self._bytes).decode()

    def to_pandas(self) -> pd.DataFrame:
        """A data frame with one row for each station; needs pandas.

        Columns are the keys of stations.csv: figures, then ``u_`` and the key for the standard uncertainty of each, evidence, and ``flags`` (``code: sentence``
        joined by ``" | "``). Missing figures are NaN. ``attrs["units"]`` and ``attrs["meaning"]`` say what each column is.
        """
        import pandas as pd

        rows = []
        for station in self.data["stations"]:
            row: dict[str, Any] = {}
            uncertainty = station.get("u") or {}
            for key, _, _, u_key in _native.columns():
                row[key] = _or_nan(station.get(key))
                if u_key is not None:
                    row[u_key] = _or_nan(uncertainty.get(key))
            row["flags"] = " | ".join(station.get("flags") or [])
            rows.append(row)
        frame = pd.DataFrame(rows)
        units: dict[str, str] = {"flags": "text"}
        meaning: dict[str, str] = {"flags": "What must be known about the station, `code: sentence`."}
        for key, unit, words, u_key in _native.columns():
            units[key], meaning[key] = unit, words
            if u_key is not None:
                units[u_key], meaning[u_key] = unit, f"Standard uncertainty of {key}."
        frame.attrs = {"units": units, "meaning": meaning, "caution": _native.CAUTION}
        return frame

    def outline(self, station: int, unit: Literal["m", "chord"] = "m") -> NDArray[np.float64]:
        """The outline of a station: n x 2, closed, anticlockwise, leading edge at the origin, chord line along x, back up.

        ``unit``: metres, or fractions of the chord. A station without an outline raises :class:`bladeform.OptionError`.
        """
        import numpy as np

        found = self.data["stations"][station]
        outline = found.get("outline")
        if not outline:
            raise OptionError("option", f"station {station} has no outline; its flags say why")
        if unit not in ("m", "chord"):
            raise OptionError("option", f"`unit` is {unit!r}; give 'm' or 'chord'")
        points = np.column_stack([outline["x"], outline["y"]]).astype(np.float64)
        return points if unit == "m" else points / found["chord_m"]

    def write(self, folder: Path, *, overwrite: bool = False) -> None:
        """Writes stations.json, stations.csv with its description and, for a propeller, the rows of each blade into a folder: all of them, or none.

        Texts about the part that the folder holds already are kept, as the command does. The record of another scan is replaced only with ``overwrite``.
        """
        _native.write_table(self._bytes, folder, overwrite)

    def planform_svg(self) -> str:
        """The plan form as SVG: leading and trailing edge of every station seen along the chord lines, to scale."""
        rows = [
            (s["radius_m"], s["chord_m"], s.get("mid_chord_x_m") or 0.0)
            for s in self.data["stations"]
            if s.get("chord_m") is not None
        ]
        if len(rows) < 2:
            return ""
        # Along the chord line: the sweep of the mid-chord points across the blade, and half a chord to either side.
        upper = [(r, x + 0.5 * c) for r, c, x in rows]
        lower = [(r, x - 0.5 * c) for r, c, x in rows]
        (left, right), ys = (rows[0][0], rows[-1][0]), [y for _, y in upper + lower]
        scale = 600.0 / (right - left) if left < right else 1.0
        top, bottom = max(ys), min(ys)
        points = [*upper, *reversed(lower)]
        path = " ".join(f"{20 + scale * (r - left):.1f},{10 + scale * (top - y):.1f}" for r, y in points)
        ticks = "".join(
            f'<circle cx="{20 + scale * (r - left):.1f}" cy="{10 + scale * (top - x):.1f}" r="1.5"/>'
            for r, _, x in rows
        )
        height = 20 + scale * (top - bottom)
        title = f"Plan form from {left:.3f} m to {right:.3f} m radius"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="640" viewBox="0 0 640 {height:.0f}" role="img">'
            f"<title>{title}</title>"
            f'<polygon points="{path}" fill="#cfd8dc" stroke="#37474f"/>{ticks}</svg>'
        )

    def __repr__(self) -> str:
        blade = self.data["blade"]
        return f"<bladeform.Table: {len(self)} stations, tip radius {blade['radius_m']:.4f} m, {len(self.warnings)} warnings>"

    def _repr_html_(self) -> str:
        shown = [
            ("radius_m", "r [mm]", 1e3, 1),
            ("radius_ratio", "r/R", 1.0, 3),
            ("chord_m", "chord [mm]", 1e3, 1),
            ("blade_angle_deg", "blade angle [deg]", 1.0, 2),
            ("thickness_m", "thickness [mm]", 1e3, 2),
            ("camber_ratio", "camber [%]", 1e2, 2),
        ]
        head = "".join(f"<th>{html.escape(label)}</th>" for _, label, _, _ in shown)
        body = []
        for station in self.data["stations"]:
            cells = []
            for key, _, factor, decimals in shown:
                value, u = station.get(key), (station.get("u") or {}).get(key)
                text = "-" if value is None else f"{factor * value:.{decimals}f}"
                cells.append(text if u is None else f"{text} &plusmn; {2 * factor * u:.{decimals}f}")
            codes = ", ".join(Notice.read(text).code or "flag" for text in station.get("flags") or [])
            body.append("<tr>" + "".join(f"<td>{c}</td>" for c in [*cells, html.escape(codes)]) + "</tr>")
        told = "".join(f"<li>{html.escape(str(w))}</li>" for w in self.warnings)
        return (
            f"{self.planform_svg()}<table><thead><tr>{head}<th>flags</th></tr></thead><tbody>{''.join(body)}</tbody></table>"
            f"<p>After &plusmn;: twice the standard uncertainty.</p><ul>{told}</ul><p>{html.escape(_native.CAUTION)}</p>"
        )


def _or_nan(value: Any) -> Any:
    return math.nan if value is None else value


class Prediction(_Json):
    """A prediction: what ``bladeform predict`` writes as prediction.json. Made by :func:`bladeform.predict`."""

    def __init__(
        self, data: bytes, text: str, made_of: tuple[bytes | None, Path | None] = (None, None)
    ) -> None:
        super().__init__(data)
        self._text = text
        self._made_of = made_of

    @property
    def points(self) -> list[Figures]:
        """The operating points: ``thrust_n``, ``torque_nm``, ``power_w``, ``efficiency`` ..., for each setting and flight condition."""
        return [Figures(p) for p in self.data["points"]]

    def to_pandas(self) -> pd.DataFrame:
        """A data frame with one row for each operating point; needs pandas. Columns are the keys of the points that hold one value; a standard uncertainty
        due to the geometry is ``u_`` and the key, due to the methods ``u_method_`` and the key. What belongs to shank, hub and body stands under its own keys, as in
        prediction.csv. Missing figures are NaN. ``attrs["caution"]`` is the caution of the document."""
        import pandas as pd

        rows = []
        for point in self.data["points"]:
            row = {k: _or_nan(v) for k, v in point.items() if not isinstance(v, (dict, list))}
            row.update({f"u_{k}": _or_nan(v) for k, v in (point.get("u") or {}).items()})
            row.update({f"u_method_{k}": _or_nan(v) for k, v in (point.get("u_method") or {}).items()})
            row.update({k: _or_nan(v) for k, v in (point.get("installed") or {}).items()})
            row["flags"] = " | ".join(point.get("flags") or [])
            rows.append(row)
        frame = pd.DataFrame(rows)
        frame.attrs = {"caution": _native.CAUTION}
        return frame

    def write(self, folder: Path, *, overwrite: bool = False) -> None:
        """Writes prediction.json, prediction.csv and, if there are schedules, schedules.csv into a folder: all of them, or none.

        A folder that holds the record of another blade is refused without ``overwrite``, as the command does.
        """
        _native.write_prediction(self._bytes, folder, self._made_of, overwrite)

    def __str__(self) -> str:
        return self._text

    def __repr__(self) -> str:
        return f"<bladeform.Prediction: {len(self.data['points'])} points>"

    def _repr_html_(self) -> str:
        return f"<pre>{html.escape(self._text)}</pre>"


class Comparison(_Document):
    """Two tables compared, or the blades of one. Made by :func:`bladeform.compare`."""

    def __init__(
        self, data: bytes, alike: bool | None, verdict: list[str], text: str, warnings: list[Notice]
    ) -> None:
        super().__init__(data)
        self._text = text
        self.alike = alike
        """Whether no difference counts; ``None`` if nothing could be judged."""
        self.verdict = verdict
        """The verdict in sentences: where they differ, by how much, and beyond what."""
        self.warnings = warnings
        """What must be known about the comparison, with codes."""

    @property
    def is_of_blades(self) -> bool:
        """Whether the blades of one table were compared."""
        return self._bytes.startswith(b"{")

    def to_csv(self) -> str:
        """comparison.csv of two tables, as the command writes it."""
        if self.is_of_blades:
            raise OptionError("option", "the blades of one table have no comparison.csv; use to_json")
        return self._bytes.decode()

    def to_json(self) -> str:
        """blades.json of the blades of one table, as the command writes it."""
        if not self.is_of_blades:
            raise OptionError("option", "two tables have no blades.json; use to_csv")
        return self._bytes.decode()

    @property
    def rows(self) -> list[dict[str, Any]]:
        """One row for each figure at each radius. The figure's name ends in the unit of ``first``, ``second``, ``difference`` and ``u``."""
        if self.is_of_blades:
            found: list[dict[str, Any]] = json.loads(self._bytes)["rows"]
            return found
        return [{k: _cell(v) for k, v in row.items()} for row in csv.DictReader(io.StringIO(self.to_csv()))]

    def to_pandas(self) -> pd.DataFrame:
        """:attr:`rows` as a data frame; needs pandas."""
        import pandas as pd

        frame = pd.DataFrame(self.rows)
        frame.attrs = {"caution": _native.CAUTION}
        return frame

    def __str__(self) -> str:
        return self._text

    def __repr__(self) -> str:
        return f"<bladeform.Comparison: alike {self.alike}>"

    def _repr_html_(self) -> str:
        return f"<pre>{html.escape(self._text)}</pre>"


def _cell(text: str) -> float | bool | str | None:
    if text in ("", "yes", "no"):
        return {"": None, "yes": True, "no": False}[text]
    try:
        return float(text)
    except ValueError:
        return text


class Solid:
    """A closed surface of triangles at one setting, free of self-intersection. Made by :func:`bladeform.solid`."""

    def __init__(
        self,
        setting_deg: float | None,
        vertices: bytes,
        triangles: bytes,
        metres_per_unit: float,
        figures: dict[str, Any],
        warnings: list[Notice],
    ) -> None:
        self._bytes = (vertices, triangles)
        self.setting_deg = setting_deg
        """The setting in degrees, if one was given."""
        self.metres_per_unit = metres_per_unit
        """What one unit of the coordinates is, m."""
        self.figures = Figures(figures)
        """``volume_m3``, ``area_m2``, ``facet_distance_m`` ..., with a density also ``mass_kg`` and moments of inertia."""
        self.warnings = warnings
        """What must be known about it, with codes."""

    @functools.cached_property
    def vertices(self) -> NDArray[np.float64]:
        """n x 3 coordinates in blade axes, in units of ``metres_per_unit``."""
        return _arrays.from_bytes(*self._bytes)[0]

    @functools.cached_property
    def triangles(self) -> NDArray[np.int64]:
        """m x 3 indices of vertices, counted from 0, anticlockwise seen from outside."""
        return _arrays.from_bytes(*self._bytes)[1]

    def write(self, path: Path) -> None:
        """Writes the triangles; the ending says the format: .stl and .ply (both binary) or .obj. STEP files are written by the command."""
        _native.write_mesh(*self._bytes, path)

    def __repr__(self) -> str:
        return f"<bladeform.Solid: {len(self._bytes[1]) // 12} triangles, {self.figures.volume_m3:.6g} m3>"


class Page(_Document):
    """A page that is kept: one HTML file. Made by :func:`bladeform.record`."""

    def __init__(self, data: bytes, plots: dict[str, str], warnings: list[Notice]) -> None:
        super().__init__(data)
        self.plots = plots
        """Curves and drawings: SVG by file name."""
        self.warnings = warnings
        """What must be known about the page, with codes."""

    @property
    def html(self) -> str:
        """The page."""
        return self._bytes.decode()

    def write(self, path: Path) -> None:
        """Writes the page. An existing file is replaced."""
        with open(path, "wb") as file:
            file.write(self._bytes)

    def __repr__(self) -> str:
        return f"<bladeform.Page: {len(self._bytes) / 1e6:.1f} MB>"


class Polar(NamedTuple):
    """The polar of one section at one Reynolds and Mach number. Made by :func:`bladeform.polars`."""

    radius_ratio: float
    """Radius as a fraction of the tip radius."""
    chord_m: float
    """Chord, m."""
    angle_deg: NDArray[np.float64]
    """Angles of attack of the chord line, degrees."""
    lift: NDArray[np.float64]
    """Lift coefficient."""
    drag: NDArray[np.float64]
    """Drag coefficient."""
    moment: NDArray[np.float64]
    """Moment coefficient about the quarter chord, nose up positive."""
    source: list[str]
    """Where each value comes from: ``computed``, ``bridged``, ``beyond-stall``, ``bluff-body`` or ``given``."""
