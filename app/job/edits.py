"""Edits: plain functions from job to job. Each checks the whole job and returns the same object when nothing changed.

All raise `JobError` in one sentence when the result would not agree with itself, or when an id is not in the job.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from typing import TypeVar

from app.errors import JobError
from app.job.check import check_job
from app.job.document import Artwork, Build, DisplayUnits, Job, LetterSeams, Scale, ScaleBy, Seam, Text
from app.job.kept import KeptPlan
from app.job.names import unknown
from app.stock.book import Cutter, KeepOut, Material, StockSheet
from app.stock.defaults import shipped
from app.stock.money import minor_digits

Entry = TypeVar("Entry", Artwork, Build, Material, Cutter, StockSheet)

# The whole job


def set_name(job: Job, name: str) -> Job:
    """The job under another name."""
    return _checked(job, replace(job, name=name))


def set_notes(job: Job, notes: str) -> Job:
    """The job with other notes."""
    return _checked(job, replace(job, notes=notes))


def set_units(job: Job, units: DisplayUnits) -> Job:
    """The job shown in other units; no length changes."""
    return _checked(job, replace(job, units=units))


def set_currency(job: Job, currency: str) -> Job:
    """The job priced in another currency: the amounts stay as they read, only the currency changes."""
    scale = minor_digits(currency) - minor_digits(job.currency)

    def restated(price: int | None) -> int | None:
        return None if price is None else int(Decimal(price).scaleb(scale).quantize(Decimal(1), ROUND_HALF_UP))

    stock = tuple(replace(sheet, price=restated(sheet.price)) for sheet in job.stock)
    return _checked(job, replace(job, currency=currency, stock=stock))


def set_seconds(job: Job, seconds: float) -> Job:
    """The job with another time to plan for, seconds."""
    return _checked(job, replace(job, seconds=seconds))


def set_seed(job: Job, seed: int) -> Job:
    """The job with another seed of the search."""
    return _checked(job, replace(job, seed=seed))


def set_nesting_in_holes(job: Job, may_nest_in_holes: bool) -> Job:
    """The job with parts allowed in the holes of others, or not."""
    return _checked(job, replace(job, may_nest_in_holes=may_nest_in_holes))


def set_plan(job: Job, plan: KeptPlan | None) -> Job:
    """The job with other layouts, or none."""
    return _checked(job, replace(job, plan=plan))


# Artwork


def add_artwork(job: Job, artwork: Artwork) -> Job:
    """The job with one more artwork, last."""
    return _checked(job, replace(job, artwork=(*job.artwork, artwork)))


def remove_artwork(job: Job, artwork: str) -> Job:
    """The job without one artwork and the own seams of its letters."""
    letter = re.compile(rf"{re.escape(artwork)}-\d+")
    seams = tuple(one for one in job.seams if not letter.fullmatch(one.letter))
    return _checked(job, replace(job, artwork=_without(job.artwork, artwork, "artwork"), seams=seams))


def set_artwork_name(job: Job, artwork: str, name: str) -> Job:
    """One artwork under another name."""
    return _with_artwork(job, artwork, lambda found: replace(found, name=name))


def set_artwork_text(job: Job, artwork: str, text: Text) -> Job:
    """One artwork with other words, in place of its words or file."""

    def changed(found: Artwork) -> Artwork:
        # Words have no two points to measure between.
        scale = Scale() if found.scale.by is ScaleBy.KNOWN_DIMENSION else found.scale
        return replace(found, text=text, file=None, units=None, layers=None, reads="", scale=scale)

    return _with_artwork(job, artwork, changed)


def set_artwork_file(job: Job, artwork: str, file: str) -> Job:
    """One artwork from another file, in place of its file or words."""
    return _with_artwork(job, artwork, lambda found: replace(found, file=file, text=None))


def set_artwork_units(job: Job, artwork: str, units: str | None) -> Job:
    """One artwork whose file counts in `units`; None trusts the file."""
    return _with_artwork(job, artwork, lambda found: replace(found, units=units))


def set_artwork_layers(job: Job, artwork: str, layers: Iterable[str] | None) -> Job:
    """One artwork read from some layers only; None reads all visible ones."""
    chosen = None if layers is None else tuple(layers)
    return _with_artwork(job, artwork, lambda found: replace(found, layers=chosen))


def set_artwork_page(job: Job, artwork: str, page: int) -> Job:
    """One artwork read from another page of its file, counted from 1."""
    return _with_artwork(job, artwork, lambda found: replace(found, page=page))


def set_outline_strokes(job: Job, artwork: str, outline_strokes: bool) -> Job:
    """One artwork whose strokes are read as the outline they paint, or as their middle line."""
    return _with_artwork(job, artwork, lambda found: replace(found, outline_strokes=outline_strokes))


def set_join_overlaps(job: Job, artwork: str, join_overlaps: bool) -> Job:
    """One artwork whose overlapping shapes are made one, or not."""
    return _with_artwork(job, artwork, lambda found: replace(found, join_overlaps=join_overlaps))


def set_join_gap(job: Job, artwork: str, join_gap: float | None) -> Job:
    """One artwork whose loose ends are joined up to another gap, mm; None takes the usual one."""
    return _with_artwork(job, artwork, lambda found: replace(found, join_gap=join_gap))


def set_font_folders(job: Job, artwork: str, folders: Iterable[str]) -> Job:
    """One artwork whose DXF text finds its fonts in these folders."""
    chosen = tuple(folders)
    return _with_artwork(job, artwork, lambda found: replace(found, font_folders=chosen))


def set_scale(job: Job, artwork: str, scale: Scale) -> Job:
    """One artwork at another size."""
    return _with_artwork(job, artwork, lambda found: replace(found, scale=scale))


def set_sets(job: Job, artwork: str, sets: int) -> Job:
    """One artwork made `sets` times."""
    return _with_artwork(job, artwork, lambda found: replace(found, sets=sets))


def set_build(job: Job, artwork: str, build: str) -> Job:
    """One artwork made by another build of the job; letters with a build of their own keep it."""

    def changed(found: Artwork) -> Artwork:
        own = tuple(one for one in found.letter_builds if one[1] != build)
        return replace(found, build=build, letter_builds=own)

    return _with_artwork(job, artwork, changed)


def set_letter_builds(job: Job, artwork: str, letters: Iterable[str], build: str) -> Job:
    """Some letters of one artwork made by another build than the rest; the artwork's own takes them back."""
    chosen = set(letters)

    def changed(found: Artwork) -> Artwork:
        kept = [one for one in found.letter_builds if one[0] not in chosen]
        own = [(letter, build) for letter in chosen] if build != found.build else []
        return replace(found, letter_builds=tuple(sorted(kept + own)))

    return _with_artwork(job, artwork, changed)


def set_reads(job: Job, artwork: str, reads: str) -> Job:
    """One artwork whose letters are named by what they say, one character for each; empty leaves the file's names."""
    return _with_artwork(job, artwork, lambda found: replace(found, reads=reads))


# Builds


def add_build(job: Job, build: Build) -> Job:
    """The job with one more build, last; shipped materials join the job when named."""
    return _checked(job, replace(_with_materials_of(job, build), builds=(*job.builds, build)))


def remove_build(job: Job, build: str) -> Job:
    """The job without one build, which no artwork and no letter may use."""
    return _checked(job, replace(job, builds=_without(job.builds, build, "build")))


def set_build_name(job: Job, build: str, name: str) -> Job:
    """One build under another name."""
    return _with_build(job, build, lambda found: replace(found, name=name))


def change_build(job: Job, build: Build) -> Job:
    """The job with a build in place of the one of the same id; shipped materials join the job when named."""
    return _with_build(_with_materials_of(job, build), build.id, lambda _found: build)


def set_build_material(job: Job, build: str, role: str, material: str) -> Job:
    """One build with another material for a role ("backer", "face"); a shipped material joins the job when named."""
    changed = _find(job.builds, build, "build")
    return change_build(job, replace(changed, materials=_set_pair(changed.materials, role, material)))


def set_setting(job: Job, build: str, setting: str, value: float | None) -> Job:
    """One build with another value of a setting, in the setting's unit; None goes back to the default."""

    def changed(found: Build) -> Build:
        if value is None:
            return replace(found, settings=tuple(pair for pair in found.settings if pair[0] != setting))
        return replace(found, settings=_set_pair(found.settings, setting, value))

    return _with_build(job, build, changed)


# Materials and cutters


def add_material(job: Job, material: str) -> Job:
    """The job with one more shipped material, its cutter, and every shipped sheet size of it."""
    if material not in shipped().materials:
        raise JobError(unknown(material, shipped().materials, what="in the shipped stock book"))
    return _checked(job, _with_shipped_material(job, material))


def remove_material(job: Job, material: str) -> Job:
    """The job without one material and its stock; no build may use it."""
    stock = tuple(sheet for sheet in job.stock if sheet.material != material)
    return _checked(job, replace(job, materials=_without(job.materials, material, "material"), stock=stock))


def set_web(job: Job, material: str, web: float) -> Job:
    """One material with another width left between two cuts, mm; spacing = cutter diameter + web."""
    return _with_material(job, material, lambda found: replace(found, web=web))


def set_spacing(job: Job, material: str, spacing: float) -> Job:
    """One material with another least distance between parts, mm; never below its cutter's diameter."""
    cutter = _find(job.cutters, _find(job.materials, material, "material").cutter, "cutter")
    if not spacing >= cutter.diameter:
        raise JobError(
            f"material '{material}', spacing of {spacing:g} mm is below the cutter's diameter of "
            f"{cutter.diameter:g} mm; give more, or choose a smaller cutter"
        )
    return set_web(job, material, spacing - cutter.diameter)


def set_margin(job: Job, material: str, margin: float) -> Job:
    """One material with another distance kept from the sheet's edge, mm."""
    return _with_material(job, material, lambda found: replace(found, margin=margin))


def set_material_cutter(job: Job, material: str, cutter: str) -> Job:
    """One material cut with another cutter; a shipped cutter joins the job when named."""
    if cutter in shipped().cutters and cutter not in {one.id for one in job.cutters}:
        job = replace(job, cutters=(*job.cutters, shipped().cutters[cutter]))
    return _with_material(job, material, lambda found: replace(found, cutter=cutter))


def set_grain(job: Job, material: str, has_grain: bool) -> Job:
    """One material with grain, or without: with it parts turn by 0 or 180 degrees only."""
    return _with_material(job, material, lambda found: replace(found, has_grain=has_grain))


def set_sides_alike(job: Job, material: str, sides_alike: bool) -> Job:
    """One material whose two faces look alike, or do not: only alike may parts be cut mirrored."""
    return _with_material(job, material, lambda found: replace(found, sides_alike=sides_alike))


def set_cutter_diameter(job: Job, cutter: str, diameter: float) -> Job:
    """One cutter with another diameter, mm, as measured."""
    changed = _changed(job.cutters, cutter, "cutter", lambda found: replace(found, diameter=diameter))
    return _checked(job, replace(job, cutters=changed))


# Stock


def add_stock(job: Job, sheet: StockSheet) -> Job:
    """The job with one more sheet size, last."""
    return _checked(job, replace(job, stock=(*job.stock, sheet)))


def add_shipped_stock(job: Job, sheet: str) -> Job:
    """The job with one more sheet size of the shipped stock book, last."""
    book = shipped().stock_in(job.currency)
    if sheet not in book:
        raise JobError(unknown(sheet, book, what="in the shipped stock book", listed=False))
    return add_stock(job, book[sheet])


def remove_stock(job: Job, sheet: str) -> Job:
    """The job without one sheet size."""
    return _checked(job, replace(job, stock=_without(job.stock, sheet, "stock")))


def set_stock_count(job: Job, sheet: str, count: int | None) -> Job:
    """One sheet size of which `count` can be had; None for as many as wanted, 0 to leave it out of the planning."""
    return _with_sheet(job, sheet, lambda found: replace(found, count=count))


def set_price(job: Job, sheet: str, price: int | None) -> Job:
    """One sheet size at another price, minor currency units; None when it is not known."""
    return _with_sheet(job, sheet, lambda found: replace(found, price=price))


def set_stock_size(job: Job, sheet: str, width: float, height: float) -> Job:
    """One sheet size as measured, mm."""
    return _with_sheet(job, sheet, lambda found: replace(found, width=width, height=height))


def set_stock_name(job: Job, sheet: str, name: str) -> Job:
    """One sheet size under another name."""
    return _with_sheet(job, sheet, lambda found: replace(found, name=name))


def set_keep_outs(job: Job, sheet: str, keep_outs: Iterable[KeepOut]) -> Job:
    """One sheet size with other clamp zones and flaws."""
    zones = tuple(keep_outs)
    return _with_sheet(job, sheet, lambda found: replace(found, keep_outs=zones))


# Seams


def set_seams(job: Job, letter: str, part: str, seams: Iterable[Seam] | None) -> Job:
    """Own seams for a sort of part of one letter, in place of any before; None lets the program find them again.

    Start from what the program found (`Fabrication.seams`) to change one of its seams and keep the others.
    """
    rest = tuple(one for one in job.seams if (one.letter, one.part) != (letter, part))
    if seams is None:
        return _checked(job, replace(job, seams=rest))
    chosen = LetterSeams(letter, part, tuple(Seam(_in_steps(seam.start), _in_steps(seam.end)) for seam in seams))
    if chosen in job.seams:
        return job
    place = next((i for i, one in enumerate(job.seams) if (one.letter, one.part) == (letter, part)), len(rest))
    return _checked(job, replace(job, seams=(*rest[:place], chosen, *rest[place:])))


def add_seam(job: Job, letter: str, part: str, seam: Seam) -> Job:
    """One own seam more, cut after the others."""
    return set_seams(job, letter, part, (*_own_seams(job, letter, part), seam))


def move_seam(job: Job, letter: str, part: str, number: int, seam: Seam) -> Job:
    """An own seam (0-based) in another place."""
    seams = _own_seams(job, letter, part)
    _check_number(seams, number, letter, part)
    return set_seams(job, letter, part, (*seams[:number], seam, *seams[number + 1 :]))


def remove_seam(job: Job, letter: str, part: str, number: int) -> Job:
    """One own seam (0-based) less; without the last one the part stays whole."""
    seams = _own_seams(job, letter, part)
    _check_number(seams, number, letter, part)
    return set_seams(job, letter, part, (*seams[:number], *seams[number + 1 :]))


# How it is done


def _own_seams(job: Job, letter: str, part: str) -> tuple[Seam, ...]:
    return next((one.seams for one in job.seams if (one.letter, one.part) == (letter, part)), ())


def _in_steps(point: tuple[float, float]) -> tuple[float, float]:
    if not all(map(math.isfinite, point)):
        return point  # for the check to say so
    return round(point[0], 4) + 0.0, round(point[1], 4) + 0.0


def _check_number(seams: tuple[Seam, ...], number: int, letter: str, part: str) -> None:
    if not 0 <= number < len(seams):
        raise JobError(f"the {part} of letter '{letter}' has {len(seams)} own seams and no seam {number + 1}")


def _checked(before: Job, after: Job) -> Job:
    return before if after == before else check_job(after)


def _find(entries: tuple[Entry, ...], wanted: str, what: str) -> Entry:
    for entry in entries:
        if entry.id == wanted:
            return entry
    article = "an" if what == "artwork" else "a"
    kind = f"{article} {what} of this job" if what != "stock" else "in this job's stock"
    raise JobError(unknown(wanted, [entry.id for entry in entries], what=kind))


def _without(entries: tuple[Entry, ...], unwanted: str, what: str) -> tuple[Entry, ...]:
    _find(entries, unwanted, what)
    return tuple(entry for entry in entries if entry.id != unwanted)


def _changed(entries: tuple[Entry, ...], wanted: str, what: str, change: Callable[[Entry], Entry]) -> tuple[Entry, ...]:
    _find(entries, wanted, what)
    return tuple(change(entry) if entry.id == wanted else entry for entry in entries)


def _with_artwork(job: Job, artwork: str, change: Callable[[Artwork], Artwork]) -> Job:
    return _checked(job, replace(job, artwork=_changed(job.artwork, artwork, "artwork", change)))


def _with_build(job: Job, build: str, change: Callable[[Build], Build]) -> Job:
    return _checked(job, replace(job, builds=_changed(job.builds, build, "build", change)))


def _with_material(job: Job, material: str, change: Callable[[Material], Material]) -> Job:
    return _checked(job, replace(job, materials=_changed(job.materials, material, "material", change)))


def _with_sheet(job: Job, sheet: str, change: Callable[[StockSheet], StockSheet]) -> Job:
    return _checked(job, replace(job, stock=_changed(job.stock, sheet, "stock", change)))


def _with_materials_of(job: Job, build: Build) -> Job:
    for _role, material in build.materials:
        if material in shipped().materials and material not in {one.id for one in job.materials}:
            job = _with_shipped_material(job, material)
    return job


def _with_shipped_material(job: Job, name: str) -> Job:
    book = shipped()
    material = book.materials[name]
    cutters = job.cutters
    if material.cutter not in {cutter.id for cutter in cutters}:
        cutters = (*cutters, book.cutters[material.cutter])
    taken = {sheet.id for sheet in job.stock}
    new = (sheet for sheet in book.stock_in(job.currency).values() if sheet.material == name and sheet.id not in taken)
    return replace(job, materials=(*job.materials, material), cutters=cutters, stock=(*job.stock, *new))


Value = TypeVar("Value")


def _set_pair(pairs: tuple[tuple[str, Value], ...], name: str, value: Value) -> tuple[tuple[str, Value], ...]:
    if any(pair[0] == name for pair in pairs):
        return tuple((name, value) if pair[0] == name else pair for pair in pairs)
    return (*pairs, (name, value))
