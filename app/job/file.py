"""The job file: JSON that a person can read and edit by hand.

Every length carries its unit. Cutters, materials and sheet sizes of the shipped stock book may be named by id alone,
``"stock": ["alu-0.125-48x120", {"id": "alu-0.125-60x120", "count": 2}]``: what stands as a bare name, or is not
written out in the object, is the book's; what is written out is the job's own. Lists left out are filled with what
the builds use.

What is written reads back as an equal job, and writing it again gives the same bytes.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Final, TypeVar

from app.errors import JobError, JobFileError, NewerJobFile
from app.job.check import check_job
from app.job.document import Align, Artwork, Build, DisplayUnits, Job, Scale, ScaleBy, Text
from app.job.fields import Fields, Json, as_quantity, units_of
from app.job.kinds import KINDS
from app.job.names import unknown
from app.job.quantities import Quantity, format_quantity
from app.job.settings import SETTINGS
from app.stock.book import Cutter, KeepOut, Material, MaterialKind, StockSheet
from app.stock.defaults import shipped
from app.stock.money import format_price

VERSION: Final = 1
VERSION_KEY: Final = "letterbed_job"
LARGEST: Final = 50_000_000
"""No job file is larger than this, bytes; a larger one is something else."""

_JOB_KEYS: Final = (
    VERSION_KEY,
    "name",
    "units",
    "currency",
    "notes",
    "seconds",
    "seed",
    "may_nest_in_holes",
    "artwork",
    "builds",
    "cutters",
    "materials",
    "stock",
)
_ARTWORK_KEYS: Final = ("id", "name", "build", "file", "text", "scale", "units", "layers", "sets")
_TEXT_KEYS: Final = ("words", "font", "tracking", "line_spacing", "align")
_BUILD_KEYS: Final = ("id", "name", "kind", "materials", "settings")
_CUTTER_KEYS: Final = ("id", "name", "diameter")
_MATERIAL_KEYS: Final = (
    "id", "name", "kind", "thickness", "density", "cutter", "web", "margin", "has_grain", "sides_alike",
)  # fmt: skip
_STOCK_KEYS: Final = ("id", "material", "name", "width", "height", "count", "price", "keep_outs")
_KEEP_OUT_KEYS: Final = ("x", "y", "width", "height", "reason")

Entry = TypeVar("Entry", Cutter, Material, StockSheet)


def read_job(path: str | os.PathLike[str]) -> Job:
    """The job of a file; its `folder` is the file's folder, where relative paths start.

    Raises
    ------
    JobFileError
        One sentence: the file, the field, what is wrong and what to write instead.
    NewerJobFile
        When a later version of the program wrote it.
    """
    path = os.fspath(path)
    shown = os.path.basename(path) or path
    try:
        job = _job(_parse(_read_text(path, shown)), folder=os.path.dirname(os.path.abspath(path)))
        return check_job(job)
    except NewerJobFile as error:
        raise NewerJobFile(f"{shown}: {error}") from error
    except (JobFileError, JobError) as error:
        raise JobFileError(f"{shown}: {error}") from error


def write_job(job: Job, path: str | os.PathLike[str]) -> None:
    """Write the job; the file is either the old one or the new one at every moment, whatever happens.

    Relative paths of artwork and fonts are written as they stand.

    Raises
    ------
    JobError
        When the job's parts do not agree; nothing is written.
    JobFileError
        When the file cannot be written; the old one, if any, is unharmed.
    """
    path = os.fspath(path)
    text = job_text(check_job(job))
    folder = os.path.dirname(os.path.abspath(path))
    shown = os.path.basename(path) or path
    try:
        data = text.encode("utf-8")
        handle, temporary = tempfile.mkstemp(prefix=f".{shown[:100]}-", suffix=".part", dir=folder)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            _keep_mode(path, temporary)
            os.replace(temporary, path)
        except BaseException:
            os.unlink(temporary)
            raise
        _sync_folder(folder)
    except UnicodeEncodeError as error:
        raise JobFileError(f"{shown}: the text {error.object[error.start : error.end]!r} cannot be saved") from error
    except OSError as error:
        raise JobFileError(f"{shown} could not be written: {_reason(error)}") from error


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
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


# Reading


def _read_text(path: str, shown: str) -> str:
    try:
        with open(path, "rb") as stream:
            data = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise JobFileError("there is no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise JobFileError("this is a folder; name the job file in it") from None
    except (OSError, ValueError) as error:
        raise JobFileError(f"the file cannot be read: {_reason(error)}") from error
    if len(data) > LARGEST:
        raise JobFileError(f"the file is larger than {LARGEST // 1_000_000} MB, more than any job file; is it artwork?")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobFileError(f"line {line} is not UTF-8 text; save the file as UTF-8, if it is a job file") from error


def _parse(text: str) -> Json:
    if not text.strip():
        raise JobFileError("the file is empty")
    try:
        value: Json = json.loads(
            text, parse_float=Decimal, parse_constant=_refuse_constant, object_pairs_hook=_without_repeats
        )
    except json.JSONDecodeError as error:
        raise JobFileError(f"line {error.lineno}, column {error.colno}: not valid JSON ({error.msg})") from error
    except RecursionError as error:
        raise JobFileError("the file is nested too deep for a job file") from error
    except ValueError as error:  # whole numbers of thousands of digits
        raise JobFileError(f"the file holds a number that cannot be read ({error})") from error
    return value


def _refuse_constant(name: str) -> Json:
    raise JobFileError(f"{name} is not a number that can be used")


def _without_repeats(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise JobFileError(f"'{twice}' stands twice in the same object; keep one of the two")
    return found


def _job(document: Json, *, folder: str) -> Job:
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
        notes=fields.optional("notes", fields.text, ""),
        folder=folder,
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
    )


def _text(value: Json, where: str) -> Text:
    fields = Fields(value, where, _TEXT_KEYS)
    return Text(
        words=fields.text("words"),
        font=fields.text("font"),
        tracking=fields.optional("tracking", fields.number, 0.0),
        line_spacing=fields.optional("line_spacing", fields.number, 1.0),
        align=fields.optional("align", lambda key: fields.choice(key, Align), Align.LEFT),
    )


def _scale(value: Json, where: str) -> Scale:
    fields = Fields(value, where, ("by", "length"))
    return Scale(fields.choice("by", ScaleBy), fields.optional("length", fields.length, None))


# Writing


def _artwork_object(artwork: Artwork, length: Callable[[float], str]) -> dict[str, object]:
    found: dict[str, object] = {"id": artwork.id, "name": artwork.name, "build": artwork.build}
    if artwork.file is not None:
        found["file"] = artwork.file
    if artwork.text is not None:
        text = artwork.text
        found["text"] = {
            "words": text.words,
            "font": text.font,
            "tracking": text.tracking,
            "line_spacing": text.line_spacing,
            "align": text.align.value,
        }
    found["scale"] = {"by": artwork.scale.by.value}
    if artwork.scale.length is not None:
        found["scale"] = {"by": artwork.scale.by.value, "length": length(artwork.scale.length)}
    if artwork.units is not None:
        found["units"] = artwork.units
    if artwork.layers is not None:
        found["layers"] = list(artwork.layers)
    found["sets"] = artwork.sets
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


def _keep_mode(path: str, temporary: str) -> None:
    """Give the new file the old one's permissions, or the usual ones for a new file."""
    try:
        mode = os.stat(path).st_mode & 0o777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        mode = 0o666 & ~mask
    os.chmod(temporary, mode)


def _sync_folder(folder: str) -> None:
    """Make the rename itself last through a loss of power; not every system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
