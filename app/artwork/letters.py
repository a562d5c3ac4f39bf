"""From a drawing to letters at their true size: regions, reading order, names, scale."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from app.artwork.capitals import FLAT_CAPITALS, measured_capital
from app.artwork.drawing import Drawing, FileFacts, Letter, Lettering, Shape, Source
from app.artwork.file_units import OFFERED, mm_per
from app.artwork.left_out import left_open, swallowed
from app.artwork.notes import Code
from app.artwork.order import reading_order
from app.artwork.overlaps import overlaps, specks, strays
from app.errors import JobError, ReadError, UnitWanted
from app.job.document import Artwork, ScaleBy
from geometry.contour import Contour, Region
from geometry.findings import Finding, Severity
from geometry.measure import Bounds, region_bounds
from geometry.regions import RegionCode, regions_from_contours
from geometry.transform import IDENTITY, Affine, transform_contour, transform_region
from geometry.units import MM_PER, format_both

_SMALLEST, _TALLEST = 3.0, 10_000.0  # mm; letters outside are more likely a wrong unit than a sign
# Ratios that a mistaken unit leaves behind, and what was mistaken.
_MISTAKES = (
    (25.4, "inches read as millimetres"),
    (1.0 / 25.4, "millimetres read as inches"),
    (96.0 / 72.0, "96 pixels to the inch read for 72"),
    (72.0 / 96.0, "72 points to the inch read for 96"),
    (10.0, "centimetres read as millimetres, or a drawing at 1:10"),
    (0.1, "millimetres read as centimetres"),
    (12.0, "feet read as inches"),
    (1.0 / 12.0, "inches read as feet"),
    (1000.0, "metres read as millimetres"),
    (0.001, "millimetres read as metres"),
)
_MISTAKE_WITHIN = 0.005  # a ratio this close, relatively, is taken for a mistaken unit
_LARGEST = 1e6  # mm; no sign is a kilometre long


@dataclass(frozen=True, slots=True)
class _Found:
    """A letter before scaling."""

    name: str
    regions: tuple[Region, ...]
    source: Source
    bounds: Bounds
    is_character: bool


def letter_drawing(drawing: Drawing, artwork: Artwork) -> Lettering:
    """Letters of one artwork, scaled as the job asks, with the lower left of everything at (0, 0).

    Each outer contour with its counters is a letter; of a text each character is one, loose pieces included. Files
    are read line by line from the top, left to right; texts keep their own order.

    Parameters
    ----------
    drawing : Drawing
    artwork : Artwork
        Its `scale`, `units`, `id` and `name` are used.

    Raises
    ------
    ReadError
        If no closed shape is left.
    JobError
        If the size asked for is missing, not a positive number, or cannot be had because the file states no unit.
    """
    found, findings, filled = _found(drawing)
    if not found:
        # Without letters there is no true size yet: the gap is that of the drawing.
        opened = left_open(drawing, artwork, IDENTITY, 1.0)
        more = f" ({len(opened) - 1:,} more are open too)" if len(opened) > 1 else ""
        said = opened[0].message + more if opened else ""
        said = said or next((finding.message for finding in findings), "")
        raise ReadError(
            f"artwork '{artwork.name}' has no closed shape to make a letter of" + (f": {said}" if said else "")
        )
    is_text = drawing.units is None and all(shape.is_character for shape in drawing.shapes)
    if not is_text:
        found = [found[index] for index in reading_order([one.bounds for one in found])]
    names, misread = _named(found, artwork)
    findings += misread
    whole = found[0].bounds
    for one in found[1:]:
        whole = whole.union(one.bounds)
    capital, measured_on, is_agreed = drawing.capital_height, "", True
    if capital is None:
        # Where characters are known, capitals with flat tops are; else letters of all kinds are looked at.
        flat = [i for i, one in enumerate(found) if one.is_character and one.name in FLAT_CAPITALS]
        looked_at = flat or list(range(len(found)))
        index, capital, is_agreed = measured_capital([(found[i].regions, found[i].bounds) for i in looked_at])
        measured_on = names[looked_at[index]]
    scale = _scale(drawing, artwork, whole, capital)
    matrix = Affine(scale, 0.0, 0.0, scale, -scale * whole.min_x, -scale * whole.min_y)
    letters = tuple(
        Letter(
            f"{artwork.id}-{number:02d}",
            name,
            artwork.id,
            tuple(transform_region(region, matrix) for region in one.regions),
            one.source,
        )
        for number, (name, one) in enumerate(zip(names, found, strict=True), start=1)
    )
    told = [replace(finding, where=matrix.apply(finding.where) if finding.where else None) for finding in findings]
    told += left_open(drawing, artwork, matrix, scale)
    told += swallowed(filled, artwork, matrix, scale)
    # The height of one emblem or of letters all unlike is that of no capital, unless it was named as one.
    has_capital = is_agreed or artwork.scale.by is ScaleBy.CAPITAL_HEIGHT
    if measured_on and has_capital:
        told.append(_measured(artwork, measured_on, capital * scale))
    told += strays(letters, artwork.id)
    told += specks(letters, artwork.id, _SMALLEST)
    told += overlaps(letters, artwork.id, are_words=is_text)
    told += _doubts(drawing, artwork, scale, max(one.bounds.height for one in found))
    height = capital * scale if has_capital else None
    open_lines = [one for shape in drawing.shapes for one in shape.contours if not one.is_closed]
    return Lettering(
        artwork.id,
        letters,
        scale * whole.width,
        scale * whole.height,
        height,
        scale,
        tuple(told),
        None if is_text else _file_facts(drawing, artwork, scale, whole),
        tuple(transform_contour(one, matrix) for one in open_lines),
    )


def _file_facts(drawing: Drawing, artwork: Artwork, scale: float, whole: Bounds) -> FileFacts:
    number = mm_per(drawing.units) if drawing.units is not None else 1.0
    corner = (whole.min_x / number, whole.min_y / number)
    return FileFacts(drawing.units or artwork.units, drawing.layers, drawing.pages, scale * number, corner)


def _found(drawing: Drawing) -> tuple[list[_Found], list[Finding], list[Contour]]:
    """Letters, findings, and contours inside material that bound nothing."""
    findings = list(drawing.findings)
    filled: list[Contour] = []
    found: list[_Found] = []
    for shape in drawing.shapes:
        # Open contours are told once the scale is known, with their gap in true size.
        closed = tuple(contour for contour in shape.contours if contour.is_closed)
        regions, said = regions_from_contours(closed, shape.rule)
        without_effect = {finding.where for finding in said if finding.code == RegionCode.REDUNDANT}
        filled += [contour for contour in closed if without_effect and contour.segments[0].start in without_effect]
        findings.extend(
            replace(finding, subject=finding.subject or shape.source.object_id)
            for finding in said
            if finding.code != RegionCode.REDUNDANT
        )
        groups = [regions] if shape.is_character else [(region,) for region in regions]
        for group in groups:
            if group:
                found.append(_Found(_name(shape), group, shape.source, _bounds(group), shape.is_character))
    return found, findings, filled


def _name(shape: Shape) -> str:
    return shape.source.object_id.strip()


def _bounds(regions: tuple[Region, ...]) -> Bounds:
    total = region_bounds(regions[0])
    for region in regions[1:]:
        total = total.union(region_bounds(region))
    return total


def _named(found: list[_Found], artwork: Artwork) -> tuple[list[str], list[Finding]]:
    """Names by what the artwork is said to read, where it has a letter for each character; else by the file."""
    reads = "".join(artwork.reads.split())
    if len(reads) == len(found):
        return list(reads), []
    if not reads:
        return _names(found), []
    said = Finding(
        Code.READS_OTHERWISE,
        Severity.WARNING,
        f"artwork '{artwork.name}' is said to read '{artwork.reads}', {len(reads)} letters, but has {len(found)}: "
        "the letters keep the names of the file; give one character for each, in reading order",
        subject=artwork.id,
    )
    return _names(found), [said]


def _names(found: list[_Found]) -> list[str]:
    """Character or object id, numbered where an object gives several letters; the place in line where it has none."""
    names: list[str] = []
    count: dict[Source, int] = {}
    total: dict[Source, int] = {}
    for one in found:
        total[one.source] = total.get(one.source, 0) + 1
    for number, one in enumerate(found, start=1):
        count[one.source] = count.get(one.source, 0) + 1
        if not one.name:
            names.append(str(number))
        elif total[one.source] > 1 and len(one.name) > 1:
            names.append(f"{one.name} {count[one.source]}")
        else:
            names.append(one.name)
    return names


def _scale(drawing: Drawing, artwork: Artwork, whole: Bounds, capital: float) -> float:
    by, length = artwork.scale.by, artwork.scale.length
    if by is ScaleBy.AS_DRAWN:
        if drawing.units is not None:
            return 1.0
        if artwork.units is not None:
            if artwork.units not in MM_PER:
                raise JobError(f"artwork '{artwork.name}': '{artwork.units}' is no unit; use {', '.join(OFFERED)}")
            return MM_PER[artwork.units]
        raise _unit_wanted(drawing, artwork, whole)
    if length is None:
        raise JobError(f"artwork '{artwork.name}' is to be scaled by {by}, but no length is given; give one")
    if not 0.0 < length <= _LARGEST:  # nan answers no
        limit = "give more than 0" if not length > 0.0 else f"the limit is {format_both(_LARGEST)}"
        said = format_both(length) if math.isfinite(length) and abs(length) < 1e9 else f"{length:g} mm"
        raise JobError(f"artwork '{artwork.name}': a {by} of {said} is not possible; {limit}")
    if by is ScaleBy.KNOWN_DIMENSION:
        return length / _known_dimension(drawing, artwork)
    measure = {
        ScaleBy.CAPITAL_HEIGHT: capital,
        ScaleBy.OVERALL_WIDTH: whole.width,
        ScaleBy.OVERALL_HEIGHT: whole.height,
    }[by]
    if measure <= 0.0:
        raise JobError(f"artwork '{artwork.name}' has no {by} to scale by; choose another measure")
    return length / measure


def _known_dimension(drawing: Drawing, artwork: Artwork) -> float:
    """Distance between the two points of a known dimension, in the drawing's coordinates."""
    start, end = artwork.scale.start, artwork.scale.end
    if start is None or end is None:
        raise JobError(f"artwork '{artwork.name}' is to be scaled by a known dimension; give its two points")
    if all(shape.is_character for shape in drawing.shapes) and drawing.units is None:
        raise JobError(f"artwork '{artwork.name}' is words in a font, which hold no dimension; give a capital height")
    apart = math.dist(start, end) * (mm_per(drawing.units) if drawing.units is not None else 1.0)
    if not (math.isfinite(apart) and apart > 0.0):
        raise JobError(
            f"artwork '{artwork.name}': the two points of the known dimension are in the same place; "
            "choose points further apart"
        )
    return apart


def _unit_wanted(drawing: Drawing, artwork: Artwork, whole: Bounds) -> JobError:
    if any(shape.is_character for shape in drawing.shapes):
        return JobError(
            f"artwork '{artwork.name}' is words in a font, which have no size of their own; give a capital height"
        )
    sizes = ", ".join(
        f"{unit}: {format_both(whole.width * MM_PER[unit])} x {format_both(whole.height * MM_PER[unit])}"
        for unit in OFFERED
    )
    return UnitWanted(
        f"artwork '{artwork.name}' states no unit for its {whole.width:.6g} x {whole.height:.6g}; "
        f"name the unit or give a height ({sizes})",
        artwork.id,
        (whole.width, whole.height),
    )


def _measured(artwork: Artwork, name: str, capital: float) -> Finding:
    return Finding(
        Code.MEASURED_ON,
        Severity.NOTE,
        f"capital height {format_both(capital)}, measured on letter '{name}'",
        subject=artwork.id,
    )


def _doubts(drawing: Drawing, artwork: Artwork, scale: float, tallest: float) -> list[Finding]:
    """Findings about a size that looks like a mistaken unit."""
    height = scale * tallest
    out = []
    if not _SMALLEST <= height <= _TALLEST:
        limit = _SMALLEST if height < _SMALLEST else _TALLEST
        way = "less" if height < _SMALLEST else "more"
        guess = ""
        other, called = ("in", "inches") if height < _SMALLEST else ("mm", "millimetres")
        if artwork.scale.by is ScaleBy.AS_DRAWN and drawing.units != other:
            number = height / mm_per(drawing.units or artwork.units or "mm")
            guess = f"; in {called} it would be {format_both(number * MM_PER[other])}"
        out.append(
            Finding(
                Code.SIZE_DOUBTFUL,
                Severity.WARNING,
                f"the tallest letter is {format_both(height)} high, {way} than {format_both(limit)}: "
                f"check the unit{guess}",
                subject=artwork.id,
            )
        )
    if drawing.units is not None and artwork.scale.by is not ScaleBy.AS_DRAWN:
        for ratio, mistake in _MISTAKES:
            if abs(scale / ratio - 1.0) <= _MISTAKE_WITHIN:
                out.append(
                    Finding(
                        Code.SIZE_DOUBTFUL,
                        Severity.WARNING,
                        f"the size asked for is {ratio:.4g} times the size drawn, as with {mistake}; "
                        "check which of the two is right",
                        subject=artwork.id,
                    )
                )
    return out
