"""The command line on real jobs and on bad input: one sentence, the right exit status, nothing half-written."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest

from app.cli import main
from app.job.edits import remove_artwork, set_plan, set_seams
from app.job.file import read_job, write_job
from app.job.kept import take_off
from app.planning.kept_plan import kept_of
from app.planning.plan_job import PlanRun, plan_job
from app.planning.prepare import prepare

REPOSITORY = Path(__file__).resolve().parents[2]
SAMPLES = REPOSITORY / "sample_jobs"


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_help_loads_neither_qt_nor_numba_nor_shapely():
    code = (
        "import sys\n"
        "from app.cli import main\n"
        "try:\n    main(['--help'])\n"
        "except SystemExit as end:\n    assert end.code == 0\n"
        "heavy = {'PySide6', 'numba', 'shapely', 'ezdxf', 'reportlab', 'scipy'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=REPOSITORY, check=False)
    assert done.returncode == 0, done.stderr
    assert "plan" in done.stdout


def test_planning_the_cafe_writes_everything_the_design_lists(tmp_path, capsys):
    out = tmp_path / "cut"
    status, printed, _ = run(capsys, "plan", SAMPLES / "cafe" / "cafe.json", "--out", out, "--rounds", 0)
    assert status == 0, printed
    names = {path.name for path in out.iterdir()}
    expected = "plan.json report.pdf parts.csv offcuts.csv buy_list.csv strips.csv letters.csv findings.csv"
    assert {*expected.split(), "order.xlsx", "labels.pdf", "sheets"} <= names
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["version"] == 1
    assert plan["units"] == "mm"
    assert plan["unplaced"] == []
    assert {sheet["file"] for sheet in plan["sheets"]} == {f"sheets/{path.name}" for path in (out / "sheets").iterdir()}
    placed = sum(len(sheet["placements"]) for sheet in plan["sheets"])
    assert placed == sum(part["quantity"] for part in plan["parts"])


def test_an_emblem_larger_than_every_sheet_is_divided_and_placed(tmp_path, capsys):
    out = tmp_path / "cut"
    status, printed, _ = run(capsys, "plan", SAMPLES / "market_hall" / "market_hall.json", "--out", out, "--rounds", 0)
    assert status == 0
    assert "NOT PLACED" not in printed
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["unplaced"] == []
    assert sum(part["letter"] == "emblem-01" and part["role"] == "splice plate" for part in plan["parts"]) > 1
    with pypdfium2.PdfDocument(out / "report.pdf") as report:
        pages = [page.get_textpage().get_text_bounded() for page in report]
    explained = next(page for page in pages if "why here" in page)
    for words in (
        "fish (emblem-01): backer in full line, face in dashes",
        "butt joint on splice plates",
        "crosses 3 strokes",
    ):
        assert words in explained


def test_parts_larger_than_every_sheet_give_status_1_and_are_named(tmp_path, capsys):
    """The user wants the emblem's backer whole, which no sheet can hold."""
    for name in ("market_hall", "fonts"):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    job = tmp_path / "market_hall" / "market_hall.json"
    alone = remove_artwork(remove_artwork(read_job(job), "line1"), "line2")
    write_job(set_seams(alone, "emblem-01", "backer", ()), job)
    out = tmp_path / "cut"
    status, printed, _ = run(capsys, "plan", job, "--out", out, "--rounds", 0)
    assert status == 1
    assert "NOT PLACED" in printed
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert [left["part"] for left in plan["unplaced"]] == ["emblem-01-backer"]
    assert all(left["reason"] for left in plan["unplaced"])


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("missing.json", None, "missing.json"),
        ("empty.json", "", "empty.json"),
        ("words.json", "not json at all", "words.json"),
        ("other.json", '{"a": 1}', "other.json"),
        ("newer.json", '{"letterbed_job": 99}', "99"),
    ],
)
def test_a_bad_job_file_is_one_sentence_and_status_2(tmp_path, capsys, name, content, words):
    path = tmp_path / name
    if content is not None:
        path.write_text(content, encoding="utf-8")
    out = tmp_path / "out"
    status, printed, said = run(capsys, "plan", path, "--out", out)
    assert status == 2
    assert printed == ""
    assert said.startswith("letterbed: ")
    assert words in said
    assert len(said.strip().splitlines()) == 1
    assert "Traceback" not in said
    assert not out.exists()
    assert not [left for left in tmp_path.iterdir() if left != path]


def job_with(tmp_path: Path, **changes: object) -> Path:
    """A copy of the café job beside its artwork, with some top-level keys changed."""
    document = json.loads((SAMPLES / "cafe" / "cafe.json").read_text(encoding="utf-8"))
    document.update(changes)
    for artwork in document["artwork"]:
        if "file" in artwork and not os.path.isabs(artwork["file"]):
            artwork["file"] = str(SAMPLES / "cafe" / artwork["file"])
        if "text" in artwork:
            artwork["text"]["font"] = str((SAMPLES / "cafe" / artwork["text"]["font"]).resolve())
    path = tmp_path / "job.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_an_unknown_material_is_named(tmp_path, capsys):
    document = json.loads((SAMPLES / "cafe" / "cafe.json").read_text(encoding="utf-8"))
    builds = document["builds"]
    first = next(iter(builds[0]["materials"]))
    builds[0]["materials"][first] = "unobtainium"
    status, _, said = run(capsys, "plan", job_with(tmp_path, builds=builds), "--out", tmp_path / "out")
    assert status == 2
    assert "unobtainium" in said
    assert not (tmp_path / "out").exists()


def test_letters_too_thin_to_make_are_status_1_and_named(tmp_path, capsys):
    # A capital of one inch has no stroke wide enough for any of its parts: all of them are errors, none is dropped.
    document = json.loads((SAMPLES / "cafe" / "cafe.json").read_text(encoding="utf-8"))
    artwork = document["artwork"][:1]
    artwork[0]["scale"] = {"by": "capital height", "length": "1 in"}
    out = tmp_path / "out"
    status, printed, _ = run(capsys, "plan", job_with(tmp_path, artwork=artwork), "--out", out, "--rounds", 0)
    assert status == 1
    assert "NOT DONE" in printed
    assert "no backer is left" in printed


def test_a_stop_while_planning_still_writes_a_full_plan(tmp_path):
    # POSIX: one interrupt asks a program to end. Every part keeps its place; only the improving is cut short.
    command = ["plan", str(SAMPLES / "cafe" / "cafe.json"), "--out", str(tmp_path / "out"), "--seconds", "600"]
    program = (
        "import os, signal, sys, app.planning.plan_job as room\n"
        "inner = room.plan_records\n"
        "def stopped(*given, **named):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    return inner(*given, **named)\n"
        "room.plan_records = stopped\n"
        "from app.cli import main\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, *command],
        capture_output=True,
        text=True,
        cwd=REPOSITORY,
        check=False,
        timeout=200,
    )
    assert done.returncode == 0, done.stderr
    assert "Stopped early" in done.stdout
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["unplaced"] == []
    assert plan["sheets"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["plan", "x.json"], "--out"),
        (["plan", "x.json", "--out", "o", "--seed", "-3"], "-3"),
        (["plan", "x.json", "--out", "o", "--seconds", "nan"], "nan"),
        (["unknown"], "unknown"),
    ],
)
def test_a_bad_command_is_one_sentence_and_status_2(capsys, arguments, words):
    try:
        status = main(arguments)
    except SystemExit as end:
        status = end.code
    said = capsys.readouterr().err
    assert status == 2
    assert words in said
    assert len(said.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("file", "content", "words"),
    [
        ("gone.svg", None, "gone.svg"),
        ("empty.svg", b"", "empty.svg"),
        (
            "blank.svg",
            b'<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"/>',
            "no shape that could be cut",
        ),
        ("noise.dxf", bytes(range(256)) * 20, "noise.dxf"),
        (
            "unitless.svg",
            b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9v9z"/></svg>',
            "unit",
        ),
    ],
)
def test_bad_artwork_is_one_sentence_and_status_2(tmp_path, capsys, file, content, words):
    path = tmp_path / file
    if content is not None:
        path.write_bytes(content)
    status, _, said = run(capsys, "read", path)
    assert status == 2
    assert words in said
    assert len(said.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("height", "words"), [("0 in", "0"), ("-3 in", "not possible"), ("24", "no unit"), ("tall", "not a length")]
)
def test_a_bad_height_is_one_sentence_and_status_2(tmp_path, capsys, height, words):
    path = tmp_path / "square.svg"
    path.write_bytes(
        b'<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"><rect width="9" height="9"/></svg>'
    )
    status, _, said = run(capsys, "read", path, f"--height={height}")
    assert status == 2
    assert words in said


def test_read_prints_sizes_in_both_units(tmp_path, capsys):
    # W3C SVG: with width and viewBox alike in mm, one user unit is one millimetre; 609.6 mm is 24 in exactly.
    path = tmp_path / "disc.svg"
    path.write_bytes(
        b'<svg xmlns="http://www.w3.org/2000/svg" width="700mm" height="700mm" viewBox="0 0 700 700">'
        b'<circle cx="350" cy="350" r="304.8"/></svg>'
    )
    status, printed, _ = run(capsys, "read", path)
    assert status == 0
    assert '24"' in printed
    assert "609.6 mm" in printed
    status, printed, _ = run(capsys, "read", path, "--json")
    assert status == 0
    json.loads(printed)


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path, capsys):
    (tmp_path / "letter.txt").write_text("precious", encoding="utf-8")
    status, _, said = run(capsys, "plan", SAMPLES / "cafe" / "cafe.json", "--out", tmp_path, "--rounds", 0)
    assert status == 2
    assert "letterbed:" in said
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_the_module_is_the_console_script():
    done = subprocess.run(
        [sys.executable, "-m", "app", "read", "nowhere.svg"],
        capture_output=True,
        text=True,
        cwd=REPOSITORY,
        check=False,
    )
    assert done.returncode == 2
    assert "nowhere.svg" in done.stderr
    assert "Traceback" not in done.stderr


def test_cutting_options_reach_the_cut_files(tmp_path, capsys):
    import ezdxf

    out = tmp_path / "cut"
    status, _, _ = run(
        capsys, "plan", SAMPLES / "cafe" / "cafe.json", "--out", out, "--rounds", 0, "--quiet",
        "--paths", "--direction", "conventional", "--dxf-version", "R12",
    )  # fmt: skip
    assert status == 0
    for path in (out / "sheets").iterdir():
        document = ezdxf.readfile(path)
        assert document.dxfversion == "AC1009"
        assert len(document.modelspace().query('POLYLINE[layer=="PATH_OUTSIDE"]')) == len(
            document.modelspace().query('POLYLINE[layer=="OUTSIDE"]')
        )
    assert len(list((out / "drawings").iterdir())) == len(list((out / "sheets").iterdir()))


def test_the_plan_kept_in_the_job_is_written_as_it_is(tmp_path, capsys):
    path = tmp_path / "cafe" / "cafe.json"
    shutil.copytree(SAMPLES / "cafe", path.parent)
    shutil.copytree(SAMPLES / "fonts", tmp_path / "fonts")
    status, _, said = run(capsys, "plan", path, "--kept", "--out", tmp_path / "none")
    assert status == 2
    assert "keeps no plan" in said
    prepared = prepare(read_job(path))
    kept = kept_of(plan_job(prepared, PlanRun(rounds=0)))
    first = kept.sheets[0].parts[0]
    kept = take_off(kept, {first.key})
    write_job(set_plan(prepared.job, kept), path)
    out = tmp_path / "out"
    status, printed, _ = run(capsys, "plan", path, "--kept", "--out", out)
    assert status == 1  # a part taken off by hand lies on no sheet
    assert f"NOT PLACED: 1\n  {first.placement.part}, copy 1: " in printed
    sheets = json.loads((out / "plan.json").read_text(encoding="utf-8"))["sheets"]
    for written, wanted in zip(sheets, kept.sheets, strict=True):
        assert [one["part"] for one in written["placements"]] == [one.placement.part for one in wanted.parts]
        for found, one in zip(written["placements"], wanted.parts, strict=True):
            assert (found["x"], found["y"]) == pytest.approx((one.placement.x, one.placement.y), abs=1e-3)
