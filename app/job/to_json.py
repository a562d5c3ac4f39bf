"""From a job to the text of its file; what is the shipped stock book's unchanged is written by its id alone."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

from app.job.cutting_json import cutting_to_json
from app.job.document import Artwork, Build, DisplayUnits, Job, LetterSeams, Scale
from app.job.from_json import VERSION, VERSION_KEY
from app.job.kept_json import kept_text
from app.job.quantities import Quantity, format_quantity
from app.job.settings import SETTINGS
from app.stock.book import Cutter, Material, StockSheet
from app.stock.defaults import shipped
from app.stock.money import format_price


def job_text(job: Job) -> str:
    """The job as the text of its file."""
    book = shipped()
    units = job.units

    def length(mm: float) -> str:
        return format_quantity(mm, Quantity.LENGTH, units)

    document: dict[str, object] = {
        VERSION_KEY: VERSION,
        "name": job.name,
        "units": job.units.value,
        "currency": job.currency,
        "notes": job.notes,
        "seconds": job.seconds,
        "seed": job.seed,
        "may_nest_in_holes": job.may_nest_in_holes,
        "artwork": [_artwork_object(artwork, length) for artwork in job.artwork],
        "builds": [_build_object(build, units) for build in job.builds],
        "cutters": [
            cutter.id if book.cutters.get(cutter.id) == cutter else _cutter_object(cutter, length)
            for cutter in job.cutters
        ],
        "materials": [
            material.id if book.materials.get(material.id) == material else _material_object(material, length)
            for material in job.materials
        ],
        "stock": [_stock_entry(sheet, length, job.currency) for sheet in job.stock],
    }
    if job.seams:
        document["seams"] = [_seams_object(one, length) for one in job.seams]
    if cutting := cutting_to_json(job.cutting, length):
        document["cutting"] = cutting
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    if job.plan is not None:
        text = text.removesuffix("\n}") + f',\n  "plan": {kept_text(job.plan, length)}\n}}'
    return text + "\n"


def _artwork_object(artwork: Artwork, length: Callable[[float], str]) -> dict[str, object]:
    found: dict[str, object] = {"id": artwork.id, "name": artwork.name, "build": artwork.build}
    if artwork.file is not None:
        found["file"] = artwork.file
    if artwork.text is not None:
        text = artwork.text
        words: dict[str, object] = {
            "words": text.words,
            "font": text.font,
            "tracking": text.tracking,
            "line_spacing": text.line_spacing,
            "align": text.align.value,
        }
        if text.axes:
            words["axes"] = dict(text.axes)
        found["text"] = words
    found["scale"] = _scale_object(artwork.scale, length)
    if artwork.units is not None:
        found["units"] = artwork.units
    if artwork.layers is not None:
        found["layers"] = list(artwork.layers)
    found["sets"] = artwork.sets
    if artwork.page != 1:
        found["page"] = artwork.page
    if artwork.outline_strokes:
        found["outline_strokes"] = True
    if artwork.join_overlaps:
        found["join_overlaps"] = True
    if artwork.join_gap is not None:
        found["join_gap"] = length(artwork.join_gap)
    if artwork.font_folders:
        found["font_folders"] = list(artwork.font_folders)
    if artwork.reads:
        found["reads"] = artwork.reads
    if artwork.letter_builds:
        found["letter_builds"] = dict(artwork.letter_builds)
    return found


def _scale_object(scale: Scale, length: Callable[[float], str]) -> dict[str, object]:
    found: dict[str, object] = {"by": scale.by.value}
    if scale.length is not None:
        found["length"] = length(scale.length)
    if scale.start is not None:
        found["from"] = list(scale.start)
    if scale.end is not None:
        found["to"] = list(scale.end)
    return found


def _build_object(build: Build, units: DisplayUnits) -> dict[str, object]:
    settings: dict[str, object] = {}
    for name, value in build.settings:
        quantity = SETTINGS[name].quantity
        settings[name] = value if quantity is Quantity.NUMBER else format_quantity(value, quantity, units)
    return {
        "id": build.id,
        "name": build.name,
        "kind": build.kind,
        "materials": dict(build.materials),
        "settings": settings,
    }


def _seams_object(chosen: LetterSeams, length: Callable[[float], str]) -> dict[str, object]:
    return {
        "letter": chosen.letter,
        "part": chosen.part,
        "seams": [
            {"from": [length(value) for value in seam.start], "to": [length(value) for value in seam.end]}
            for seam in chosen.seams
        ],
    }


def _cutter_object(cutter: Cutter, length: Callable[[float], str]) -> dict[str, object]:
    return {"id": cutter.id, "name": cutter.name, "diameter": length(cutter.diameter)}


def _material_object(material: Material, length: Callable[[float], str]) -> dict[str, object]:
    return {
        "id": material.id,
        "name": material.name,
        "kind": material.kind.value,
        "thickness": length(material.thickness),
        "density": f"{material.density!r} kg/m3",
        "cutter": material.cutter,
        "web": length(material.web),
        "margin": length(material.margin),
        "has_grain": material.has_grain,
        "sides_alike": material.sides_alike,
    }


def _stock_entry(sheet: StockSheet, length: Callable[[float], str], currency: str) -> str | dict[str, object]:
    base = shipped().stock_in(currency).get(sheet.id)
    if base == sheet:
        return sheet.id
    own: dict[str, object] = {"count": sheet.count}
    if base is None or sheet.price != base.price:
        own["price"] = None if sheet.price is None else format_price(sheet.price, currency)
    if sheet.keep_outs:
        own["keep_outs"] = [
            {
                "x": length(zone.x),
                "y": length(zone.y),
                "width": length(zone.width),
                "height": length(zone.height),
                "reason": zone.reason,
            }
            for zone in sheet.keep_outs
        ]
    # The usual change to a shipped size is how many are on hand, or what one costs: only that is written then.
    if base is not None and replace(sheet, count=None, price=base.price, keep_outs=()) == base:
        return {"id": sheet.id, **own}
    return {
        "id": sheet.id,
        "material": sheet.material,
        "name": sheet.name,
        "width": length(sheet.width),
        "height": length(sheet.height),
        **own,
    }
