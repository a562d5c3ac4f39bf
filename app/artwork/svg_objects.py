"""Small questions about one object of an SVG file: whether it paints, what it is called, where it stands."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Any, TypeVar

from tinycss2.color3 import parse_color

from app.artwork.svg_document import label, local_name
from app.artwork.svg_shapes import SHAPES
from app.artwork.svg_values import BadValue, parse_length, to_px
from geometry.curve import Point
from geometry.transform import Affine

GROUPS = frozenset({"g", "a", "svg", "switch"})
_Choice = TypeVar("_Choice", bound=StrEnum)


def paints(properties: dict[str, str], kind: str) -> bool:
    """Whether a fill or stroke (`kind`) is seen."""
    return properties[kind] not in ("none", "transparent") and fraction(properties[f"{kind}-opacity"]) > 0.0


def is_white(colour: str) -> bool:
    """Whether a colour of CSS is plain white."""
    found = parse_color(colour)
    return found is not None and not isinstance(found, str) and tuple(found) == (1.0, 1.0, 1.0, 1.0)


def fraction(text: str, otherwise: float = 1.0) -> float:
    """A number or percentage; `otherwise` when it is neither."""
    try:
        value = float(text[:-1]) / 100.0 if text.endswith("%") else float(text)
    except ValueError:
        return otherwise
    return value if math.isfinite(value) else otherwise


def choice(kind: type[_Choice], text: str, otherwise: _Choice) -> _Choice:
    """The member of an enumeration that a word names; `otherwise` when there is none."""
    return next((one for one in kind if one == text), otherwise)


def stroke_width(properties: dict[str, str]) -> float:
    """Width of the stroke, user units; 1 when it cannot be read."""
    try:
        return to_px(parse_length(properties["stroke-width"]), whole=100.0)
    except BadValue:
        return 1.0


def font_size(text: str) -> float:
    """The em, user units; 16 when it cannot be read."""
    try:
        return to_px(parse_length(text), whole=16.0)
    except BadValue:
        return 16.0


def passes(element: Any) -> bool:
    """Whether a child of a switch is to be shown: no extension asked for, and a language that is ours or any."""
    if element.get("requiredExtensions"):
        return False
    languages = element.get("systemLanguage")
    return languages is None or any(part.strip().lower().startswith("en") for part in languages.split(","))


def shapes_below(element: Any) -> int:
    """How many shapes an element stands for, at least 1."""
    return max(1, sum(1 for below in element.iter() if local_name(below) in SHAPES))


def spot(element: Any, name: str, matrix: Affine) -> Point | None:
    """Where an object stands, by its own numbers as far as they are plain; None for groups."""
    if name in GROUPS:
        return None
    values = []
    for keys in (("x", "cx", "x1"), ("y", "cy", "y1")):
        try:
            values.append(float(next((element.get(key) for key in keys if element.get(key)), "0")))
        except ValueError:
            values.append(0.0)
    return matrix.apply((values[0], values[1]))


def called(element: Any, name: str) -> str:
    """What to call an element in a finding."""
    own = label(element)
    return f"{name} '{own}'" if own else f"{name} in line {element.sourceline}"
