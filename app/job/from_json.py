"""From the JSON of a job file to the job; everything left out is filled from the shipped stock book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import Final, TypeVar

from app.errors import JobFileError, NewerJobFile
from app.job.cutting import USUAL
from app.job.cutting_json import cutting_from_json
from app.job.document import Align, Artwork, Build, Job, LetterSeams, Scale, ScaleBy, Seam, Text
from app.job.fields import Fields, Json, as_number, as_quantity, units_of
from app.job.kept_json import kept_from_json
from app.job.kinds import KINDS
from app.job.names import unknown
from app.job.quantities import Quantity
from app.job.settings import SETTINGS
from app.stock.book import Cutter, KeepOut, Material, MaterialKind, StockSheet
from app.stock.defaults import shipped

VERSION: Final = 3
"""1: the first. 2: own seams; a file of version 1 is one without any. 3: the plan kept with the job, likewise."""

VERSION_KEY: Final = "letterbed_job"

_JOB_KEYS: Final = (
    VERSION_KEY,
    "name",
    "units",
    "currency",
    "notes",
    "seconds",
    "seed",
    "may_nest_in_holes",
    "cutting",
    "artwork",
    "builds",
    "cutters",
    "materials",
    "stock",
    "seams",
    "plan",
)
_ARTWORK_KEYS: Final = (
    "id", "name", "build", "file", "text", "scale", "units", "layers", "sets", "page", "outline_strokes",
    "join_overlaps", "join_gap", "font_folders", "reads", "letter_builds",
)  # fmt: skip
_TEXT_KEYS: Final = ("words", "font", "tracking", "line_spacing", "align", "axes")
_BUILD_KEYS: Final = ("id", "name", "kind", "materials", "settings")
_CUTTER_KEYS: Final = ("id", "name", "diameter")
_MATERIAL_KEYS: Final = (
    "id", "name", "kind", "thickness", "density", "cutter", "web", "margin", "has_grain", "sides_alike",
)  # fmt: skip
_STOCK_KEYS: Final = ("id", "material", "name", "width", "height", "count", "price", "keep_outs")
_SEAMS_KEYS: Final = ("letter", "part", "seams")
_SEAM_KEYS: Final = ("from", "to")
_KEEP_OUT_KEYS: Final = ("x", "y", "width", "height", "reason")

Entry = TypeVar("Entry", Cutter, Material, StockSheet)


def job_from_json(document: Json, *, folder: str) -> Job:
    """The job a document describes; whether its parts agree is for `app.job.check` to say.

    Raises
    ------
    JobFileError
        About the first field that is wrong.
    NewerJobFile
        When a later version wrote the document.
    """
    if not isinstance(document, dict) or VERSION_KEY not in document:
        raise JobFileError(f'this is not a Letterbed job file: it has no "{VERSION_KEY}" number')
    version = document[VERSION_KEY]
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise JobFileError(f'"{VERSION_KEY}" is {version}; it must be a whole number from 1 up')
    if version > VERSION:
        raise NewerJobFile(
            f"it has version {version} and this program reads up to {VERSION}; open it with a newer version"
        )
    fields = Fields(document, "", _JOB_KEYS)
    currency = fields.optional("currency", fields.text, "USD")
    builds = tuple(_build(one, number) for number, one in enumerate(fields.entries("builds"), start=1))
    stated = _entries(fields, "materials", _material)
    materials = _filled_materials(builds) if stated is None else stated
    stated_cutters = _entries(fields, "cutters", _cutter)
    cutters = _filled_cutters(materials) if stated_cutters is None else stated_cutters
    stated_stock = _entries(fields, "stock", lambda value, where: _sheet(value, where, currency))
    stock = _filled_stock(materials, currency) if stated_stock is None else stated_stock
    seams = fields.entries("seams") if fields.has("seams") else []
    return Job(
        name=fields.text("name"),
        artwork=tuple(_artwork(one, number) for number, one in enumerate(fields.entries("artwork"), start=1)),
        builds=builds,
        materials=materials,
        cutters=cutters,
        stock=stock,
        units=units_of(fields, "units"),
        currency=currency,
        may_nest_in_holes=fields.optional("may_nest_in_holes", fields.yes_no, True),
        seconds=fields.optional("seconds", fields.number, 10.0),
        seed=fields.optional("seed", fields.whole, 0),
        seams=tuple(_letter_seams(one, number) for number, one in enumerate(seams, start=1)),
        notes=fields.optional("notes", fields.text, ""),
        folder=folder,
        cutting=cutting_from_json(fields.raw("cutting")) if fields.has("cutting") else USUAL,
        plan=kept_from_json(fields.raw("plan")) if fields.has("plan") else None,
    )


def _entries(fields: Fields, key: str, read: Callable[[Json, str], Entry]) -> tuple[Entry, ...] | None:
    if not fields.has(key):
        return None
    what = {"cutters": "cutter", "materials": "material", "stock": "stock"}[key]
    return tuple(
        read({"id": value} if isinstance(value, str) else value, _called(value, what, number))
        for number, value in enumerate(fields.entries(key), start=1)
    )


def _called(value: Json, what: str, number: int) -> str:
    """How an entry is called in messages: by its id where it has one."""
    found = value.get("id") if isinstance(value, dict) else value
    return f"{what} '{found}'" if isinstance(found, str) else f"{what} {number}"


def _over(value: Json, base: Entry | None, keys: Iterable[str], book: Mapping[str, Entry], where: str) -> None:
    """Refuse an entry that names nothing of the book and writes out nothing of its own."""
    if base is None and isinstance(value, dict) and set(value) == {"id"}:
        known = unknown(str(value["id"]), book, what="in the shipped stock book", listed=False)
        needed = ", ".join(key for key in keys if key != "id")
        raise JobFileError(f"{where}: {known}; write it out in full ({needed}) or name one that is")


def _cutter(value: Json, where: str) -> Cutter:
    fields = Fields(value, where, _CUTTER_KEYS)
    book = shipped().cutters
    base = book.get(fields.text("id"))
    _over(value, base, _CUTTER_KEYS, book, where)
    if base is None:
        return Cutter(fields.text("id"), fields.text("name"), fields.length("diameter"))
    return replace(
        base,
        name=fields.optional("name", fields.text, base.name),
        diameter=fields.optional("diameter", fields.length, base.diameter),
    )


def _material(value: Json, where: str) -> Material:
    fields = Fields(value, where, _MATERIAL_KEYS)
    book = shipped().materials
    base = book.get(fields.text("id"))
    _over(value, base, _MATERIAL_KEYS, book, where)
    if base is None:
        base = Material(
            id=fields.text("id"),
            name=fields.text("name"),
            kind=fields.choice("kind", MaterialKind),
            thickness=fields.length("thickness"),
            density=fields.density("density"),
            cutter=fields.text("cutter"),
            web=fields.length("web"),
            margin=fields.length("margin"),
        )
    return replace(
        base,
        name=fields.optional("name", fields.text, base.name),
        kind=fields.optional("kind", lambda key: fields.choice(key, MaterialKind), base.kind),
        thickness=fields.optional("thickness", fields.length, base.thickness),
        density=fields.optional("density", fields.density, base.density),
        cutter=fields.optional("cutter", fields.text, base.cutter),
        web=fields.optional("web", fields.length, base.web),
        margin=fields.optional("margin", fields.length, base.margin),
        has_grain=fields.optional("has_grain", fields.yes_no, base.has_grain),
        sides_alike=fields.optional("sides_alike", fields.yes_no, base.sides_alike),
    )


def _sheet(value: Json, where: str, currency: str) -> StockSheet:
    fields = Fields(value, where, _STOCK_KEYS)
    book = shipped().stock_in(currency)
    base = book.get(fields.text("id"))
    _over(value, base, _STOCK_KEYS, book, where)
    if base is None:
        base = StockSheet(
            id=fields.text("id"),
            material=fields.text("material"),
            name=fields.text("name"),
            width=fields.length("width"),
            height=fields.length("height"),
        )
    sheet = replace(
        base,
        material=fields.optional("material", fields.text, base.material),
        name=fields.optional("name", fields.text, base.name),
        width=fields.optional("width", fields.length, base.width),
        height=fields.optional("height", fields.length, base.height),
        count=fields.optional("count", fields.whole, base.count),
    )
    if isinstance(value, dict) and "price" in value:  # null says that the price is not known
        sheet = replace(sheet, price=fields.price("price", currency) if fields.has("price") else None)
    if fields.has("keep_outs"):
        zones = fields.entries("keep_outs")
        sheet = replace(
            sheet,
            keep_outs=tuple(_keep_out(one, f"{where}, keep-out {number}") for number, one in enumerate(zones, start=1)),
        )
    return sheet


def _keep_out(value: Json, where: str) -> KeepOut:
    fields = Fields(value, where, _KEEP_OUT_KEYS)
    return KeepOut(
        x=fields.length("x"),
        y=fields.length("y"),
        width=fields.length("width"),
        height=fields.length("height"),
        reason=fields.optional("reason", fields.text, ""),
    )


def _letter_seams(value: Json, number: int) -> LetterSeams:
    fields = Fields(value, f"seams {number}", _SEAMS_KEYS)
    letter, part = fields.text("letter"), fields.text("part")
    return LetterSeams(
        letter,
        part,
        tuple(
            _seam(one, f"seams of the {part} of '{letter}', seam {place}")
            for place, one in enumerate(fields.entries("seams"), start=1)
        ),
    )


def _seam(value: Json, where: str) -> Seam:
    fields = Fields(value, where, _SEAM_KEYS)
    return Seam(_point(fields, "from"), _point(fields, "to"))


def _point(fields: Fields, key: str) -> tuple[float, float]:
    values = fields.entries(key)
    if len(values) != 2:
        raise fields.fault(key, 'a point has two lengths; write it like ["24 in", "0 in"]')
    x, y = (as_quantity(one, Quantity.LENGTH, partial(fields.fault, key)) for one in values)
    return x, y


def _filled_materials(builds: tuple[Build, ...]) -> tuple[Material, ...]:
    book = shipped().materials
    used = dict.fromkeys(material for build in builds for _, material in build.materials)
    return tuple(book[material] for material in used if material in book)


def _filled_cutters(materials: tuple[Material, ...]) -> tuple[Cutter, ...]:
    book = shipped().cutters
    used = dict.fromkeys(material.cutter for material in materials)
    return tuple(book[cutter] for cutter in used if cutter in book)


def _filled_stock(materials: tuple[Material, ...], currency: str) -> tuple[StockSheet, ...]:
    used = [material.id for material in materials]
    return tuple(
        sheet for material in used for sheet in shipped().stock_in(currency).values() if sheet.material == material
    )


def _build(value: Json, number: int) -> Build:
    where = _called(value, "build", number)
    fields = Fields(value, where, _BUILD_KEYS)
    materials = []
    for role, material in fields.mapping("materials").items():
        if not isinstance(material, str):
            raise fields.fault("materials", f"the {role} needs the id of a material in quotes")
        materials.append((role, material))
    settings = []
    for name, given in (fields.mapping("settings") if fields.has("settings") else {}).items():
        setting = SETTINGS.get(name)
        if setting is None:
            kind = KINDS.get(fields.text("kind"))
            known = kind.settings if kind else tuple(SETTINGS)
            raise fields.fault("settings", unknown(name, known, what="a setting"))
        value_of = as_quantity(given, setting.quantity, partial(fields.fault, name))
        settings.append((name, value_of))
    return Build(fields.text("id"), fields.text("name"), fields.text("kind"), tuple(materials), tuple(settings))


def _artwork(value: Json, number: int) -> Artwork:
    where = _called(value, "artwork", number)
    fields = Fields(value, where, _ARTWORK_KEYS)
    return Artwork(
        id=fields.text("id"),
        name=fields.text("name"),
        build=fields.text("build"),
        file=fields.optional("file", fields.text, None),
        text=_text(fields.raw("text"), f"{where}, text") if fields.has("text") else None,
        scale=_scale(fields.raw("scale"), f"{where}, scale") if fields.has("scale") else Scale(),
        units=fields.optional("units", fields.text, None),
        layers=fields.optional("layers", fields.texts, None),
        sets=fields.optional("sets", fields.whole, 1),
        page=fields.optional("page", fields.whole, 1),
        outline_strokes=fields.optional("outline_strokes", fields.yes_no, False),
        join_overlaps=fields.optional("join_overlaps", fields.yes_no, False),
        join_gap=fields.optional("join_gap", fields.length, None),
        font_folders=fields.optional("font_folders", fields.texts, ()),
        reads=fields.optional("reads", fields.text, ""),
        letter_builds=fields.optional("letter_builds", lambda key: _letter_builds(fields, key), ()),
    )


def _letter_builds(fields: Fields, key: str) -> tuple[tuple[str, str], ...]:
    found = []
    for letter, build in fields.mapping(key).items():
        if not isinstance(build, str):
            raise fields.fault(key, f"letter '{letter}' needs the id of a build in quotes")
        found.append((letter, build))
    return tuple(found)


def _text(value: Json, where: str) -> Text:
    fields = Fields(value, where, _TEXT_KEYS)
    return Text(
        words=fields.text("words"),
        font=fields.text("font"),
        tracking=fields.optional("tracking", fields.number, 0.0),
        line_spacing=fields.optional("line_spacing", fields.number, 1.0),
        align=fields.optional("align", lambda key: fields.choice(key, Align), Align.LEFT),
        axes=fields.optional("axes", lambda key: _axes(fields, key), ()),
    )


def _axes(fields: Fields, key: str) -> tuple[tuple[str, float], ...]:
    return tuple((tag, as_number(value, partial(fields.fault, key))) for tag, value in fields.mapping(key).items())


def _scale(value: Json, where: str) -> Scale:
    fields = Fields(value, where, ("by", "length", "from", "to"))
    return Scale(
        fields.choice("by", ScaleBy),
        fields.optional("length", fields.length, None),
        fields.optional("from", lambda key: _place(fields, key), None),
        fields.optional("to", lambda key: _place(fields, key), None),
    )


def _place(fields: Fields, key: str) -> tuple[float, float]:
    """A point in the numbers of an artwork file."""
    values = fields.entries(key)
    if len(values) != 2:
        raise fields.fault(key, "a point has two numbers; write it like [12.5, 0]")
    x, y = (as_number(one, partial(fields.fault, key)) for one in values)
    return x, y
