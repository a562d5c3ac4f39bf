"""Job files: what is written reads back the same, and what is wrong is said in one sentence."""

from __future__ import annotations

import json
import os
import stat
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.errors import AppError, JobError, JobFileError, NewerJobFile
from app.job import file as job_file
from app.job.document import DisplayUnits
from app.job.file import read_job, write_job
from app.job.to_json import job_text
from app.stock.book import KeepOut, StockSheet
from app.stock.defaults import shipped
from tests.app.job.jobs import jobs, small_job


def minimal() -> dict:
    """The least a job file can say: everything else is filled in."""
    return {
        "letterbed_job": 2,
        "name": "corner shop",
        "builds": [
            {
                "id": "letters",
                "name": "Letters",
                "kind": "face-lit with retainer",
                "materials": {"backer": "alu-0.063", "face": "acrylic-white-3/16", "retainer": "alu-0.063"},
            }
        ],
        "artwork": [{"id": "a", "name": "A", "build": "letters", "file": "a.svg"}],
    }


def reading(document: object, folder: Path) -> str:
    """What is said about a faulty document; the file's name and a colon come first."""
    path = folder / "job.json"
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    with pytest.raises(JobFileError) as raised:
        read_job(path)
    message = str(raised.value)
    assert message.startswith("job.json: ")
    assert "\n" not in message
    return message.removeprefix("job.json: ")


def changed(at: str, value: object) -> dict:
    """The minimal document with one place changed: "builds.0.kind"."""
    document = minimal()
    place = document
    *path, last = at.split(".")
    for step in path:
        place = place[int(step)] if isinstance(place, list) else place.setdefault(step, {})
    if isinstance(place, list):
        place[int(last)] = value
    else:
        place[last] = value
    return document


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(job=jobs())
def test_what_is_written_reads_back_equal_and_writes_the_same_bytes(tmp_path, job):
    path = tmp_path / "job.json"
    write_job(job, path)
    again = read_job(path)
    assert again == replace(job, folder=str(tmp_path))
    assert job_text(again) == path.read_text(encoding="utf-8")


def test_shipped_entries_stand_as_bare_names_and_changed_ones_say_what_changed(tmp_path):
    book = shipped()
    own = StockSheet("rack-7", "alu-0.063", "offcut 7", 812.8, 1524.0, count=1, price=0)
    few = replace(book.stock["alu-0.063-48x96"], count=3, price=18750)
    clamped = replace(book.stock["alu-0.063-48x120"], keep_outs=(KeepOut(0.0, 0.0, 50.8, 25.4, "clamp"),))
    job = small_job(stock=(few, clamped, own, book.stock["acrylic-white-3/16-51x100"]))
    document = json.loads(job_text(job))
    assert document["materials"] == ["alu-0.063", "acrylic-white-3/16"]
    assert document["cutters"] == ["1/8", "3/16"]
    assert document["stock"][0] == {"id": "alu-0.063-48x96", "count": 3, "price": "187.50"}
    assert document["stock"][1]["keep_outs"][0]["width"] == "2 in"
    assert document["stock"][2]["width"] == "32 in"
    assert document["stock"][2]["price"] == "0.00"
    assert document["stock"][3] == "acrylic-white-3/16-51x100"


def test_a_short_file_is_filled_from_the_shipped_stock_book(tmp_path):
    path = tmp_path / "short.json"
    path.write_text(json.dumps(minimal()))
    job = read_job(path)
    assert [one.id for one in job.materials] == ["alu-0.063", "acrylic-white-3/16"]
    assert [one.id for one in job.cutters] == ["1/8", "3/16"]
    assert {one.material for one in job.stock} == {"alu-0.063", "acrylic-white-3/16"}
    assert all(shipped().holds(one) for one in (*job.materials, *job.cutters, *job.stock))
    assert job.folder == str(tmp_path)


def test_lengths_are_read_as_people_write_them(tmp_path):
    document = minimal() | {
        "materials": [
            {"id": "alu-0.063", "web": "3/16 in", "margin": "610 mm"},
            {"id": "acrylic-white-3/16", "web": '1 1/2"', "margin": "1cm"},
        ],
        "stock": ["acrylic-white-3/16-51x100", {"id": "alu-0.063-60x120", "width": "5 ft", "count": 2}],
    }
    path = tmp_path / "job.json"
    path.write_text(json.dumps(document))
    job = read_job(path)
    alu, acrylic = job.materials
    assert (alu.web, alu.margin, acrylic.web, acrylic.margin) == (4.7625, 610.0, 38.1, 10.0)
    assert alu.thickness == shipped().materials["alu-0.063"].thickness
    assert not shipped().holds(alu)
    assert (job.stock[1].width, job.stock[1].count) == (1524.0, 2)


def test_prices_are_exact_in_minor_units(tmp_path):
    def price(value: str, currency: str = "USD") -> int | None:
        text = json.dumps(minimal() | {"currency": currency, "stock": [{"id": "alu-0.063-48x96", "price": "@"}]})
        path = tmp_path / "job.json"
        path.write_text(text.replace('"@"', value))
        return read_job(path).stock[0].price

    assert price('"187.50"') == 18750
    assert price("187.5") == 18750
    assert price("0.29") == 29  # 0.29 * 100 is 28.999999999999996 in binary
    assert price("1.1e2") == 11000
    assert price("null") is None
    assert price("1875", "JPY") == 1875
    assert price('"1.875"', "KWD") == 1875


def test_shipped_prices_are_not_taken_for_another_currency(tmp_path):
    path = tmp_path / "job.json"
    path.write_text(json.dumps(minimal() | {"currency": "EUR"}))
    assert all(sheet.price is None for sheet in read_job(path).stock)


@pytest.mark.parametrize(
    ("at", "value", "said"),
    [
        (
            "stock",
            [{"id": "alu-0.063-48x96", "width": 48}],
            "stock 'alu-0.063-48x96', width: 48 has no unit; write \"48 in\"",
        ),
        ("stock", [{"id": "alu-0.063-48x96", "width": "48"}], "stock 'alu-0.063-48x96', width: 48 has no unit"),
        ("stock", [{"id": "alu-0.063-48x96", "widht": "48 in"}], "'widht' is not a known key; did you mean 'width'?"),
        ("stock", [{"id": "alu-0.063-48x96", "width": "0 in"}], "width of 0 mm makes no sense; it must be above 0"),
        ("stock", [{"id": "alu-0.063-48x96", "height": "-96 in"}], "height of -2438.4 mm makes no sense"),
        (
            "stock",
            [{"id": "alu-0.063-48x96", "height": "96 parsecs"}],
            "stock 'alu-0.063-48x96', height: '96 parsecs' is not a length",
        ),
        ("stock", [{"id": "alu-0.063-48x96", "width": "2000 m"}], "more than a kilometre"),
        ("stock", [{"id": "alu-0.063-48x96", "price": "-1"}], "-1 is below 0"),
        ("stock", [{"id": "alu-0.063-48x96", "price": "9.999"}], "more than 2 decimals"),
        ("stock", [{"id": "alu-0.063-48x96", "price": "cheap"}], "'cheap' is not a price"),
        ("stock", [{"id": "alu-0.063-48x96", "count": -1}], "count -1 is below 0"),
        ("stock", [{"id": "alu-0.063-48x96", "count": 1.5}], "1.5 stands where a whole number is needed"),
        ("stock", [{"id": "alu-0.063-48x96", "count": True}], "true stands where a whole number is needed"),
        (
            "stock",
            ["alu-0.063-49x96"],
            "'alu-0.063-49x96' is not in the shipped stock book; did you mean 'alu-0.063-48x96'?",
        ),
        (
            "stock",
            [{"id": "x", "material": "alu-0.063", "name": "x", "width": "4 ft"}],
            "stock 'x': 'height' is missing",
        ),
        ("stock", ["alu-0.063-48x96", "alu-0.063-48x96"], "stock id 'alu-0.063-48x96' is used twice"),
        ("stock", {"id": "alu-0.063-48x96"}, "stock: an object stands where a list [...] is needed"),
        (
            "stock",
            [{"id": "alu-0.063-48x96", "material": "alu-0.080"}],
            "'alu-0.080' is not a material of this job; did you mean 'alu-0.063'?",
        ),
        (
            "stock",
            [{"id": "alu-0.063-48x96", "keep_outs": [{"x": "47 in", "y": "0 in", "width": "2 in", "height": "2 in"}]}],
            "keep-out 1 reaches to 1244.6",
        ),
        (
            "materials",
            ["alu-0.063"],
            "build 'letters', material of the face: 'acrylic-white-3/16' is not a material of this job",
        ),
        (
            "materials",
            [{"id": "alu-0.063", "web": "-0.1 in"}, "acrylic-white-3/16"],
            "web of -2.54 mm makes no sense; it must be 0 or more",
        ),
        ("materials", [{"id": "alu-0.063", "margin": "30 in"}, "acrylic-white-3/16"], "has no room inside the margin"),
        ("materials", [{"id": "alu-0.063", "density": 2700}, "acrylic-white-3/16"], "'2700' is not a density"),
        (
            "materials",
            [{"id": "alu-0.063", "kind": "aluminum"}, "acrylic-white-3/16"],
            "'aluminum' is not a choice; did you mean 'aluminium'?",
        ),
        (
            "materials",
            [{"id": "alu-0.063", "cutter": "9/16"}, "acrylic-white-3/16"],
            "material 'alu-0.063', cutter: '9/16' is not a cutter of this job",
        ),
        ("cutters", [{"id": "1/8", "diameter": "0 mm"}, "1/4"], "cutter '1/8', diameter of 0 mm makes no sense"),
        (
            "builds.0.kind",
            "face-lit with retainers",
            "'face-lit with retainers' is not a kind of build; did you mean 'face-lit with retainer'?",
        ),
        ("builds.0.materials", {"backer": "alu-0.063", "face": "acrylic-white-3/16"}, "the retainer has no material"),
        (
            "builds.0.materials.facia",
            "alu-0.063",
            "'facia' is not a role of 'face-lit with retainer'; did you mean 'face'?",
        ),
        (
            "builds.0.settings",
            {"retainer flange": 1.5},
            "build 'letters', retainer flange: 1.5 has no unit; write \"1.5 in\"",
        ),
        (
            "builds.0.settings",
            {"retainer flanges": "1 in"},
            "'retainer flanges' is not a setting; did you mean 'retainer flange'?",
        ),
        ("builds.0.settings", {"retainer flange": "1 ft"}, "setting 'retainer flange' of 304.8 mm is out of range"),
        ("builds.0.settings", {"coldest": "-30"}, "'-30' is not understood; write it like \"68 F\""),
        ("builds.0.settings", {"hottest": "0 F"}, "'made at' of 20 °C must be below 'hottest' of -17.7778 °C"),
        (
            "builds.0.settings",
            {"retainer flange": "1/4 in", "retainer fit": "1/4 in"},
            "'retainer fit' of 6.35 mm must be below",
        ),
        (
            "artwork.0.build",
            "leters",
            "artwork 'a', build: 'leters' is not a build of this job; did you mean 'letters'?",
        ),
        ("artwork.0.text", {"words": "A", "font": "x.ttf"}, "artwork 'a' names both a file and words"),
        ("artwork.0.file", None, "artwork 'a' names neither a file nor words"),
        ("artwork.0.sets", 0, "sets: 0 is below 1"),
        ("artwork.0.scale", {"by": "capital height"}, "'capital height' needs a length"),
        (
            "artwork.0.scale",
            {"by": "capital height", "length": 24},
            "artwork 'a', scale, length: 24 has no unit; write \"24 in\"",
        ),
        ("artwork.0.units", "inch", "units: 'inch' is not a unit of length"),
        ("artwork.0.page", 0, "page: 0 is below 1"),
        ("artwork.0.join_gap", "2 in", "join gap of 50.8 mm is above 25 mm"),
        ("artwork.0.font_folders", [" "], "font folders: one has no name"),
        ("artwork.0.scale", {"by": "known dimension", "length": "1 in", "from": [0, 0]}, "needs two points"),
        ("artwork.0.scale", {"by": "known dimension", "length": "1 in", "from": [0, 1, 2]}, "like [12.5, 0]"),
        ("artwork.0.scale", {"by": "known dimension", "length": "1 in", "from": [1, 0], "to": [1, 0]}, "are the same"),
        ("artwork.0.scale", {"by": "overall width", "length": "1 in", "to": [1, 0]}, "only a known dimension"),
        ("artwork.0.layers", "CUT", "'CUT' stands where a list of texts is needed"),
        ("artwork.0.id", " a", "artwork id ' a' cannot be used"),
        ("artwork", [], None),
        ("name", 7, "name: 7 stands where text in quotes is needed"),
        ("seconds", -1, "planning time of -1 seconds makes no sense"),
        ("seconds", "10", "'10' stands where a number is needed"),
        ("seed", -1, "seed -1 is below 0"),
        ("currency", "dollars", "currency 'dollars' is not a code of three capitals"),
        ("units", "inches", "units: 'inches' is not a choice"),
        ("unit", "in", "'unit' is not a known key; did you mean 'units'?"),
        ("builds", None, "builds: null stands where a list [...] is needed"),
    ],
)
def test_faults_name_the_field_and_the_way_out(tmp_path, at, value, said):
    if said is None:  # a job without artwork is only begun, not faulty
        path = tmp_path / "job.json"
        path.write_text(json.dumps(changed(at, value)))
        assert read_job(path).artwork == ()
    else:
        assert said in reading(changed(at, value), tmp_path)


@pytest.mark.parametrize("missing", ["name", "builds", "artwork"])
def test_missing_keys_are_named(tmp_path, missing):
    document = minimal()
    del document[missing]
    assert reading(document, tmp_path) == f"'{missing}' is missing"


def test_text_that_is_not_json_is_placed_by_line_and_column(tmp_path):
    assert reading('{\n  "letterbed_job": 1,\n  "name" "x"\n}', tmp_path).startswith(
        "line 3, column 10: not valid JSON"
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("[1, 2]", "this is not a Letterbed job file"),
        ("{}", "this is not a Letterbed job file"),
        ('{"letterbed_job": "1"}', "must be a whole number from 1 up"),
        ('{"letterbed_job": 1, "name": "a", "name": "b"}', "'name' stands twice in the same object"),
        ('{"letterbed_job": 1, "seconds": NaN}', "NaN is not a number that can be used"),
        ('{"letterbed_job": 1, "name": "a", "artwork": [], "builds": [], "seconds": 1e999}', "too large a number"),
        ("[" * 100_000, "nested too deep"),
        ('{"letterbed_job": ' + "9" * 5000 + "}", "a number that cannot be read"),
    ],
)
def test_other_files_are_refused_in_a_sentence(tmp_path, text, said):
    assert said in reading(text, tmp_path)


def test_a_file_of_version_1_opens_and_is_written_as_the_newest(tmp_path):
    path = tmp_path / "job.json"
    path.write_text(json.dumps(minimal() | {"letterbed_job": 1}))
    job = read_job(path)
    assert job.seams == ()
    write_job(job, path)
    assert json.loads(path.read_text())["letterbed_job"] == 3
    assert read_job(path) == job


@pytest.mark.parametrize(
    ("seams", "said"),
    [
        ([{"letter": "a-01", "part": "backer", "seams": [{"from": ["1 in"], "to": ["1 in", "2 in"]}]}], "two lengths"),
        ([{"letter": "a-01", "part": "backer", "seams": [{"from": ["1", "0 in"], "to": ["1 in", "2 in"]}]}], "no unit"),
        ([{"letter": "a-01", "part": "bakcer", "seams": []}], "did you mean 'backer'?"),
        ([{"letter": "a-01", "part": "face", "seams": []}] * 2, "given twice"),
        (
            [{"letter": "a-01", "part": "face", "seams": [{"from": ["1 in", "2 in"], "to": ["1 in", "2 in"]}]}],
            "both ends are the same place",
        ),
    ],
)
def test_seams_that_make_no_sense(tmp_path, seams, said):
    assert said in reading(minimal() | {"seams": seams}, tmp_path)


def test_a_newer_file_is_told_apart(tmp_path):
    path = tmp_path / "job.json"
    path.write_text(json.dumps(minimal() | {"letterbed_job": 4, "something": "new"}))
    with pytest.raises(NewerJobFile, match="version 4 and this program reads up to 3"):
        read_job(path)


def test_files_that_are_not_there_or_not_text(tmp_path):
    for path, said in (
        (tmp_path / "none.json", "there is no such file"),
        (tmp_path, "this is a folder"),
    ):
        with pytest.raises(JobFileError, match=said):
            read_job(path)
    path = tmp_path / "latin.json"
    path.write_bytes('{\n"name": "Caf\xe9"}'.encode("latin-1"))
    with pytest.raises(JobFileError, match="line 2 is not UTF-8 text"):
        read_job(path)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.recursive(
        st.one_of(st.none(), st.booleans(), st.integers(-5, 5), st.floats(allow_nan=False), st.text(max_size=5)),
        lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
        max_leaves=6,
    ),
    st.sampled_from(("artwork", "builds", "materials", "stock", "cutters", "name", "units", "artwork.0.scale")),
)
def test_no_value_anywhere_gets_past_as_anything_but_a_sentence(tmp_path, value, at):
    path = tmp_path / "job.json"
    path.write_text(json.dumps(changed(at, value)), encoding="utf-8")
    said = ""
    try:
        read_job(path)
    except AppError as error:
        said = str(error)
    assert "\n" not in said


def test_metric_jobs_are_written_in_millimetres():
    document = json.loads(job_text(small_job(units=DisplayUnits.MILLIMETRES)))
    assert document["artwork"][0]["scale"]["length"] == "609.6 mm"
    assert json.loads(job_text(small_job()))["artwork"][0]["scale"]["length"] == "24 in"


def test_a_failed_write_leaves_the_old_file_and_no_rubbish(tmp_path, monkeypatch):
    path = tmp_path / "job.json"
    write_job(small_job(), path)
    before = path.read_bytes()

    def fail(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(job_file.os, "fsync", fail)
    with pytest.raises(JobFileError, match=r"job\.json could not be written: No space left on device"):
        write_job(small_job(name="other"), path)
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["job.json"]


def test_drafts_that_a_killed_program_left_go_with_the_next_write(tmp_path):
    path = tmp_path / "job.json"
    old = [".job.json-ab_3xyz9.part", ".job.json-00000000.part"]
    others = [".job.json-fresh_01.part", ".other.json-ab_3xyz9.part", "job.json.part", ".job.json-x-ab_3xyz9.part"]
    for name in [*old, *others]:
        (tmp_path / name).write_text("half")
    for name in [*old, *others[1:]]:
        os.utime(tmp_path / name, (1e9, 1e9))
    write_job(small_job(), path)
    assert sorted(os.listdir(tmp_path)) == sorted(["job.json", *others])


def test_writing_keeps_permissions_and_refuses_what_does_not_agree(tmp_path):
    path = tmp_path / "job.json"
    write_job(small_job(), path)
    path.chmod(0o640)
    write_job(small_job(name="other"), path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    with pytest.raises(JobError, match="'nobody' is not a build of this job"):
        write_job(small_job(artwork=(replace(small_job().artwork[0], build="nobody"),)), path)
    with pytest.raises(JobFileError, match="could not be written"):
        write_job(small_job(), tmp_path / "nowhere" / "job.json")
    with pytest.raises(JobFileError, match="cannot be saved"):
        write_job(small_job(notes="\ud800"), path)
    assert read_job(path).name == "other"
