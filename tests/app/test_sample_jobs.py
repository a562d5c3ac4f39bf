"""The sample jobs: they open, read, and yield parts; what is meant to be too large is."""

from __future__ import annotations

import json
import time
from collections import Counter
from pathlib import Path

import pytest

from app.artwork.notes import Code
from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.job.file import read_job
from app.job.to_json import job_text
from app.planning.plan_job import PlanRun, plan_job
from app.planning.prepare import draw, prepare
from geometry.arcs import circle
from geometry.curve import Arc, Cubic
from geometry.findings import Severity
from geometry.measure import region_bounds

FOLDER = Path(__file__).parents[2] / "sample_jobs"
JOBS = sorted(FOLDER.glob("*/*.json"))
IN = 25.4
ROLES = {
    "face-lit with retainer": {Role.BACKER, Role.FACE, Role.RETAINER},
    "face-lit with trim edge": {Role.BACKER, Role.FACE},
    "flat-cut": {Role.PANEL},
}
"""What every letter of a build must have."""


@pytest.fixture(scope="module")
def prepared():
    return {path.stem: prepare(read_job(path)) for path in JOBS}


def test_all_three_are_there():
    assert [path.stem for path in JOBS] == ["cafe", "market_hall", "two_hundred"]


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_a_sample_job_is_written_as_the_program_writes_it(path):
    assert job_text(read_job(path)) == path.read_text(encoding="utf-8")
    for artwork in json.loads(path.read_text(encoding="utf-8"))["artwork"]:
        named = artwork.get("file") or artwork["text"]["font"]
        assert (path.parent / named).is_file()


@pytest.mark.parametrize("name", [path.stem for path in JOBS])
def test_every_letter_has_parts_and_nothing_went_wrong(prepared, name):
    found = prepared[name]
    ids = [part.id for part in found.parts]
    assert len(ids) == len(set(ids))
    kinds = {build.id: build.kind for build in found.job.builds}
    for artwork, lettering in zip(found.job.artwork, found.lettering, strict=True):
        for letter in lettering.letters:
            roles = {part.role for part in found.parts if part.letter == letter.id}
            assert roles >= ROLES[kinds[artwork.build]], letter.id
    assert [one for one in found.findings if one.severity is Severity.ERROR] == []
    assert not any(one.code == Code.LETTERS_OVERLAP for one in found.findings)


def test_the_market_hall_is_as_described(prepared):
    found = prepared["market_hall"]
    line1, line2, emblem = found.lettering
    assert "".join(letter.name for letter in line1.letters) == "TIDEWELL"
    assert line1.capital_height == pytest.approx(30.0 * IN)
    assert line2.height == pytest.approx(24.0 * IN, rel=1e-3)
    assert len(line2.letters) == 10
    # About 7 ft x 22 ft: one piece with many counters, which no sheet of the stock can hold: seams divide it.
    assert (emblem.width / IN, emblem.height / IN) == pytest.approx((260.0, 83.0), abs=3.0)
    (fish,) = emblem.letters
    assert len(fish.regions) == 1
    assert len(fish.regions[0].holes) == 21
    parts = [part for part in found.parts if part.letter == fish.id]
    counts = Counter(part.role for part in parts)
    assert counts[Role.COUNTER_RETAINER] == 21
    assert all(counts[role] > 1 for role in (Role.BACKER, Role.FACE, Role.RETAINER, Role.SPLICE_PLATE))
    for part in parts:
        sheets = [sheet for sheet in found.job.stock if sheet.material == part.material]
        assert region_bounds(part.region).width < max(sheet.height for sheet in sheets)
    assert {seam.role for seam in found.seams} == {Role.BACKER, Role.FACE, Role.RETAINER}


def test_the_market_hall_is_planned_whole(prepared):
    plan = plan_job(prepared["market_hall"], PlanRun(rounds=0))
    assert plan.unplaced == ()
    assert plan.seams == prepared["market_hall"].seams


def test_the_emblem_has_true_curves():
    job = read_job(FOLDER / "market_hall" / "market_hall.json")
    shapes = draw(job.artwork[2], folder=job.folder).shapes
    kinds = {type(segment) for shape in shapes for contour in shape.contours for segment in contour.segments}
    assert Cubic in kinds
    assert Arc in kinds


def test_the_cup_has_arcs_and_skips_its_notes(prepared):
    cup = prepared["cafe"].lettering[1]
    assert len(cup.letters) == 4
    assert cup.height == pytest.approx(30.0 * IN)
    holes = [hole for letter in cup.letters for region in letter.regions for hole in region.holes]
    assert len(holes) == 2
    assert any(len(hole.segments) == len(circle((0, 0), 1).segments) for hole in holes)
    assert any(one.code == "layer-skipped" for one in prepared["cafe"].findings)


def test_two_hundred_letters_in_six_fonts(prepared):
    found = prepared["two_hundred"]
    assert sum(len(lettering.letters) for lettering in found.lettering) == 200
    assert len({artwork.text.font for artwork in found.job.artwork}) == 6
    assert all(8.0 * IN <= artwork.scale.length <= 20.0 * IN for artwork in found.job.artwork)


def test_two_hundred_letters_become_parts_at_once(prepared):
    # Measured: 1.4 s of processor time on two shared cores; the bound leaves room for slower ones.
    found = prepared["two_hundred"]
    began = time.process_time()
    fabricate(found.job, found.lettering)
    assert time.process_time() - began < 24.0
