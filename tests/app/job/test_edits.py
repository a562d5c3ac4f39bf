"""Edits: each gives a job that agrees with itself, and gives the same object back when nothing changed."""

from __future__ import annotations

import inspect
from dataclasses import replace

import pytest

from app.errors import JobError
from app.job import edits
from app.job.check import check_job
from app.job.document import Artwork, Build, DisplayUnits, LetterSeams, Scale, ScaleBy, Seam, Text
from app.job.kept import KeptPart, KeptPlan, KeptSheet
from app.job.new import free_id, new_job
from app.stock.book import KeepOut, StockSheet
from app.stock.defaults import shipped
from nesting.plan import Placement
from tests.app.job.jobs import KIND, small_job

OWN_SHEET = StockSheet("rack-7", "alu-0.063", "offcut 7", 800.0, 1500.0, count=1)
OWN_BUILD = Build("wide", "Wide", KIND, small_job().builds[0].materials)
SEAM = Seam((100.0, -5.0), (100.0, 700.0))
LEVEL = Seam((-5.0, 300.0), (900.0, 300.0))
KEPT = KeptPlan((KeptSheet("alu-0.125-48x120", (KeptPart(Placement("a-01-backer", 0, 20.0, 30.0), True),)),))
SIGN = Artwork("line3", "Line 3", "letters", file="sign.dxf")

# Every edit with arguments that change something, and what can be seen of it afterwards.
CHANGES = {
    "set_name": (("x",), lambda job: job.name == "x"),
    "set_notes": (("call first",), lambda job: job.notes == "call first"),
    "set_units": ((DisplayUnits.MILLIMETRES,), lambda job: job.units is DisplayUnits.MILLIMETRES),
    "set_currency": (("EUR",), lambda job: job.currency == "EUR"),
    "set_seconds": ((3.0,), lambda job: job.seconds == 3.0),
    "set_plan": ((KEPT,), lambda job: job.plan == KEPT),
    "set_seed": ((7,), lambda job: job.seed == 7),
    "set_nesting_in_holes": ((False,), lambda job: not job.may_nest_in_holes),
    "add_artwork": ((SIGN,), lambda job: job.artwork[-1] == SIGN),
    "remove_artwork": (
        ("line1",),
        lambda job: [one.id for one in job.artwork] == ["line2"] and not job.seams,
    ),
    "set_artwork_name": (("line1", "Top"), lambda job: job.artwork[0].name == "Top"),
    "set_artwork_text": (
        ("line2", Text("LATE", "f.ttf")),
        lambda job: (job.artwork[1].text, job.artwork[1].file) == (Text("LATE", "f.ttf"), None),
    ),
    "set_artwork_file": (
        ("line1", "open.svg"),
        lambda job: (job.artwork[0].file, job.artwork[0].text) == ("open.svg", None),
    ),
    "set_artwork_units": (("line2", "mm"), lambda job: job.artwork[1].units == "mm"),
    "set_artwork_layers": (("line2", ["CUT"]), lambda job: job.artwork[1].layers == ("CUT",)),
    "set_artwork_page": (("line2", 3), lambda job: job.artwork[1].page == 3),
    "set_outline_strokes": (("line2", True), lambda job: job.artwork[1].outline_strokes),
    "set_join_overlaps": (("line2", True), lambda job: job.artwork[1].join_overlaps),
    "set_join_gap": (("line2", 0.5), lambda job: job.artwork[1].join_gap == 0.5),
    "set_font_folders": (("line2", ["fonts"]), lambda job: job.artwork[1].font_folders == ("fonts",)),
    "set_scale": (
        ("line2", Scale(ScaleBy.OVERALL_WIDTH, 1000.0)),
        lambda job: job.artwork[1].scale.length == 1000.0,
    ),
    "set_sets": (("line2", 3), lambda job: job.artwork[1].sets == 3),
    "set_build": (("line2", "wide"), lambda job: job.artwork[1].build == "wide"),
    "set_letter_builds": (
        ("line1", ["line1-02", "line1-01"], "wide"),
        lambda job: job.artwork[0].letter_builds == (("line1-01", "wide"), ("line1-02", "wide")),
    ),
    "set_reads": (("line2", "LATE"), lambda job: job.artwork[1].reads == "LATE"),
    "change_build": (
        (replace(OWN_BUILD, name="Slim", materials=(*OWN_BUILD.materials[:-1], ("retainer", "alu-0.080"))),),
        lambda job: job.builds[1].name == "Slim" and job.materials[-1].id == "alu-0.080",
    ),
    "add_build": ((replace(OWN_BUILD, id="new"),), lambda job: job.builds[-1].id == "new"),
    "remove_build": (("wide",), lambda job: [one.id for one in job.builds] == ["letters"]),
    "set_build_name": (("wide", "W"), lambda job: job.builds[1].name == "W"),
    "set_build_material": (
        ("wide", "retainer", "alu-0.080"),
        lambda job: dict(job.builds[1].materials)["retainer"] == "alu-0.080" and job.materials[-1].id == "alu-0.080",
    ),
    "set_setting": (
        ("wide", "retainer flange", 25.4),
        lambda job: job.builds[1].settings == (("retainer flange", 25.4),),
    ),
    "add_material": (
        ("pvc-white-19mm",),
        lambda job: job.materials[-1].id == "pvc-white-19mm" and job.cutters[-1].id == "3/8",
    ),
    "remove_material": (("acrylic-red-3/16",), lambda job: len(job.materials) == 2),
    "set_web": (("alu-0.063", 5.0), lambda job: job.materials[0].web == 5.0),
    "set_spacing": (("alu-0.063", 10.0), lambda job: job.materials[0].web == 10.0 - 3.175),
    "set_margin": (("alu-0.063", 20.0), lambda job: job.materials[0].margin == 20.0),
    "set_material_cutter": (("alu-0.063", "1/4"), lambda job: job.materials[0].cutter == "1/4"),
    "set_grain": (("alu-0.063", True), lambda job: job.materials[0].has_grain),
    "set_sides_alike": (("alu-0.063", False), lambda job: not job.materials[0].sides_alike),
    "set_cutter_diameter": (("1/8", 3.1), lambda job: job.cutters[0].diameter == 3.1),
    "add_stock": ((replace(OWN_SHEET, id="rack-8"),), lambda job: job.stock[-1].id == "rack-8"),
    "add_shipped_stock": (("alu-0.063-60x120",), lambda job: job.stock[-1].id == "alu-0.063-60x120"),
    "remove_stock": (("rack-7",), lambda job: all(one.id != "rack-7" for one in job.stock)),
    "set_stock_count": (("rack-7", 2), lambda job: job.stock[-1].count == 2),
    "set_price": (("rack-7", 1250), lambda job: job.stock[-1].price == 1250),
    "set_stock_size": (
        ("rack-7", 900.0, 800.0),
        lambda job: (job.stock[-1].width, job.stock[-1].height) == (900.0, 800.0),
    ),
    "set_stock_name": (("rack-7", "piece"), lambda job: job.stock[-1].name == "piece"),
    "set_seams": (("line1-01", "face", [SEAM]), lambda job: job.seams[-1] == LetterSeams("line1-01", "face", (SEAM,))),
    "add_seam": (("line1-02", "backer", LEVEL), lambda job: job.seams[0].seams == (SEAM, LEVEL)),
    "move_seam": (("line1-02", "backer", 0, LEVEL), lambda job: job.seams[0].seams == (LEVEL,)),
    "remove_seam": (("line1-02", "backer", 0), lambda job: job.seams[0].seams == ()),
    "set_keep_outs": (("rack-7", [KeepOut(0.0, 0.0, 50.0, 50.0)]), lambda job: len(job.stock[-1].keep_outs) == 1),
}


@pytest.fixture
def job():
    book = shipped()
    base = small_job()
    return check_job(
        replace(
            base,
            builds=(*base.builds, OWN_BUILD),
            materials=(*base.materials, book.materials["acrylic-red-3/16"]),
            stock=(*base.stock, OWN_SHEET),
            seams=(LetterSeams("line1-02", "backer", (SEAM,)),),
        )
    )


def test_every_edit_is_tried_below():
    public = {name for name, one in inspect.getmembers(edits, inspect.isfunction) if one.__module__ == edits.__name__}
    assert {name for name in public if not name.startswith("_")} == set(CHANGES)


@pytest.mark.parametrize("name", CHANGES)
def test_an_edit_changes_what_it_says_and_the_job_still_agrees(job, name):
    arguments, seen = CHANGES[name]
    assert not seen(job)
    after = getattr(edits, name)(job, *arguments)
    assert seen(after)
    assert check_job(after) is after


@pytest.mark.parametrize("name", [name for name in CHANGES if name.startswith("set_") and "least" not in name])
def test_setting_what_is_so_already_gives_the_same_object(job, name):
    arguments, _ = CHANGES[name]
    edit = getattr(edits, name)
    after = edit(job, *arguments)
    assert edit(after, *arguments) is after


@pytest.mark.parametrize(
    ("edit", "arguments", "said"),
    [
        (edits.remove_artwork, ("line11",), "'line11' is not an artwork of this job; did you mean 'line1'?"),
        (edits.set_build, ("line1", "lettres"), "'lettres' is not a build of this job; did you mean 'letters'?"),
        (edits.remove_build, ("letters",), "build: 'letters' is not a build of this job"),
        (edits.remove_material, ("alu-0.063",), "'alu-0.063' is not a material of this job"),
        (edits.add_material, ("alu-0.063",), "material id 'alu-0.063' is used twice"),
        (edits.add_material, ("gold",), "'gold' is not in the shipped stock book"),
        (edits.add_stock, (OWN_SHEET,), "stock id 'rack-7' is used twice"),
        (edits.add_shipped_stock, ("alu-0.063-60x121",), "did you mean 'alu-0.063-60x120'?"),
        (edits.add_shipped_stock, ("pvc-white-6mm-48x96",), "material: 'pvc-white-6mm' is not a material of this job"),
        (edits.set_spacing, ("alu-0.063", 3.0), "spacing of 3 mm is below the cutter's diameter of 3.175 mm"),
        (edits.set_spacing, ("alu-0.063", float("nan")), "below the cutter's diameter"),
        (edits.set_web, ("alu-0.063", -1.0), "web of -1 mm makes no sense"),
        (edits.set_margin, ("alu-0.063", 700.0), "has no room inside the margin"),
        (edits.set_setting, ("wide", "retainer flange", 0.0), "'retainer flange' of 0 mm is out of range"),
        (edits.set_setting, ("wide", "flange", 1.0), "'flange' is not a setting of its kind"),
        (edits.set_build_material, ("wide", "film", "alu-0.063"), "'film' is not a role"),
        (edits.set_stock_count, ("rack-7", -1), "count -1 is below 0"),
        (edits.set_stock_size, ("rack-7", 0.0, 100.0), "width of 0 mm makes no sense"),
        (edits.set_keep_outs, ("rack-7", [KeepOut(790.0, 0.0, 50.0, 50.0)]), "keep-out 1 reaches to 840"),
        (edits.set_scale, ("line1", Scale(ScaleBy.OVERALL_WIDTH, -5.0)), "overall width of -5 mm makes no sense"),
        (edits.set_artwork_text, ("line1", Text("  ", "f.ttf")), "words: there are none"),
        (edits.set_artwork_units, ("line1", "mm"), "units and layers belong to files"),
        (edits.remove_seam, ("line1-02", "backer", 1), "has 1 own seams and no seam 2"),
        (edits.move_seam, ("line1-01", "backer", 0, SEAM), "has 0 own seams and no seam 1"),
        (edits.set_seams, ("line1-01", "film", [SEAM]), "'film' is not a part that can be divided"),
        (edits.add_seam, ("line1-02", "backer", Seam((1.0, 1.0), (1.0, 1.0))), "both ends are the same place"),
        (edits.set_seconds, (float("inf"),), "planning time of inf seconds makes no sense"),
        (edits.set_currency, ("usd",), "currency 'usd' is not a code of three capitals"),
    ],
)
def test_an_edit_that_makes_no_sense_is_refused_in_a_sentence(job, edit, arguments, said):
    with pytest.raises(JobError) as raised:
        edit(job, *arguments)
    assert said in str(raised.value)


def test_a_setting_goes_back_to_its_default(job):
    narrow = edits.set_setting(job, "wide", "retainer flange", 25.4)
    assert edits.set_setting(narrow, "wide", "retainer flange", None) == job


def test_own_seams_can_be_given_back_to_the_program(job):
    assert edits.set_seams(job, "line1-02", "backer", None).seams == ()
    assert edits.set_seams(job, "line1-01", "face", None) is job


def test_currency_changes_keep_the_amount_that_is_read(job):
    priced = edits.set_price(job, "rack-7", 18750)
    assert edits.set_currency(priced, "JPY").stock[-1].price == 188
    assert edits.set_currency(priced, "KWD").stock[-1].price == 187500
    assert edits.set_currency(priced, "EUR").stock[-1].price == 18750


def test_a_new_job_agrees_and_has_stock_for_every_material():
    job = new_job("first", folder="somewhere")
    assert check_job(job) is job
    assert {sheet.material for sheet in job.stock} == {material.id for material in job.materials}
    assert (job.artwork, job.folder) == ((), "somewhere")


def test_free_ids_are_new():
    assert free_id("line", []) == "line"
    assert free_id("line", ["line", "line-2"]) == "line-3"
    assert free_id("  ", []) == "item"
    assert len(free_id("a" * 200, ["a" * 40])) <= 60


def test_words_in_place_of_a_file_drop_its_known_dimension(job):
    measured = Scale(ScaleBy.KNOWN_DIMENSION, 100.0, (0.0, 0.0), (7.0, 0.0))
    job = edits.set_scale(job, "line2", measured)
    assert job.artwork[1].scale == measured
    assert edits.set_artwork_text(job, "line2", Text("LATE", "f.ttf")).artwork[1].scale == Scale()
