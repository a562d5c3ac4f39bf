"""Holes of a backer. NEC 600.9(D): a drain at every low point, 1/4 to 1/2 in wide; the rest is common practice."""

from __future__ import annotations

import math

import pytest
import shapely

from app.fabrication.holes import low_points
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.job.settings import SETTINGS
from geometry.arcs import circle
from geometry.build import polygon, rectangle, region
from geometry.contour import Region
from geometry.flatten import flatten_region
from tests.app.fabrication.letters import IN, made, polygon_of


def shape(*points: tuple[float, float]) -> Region:
    return Region(polygon([(x * IN, y * IN) for x, y in points]))


def drawn(letter: Region) -> shapely.Polygon:
    outline = flatten_region(letter, 0.05)
    return shapely.Polygon(outline.outer, outline.holes)


LETTER_H = shape(
    (0, 0), (4, 0), (4, 10), (12, 10), (12, 0), (16, 0), (16, 24), (12, 24), (12, 14), (4, 14), (4, 24), (0, 24)
)
LETTER_V = shape((9, 0), (13, 0), (22, 24), (17, 24), (11, 6), (5, 24), (0, 24))
LETTER_M = shape(
    (0, 0), (4, 0), (4, 14), (10, 4), (16, 14), (16, 0), (20, 0), (20, 24), (16, 24), (10, 12), (4, 24), (0, 24)
)


@pytest.mark.parametrize(
    ("letter", "places"),
    [
        (shape((0, 0), (4, 0), (4, 24), (0, 24)), [(2, 0)]),
        (LETTER_H, [(2, 0), (14, 0), (8, 10)]),  # both feet, and the level under edge of the bar
        (LETTER_V, [(11, 0)]),
        (LETTER_M, [(2, 0), (18, 0), (10, 4)]),  # both feet and the point of the middle
    ],
)
def test_every_low_point_is_found(letter, places):
    found = sorted((round(x / IN, 2), round(y / IN, 2)) for x, y in low_points(drawn(letter)))
    assert found == sorted((float(x), float(y)) for x, y in places)


def test_water_stands_on_a_flat_counter_but_runs_off_a_round_one():
    outer = rectangle(20.0 * IN, 20.0 * IN)
    square = region(outer, [rectangle(8.0 * IN, 8.0 * IN, at=(6.0 * IN, 6.0 * IN))])
    assert sorted((round(x / IN, 2), round(y / IN, 2)) for x, y in low_points(drawn(square))) == [
        (10.0, 0.0),
        (10.0, 14.0),
    ]
    ring = region(circle((10.0 * IN, 10.0 * IN), 10.0 * IN), [circle((10.0 * IN, 10.0 * IN), 4.0 * IN)])
    assert all(y < 1.0 for _, y in low_points(drawn(ring)))
    assert len(low_points(drawn(ring))) == 1


def test_the_drain_setting_keeps_to_the_code():
    setting = SETTINGS["drain hole"]
    assert (setting.least / IN, setting.most / IN) == (0.25, 0.5)
    assert setting.least <= setting.default <= setting.most


@pytest.mark.parametrize("letter", [LETTER_H, LETTER_V, LETTER_M], ids="HVM")
def test_holes_stand_in_solid_backer(letter):
    found = made(letter)
    (backer,) = [part for part in found.parts if part.role is Role.BACKER]
    plate = polygon_of(backer)
    sizes = {}
    for drill in backer.drills:
        at = shapely.Point(drill.centre[0] + backer.origin[0], drill.centre[1] + backer.origin[1])
        assert plate.contains(at.buffer(drill.diameter / 2.0 + 0.5 * IN - 0.1))  # clear of the return's flange
        sizes.setdefault(round(drill.diameter / IN, 4), []).append(at)
    assert len(sizes[0.5]) == 1  # wires
    quarter = sizes[0.25]  # drains and mounting holes
    assert len(quarter) >= len(low_points(drawn(letter))) + 3
    for x, y in low_points(drawn(letter)):
        assert min(math.hypot(at.x - x, at.y - y) for at in quarter) < 2.0 * IN
    assert not any(one.code == FabricationCode.HOLE_LEFT_OUT for one in found.findings)
    # From every corner of the letter a mounting hole is near: no further than the setting, plus the rim.
    for x, y in ((segment.start) for segment in letter.outer.segments):
        assert min(math.hypot(at.x - x, at.y - y) for at in quarter) < 26.0 * IN


def test_large_holes_are_cut_and_small_ones_drilled():
    found = made(shape((0, 0), (10, 0), (10, 24), (0, 24)), settings=[("wire hole", 0.75 * IN)])
    (backer,) = [part for part in found.parts if part.role is Role.BACKER]
    assert len(backer.region.holes) == 1
    assert all(drill.diameter <= 0.5 * IN for drill in backer.drills)


def test_a_thin_stroke_says_that_nothing_fits():
    found = made(shape((0, 0), (1.2, 0), (1.2, 24), (0, 24)), settings=[("retainer flange", 0.25 * IN)])
    assert sum(one.code == FabricationCode.HOLE_LEFT_OUT for one in found.findings) == 2
