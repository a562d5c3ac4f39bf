"""Attribute values of SVG: numbers, lengths, transform lists, view boxes."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from geometry.transform import IDENTITY, Affine, rotation, scaling, translation

NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_NUMBERS = re.compile(NUMBER)
_LENGTH = re.compile(rf"\s*({NUMBER})\s*([a-zA-Z]*|%)\s*\Z")
_FUNCTION = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)")
_ARGUMENTS = re.compile(rf"\s*(?:{NUMBER}(?:\s*,?\s*{NUMBER})*)?\s*\Z")
_COUNTS = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}

# CSS absolute lengths in px (CSS Values 3, section 6.2): 1 in = 96 px = 2.54 cm = 72 pt = 6 pc, 1 Q = 1/40 cm.
PX_PER = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96.0 / 2.54,
    "mm": 96.0 / 25.4,
    "q": 96.0 / 101.6,
    "pt": 96.0 / 72.0,
    "pc": 16.0,
}


class BadValue(ValueError):
    """An attribute whose value SVG does not allow."""


@dataclass(frozen=True, slots=True)
class Length:
    """A number with its unit as written, the unit in lower case ("" for none, "%" for a percentage)."""

    number: float
    unit: str


def parse_length(text: str) -> Length:
    """Read one length.

    Raises
    ------
    BadValue
        If it is no finite number with a unit of SVG.
    """
    match = _LENGTH.match(text)
    if match is None:
        raise BadValue(f"'{text[:40]}' is no length")
    number, unit = float(match.group(1)), match.group(2).lower()
    if not math.isfinite(number):
        raise BadValue(f"'{text[:40]}' is too large")
    if unit not in PX_PER and unit not in ("%", "em", "ex", "rem", "ch"):
        raise BadValue(f"'{text[:40]}' has a unit SVG does not know")
    return Length(number, unit)


def to_px(length: Length, *, whole: float, font_size: float = 16.0) -> float:
    """Length in user units.

    Parameters
    ----------
    whole : float
        What 100 % stands for.
    font_size : float
        The em; an ex is taken as half of it.
    """
    if length.unit == "%":
        return length.number * whole / 100.0
    if length.unit in ("em", "rem"):
        return length.number * (font_size if length.unit == "em" else 16.0)
    if length.unit in ("ex", "ch"):
        return length.number * font_size / 2.0
    return length.number * PX_PER[length.unit]


def parse_numbers(text: str) -> list[float]:
    """All numbers of a list, as far as it can be read.

    Raises
    ------
    BadValue
        If a number is not finite, or something that is no number stands between them.
    """
    values = [float(found) for found in _NUMBERS.findall(text)]
    if not all(map(math.isfinite, values)):
        raise BadValue("a number is too large")
    if _NUMBERS.sub("", text).strip(" ,\t\r\n\f"):
        raise BadValue(f"'{text[:40]}' is no list of numbers")
    return values


def parse_transform(text: str) -> Affine:
    """Transform list as one map; the last of the list acts first (SVG 1.1, 7.6).

    Raises
    ------
    BadValue
        If any part of the list is wrong.
    """
    total = IDENTITY
    position = 0
    text = text.strip()
    if text == "none":
        return IDENTITY
    while position < len(text):
        match = _FUNCTION.match(text, position)
        if match is None:
            raise BadValue(f"transform '{text[:60]}' cannot be read")
        name, inside = match.groups()
        if not _ARGUMENTS.match(inside):
            raise BadValue(f"transform '{text[:60]}' cannot be read")
        values = [float(found) for found in _NUMBERS.findall(inside)]
        if len(values) not in _COUNTS[name] or not all(map(math.isfinite, values)):
            raise BadValue(f"{name} of transform '{text[:60]}' has {len(values)} usable numbers")
        total = _function(name, values).then(total)
        position = match.end()
        while position < len(text) and text[position] in " ,\t\r\n\f":
            position += 1
    return total


def parse_origin(text: str, width: float, height: float) -> tuple[float, float]:
    """Point of a ``transform-origin``, in user units (CSS Transforms 1, chapter 5).

    Parameters
    ----------
    text : str
        One, two or three lengths, percentages or words; what is not given is the centre.
    width, height : float
        Size of the box the origin is measured on, whose corner is at 0, 0.

    Raises
    ------
    BadValue
        If it is none of those.
    """
    words = text.lower().split()[:2]
    if not words:
        raise BadValue("a transform-origin without a value")
    if words[0] in ("top", "bottom") or (len(words) == 2 and words[1] in ("left", "right")):
        words.reverse()
    across, down = (words[0], words[1] if len(words) == 2 else "center")
    if len(words) == 1 and text.lower().strip() in ("top", "bottom"):
        across, down = "center", words[0]
    places = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
    x, y = (parse_length(places.get(word, word)) for word in (across, down))
    return to_px(x, whole=width), to_px(y, whole=height)


def _function(name: str, values: list[float]) -> Affine:
    if name == "matrix":
        return Affine(*values)
    if name == "translate":
        return translation(values[0], values[1] if len(values) == 2 else 0.0)
    if name == "scale":
        return scaling(values[0], values[1] if len(values) == 2 else values[0])
    if name == "rotate":
        turn = rotation(values[0])
        if len(values) == 1:
            return turn
        return translation(-values[1], -values[2]).then(turn).then(translation(values[1], values[2]))
    slope = math.tan(math.radians(values[0]))
    return Affine(1.0, 0.0, slope, 1.0, 0.0, 0.0) if name == "skewX" else Affine(1.0, slope, 0.0, 1.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class ViewBox:
    """Rectangle of user space that a viewport shows."""

    x: float
    y: float
    width: float
    height: float


def parse_view_box(text: str | None) -> ViewBox | None:
    """View box, None when absent.

    Raises
    ------
    BadValue
        If it is not four numbers or has a negative size.
    """
    if text is None or not text.strip():
        return None
    values = parse_numbers(text)
    if len(values) != 4 or values[2] < 0.0 or values[3] < 0.0:
        raise BadValue(f"viewBox '{text[:40]}' is not four numbers with a size")
    return ViewBox(*values)


def view_box_transform(box: ViewBox, x: float, y: float, width: float, height: float, aspect: str | None) -> Affine:
    """Map of a view box onto the viewport at (x, y) (SVG 1.1, 7.8: preserveAspectRatio)."""
    words = (aspect or "xMidYMid meet").replace("defer", "").split()
    align = words[0] if words else "xMidYMid"
    scale_x, scale_y = width / box.width, height / box.height
    if align != "none":
        if len(words) > 1 and words[1] == "slice":
            scale_x = scale_y = max(scale_x, scale_y)
        else:
            scale_x = scale_y = min(scale_x, scale_y)
    shift_x, shift_y = x - box.x * scale_x, y - box.y * scale_y
    if align != "none":
        spare_x, spare_y = width - box.width * scale_x, height - box.height * scale_y
        shift_x += spare_x * (0.0 if "xMin" in align else 1.0 if "xMax" in align else 0.5)
        shift_y += spare_y * (0.0 if "YMin" in align else 1.0 if "YMax" in align else 0.5)
    return Affine(scale_x, 0.0, 0.0, scale_y, shift_x, shift_y)
