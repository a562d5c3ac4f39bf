"""What was read, for people and for machines."""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Iterable
from typing import Any

from app.artwork.drawing import Drawing, Letter, Lettering
from app.artwork.file_units import OFFERED, mm_per
from app.artwork.notes import counted
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line
from geometry.findings import Finding
from geometry.fit import fit_regions
from geometry.measure import Bounds, region_bounds, region_perimeter
from geometry.units import format_both

FIT_TOLERANCE = 0.0508  # mm, 0.002 in: the default of arc fitting


def segment_counts(contours: Iterable[Contour]) -> dict[str, int]:
    """How many lines, arcs and curves contours are made of."""
    kinds = Counter(type(segment) for contour in contours for segment in contour.segments)
    return {"lines": kinds[Line], "arcs": kinds[Arc], "curves": kinds[Cubic]}


def reading_as_json(drawing: Drawing, lettering: Lettering) -> dict[str, Any]:
    """Plain data of a reading: letters with sizes, segment counts before and after arc fitting, findings.

    Lengths are in mm, and in inches where the key says so.
    """
    return {
        "version": 1,
        "units": "mm",
        "units_in_file": drawing.units,
        "layers": list(drawing.layers),
        "scale": lettering.scale,
        "width": lettering.width,
        "height": lettering.height,
        "width_in": lettering.width / 25.4,
        "height_in": lettering.height / 25.4,
        "capital_height": lettering.capital_height,
        "unit_choices": [] if lettering.file is None else unit_choices(drawing, lettering),
        "segments": _before_and_after(drawing, lettering),
        "letters": [_letter(letter) for letter in lettering.letters],
        "findings": [_finding(finding) for finding in lettering.findings],
    }


def reading_as_text(drawing: Drawing, lettering: Lettering) -> str:
    """The same for people: a few lines, a table of letters, the findings."""
    names = {letter.source.file for letter in lettering.letters}
    lines = [
        f"{', '.join(sorted(names))}: {counted(len(lettering.letters), 'letter')}, "
        f"{format_both(lettering.width)} wide, {format_both(lettering.height)} high",
        _how_large(drawing, lettering),
    ]
    if lettering.capital_height is not None:
        lines.append(f"capital height: {format_both(lettering.capital_height)}")
    if drawing.units in (None, "px") and any(not shape.is_character for shape in drawing.shapes):
        lines.append("as drawn, by unit of its numbers:")
        lines += [
            f"  {one['unit']:<3} {format_both(one['width'])} x {format_both(one['height'])}"
            for one in unit_choices(drawing, lettering)
        ]
    if drawing.layers:
        lines.append("layers: " + ", ".join(drawing.layers))
    counts = _before_and_after(drawing, lettering)
    lines.append(f"as drawn: {_in_words(counts['drawn'])}; for cutting: {_in_words(counts['fitted'])}")
    lines.append("")
    id_width = max(len(letter.id) for letter in lettering.letters)
    name_width = max(len(letter.name) for letter in lettering.letters)
    for letter in lettering.letters:
        box = _box(letter)
        counters = sum(len(region.holes) for region in letter.regions)
        lines.append(
            f"{letter.id:<{id_width}}  {letter.name:<{name_width}}  "
            + f"{format_both(box.width)} x {format_both(box.height)}"
            + (f", {counters} counter{'s' if counters > 1 else ''}" if counters else "")
            + (f", {len(letter.regions)} pieces" if len(letter.regions) > 1 else "")
        )
    if lettering.findings:
        lines.append("")
        lines += [f"{finding.severity}: {finding.message}{_place(finding)}" for finding in lettering.findings]
    return "\n".join(lines)


def _how_large(drawing: Drawing, lettering: Lettering) -> str:
    if drawing.units is not None:
        scale = lettering.scale
        return f"unit in the file: {drawing.units}; " + (
            "read at the size drawn" if scale == 1.0 else f"made {scale:.6g} times the size drawn"
        )
    if all(shape.is_character for shape in drawing.shapes):
        return "words in a font, which have no size of their own; made the size asked for"
    return f"unit in the file: none stated; 1 in its numbers is {format_both(lettering.scale)}"


def _place(finding: Finding) -> str:
    """Where on the artwork, from its lower left corner."""
    if finding.where is None:
        return ""
    across, up = finding.where
    return f" [{format_both(across)} across, {format_both(up)} up]"


def unit_choices(drawing: Drawing, lettering: Lettering) -> list[dict[str, Any]]:
    """Overall size, mm, that the file as drawn has with its numbers in each of the usual units."""
    number = mm_per(drawing.units) if drawing.units is not None else 1.0
    wide, high = (size / lettering.scale / number for size in (lettering.width, lettering.height))
    return [{"unit": unit, "width": wide * mm_per(unit), "height": high * mm_per(unit)} for unit in OFFERED]


def _before_and_after(drawing: Drawing, lettering: Lettering) -> dict[str, dict[str, int]]:
    regions = [region for letter in lettering.letters for region in letter.regions]
    return {
        "drawn": segment_counts(contour for shape in drawing.shapes for contour in shape.contours),
        "fitted": segment_counts(
            contour for region in fit_regions(regions, FIT_TOLERANCE) for contour in (region.outer, *region.holes)
        ),
    }


def _box(letter: Letter) -> Bounds:
    return functools.reduce(Bounds.union, map(region_bounds, letter.regions))


def _letter(letter: Letter) -> dict[str, Any]:
    box = _box(letter)
    return {
        "id": letter.id,
        "name": letter.name,
        "layer": letter.source.layer,
        "x": box.min_x,
        "y": box.min_y,
        "width": box.width,
        "height": box.height,
        "width_in": box.width / 25.4,
        "height_in": box.height / 25.4,
        "pieces": len(letter.regions),
        "counters": sum(len(region.holes) for region in letter.regions),
        "perimeter": sum(region_perimeter(region) for region in letter.regions),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": str(finding.code),
        "severity": str(finding.severity),
        "message": finding.message,
        "where": list(finding.where) if finding.where else None,
        "fixed": finding.fixed,
        "subject": finding.subject,
    }


def _in_words(counts: dict[str, int]) -> str:
    return ", ".join(counted(number, kind.removesuffix("s")) for kind, number in counts.items())
