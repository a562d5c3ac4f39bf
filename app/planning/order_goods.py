"""What is bought for strips of several jobs: coils for returns, rolls of film, and what is bought by length.

The strips of all jobs are cut from the same coils and rolls. Each sort is cut from the one coil or roll of the stock
book that comes cheapest for it; a coil wider than the strip is slit to its width, and what is slit off is not used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from app.fabrication.part import Goods, Strip
from app.planning.film_rolls import film_rolls
from app.planning.strip_lists import StripList, strip_lists
from app.stock.supply import CoilOffer, CoilUse, RollOffer, ShopBook
from app.stock.weights import weight

SAME_THICKNESS: Final = 0.0127
"""mm, half a thousandth of an inch: a coil given as 0.040 in is the one a job gives as 1.016 mm."""

SAME_WIDTH: Final = 0.5
"""mm; trim edge given as 25 mm is the 1 in one: sizes of trim are 1/4 in apart."""

Wanted = tuple[str, Strip]
"""Job name and a strip of it."""


@dataclass(frozen=True, slots=True)
class GoodsLine:
    """Coils, rolls or a length to buy.

    Fields
    ------
    goods : Goods
        What is cut from it.
    name : str
    stock : str
        Id in the stock book; empty when the book has nothing that fits.
    width, thickness : float
        Of one piece, mm; thickness 0 where it does not matter.
    length : float or None
        Of one piece, mm; None where it is bought by length.
    needed : float
        All lengths to cut, mm; of film, the lengths taken off the roll.
    used, from_hand, bought : int
        Pieces: used, of these from what is on hand, to buy. 0 where it is bought by length.
    minimum : int
        Fewest pieces an order takes.
    supplier : str
    price, cost : int or None
        Of one and of what is bought, minor currency units; None when not known.
    weight_kg : float or None
        Of what is bought; None when not known.
    jobs : tuple of (job name, mm to cut)
    is_proven : bool
        Whether no fewer pieces could do.
    why_unknown : str
        Why the stock book knows no price; empty when it does.
    """

    goods: Goods
    name: str
    stock: str
    width: float
    thickness: float
    length: float | None
    needed: float
    used: int
    from_hand: int
    bought: int
    minimum: int
    supplier: str
    price: int | None
    cost: int | None
    weight_kg: float | None
    jobs: tuple[tuple[str, float], ...]
    is_proven: bool
    why_unknown: str = ""


def goods_lines(
    jobs: Sequence[tuple[str, Sequence[Strip]]],
    book: ShopBook,
    *,
    currency: str,
    on_hand: Mapping[str, int],
) -> tuple[GoodsLine, ...]:
    """Coils, rolls and lengths to buy.

    Parameters
    ----------
    jobs : sequence of (job name, strips)
    book : ShopBook
    currency : str
        Of the jobs; prices of a book in another one are not known.
    on_hand : mapping of stock id to pieces in the shop
    """
    sorts: dict[tuple[Goods, float, float], list[Wanted]] = {}
    for job, strips in jobs:
        for strip in strips:
            sorts.setdefault((strip.goods, strip.thickness, round(strip.width, 3)), []).append((job, strip))
    if any(goods is Goods.FILM for goods, _, _ in sorts):
        # Panels of all widths lie side by side on one roll, so they are one sort.
        films = [one for (goods, _, _), mine in sorts.items() if goods is Goods.FILM for one in mine]
        sorts = {key: mine for key, mine in sorts.items() if key[0] is not Goods.FILM}
        sorts[(Goods.FILM, 0.0, max(strip.width for _, strip in films))] = films
    bought: dict[str, list[Wanted]] = {}
    unknown: list[GoodsLine] = []
    offers: dict[str, CoilOffer | RollOffer] = {**book.coils, **book.rolls}
    money = currency if book.currency == currency else ""
    for (goods, _, _), mine in sorts.items():
        fitting = [one for one in _offers(goods, book) if _fits(one, [strip for _, strip in mine])]
        if not fitting:
            unknown.append(_without_offer(goods, mine))
            continue
        lines = [_line(one, mine, money, on_hand) for one in fitting]
        best = min(lines, key=lambda one: (one.cost is None, one.cost or 0, one.used * _area(one), one.stock))
        bought.setdefault(best.stock, []).extend(mine)
    return (*(_line(offers[stock], mine, money, on_hand) for stock, mine in bought.items()), *unknown)


def _offers(goods: Goods, book: ShopBook) -> tuple[CoilOffer | RollOffer, ...]:
    match goods:
        case Goods.RETURN:
            use = CoilUse.RETURNS
        case Goods.FILM:
            return tuple(book.rolls.values())
        case Goods.TRIM:
            use = CoilUse.TRIM
        case Goods.BACKING:
            use = CoilUse.BACKING
    return tuple(one for one in book.coils.values() if one.use is use)


def _fits(offer: CoilOffer | RollOffer, strips: Sequence[Strip]) -> bool:
    width = max(strip.width for strip in strips)
    if max(strip.cut_length for strip in strips) > offer.length + 1e-6:
        return False
    if isinstance(offer, RollOffer):
        return width <= offer.usable_width + 1e-6
    if offer.use is CoilUse.TRIM:  # has a rim, so it is never slit
        return abs(width - offer.width) <= SAME_WIDTH
    if offer.use is CoilUse.RETURNS and abs(offer.thickness - strips[0].thickness) > SAME_THICKNESS:
        return False
    return width <= offer.width + 1e-6


def _line(offer: CoilOffer | RollOffer, mine: Sequence[Wanted], money: str, on_hand: Mapping[str, int]) -> GoodsLine:
    goods, strips = mine[0][1].goods, [strip for _, strip in mine]
    if isinstance(offer, RollOffer):
        rolls = film_rolls(strips, offer.usable_width, offer.length)
        needed, used = sum(roll.length for roll in rolls), len(rolls)
        area = sum(roll.density * roll.width * roll.length for roll in rolls)
        is_proven = used <= max(1, math.ceil(area / (offer.usable_width * offer.length) - 1e-9))
    else:
        cut = _cut(strips, offer.width, offer.length)
        needed, used, is_proven = cut.total, cut.coil_count, cut.is_proven
    from_hand = min(used, on_hand.get(offer.id, 0))
    short = used - from_hand
    bought = max(short, offer.minimum) if short else 0
    price = offer.piece_price(money) if money else None
    coil = offer if isinstance(offer, CoilOffer) else None
    return GoodsLine(
        goods=goods,
        name=offer.name,
        stock=offer.id,
        width=offer.width,
        thickness=coil.thickness if coil else 0.0,
        length=offer.length,
        needed=needed,
        used=used,
        from_hand=from_hand,
        bought=bought,
        minimum=offer.minimum,
        supplier=offer.supplier,
        price=price,
        cost=0 if not bought else None if price is None else price * bought,
        weight_kg=weight(coil.width * coil.length, coil.density, coil.thickness) * bought
        if coil and coil.thickness and coil.density
        else None,
        jobs=_by_job(mine, needed),
        is_proven=is_proven,
        why_unknown="" if price is not None else "the stock book has no price for it in the jobs' currency",
    )


def _without_offer(goods: Goods, mine: Sequence[Wanted]) -> GoodsLine:
    strips = [strip for _, strip in mine]
    # Slit from any coil that is wide enough, all widths are one sort; film keeps to the roll its build names.
    lists = strip_lists([strip if strip.goods is Goods.FILM else replace(strip, width=0.0) for strip in strips])
    widest, lengths = max(strip.width for strip in strips), {one.stock_length for one in lists}
    why = {
        Goods.RETURN: "the stock book has no coil of that thickness that is wide and long enough",
        Goods.FILM: "the stock book has no roll that is wide and long enough",
    }.get(goods, "the stock book lists none that fits")
    return GoodsLine(
        goods=goods,
        name=goods.value,
        stock="",
        width=widest,
        thickness=strips[0].thickness,
        length=lengths.pop() if len(lengths) == 1 else None,
        needed=sum(one.total for one in lists),
        used=sum(one.coil_count for one in lists),
        from_hand=0,
        bought=sum(one.coil_count for one in lists),
        minimum=1,
        supplier="",
        price=None,
        cost=None,
        weight_kg=None,
        jobs=_by_job(mine, sum(one.total for one in lists)),
        is_proven=len(lists) == 1 and lists[0].is_proven,
        why_unknown=why,
    )


def _cut(strips: Sequence[Strip], width: float, length: float) -> StripList:
    (found,) = strip_lists([replace(one, width=width, stock_length=length, thickness=0.0) for one in strips])
    return found


def _by_job(mine: Sequence[Wanted], needed: float) -> tuple[tuple[str, float], ...]:
    """What each job has of the length needed: the lengths cut for it; of film, by the area of its panels."""
    found: dict[str, float] = {}
    for job, strip in mine:
        size = strip.cut_length * (strip.width if strip.goods is Goods.FILM else 1.0)
        found[job] = found.get(job, 0.0) + size * strip.quantity
    total = sum(found.values())
    return tuple((job, share / total * needed) for job, share in found.items())


def _area(line: GoodsLine) -> float:
    return line.width * (line.length or 0.0)
