"""The graphics state of PDF content (ISO 32000-1, 8.4), and the numbers and entries it is read from."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import pikepdf

from app.artwork.clips import Clip
from app.artwork.pdf_painted import PLAIN_PEN, Pen
from app.artwork.pdf_text import PLAIN_TEXT, Fonts, TextState
from geometry.transform import Affine

PEN_OPERATORS: Final = frozenset({"w", "J", "j", "M", "d"})
COLOUR_OPERATORS: Final = frozenset({"g", "rg", "k", "cs", "sc", "scn"})
_WHITE: Final = {"g": (1.0,), "rg": (1.0, 1.0, 1.0), "k": (0.0, 0.0, 0.0, 0.0)}
_PEN_ENTRIES: Final = (("/LW", "w"), ("/LC", "J"), ("/LJ", "j"), ("/ML", "M"))


@dataclass(frozen=True, slots=True)
class GraphicsState:
    """Saved by q and brought back by Q."""

    matrix: Affine
    clips: tuple[Clip, ...] = ()
    pen: Pen = PLAIN_PEN
    is_white: bool = False
    is_pattern: bool = False
    is_masked: bool = False
    fill_alpha: float = 1.0
    stroke_alpha: float = 1.0
    text: TextState = PLAIN_TEXT

    def moved(self, values: list[Any]) -> GraphicsState:
        """As after `cm`."""
        return replace(self, matrix=Affine(*map(number, values)).then(self.matrix))

    def with_pen(self, operator: str, value: Any) -> GraphicsState:
        """As after an operator that changes how lines are drawn."""
        match operator:
            case "w":
                pen = replace(self.pen, width=number(value))
            case "J":
                pen = replace(self.pen, cap=int(value))
            case "j":
                pen = replace(self.pen, join=int(value))
            case "M":
                pen = replace(self.pen, miter=number(value))
            case _:
                pen = replace(self.pen, is_dashed=len(value) > 0)
        return replace(self, pen=pen)

    def with_colour(self, operator: str, values: list[Any]) -> GraphicsState:
        """As after an operator that changes the colour of fills (8.6.8); only white and patterns are told apart."""
        if operator in _WHITE:
            is_white = tuple(map(number, values)) == _WHITE[operator]
            return replace(self, is_white=is_white, is_pattern=False)
        is_pattern = operator == "scn" and bool(values) and isinstance(values[-1], pikepdf.Name)
        return replace(self, is_white=False, is_pattern=is_pattern)

    def with_parameters(self, given: pikepdf.Dictionary, fonts: Fonts) -> GraphicsState:
        """As after a dictionary of parameters (8.4.5): line, transparency, soft mask, font."""
        state = self
        for key, operator in _PEN_ENTRIES:
            if key in given:
                state = state.with_pen(operator, given[key])
        if "/D" in given:
            state = state.with_pen("d", given["/D"][0])
        if "/ca" in given:
            state = replace(state, fill_alpha=number(given["/ca"]))
        if "/CA" in given:
            state = replace(state, stroke_alpha=number(given["/CA"]))
        if "/SMask" in given:
            state = replace(state, is_masked=isinstance(given["/SMask"], pikepdf.Dictionary))
        if "/Font" in given:
            font, size = given["/Font"]
            state = replace(state, text=replace(state.text, font=fonts.get(font), size=number(size)))
        return state


def number(value: Any) -> float:
    """A number of the content.

    Raises
    ------
    ValueError
        When it is not finite.
    """
    found = float(value)
    if not math.isfinite(found):
        raise ValueError("a number is not finite")
    return found


def entry(dictionary: Any, key: str) -> Any:
    """An entry of a dictionary; None when there is no such entry, or no dictionary."""
    return dictionary.get(key) if isinstance(dictionary, pikepdf.Dictionary) else None
