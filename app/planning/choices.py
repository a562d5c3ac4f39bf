"""Choices to compare for one material: which stock, with or without the rack, with which spacing, margin and cutter."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

from app.errors import JobError
from app.job.document import Job
from app.planning.prepare import Prepared
from app.planning.rack_stock import offcut_of
from app.stock.book import Cutter, Material, StockSheet, spacing_of
from geometry.units import format_length

MOST_PAIRED: Final = 5
"""With more sizes than this, pairs are left out: there would be too many, and all sizes together hold them anyway."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to buy and cut a material.

    Fields
    ------
    name : str
        For people: "48 x 120 alone", "48 x 96 + 60 x 120, with the rack".
    material : Material
        With the web and margin of this choice.
    cutter : Cutter
    stock : tuple of StockSheet
        Sizes and offcuts it may use.
    uses_rack : bool
    """

    name: str
    material: Material
    cutter: Cutter
    stock: tuple[StockSheet, ...]
    uses_rack: bool = False

    @property
    def spacing(self) -> float:
        """Least distance between two parts, mm."""
        return spacing_of(self.material, self.cutter)


def stock_choices(
    material: Material,
    cutter: Cutter,
    sizes: Sequence[StockSheet],
    *,
    offcuts: Sequence[StockSheet] = (),
    pairs: bool = True,
) -> tuple[Choice, ...]:
    """Each size alone, pairs of sizes, all sizes; and with offcuts, each of these again with the rack."""
    sizes = [size for size in sizes if size.count != 0]
    made = [Choice(f"{size.name} alone", material, cutter, (size,)) for size in sizes]
    if pairs and 2 < len(sizes) <= MOST_PAIRED:
        made += [Choice(f"{a.name} + {b.name}", material, cutter, (a, b)) for a, b in combinations(sizes, 2)]
    if len(sizes) > 1:
        made.append(Choice("all sizes", material, cutter, tuple(sizes)))
    if offcuts:
        made += [
            replace(one, name=f"{one.name}, with the rack", stock=(*one.stock, *offcuts), uses_rack=True)
            for one in made
        ]
    return tuple(made)


def varied(
    base: Choice,
    *,
    spacings: Iterable[float] = (),
    margins: Iterable[float] = (),
    cutters: Iterable[Cutter] = (),
    units: str = "mm",
) -> tuple[Choice, ...]:
    """The same stock with another spacing, margin (mm) or cutter, one change at a time.

    Raises
    ------
    JobError
        When a spacing is less than the cutter is wide: each cut would eat into the neighbour.
    """
    made = []
    for spacing in spacings:
        if spacing < base.cutter.diameter:
            raise JobError(
                f"a spacing of {format_length(spacing, units)} is less than cutter '{base.cutter.id}' is wide "
                f"({format_length(base.cutter.diameter, units)}); give more or choose a smaller cutter"
            )
        material = replace(base.material, web=spacing - base.cutter.diameter)
        made.append(replace(base, name=f"{base.name}, spacing {format_length(spacing, units)}", material=material))
    for margin in margins:
        if margin < 0.0:
            raise JobError(f"a margin of {format_length(margin, units)} is below 0; give 0 or more")
        material = replace(base.material, margin=margin)
        made.append(replace(base, name=f"{base.name}, margin {format_length(margin, units)}", material=material))
    for cutter in cutters:
        material = replace(base.material, cutter=cutter.id)
        made.append(replace(base, name=f"{base.name}, cutter {cutter.name}", material=material, cutter=cutter))
    return tuple(made)


def variant(prepared: Prepared, choice: Choice) -> Prepared:
    """The job cut down to one material and one choice; small enough to send to another process."""
    job = replace(
        prepared.job,
        artwork=(),
        builds=(),
        materials=(choice.material,),
        cutters=(choice.cutter,),
        stock=choice.stock,
    )
    parts = tuple(part for part in prepared.parts if part.material == choice.material.id)
    return Prepared(job, (), parts, ())


def adopt(job: Job, choice: Choice) -> Job:
    """The job with the sizes, web, margin and cutter of a choice; offcuts stay on the rack until they are planned.

    A size that locked sheets of the job's plan lie on stays, but no more of it than these.
    """
    bought = tuple(size for size in choice.stock if offcut_of(size.id) is None)
    kept = job.plan.sheets if job.plan is not None else ()
    locked = Counter(sheet.stock for sheet in kept if sheet.is_locked or any(part.is_locked for part in sheet.parts))
    chosen = {size.id for size in bought}
    bought += tuple(
        replace(size, count=locked[size.id])
        for size in job.stock
        if size.material == choice.material.id and locked[size.id] and size.id not in chosen
    )
    cutters = job.cutters
    if choice.cutter.id not in {cutter.id for cutter in cutters}:
        cutters = (*cutters, choice.cutter)
    return replace(
        job,
        materials=tuple(choice.material if one.id == choice.material.id else one for one in job.materials),
        cutters=cutters,
        stock=(*(one for one in job.stock if one.material != choice.material.id), *bought),
    )
