"""Film nested on the roll by the strip engine: how much of the roll is used, and where each panel lies on it.

All panels keep one direction and come from rolls of one lot, so nothing is turned. Panels may touch: a knife has no
width, and every panel is cut larger than the face it covers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from app.errors import PlanningError
from app.fabrication.part import Strip
from geometry.outline import Outline
from nesting.plan import Layout, Placement, Plan
from nesting.problem import Part, Problem, Rules, Sheet, net_area
from nesting.referee import violations

ROUNDS: Final = 60
"""Rounds of improving: the same panels give the same roll."""

_KNIFE: Final = Rules(spacing=0.0, margin=0.0)


@dataclass(frozen=True, slots=True)
class FilmPlace:
    """One panel on the roll.

    Fields
    ------
    letter, name : str
        Of the strip it is.
    copy : int
        0-based.
    along : float
        Where it begins, mm from the start of the roll.
    across : float
        Its lower edge, mm from the edge of what is of use.
    length, width : float
        Along and across the roll, mm.
    """

    letter: str
    name: str
    copy: int
    along: float
    across: float
    length: float
    width: float


@dataclass(frozen=True, slots=True)
class FilmRoll:
    """One roll and what is cut from it, from its start on.

    Fields
    ------
    width : float
        Of use, mm.
    length : float
        Used, mm.
    places : tuple of FilmPlace
        In the order they come off the roll.
    density : float
        Area of the panels / (width x length).
    """

    width: float
    length: float
    places: tuple[FilmPlace, ...]
    density: float


def film_rolls(panels: Sequence[Strip], width: float, roll_length: float | None = None) -> tuple[FilmRoll, ...]:
    """The rolls that panels are cut from: the shortest piece of one roll, or, where that is longer than a roll, as few
    rolls as are found.

    Parameters
    ----------
    panels : sequence of Strip
        None wider than the roll, nor longer.
    width : float
        Of the roll, as far as it is of use, mm.
    roll_length : float, optional
        mm; no end by default.

    Raises
    ------
    PlanningError
        When a panel finds no place, or the referee does not pass the roll.
    """
    return _nested(tuple(panels), width, roll_length)


@lru_cache(maxsize=32)
def _nested(panels: tuple[Strip, ...], width: float, roll_length: float | None) -> tuple[FilmRoll, ...]:
    # The engine takes its time to import, and whoever only lists strips may have no film.
    from nesting.solve import AfterRounds, solve
    from nesting.strips import solve_strip

    parts = tuple(
        Part(str(number), _outline(panel), panel.quantity, rotations=(0.0,)) for number, panel in enumerate(panels)
    )
    faults: tuple[str, ...] = ()
    for rounds in (ROUNDS, 0):
        strip = solve_strip(parts, width, _KNIFE, AfterRounds(rounds))
        if roll_length is None or strip.length <= roll_length + 1e-6:
            problem = _problem(parts, max(strip.length, 1.0), width, count=1)
            plan = Plan((Layout("roll", 0, strip.placements),) if strip.placements else (), strip.unplaced, ())
        else:
            problem = _problem(parts, roll_length, width, count=None)
            plan = solve(problem, AfterRounds(rounds)).plan
        if plan.unplaced:
            panel = panels[int(plan.unplaced[0].part)]
            raise PlanningError(
                f"letter '{panel.letter}', {panel.name}: {panel.width:.1f} x {panel.cut_length:.1f} mm finds no place "
                f"on the roll, of which {width:.1f} mm is of use: choose a wider roll"
            )
        faults = violations(problem, plan)
        if not faults:
            return tuple(_roll(panels, parts, layout.placements, width) for layout in plan.layouts)
    raise PlanningError(
        f"the film on the roll failed its own check ({faults[0]}); this is a fault of the program: "
        "set the film's roll to another width and report it"
    )


def _problem(parts: tuple[Part, ...], length: float, width: float, *, count: int | None) -> Problem:
    edge = Outline.from_points([(0, 0), (length, 0), (length, width), (0, width)])
    return Problem(parts, (Sheet("roll", edge, count, 1),), _KNIFE)


def _roll(panels: Sequence[Strip], parts: Sequence[Part], placements: Sequence[Placement], width: float) -> FilmRoll:
    places = []
    for one in placements:
        panel = panels[int(one.part)]
        places.append(FilmPlace(panel.letter, panel.name, one.copy, one.x, one.y, panel.cut_length, panel.width))
    places.sort(key=lambda one: (round(one.along, 3), round(one.across, 3)))
    length = max(one.along + one.length for one in places)
    area = sum(net_area(parts[int(one.part)].outline) for one in placements)
    return FilmRoll(width, length, tuple(places), area / (width * length))


def _outline(panel: Strip) -> Outline:
    if panel.shape is not None:
        return panel.shape
    return Outline.from_points([(0, 0), (panel.cut_length, 0), (panel.cut_length, panel.width), (0, panel.width)])
