"""Which choices no other beats, and which one to take and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from app.planning.compare import Outcome

NOISE: Final = 0.02
"""Share of the cost below which two choices are called level: a search with another seed moves results by as much."""


@dataclass(frozen=True, slots=True)
class Recommendation:
    """The choice to take (its index; None when none places every part) and one sentence why."""

    index: int | None
    why: str


def unbeaten(outcomes: Sequence[Outcome]) -> tuple[bool, ...]:
    """For each choice, whether no other is at least as good in everything and better in something.

    Compared: copies without a place, cost (sheet area where a price is unknown), scrap weight, cutting time and
    kept offcut area. A choice that could not be planned is always beaten, and so is one that leaves parts without a
    place when another places them all: it is cheap only because it does not do the job.
    """
    by_price = all(one.cost is not None for one in outcomes if not one.fault)
    marks = [_marks(one, by_price=by_price) for one in outcomes]
    can_all = any(one.is_whole for one in outcomes)
    return tuple(
        (mine.is_whole if can_all else not mine.fault)
        and not any(_beats(marks[j], marks[i]) for j, other in enumerate(outcomes) if not other.fault)
        for i, mine in enumerate(outcomes)
    )


def recommend(
    outcomes: Sequence[Outcome],
    *,
    money: Callable[[int], str],
    area: Callable[[float], str],
    weight: Callable[[float], str],
) -> Recommendation:
    """The cheapest choice that places every part; among equals fewer sheets, less scrap, fewer sizes, in that order.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Of one material.
    money, area, weight : callable
        How minor currency units, mm² and kg are written.
    """
    whole = [index for index, one in enumerate(outcomes) if one.is_whole]
    if not whole:
        if not outcomes:
            return Recommendation(None, "There is nothing to compare.")
        least = min((one for one in outcomes if not one.fault), key=lambda one: one.unplaced, default=None)
        if least is None:
            return Recommendation(None, f"None of the choices can be planned: {outcomes[0].fault}.")
        return Recommendation(
            None,
            f"No choice places every part; {least.choice.name} leaves the fewest without a place ({least.unplaced}): "
            "divide the large parts or add a larger size.",
        )
    by_price = all(outcomes[index].cost is not None for index in whole)

    def price(one: Outcome) -> float:
        return float(one.cost) if by_price and one.cost is not None else one.sheet_area

    def order(index: int) -> tuple[float, ...]:
        one = outcomes[index]
        # A pound of scrap is no reason to keep more sizes in view: whole kilograms first, then the fewest sizes.
        return (price(one), one.sheet_count, round(one.scrap_kg), len(one.choice.stock), one.scrap_kg, index)

    best = min(whole, key=order)
    one = outcomes[best]
    sheets = f"{one.sheet_count} sheet{'s' if one.sheet_count != 1 else ''}"
    named = f"{money(round(price(one)))}" if by_price else f"{area(one.sheet_area)} of sheet (a price is missing)"
    if len(whole) > 1:
        said = [f"{one.choice.name}: {sheets}, {named}, the least of the {len(whole)} choices that place every part"]
    else:
        said = [f"{one.choice.name}: {sheets}, {named}, the only choice that places every part"]
    others = sorted((index for index in whole if index != best), key=order)
    if others:
        said.append(_next_best(one, outcomes[others[0]], price, weight))
    said.append(_proof(one))
    return Recommendation(best, "; ".join(said) + ".")


def _next_best(
    best: Outcome, second: Outcome, price: Callable[[Outcome], float], weight: Callable[[float], str]
) -> str:
    mine, others = price(best), price(second)
    name = second.choice.name
    if others <= mine:
        if second.scrap_kg > best.scrap_kg + 1e-9:
            return f"{name} costs the same but makes {weight(second.scrap_kg - best.scrap_kg)} more scrap"
        return f"{name} comes to the same"
    if mine == 0.0:
        return f"next is {name}, which has to be bought"
    more = others / mine - 1.0
    if more <= NOISE:
        return f"{name} costs only {more:.1%} more, which another run may turn round"
    return f"next is {name} at {more:.0%} more"


def _proof(one: Outcome) -> str:
    if one.gap is None:
        return "how far it is from the least possible is not known"
    if one.gap <= 0.0:
        return "proven that nothing cheaper exists on this stock"
    return f"at most {one.gap:.0%} above the least possible on this stock, and whether that can be reached is not known"


def _marks(one: Outcome, *, by_price: bool) -> tuple[float, ...]:
    cost = float(one.cost) if by_price and one.cost is not None else one.sheet_area
    return (float(one.unplaced), cost, one.scrap_kg, one.minutes, -one.offcut_area)


def _beats(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return all(x <= y for x, y in zip(a, b, strict=True)) and a != b
