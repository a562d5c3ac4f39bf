"""How strip goods are cut: from the fewest coils, by the exact cutting of lengths; film nested on its roll."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.fabrication.part import Goods, Strip
from app.planning.film_rolls import FilmRoll, film_rolls


@dataclass(frozen=True, slots=True)
class StripList:
    """What is needed of one sort of strip.

    Fields
    ------
    goods : Goods
    width : float
        Of the strip, mm; of film, what of the roll is of use.
    total : float
        All lengths to cut, mm; of film, what is used of the roll.
    stock_length : float or None
        Length of one coil, mm; None where it is bought by length.
    coils : tuple of (count, tuple of str, float)
        How many coils are cut alike, what from each, and what is left of it, mm.
    is_proven : bool
        Whether no fewer coils could do.
    rolls : tuple of FilmRoll
        Of film, where every panel lies.
    """

    goods: Goods
    width: float
    total: float
    stock_length: float | None
    coils: tuple[tuple[int, tuple[str, ...], float], ...] = ()
    is_proven: bool = False
    rolls: tuple[FilmRoll, ...] = ()

    @property
    def coil_count(self) -> int:
        """Coils used; 0 where it is bought by length."""
        return sum(count for count, _, _ in self.coils)


def strip_lists(strips: Sequence[Strip]) -> tuple[StripList, ...]:
    """One list for each sort, thickness and width of strip, in the order they first appear; film by width of roll."""
    groups: dict[tuple[Goods, float, float, float], list[Strip]] = {}
    for strip in strips:
        width = strip.stock_width if strip.goods is Goods.FILM else strip.width
        groups.setdefault((strip.goods, round(width, 3), strip.stock_length, strip.thickness), []).append(strip)
    found = []
    for (goods, width, stock_length, _), mine in groups.items():
        if goods is Goods.FILM:
            width = width or max(strip.width for strip in mine)
            rolls = film_rolls(mine, width)
            found.append(StripList(goods, width, sum(roll.length for roll in rolls), None, rolls=rolls))
            continue
        total = sum(strip.cut_length * strip.quantity for strip in mine)
        if stock_length <= 0.0:
            found.append(StripList(goods, width, total, None))
            continue
        found.append(_cut(goods, width, total, stock_length, mine))
    return tuple(found)


def _cut(goods: Goods, width: float, total: float, stock_length: float, mine: Sequence[Strip]) -> StripList:
    from nesting.bars import Bar, Piece, cut_bars

    pieces = [Piece(f"{one.letter} {one.name} [{n}]", one.cut_length, one.quantity) for n, one in enumerate(mine)]
    plan = cut_bars(pieces, [Bar("coil", stock_length)])
    made = tuple(
        (cut.count, tuple(name.rpartition(" [")[0] for name in cut.pieces), cut.left_over) for cut in plan.cuts
    )
    return StripList(goods, width, total, stock_length, made, plan.is_proven)
