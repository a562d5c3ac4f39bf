"""Letters that stand wrong: over each other (a counter drawn as a shape of its own), far away, or as mere specks."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from app.artwork.drawing import Letter
from app.artwork.notes import Code
from geometry.contour import Region
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_region
from geometry.groups import Groups
from geometry.measure import Bounds, region_bounds
from geometry.units import format_both

_CHORD = 1e-3  # of a letter's size: enough to tell an overlap from a touch
_SHARE = 1e-3  # of the smaller letter's area; less is a touch
_TOLD = 12  # groups told one by one
_NAMED = 4  # letters of a group named
_STRAY = 3.0  # times the size of all others


def overlaps(letters: Sequence[Letter], subject: str, *, are_words: bool = False) -> list[Finding]:
    """A finding for each group of letters that lie over each other, with one of its places; the first dozen groups.

    Each letter is made whole and two cannot stand in one place. Words in a font have other ways out than a drawing.
    """
    way = (
        "space them wider with tracking, or make them one (join overlaps)"
        if are_words
        else "move them apart or make them one (join overlaps), or cut the inner one out as a counter in the drawing"
    )
    owners = [number for number, letter in enumerate(letters) for _ in letter.regions]
    regions = [region for letter in letters for region in letter.regions]
    bounds = np.array([(b.min_x, b.min_y, b.max_x, b.max_y) for b in map(region_bounds, regions)])
    boxes = shapely.box(*bounds.T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    polygons: dict[int, Any] = {}
    found: dict[tuple[int, int], tuple[float, float]] = {}
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        pair = (owners[a], owners[b])
        if a >= b or pair[0] == pair[1] or pair in found:
            continue
        for index in (a, b):
            if index not in polygons:
                polygons[index] = rough_polygon(regions[index])
        common = shapely.intersection(polygons[a], polygons[b])
        if common.area > _SHARE * min(polygons[a].area, polygons[b].area):
            place = common.representative_point()
            found[pair] = (place.x, place.y)
    groups = Groups(len(letters))
    for pair in found:
        groups.merge(*pair)
    together = [members for members in groups.members() if len(members) > 1]
    out = []
    for members in together[:_TOLD]:
        places = [where for pair, where in found.items() if groups.of(pair[0]) == groups.of(members[0])]
        message = f"{_listed([letters[index] for index in members], len(places))}; {way}"
        out.append(Finding(Code.LETTERS_OVERLAP, Severity.WARNING, message, places[0], subject=subject))
    if len(together) > _TOLD:
        more = len(together) - _TOLD
        message = f"{more:,} more group{'s' if more > 1 else ''} of letters lie over each other"
        out.append(Finding(Code.LETTERS_OVERLAP, Severity.WARNING, message, subject=subject))
    return out


def _listed(letters: Sequence[Letter], places: int) -> str:
    named = [f"'{letter.name}' ({letter.id})" for letter in letters[:_NAMED]]
    if len(letters) == 2:
        return f"letters {' and '.join(named)} lie over each other"
    more = len(letters) - _NAMED
    last = f" and {more:,} more" if more > 0 else ""
    return f"{len(letters):,} letters lie over each other in {places:,} places: {', '.join(named)}{last}"


def strays(letters: Sequence[Letter], subject: str) -> list[Finding]:
    """A finding for each letter that stands far from all others, which spoils the overall size.

    Far is a gap of more than three times the overall size of all the others.
    """
    if len(letters) < 3:
        return []
    boxes = np.array(
        [
            (
                min(b.min_x for b in bounds),
                min(b.min_y for b in bounds),
                max(b.max_x for b in bounds),
                max(b.max_y for b in bounds),
            )
            for bounds in ([region_bounds(region) for region in letter.regions] for letter in letters)
        ]
    )
    # Bounds of all others: the outermost value of each side, or the next one where the letter itself holds it.
    lows, highs = np.sort(boxes[:, :2], axis=0), np.sort(boxes[:, 2:], axis=0)
    out = []
    for index, letter in enumerate(letters):
        low = np.where(boxes[index, :2] == lows[0], lows[1], lows[0])
        high = np.where(boxes[index, 2:] == highs[-1], highs[-2], highs[-1])
        gap = float(np.max(np.maximum(boxes[index, :2] - high, low - boxes[index, 2:])))
        size = float(max(high - low))
        if gap > _STRAY * size:
            middle = (boxes[index, :2] + boxes[index, 2:]) / 2.0
            out.append(
                Finding(
                    Code.STRAY,
                    Severity.WARNING,
                    f"letter '{letter.name}' stands {format_both(gap)} from all others, which measure "
                    f"{format_both(size)}; it spoils the overall size: delete it in the drawing if it is a stray",
                    (float(middle[0]), float(middle[1])),
                    subject=subject,
                )
            )
    return out


def specks(letters: Sequence[Letter], subject: str, smallest: float) -> list[Finding]:
    """One finding for all letters smaller than `smallest` (mm) both ways, unless there are only such."""
    boxes = [functools.reduce(Bounds.union, map(region_bounds, letter.regions)) for letter in letters]
    small = [box for box in boxes if max(box.width, box.height) < smallest]
    if not small or len(small) == len(boxes):
        return []
    largest = max(small, key=lambda box: box.width * box.height)
    size = f"{format_both(largest.width)} x {format_both(largest.height)}"
    if len(small) == 1:
        said = f"a letter of {size} is smaller than {format_both(smallest)}; delete it in the drawing if it is a speck"
    else:
        said = (
            f"{len(small):,} letters are smaller than {format_both(smallest)}, the largest of them {size}; "
            "delete them in the drawing if they are specks"
        )
    return [Finding(Code.SPECKS, Severity.WARNING, said, small[0].centre, subject=subject)]


def rough_polygon(region: Region) -> Any:
    """Shapely polygon near a region, to tell whether regions meet."""
    box = region_bounds(region)
    outline = flatten_region(region, _CHORD * max(box.width, box.height))
    return shapely.make_valid(shapely.Polygon(outline.outer, outline.holes))
