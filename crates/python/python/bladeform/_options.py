"""Keyword arguments as the command's options: numbers get the SI unit of their option, everything else stays as it was typed."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from ._errors import OptionError

# The unit of a plain number, by option. An angle has none here: 20 could be radians or degrees, so angles are texts with a unit.
_SI = {
    "length": "m",
    "diameter": "m",
    "length_uncertainty": "m",
    "root_radius": "m",
    "resolution": "m",
    "scan_accuracy": "m",
    "altitude": "m",
    "depth": "m",
    "hub_diameter": "m",
    "hub_length": "m",
    "nose_length": "m",
    "bore": "m",
    "shank_diameter": "m",
    "weight_radius": "m",
    "spinner": "m",
    "blunt_hub": "m",
    "body": "m",
    "body_length": "m",
    "body_gap": "m",
    "speed": "m/s",
    "power": "W",
    "density": "kg/m3",
}
# Pure numbers, or numbers whose unit the option's own name or page says.
_PLAIN = {
    "stations",
    "at",
    "blades",
    "rpm",
    "max_rpm",
    "advance",
    "body_drag",
    "stream_factor",
    "warmer",
    "temperature",
    "slipstream",
    "without",
    "reference",
    "threads",
}
# Options whose values are joined by commas; those of others are given once for each.
_LISTED = {"at", "speed", "slipstream", "without"}


def _number(name: str, value: Any) -> str:
    number = float(value)
    if not math.isfinite(number):
        raise OptionError("option", f"`{name}`: {number} is no finite number")
    # Never 1e-05: an `e` could be taken for the beginning of a unit.
    text = format(Decimal(repr(number)), "f")
    return text[:-2] if text.endswith(".0") else text


def _is_number(value: Any) -> bool:
    return hasattr(value, "__float__") and not getattr(value, "ndim", 0)


def _text(name: str, value: Any, si: Mapping[str, str]) -> str:
    if isinstance(value, str):
        text = value
    elif isinstance(value, os.PathLike):
        text = os.fsdecode(value)
    elif isinstance(value, bool) or value is None:
        raise OptionError("option", f"`{name}`: {value!r} is no value of this option; see its help")
    elif _is_number(value) and name in si:
        text = _number(name, value) + si[name]
    elif _is_number(value) and name in _PLAIN:
        text = _number(name, value)
    elif _is_number(value):
        raise OptionError(
            "option", f"`{name}`: {value!r} has no unit; give a text with a unit, as the command takes it"
        )
    else:
        raise OptionError("option", f"`{name}`: {type(value).__name__} is no value of this option; see its help")
    if "\0" in text:
        raise OptionError("option", f"`{name}`: a text with a NUL character is no value of this option")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise OptionError("option", f"`{name}`: this text cannot be written as UTF-8") from None
    return text


def options(values: Mapping[str, Any], **also_si: str) -> list[tuple[str, str | None]]:
    """The options that were given: pairs of name and text; a switch has no text.

    ``None`` and ``False`` are not given; ``True`` is a switch; a list is given once for each item, or joined by commas where the option is a list.
    ``also_si``: units of plain numbers of options that only this command has.
    """
    si = {**_SI, **also_si}
    given: list[tuple[str, str | None]] = []
    for name, value in values.items():
        if value is None or value is False:
            continue
        if value is True:
            given.append((name, None))
        elif isinstance(value, Iterable) and not isinstance(value, (str, bytes)) and not _is_number(value):
            texts = [_text(name, item, si) for item in value]
            if not texts:
                raise OptionError("option", f"`{name}`: the list is empty; leave it out instead")
            if name in _LISTED:
                given.append((name, ",".join(texts)))
            else:
                given.extend((name, text) for text in texts)
        else:
            given.append((name, _text(name, value, si)))
    return given
