"""The operator's choices in the job file: read, written, refused; left out, they are the defaults."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.errors import JobError, JobFileError
from app.job.cutting import USUAL, Cutting, Direction, DxfVersion, Hold, Lead, MaterialFeed, Page
from app.job.cutting_json import check_cutting, cutting_from_json, cutting_to_json

CHOSEN = Cutting(
    paths=True,
    direction=Direction.CONVENTIONAL,
    lead=Lead.RAMP,
    lead_radius=1.5,
    ramp_angle=3.0,
    hold=Hold.SKIN,
    tab_width=4.0,
    tab_thickness=0.7,
    skin=0.3,
    shares_cuts=True,
    dxf_version=DxfVersion.R12,
    page=Page.A4,
    rapid=20_000.0,
    acceleration=500.0,
    feeds=(MaterialFeed("alu", 1270.0, 0.8),),
)


def text(mm):
    return f"{mm!r} mm"


def test_what_is_written_reads_back_equal():
    assert cutting_from_json(cutting_to_json(USUAL, text)) == USUAL
    assert cutting_to_json(USUAL, text) == {}
    written = cutting_to_json(CHOSEN, text)
    # A file's numbers come as Decimal or int; texts as they are.
    from decimal import Decimal

    read = {key: Decimal(str(value)) if isinstance(value, float) else value for key, value in written.items()}
    assert cutting_from_json(read) == CHOSEN


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({"directon": "climb"}, "directon"),
        ({"direction": "up"}, "up"),
        ({"tab_width": 6}, "no unit"),
        ({"paths": "yes"}, "true or false"),
        ({"feeds": {"alu": {"feed": "50 in"}}}, "depth"),
        ([], "object"),
    ],
)
def test_a_wrong_field_is_named(document, words):
    with pytest.raises(JobFileError, match=words):
        cutting_from_json(document)


@pytest.mark.parametrize(
    ("cutting", "words"),
    [
        (replace(USUAL, lead_radius=0.5), "lead_radius of 0.5"),
        (replace(USUAL, tab_width=0.0), "tab_width"),
        (replace(USUAL, skin=float("nan")), "skin"),
        (replace(USUAL, feeds=(MaterialFeed("brass", 1.0, 1.0),)), "'brass' is not a material"),
        (replace(USUAL, feeds=(MaterialFeed("alu", 1.0, 1.0),) * 2), "given twice"),
        (replace(USUAL, feeds=(MaterialFeed("alu", 0.0, 1.0),)), "feed of 0 mm"),
    ],
)
def test_numbers_that_make_no_sense_are_refused(cutting, words):
    with pytest.raises(JobError, match=words):
        check_cutting(cutting, ("alu",))
