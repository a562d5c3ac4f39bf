"""Cross-checks of a job: what no single field can tell. Used when a file is read and after every edit."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from app.errors import JobError
from app.job.cutting_json import check_cutting
from app.job.document import Artwork, Build, Job, LetterSeams, Scale, ScaleBy
from app.job.kept_json import check_kept
from app.job.kinds import KINDS
from app.job.names import unknown
from app.job.settings import SETTINGS
from app.stock.book import Cutter, Material, StockSheet

FILE_UNITS: Final = ("in", "ft", "mm", "cm", "m", "px", "pt")
"""Units an artwork file's numbers can be said to have."""

LONGEST: Final = 1_000_000.0
"""No length of a job is longer than this, mm: a kilometre is a slip of the unit."""

SHORTEST: Final = 1e-6
"""No length is shorter than this, mm, unless it is 0."""

SHORTEST_SEAM: Final = 1.0
"""A seam shorter than this, mm, has no direction worth the name."""

SEAM_STEP: Final = 1e-4
"""Ends of seams are kept in whole steps of this, mm: nobody places a seam more finely."""

WIDEST_GAP: Final = 25.0
"""Loose ends further apart than this, mm, are not joined: that would be drawing, not mending."""

LONGEST_ID: Final = 60

OFFCUT_PREFIX: Final = "rack:"
"""Begins the ids of the rack's offcuts in a plan; no stock of a job is called so."""
_LEAST_SETTING: Final = 1e-9


def check_job(job: Job) -> Job:
    """The job itself when all its parts agree.

    Raises
    ------
    JobError
        About the first fault: what, where, the value and the way out. Files named by the artwork are not looked at.
    """
    _check_whole(job)
    for what, entries in (
        ("artwork", job.artwork),
        ("build", job.builds),
        ("material", job.materials),
        ("cutter", job.cutters),
        ("stock", job.stock),
    ):
        _check_ids(what, [entry.id for entry in entries])
    for cutter in job.cutters:
        _check_cutter(cutter)
    for material in job.materials:
        _check_material(material, job.cutters)
    materials = {material.id: material for material in job.materials}
    check_cutting(job.cutting, tuple(materials))
    for sheet in job.stock:
        _check_sheet(sheet, materials)
    for build in job.builds:
        _check_build(build, materials)
    for artwork in job.artwork:
        _check_artwork(artwork, job.builds)
    _check_seams(job.seams)
    if job.plan is not None:
        check_kept(job.plan)
    return job


def _check_whole(job: Job) -> None:
    if not (len(job.currency) == 3 and job.currency.isascii() and job.currency.isalpha() and job.currency.isupper()):
        raise JobError(f"currency '{job.currency}' is not a code of three capitals; write it like \"USD\"")
    if not (math.isfinite(job.seconds) and 0.0 <= job.seconds <= 1e6):
        raise JobError(f"planning time of {job.seconds:g} seconds makes no sense; give a number from 0 to 1000000")
    if job.seed < 0:
        raise JobError(f"seed {job.seed} is below 0; give a whole number from 0 up")


def _check_ids(what: str, ids: Iterable[str]) -> None:
    seen: set[str] = set()
    for one in ids:
        if not one or one != one.strip() or not one.isprintable() or len(one) > LONGEST_ID:
            raise JobError(
                f"{what} id {one!r} cannot be used; an id has 1 to {LONGEST_ID} printable characters "
                "and no space at its ends"
            )
        if one in seen:
            raise JobError(f"{what} id '{one}' is used twice; give each its own")
        seen.add(one)


def _check_length(where: str, value: float, *, may_be_zero: bool = False) -> None:
    if math.isfinite(value) and (SHORTEST <= value <= LONGEST or (may_be_zero and value == 0.0)):
        return
    if math.isfinite(value) and value > LONGEST:
        raise JobError(f"{where} of {value:g} mm is more than a kilometre; check its unit")
    raise JobError(f"{where} of {value:g} mm makes no sense; it must be {'0 or more' if may_be_zero else 'above 0'}")


def _check_cutter(cutter: Cutter) -> None:
    _check_length(f"cutter '{cutter.id}', diameter", cutter.diameter)


def _check_material(material: Material, cutters: tuple[Cutter, ...]) -> None:
    where = f"material '{material.id}'"
    _check_length(f"{where}, thickness", material.thickness)
    if not (math.isfinite(material.density) and 0.0 < material.density < 30_000.0):
        raise JobError(f"{where}, density of {material.density:g} kg/m3 makes no sense; aluminium has 2700")
    # A negative web would bring two parts closer than the cutter is wide: each cut would eat into the neighbour.
    _check_length(f"{where}, web", material.web, may_be_zero=True)
    _check_length(f"{where}, margin", material.margin, may_be_zero=True)
    if material.cutter not in {cutter.id for cutter in cutters}:
        known = unknown(material.cutter, [cutter.id for cutter in cutters], what="a cutter of this job")
        raise JobError(f"{where}, cutter: {known}")


def _check_sheet(sheet: StockSheet, materials: dict[str, Material]) -> None:
    where = f"stock '{sheet.id}'"
    if sheet.id.startswith(OFFCUT_PREFIX):
        raise JobError(
            f"{where}: an id that begins with '{OFFCUT_PREFIX}' stands for an offcut of the rack; choose another"
        )
    if sheet.material not in materials:
        raise JobError(f"{where}, material: {unknown(sheet.material, materials, what='a material of this job')}")
    _check_length(f"{where}, width", sheet.width)
    _check_length(f"{where}, height", sheet.height)
    margin = materials[sheet.material].margin
    if min(sheet.width, sheet.height) <= 2.0 * margin:
        raise JobError(
            f"{where} of {sheet.width:g} x {sheet.height:g} mm has no room inside the margin of {margin:g} mm that "
            f"material '{sheet.material}' asks for; give a smaller margin"
        )
    if sheet.count is not None and sheet.count < 0:
        raise JobError(f"{where}, count {sheet.count} is below 0; give 0 or more, or none for as many as wanted")
    if sheet.price is not None and not 0 <= sheet.price <= 10**15:
        raise JobError(f"{where}, price {sheet.price} (minor units) makes no sense; give 0 or more")
    for number, zone in enumerate(sheet.keep_outs, start=1):
        here = f"{where}, keep-out {number}"
        for name, value in (("width", zone.width), ("height", zone.height)):
            _check_length(f"{here}, {name}", value)
        for name, value in (("x", zone.x), ("y", zone.y)):
            _check_length(f"{here}, {name}", value, may_be_zero=True)
        if zone.x + zone.width > sheet.width + 1e-6 or zone.y + zone.height > sheet.height + 1e-6:
            raise JobError(
                f"{here} reaches to {zone.x + zone.width:g}, {zone.y + zone.height:g} mm, past the sheet's "
                f"{sheet.width:g} x {sheet.height:g} mm; make it smaller"
            )


def _check_build(build: Build, materials: dict[str, Material]) -> None:
    where = f"build '{build.id}'"
    kind = KINDS.get(build.kind)
    if kind is None:
        raise JobError(f"{where}, kind: {unknown(build.kind, KINDS, what='a kind of build')}")
    roles = [role for role, _ in build.materials]
    allowed = kind.materials + tuple(role for role, _ in kind.own_materials)
    for role, material in build.materials:
        if role not in allowed:
            raise JobError(f"{where}, materials: {unknown(role, allowed, what=f'a role of {kind.name!r}')}")
        if roles.count(role) > 1:
            raise JobError(f"{where}, materials: role '{role}' is given twice; give it once")
        if material not in materials:
            raise JobError(
                f"{where}, material of the {role}: {unknown(material, materials, what='a material of this job')}"
            )
    for role in kind.materials:
        if role not in roles:
            raise JobError(f"{where}, materials: the {role} has no material; name one")
    names = [name for name, _ in build.settings]
    for name, value in build.settings:
        _check_setting(where, name, value, kind.settings)
        if names.count(name) > 1:
            raise JobError(f"{where}, settings: '{name}' is given twice; give it once")
    values = {name: SETTINGS[name].default for name in kind.settings} | dict(build.settings)
    for low, high, is_strict in kind.ordered:
        if values[low] > values[high] or (is_strict and values[low] == values[high]):
            unit = SETTINGS[low].quantity.value
            raise JobError(
                f"{where}, settings: '{low}' of {values[low]:g} {unit} must be below "
                f"'{high}' of {values[high]:g} {unit}; change one of the two"
            )


def _check_setting(where: str, name: str, value: float, allowed: tuple[str, ...]) -> None:
    if name not in allowed:
        raise JobError(f"{where}, settings: {unknown(name, allowed, what='a setting of its kind')}")
    setting = SETTINGS[name]
    if not (math.isfinite(value) and setting.least <= value <= setting.most) or 0.0 < abs(value) < _LEAST_SETTING:
        unit = f" {setting.quantity.value}" if setting.quantity.value else ""
        raise JobError(
            f"{where}, setting '{name}' of {value:g}{unit} is out of range; "
            f"give {setting.least:g} to {setting.most:g}{unit}"
        )


def _check_seams(seams: tuple[LetterSeams, ...]) -> None:
    roles = dict.fromkeys(role for kind in KINDS.values() for role in kind.divisible)
    seen: set[tuple[str, str]] = set()
    for one in seams:
        where = f"seams of the {one.part} of letter '{one.letter}'"
        if not one.letter.strip():
            raise JobError("seams: the letter is missing; name one by its id")
        if one.part not in roles:
            raise JobError(f"{where}: {unknown(one.part, roles, what='a part that can be divided')}")
        if (one.letter, one.part) in seen:
            raise JobError(f"{where} are given twice; put them in one list")
        seen.add((one.letter, one.part))
        for number, seam in enumerate(one.seams, start=1):
            for value in (*seam.start, *seam.end):
                if not (math.isfinite(value) and abs(value) <= LONGEST) or 0.0 < abs(value) < SEAM_STEP / 2.0:
                    raise JobError(f"{where}, seam {number}: {value:g} mm is not a place on a letter; check its unit")
            if math.dist(seam.start, seam.end) < SHORTEST_SEAM:
                raise JobError(f"{where}, seam {number}: both ends are the same place; draw it from edge to edge")


def _check_artwork(artwork: Artwork, builds: tuple[Build, ...]) -> None:
    where = f"artwork '{artwork.id}'"
    if (artwork.file is None) == (artwork.text is None):
        both = "names both a file and words" if artwork.file is not None else "names neither a file nor words"
        raise JobError(f"{where} {both}; give it one of the two")
    if artwork.file is not None and not artwork.file.strip():
        raise JobError(f"{where}, file: the name is empty; name a file")
    if artwork.text is not None:
        text = artwork.text
        if not text.words.strip():
            raise JobError(f"{where}, words: there are none; write the words to set")
        if not text.font.strip():
            raise JobError(f"{where}, font: the name is empty; name a TTF or OTF file")
        if not (math.isfinite(text.tracking) and abs(text.tracking) <= 10_000.0):
            raise JobError(f"{where}, tracking of {text.tracking:g} makes no sense; give thousandths of the em")
        if not (math.isfinite(text.line_spacing) and 0.0 < text.line_spacing <= 100.0):
            raise JobError(f"{where}, line spacing of {text.line_spacing:g} makes no sense; 1 is the font's own")
        if artwork.units is not None or artwork.layers is not None:
            raise JobError(f"{where}: units and layers belong to files, not to words; leave them out")
        if artwork.scale.by is ScaleBy.KNOWN_DIMENSION:
            raise JobError(f"{where}, scale: words in a font have no dimension to measure; give a capital height")
        _check_axes(where, text.axes)
    if artwork.scale.by is ScaleBy.AS_DRAWN:
        if artwork.scale.length is not None:
            raise JobError(f"{where}, scale: '{ScaleBy.AS_DRAWN}' takes no length; leave it out or choose a measure")
    elif artwork.scale.length is None:
        raise JobError(f"{where}, scale: '{artwork.scale.by}' needs a length; write it like \"24 in\"")
    else:
        _check_length(f"{where}, {artwork.scale.by}", artwork.scale.length)
    _check_dimension(where, artwork.scale)
    if artwork.page < 1:
        raise JobError(f"{where}, page: {artwork.page} is below 1; pages count from 1")
    if artwork.join_gap is not None:
        _check_length(f"{where}, join gap", artwork.join_gap)
        if artwork.join_gap > WIDEST_GAP:
            raise JobError(
                f"{where}, join gap of {artwork.join_gap:g} mm is above {WIDEST_GAP:g} mm; "
                "close gaps as wide as that in the drawing"
            )
    if any(not folder.strip() for folder in artwork.font_folders):
        raise JobError(f"{where}, font folders: one has no name; name a folder or leave it out")
    if artwork.units is not None and artwork.units not in FILE_UNITS:
        raise JobError(f"{where}, units: {unknown(artwork.units, FILE_UNITS, what='a unit of length')}")
    known = [build.id for build in builds]
    if artwork.build not in known:
        raise JobError(f"{where}, build: {unknown(artwork.build, known, what='a build of this job')}")
    letters = [letter for letter, _ in artwork.letter_builds]
    for letter, build in artwork.letter_builds:
        if build not in known:
            raise JobError(f"{where}, build of letter '{letter}': {unknown(build, known, what='a build of this job')}")
        if letters.count(letter) > 1:
            raise JobError(f"{where}, letter '{letter}' is given two builds; give it one")
    if artwork.text is not None and artwork.reads:
        raise JobError(f"{where}, reads: words in a font name their letters themselves; leave it out")
    if artwork.sets < 1:
        raise JobError(f"{where}, sets: {artwork.sets} is below 1; leave the artwork out instead")


def _check_axes(where: str, axes: tuple[tuple[str, float], ...]) -> None:
    tags = [tag for tag, _ in axes]
    for tag, value in axes:
        if not (1 <= len(tag) <= 4 and tag.isascii() and tag.isprintable()):
            raise JobError(f"{where}, axes: '{tag}' is no axis; an axis has up to four letters, such as wght")
        if tags.count(tag) > 1:
            raise JobError(f"{where}, axes: '{tag}' is given twice; give it once")
        if not (math.isfinite(value) and abs(value) <= 32_767.0):
            raise JobError(f"{where}, axis {tag} of {value:g} makes no sense; give -32767 to 32767")


def _check_dimension(where: str, scale: Scale) -> None:
    if scale.by is not ScaleBy.KNOWN_DIMENSION:
        if scale.start is not None or scale.end is not None:
            raise JobError(f"{where}, scale: only a {ScaleBy.KNOWN_DIMENSION} is measured from one point to another")
        return
    if scale.start is None or scale.end is None:
        raise JobError(f'{where}, scale: a {scale.by} needs two points; give "from" and "to" like [12.5, 0]')
    if not all(math.isfinite(value) and abs(value) <= 1e12 for value in (*scale.start, *scale.end)):
        raise JobError(f"{where}, scale: a point of the {scale.by} is too far out; give numbers of the file")
    if scale.start == scale.end:
        raise JobError(f"{where}, scale: both points of the {scale.by} are the same; choose two apart")
