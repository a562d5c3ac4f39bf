"""All or nothing: what is written, what is replaced, and what is left after every kind of failure."""

from __future__ import annotations

import errno
import json
import os
import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from app.errors import ExportError
from app.output import sheet_files
from app.output import write as writing
from app.output.write import FILES, check_folder, write_plan
from tests.app.output.plans import ALUMINIUM, QUARTER, SHEET_48_96, block, many_plan, part, put, sheet, sign_plan

WHEN = datetime(2026, 3, 5, 14, 5)


def listing(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_everything_of_the_contract_is_written(tmp_path):
    written = write_plan(sign_plan(), tmp_path / "out", when=WHEN)
    assert written.folder == tmp_path / "out"
    names = {str(path.relative_to(written.folder)) for path in written.files}
    made = {
        "sheets/01-al-3003-0-063.dxf",
        "sheets/02-acrylic-4-5.dxf",
        "drawings/01-al-3003-0-063.svg",
        "drawings/02-acrylic-4-5.svg",
    }
    assert names == {*FILES, *made}
    assert set(listing(written.folder)) == names
    assert all(path.stat().st_size > 0 for path in written.files)
    assert os.listdir(tmp_path) == ["out"]
    content = json.loads((written.folder / "plan.json").read_text(encoding="utf-8"))
    assert all((written.folder / sheet["file"]).is_file() for sheet in content["sheets"])


def test_a_folder_that_is_not_there_yet_is_made_with_its_parents(tmp_path):
    write_plan(many_plan(2), tmp_path / "a" / "b" / "out", when=WHEN)
    assert (tmp_path / "a" / "b" / "out" / "plan.json").is_file()


def test_an_empty_folder_and_an_earlier_plan_are_replaced(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    write_plan(sign_plan(), out, when=WHEN)
    assert (out / "sheets" / "02-acrylic-4-5.dxf").exists()
    write_plan(many_plan(3), out, when=WHEN)
    assert [path.name for path in (out / "sheets").iterdir()] == ["01-al-3003-0-063.dxf"]
    assert os.listdir(tmp_path) == ["out"]


@pytest.mark.parametrize(
    ("prepare", "words"),
    [
        (lambda out: (out.mkdir(), (out / "notes.txt").write_text("mine")), "holds no earlier plan"),
        (lambda out: (out.mkdir(), (out / "plan.json").write_text('{"version": 2, "sheets": []}')), "no earlier plan"),
        (lambda out: (out.mkdir(), (out / "plan.json").write_text("{")), "no earlier plan"),
        (lambda out: (out.mkdir(), (out / "plan.json").write_bytes(b"\xff\xfe\x00")), "no earlier plan"),
        (lambda out: out.write_text("a file"), "is not a folder"),
    ],
    ids=["other files", "later version", "cut short", "not text", "a file"],
)
def test_what_is_not_ours_is_never_replaced(tmp_path, prepare, words):
    out = tmp_path / "out"
    prepare(out)
    before = listing(tmp_path)
    with pytest.raises(ExportError, match=words):
        write_plan(many_plan(2), out, when=WHEN)
    assert listing(tmp_path) == before
    assert os.listdir(tmp_path) == ["out"]


@pytest.mark.parametrize("name", ["notes.txt", "sheets/01-mine.nc", "photos/one.jpg", "sheets/deep/one.dxf"])
def test_a_file_put_beside_an_earlier_plan_is_not_lost(tmp_path, name):
    out = tmp_path / "out"
    write_plan(many_plan(2), out, when=WHEN)
    mine = out / name
    mine.parent.mkdir(exist_ok=True)
    mine.write_text("mine", encoding="utf-8")
    with pytest.raises(ExportError, match="beside an earlier plan"):
        check_folder(out)
    with pytest.raises(ExportError, match="beside an earlier plan"):
        write_plan(many_plan(2), out, when=WHEN)
    assert mine.read_text(encoding="utf-8") == "mine"


def test_a_file_put_in_while_writing_is_not_lost(tmp_path):
    out = tmp_path / "out"
    write_plan(many_plan(2), out, when=WHEN)

    def interfere(fraction, stage):
        if stage == "labels":
            (out / "notes.txt").write_text("mine", encoding="utf-8")

    with pytest.raises(ExportError, match=r"notes\.txt"):
        write_plan(many_plan(3), out, when=WHEN, on_progress=interfere)
    assert (out / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert os.listdir(tmp_path) == ["out"]


def test_the_folder_the_program_runs_in_is_not_pulled_away(tmp_path, monkeypatch):
    inner = tmp_path / "out" / "inner"
    inner.mkdir(parents=True)
    monkeypatch.chdir(inner)
    for folder in (".", "..", tmp_path / "out"):
        with pytest.raises(ExportError, match="runs in"):
            check_folder(folder)


def test_a_link_to_a_folder_is_written_through(tmp_path):
    (tmp_path / "true").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "true", target_is_directory=True)
    written = write_plan(many_plan(1), tmp_path / "link", when=WHEN)
    assert (tmp_path / "true" / "plan.json").is_file()
    assert (tmp_path / "link").is_symlink()
    assert written.folder == (tmp_path / "true").resolve()


OF_SHEETS = ["write_dxf", "check_cut_file", "write_svg", "check_svg", "write_labels"]
STEPS = [*OF_SHEETS, "write_plan_json", "write_report", "write_csv", "write_xlsx"]


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("is_there", [False, True], ids=["new", "over an earlier plan"])
def test_a_full_disk_at_any_step_leaves_everything_as_it_was(tmp_path, monkeypatch, step, is_there):
    out = tmp_path / "deep" / "out"
    if is_there:
        write_plan(many_plan(2), out, when=WHEN)
    before = listing(tmp_path)

    def full(*args, **options):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(sheet_files if step in OF_SHEETS else writing, step, full)
    with pytest.raises(ExportError, match="the disk is full"):
        write_plan(sign_plan(), out, when=WHEN)
    assert listing(tmp_path) == before
    assert os.listdir(tmp_path) == (["deep"] if is_there else [])


@pytest.mark.parametrize("which", [1, 2])
def test_a_folder_that_cannot_be_moved_leaves_the_earlier_plan(tmp_path, monkeypatch, which):
    out = tmp_path / "out"
    write_plan(many_plan(2), out, when=WHEN)
    before = listing(tmp_path)
    calls = []
    rename = Path.rename

    def failing(self, target):
        calls.append(target)
        if len(calls) == which:
            raise PermissionError(errno.EACCES, "denied")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(ExportError, match="no permission"):
        write_plan(sign_plan(), out, when=WHEN)
    assert listing(tmp_path) == before
    assert os.listdir(tmp_path) == ["out"]


def test_a_wrong_cut_file_is_never_left_behind(tmp_path, monkeypatch):
    """The second sheet is written with the first one's parts: the re-reading must stop it."""
    right = sheet_files.write_dxf
    plan = sign_plan()
    seen = []

    def wrong(cut, job, path, *, sheet_count):
        seen.append(cut)
        right(seen[0], job, path, sheet_count=sheet_count)

    monkeypatch.setattr(sheet_files, "write_dxf", wrong)
    with pytest.raises(ExportError, match=r"02-acrylic-4-5\.dxf"):
        write_plan(plan, tmp_path / "out", when=WHEN)
    assert os.listdir(tmp_path) == []


def test_stopping_from_the_progress_report_leaves_nothing(tmp_path):
    class Stop(Exception):
        pass

    def stop(fraction, stage):
        if stage == "report":
            raise Stop

    with pytest.raises(Stop):
        write_plan(sign_plan(), tmp_path / "new" / "out", when=WHEN, on_progress=stop)
    assert os.listdir(tmp_path) == []


def test_progress_runs_from_start_to_end_in_words(tmp_path):
    told = []
    write_plan(sign_plan(), tmp_path / "out", when=WHEN, on_progress=lambda *at: told.append(at))
    fractions = [fraction for fraction, _ in told]
    assert fractions == sorted(fractions)
    assert 0.0 <= fractions[0] < 0.1
    assert fractions[-1] == 1.0
    assert [stage for _, stage in told][:2] == ["plan for other programs", "cut file 1 of 2"]


def test_a_plan_without_sheets_is_written_too(tmp_path):
    written = write_plan(replace(sign_plan(), sheets=(), summaries=()), tmp_path / "out", when=WHEN)
    assert {path.name for path in written.files} == set(FILES)
    write_plan(sign_plan(), tmp_path / "out", when=WHEN)


def test_a_gouge_is_never_written(tmp_path, monkeypatch):
    """Two parts nearer to each other than the cutter is wide: spacing lets them pass when it is set too small."""
    placed = [put(part("a-1", block(100.0, 100.0)), 100.0, 100.0), put(part("b-1", block(100.0, 100.0)), 205.0, 100.0)]
    tight = replace(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, placed), spacing=4.0)
    with pytest.raises(ExportError, match=r"the cutter would reach 1\.350 mm into [ab]-1 copy 1"):
        write_plan(replace(sign_plan(), sheets=(tight,)), tmp_path / "out", when=WHEN)
    assert os.listdir(tmp_path) == []


def test_helpers_write_the_same_bytes(tmp_path, monkeypatch):
    plan = many_plan(12, size=700.0)
    assert len(plan.sheets) == 2
    write_plan(plan, tmp_path / "alone", when=WHEN)
    monkeypatch.setattr(sheet_files, "LARGE", 1)
    monkeypatch.setattr(sheet_files, "_cores", lambda: 2)
    write_plan(plan, tmp_path / "helped", when=WHEN)
    alone, helped = listing(tmp_path / "alone"), listing(tmp_path / "helped")
    assert list(alone) == list(helped)
    for name in alone:
        if name.endswith((".svg", ".json", ".csv")):
            assert alone[name] == helped[name]
        if name.endswith(".dxf"):  # all but the file's own date and identifier
            entities = [content[name].split(b"ENTITIES")[-1].split(b"ENDSEC")[0] for content in (alone, helped)]
            assert entities[0] == entities[1]


def test_sixty_parts_are_exported_in_under_two_seconds(tmp_path):
    plan = many_plan(60)
    write_plan(many_plan(1), tmp_path / "warm", when=WHEN)  # imports and font parsing
    began = time.process_time()
    write_plan(plan, tmp_path / "out", when=WHEN)
    assert time.process_time() - began < 8.0


def test_the_same_plan_gives_the_same_json_and_lists(tmp_path):
    first = listing(write_plan(sign_plan(), tmp_path / "a", when=WHEN).folder)
    second = listing(write_plan(sign_plan(), tmp_path / "b", when=WHEN).folder)
    for name in ("plan.json", "parts.csv", "offcuts.csv", "buy_list.csv"):
        assert first[name] == second[name]


def test_a_folder_that_cannot_be_made_is_found_before_planning(tmp_path):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    with pytest.raises(ExportError, match="cannot be used"):
        check_folder(tmp_path / "file" / "below")
    with pytest.raises(ExportError, match="name of the folder to write is empty"):
        check_folder("")
    check_folder(tmp_path / "new" / "below")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
