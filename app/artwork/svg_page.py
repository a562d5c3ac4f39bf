"""Page of an SVG file: its size, the unit it states, and the map from its user space to the drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from app.artwork.notes import Code, Notes
from app.artwork.svg_values import (
    PX_PER,
    BadValue,
    Length,
    ViewBox,
    parse_length,
    parse_view_box,
    to_px,
    view_box_transform,
)
from app.errors import ReadError
from geometry.findings import Severity
from geometry.transform import IDENTITY, Affine
from geometry.units import MM_PER

_ABSOLUTE = frozenset({"in", "cm", "mm", "q", "pt", "pc"})
_MM_PER_PX = 25.4 / 96.0
_UNKNOWN_SIZE = 100.0  # a page without size and view box: what percentages are then of


@dataclass(frozen=True, slots=True)
class Page:
    """Map from user space to the drawing (y up), size of the viewport in user units, and the unit stated.

    `size` is that of the page in the drawing's unit, None when the file gives none.
    """

    matrix: Affine
    width: float
    height: float
    units: str | None
    size: tuple[float, float] | None


def read_page(root: Any, name: str, units: str | None, notes: Notes) -> Page:
    """Page of the outermost svg element.

    Parameters
    ----------
    root : lxml element
    name : str
        What to call the file.
    units : str or None
        Unit asked for, against what the file states.
    notes : Notes

    Raises
    ------
    ReadError
        If the page has no size, so that nothing shows.
    """
    try:
        box = parse_view_box(root.get("viewBox"))
    except BadValue as error:
        notes.add(Code.BAD_VALUE, Severity.WARNING, f"{error}; read without it")
        box = None
    if box is not None and (box.width == 0.0 or box.height == 0.0):
        raise ReadError(f"{name} has a viewBox without size, so nothing in it shows; correct it in the drawing")
    wide, high = _size(root, "width", notes), _size(root, "height", notes)
    width, height = _filled_in(wide, high, box)
    if width == 0.0 or height == 0.0:
        raise ReadError(f"{name} has a page of zero size, so nothing in it shows; give it a width and a height")
    given = wide or high
    stated = given.unit if given is not None and given.unit in _ABSOLUTE else None
    if given is not None and stated is None and units is None:
        stated = "px"
        notes.add(
            Code.UNIT_ASSUMED,
            Severity.WARNING,
            "the file's sizes are pixels, read as 96 to the inch as SVG defines; some drawing programs mean 72: "
            "check the size, or set it by a height",
        )
    if given is None and units is None:
        notes.add(
            Code.UNIT_MISSING,
            Severity.WARNING,
            "the file states no unit; set its size by a height or name the unit",
        )
    if stated is not None and units not in (None, stated):
        notes.add(Code.UNIT_OVERRIDDEN, Severity.NOTE, f"the file states {stated}; read as {units} as asked")
    factor = _factor(stated, units)
    aspect = root.get("preserveAspectRatio")
    view = view_box_transform(box, 0.0, 0.0, width, height, aspect) if box else IDENTITY
    upright = Affine(factor, 0.0, 0.0, -factor, 0.0, factor * height)
    inner = (box.width, box.height) if box else (width, height)
    size = (factor * width, factor * height) if box is not None or (wide and high) else None
    return Page(view.then(upright), *inner, units or stated, size)


def _size(root: Any, attribute: str, notes: Notes) -> Length | None:
    """Width or height of the page; None when it is not given or relative to a window."""
    text = root.get(attribute)
    if text is None or text.strip() in ("", "auto"):
        return None
    try:
        length = parse_length(text)
    except BadValue as error:
        notes.add(Code.BAD_VALUE, Severity.WARNING, f"page {attribute}: {error}; read without it")
        return None
    if length.number < 0.0:
        notes.add(Code.BAD_VALUE, Severity.WARNING, f"page {attribute} is negative; read without it")
        return None
    return length if length.unit in PX_PER else None


def _filled_in(wide: Length | None, high: Length | None, box: ViewBox | None) -> tuple[float, float]:
    """Width and height in px; one that is not given follows from the view box."""
    width = to_px(wide, whole=0.0) if wide else None
    height = to_px(high, whole=0.0) if high else None
    if width is None and height is None:
        return (box.width, box.height) if box else (_UNKNOWN_SIZE, _UNKNOWN_SIZE)
    aspect = box.width / box.height if box else 1.0
    if width is None:
        assert height is not None
        return height * aspect, height
    return width, width / aspect if height is None else height


def _factor(stated: str | None, units: str | None) -> float:
    """From px to mm, or to the file's own numbers when no unit is known."""
    if units is not None:
        # The file's numbers, in the unit it states, are taken to be in the unit asked for.
        return MM_PER[units] / (PX_PER[stated] if stated is not None else 1.0)
    return _MM_PER_PX if stated is not None else 1.0
