"""The choices of a whole job: for each of its materials the sizes it has, or all of the stock book, and variations."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from app.errors import JobError
from app.job.document import Job
from app.planning.choices import Choice, stock_choices, varied
from app.planning.prepare import Prepared
from app.planning.rack_stock import offcut_of, rack_sheets
from app.stock.book import Cutter, Material, StockSheet
from app.stock.rack_items import RackOffcut
from app.stock.shop_book import in_force
from app.stock.supply import ShopBook


def job_choices(
    prepared: Prepared,
    book: ShopBook,
    *,
    materials: Collection[str] | None = None,
    whole_book: bool = False,
    pieces: Sequence[RackOffcut] = (),
    spacings: Iterable[float] = (),
    margins: Iterable[float] = (),
    cutters: Iterable[Cutter] = (),
) -> tuple[Choice, ...]:
    """Choices for every material that parts are cut from.

    Parameters
    ----------
    prepared : Prepared
    book : ShopBook
        Gives sizes named by the job their size and price of today, and all others when `whole_book`.
    materials : collection of str, optional
        Only these materials.
    whole_book : bool
        Every size the book has for a material, not only the job's own.
    pieces : sequence of RackOffcut
        What the rack has for this job; none leaves the rack out.
    spacings, margins : iterable of float
        Others to try on all sizes together, mm.
    cutters : iterable of Cutter
        Likewise.

    Raises
    ------
    JobError
        When there is nothing to compare, or a variation makes no sense.
    """
    job = prepared.job
    own = {cutter.id: cutter for cutter in job.cutters}
    spacings, margins, cutters = tuple(spacings), tuple(margins), tuple(cutters)
    made: list[Choice] = []
    for material in job.materials:
        is_wanted = materials is None or material.id in materials
        if not is_wanted or not any(part.material == material.id for part in prepared.parts):
            continue
        sizes = _sizes(job, material, book, whole_book=whole_book)
        if not sizes:
            raise JobError(f"material '{material.id}' has no stock to compare; add sheet sizes to the job's stock")
        stock = stock_choices(material, own[material.cutter], sizes, offcuts=rack_sheets(pieces, material))
        if not stock:
            raise JobError(f"no sheet of material '{material.id}' can be had; raise the number of one of its sizes")
        base = next((one for one in reversed(stock) if not one.uses_rack), stock[0])
        made += stock
        made += varied(base, spacings=spacings, margins=margins, cutters=cutters, units=job.units.value)
    if not made:
        raise JobError("the job has no parts of that material; there is nothing to compare")
    return tuple(made)


def known_cutters(job: Job, book: ShopBook) -> dict[str, Cutter]:
    """Cutters of the book and of the job by id; the job's own where both have one."""
    return {one.cutter.id: one.cutter for one in book.cutters.values()} | {one.id: one for one in job.cutters}


def _sizes(job: Job, material: Material, book: ShopBook, *, whole_book: bool) -> list[StockSheet]:
    sizes = [
        in_force(size, book, job.currency)
        for size in job.stock
        if size.material == material.id and offcut_of(size.id) is None
    ]
    if whole_book:
        known = {size.id for size in sizes}
        sizes += [
            size if book.currency == job.currency else replace(size, price=None)
            for size in book.sizes_of(material.id)
            if size.id not in known
        ]
    return sizes
