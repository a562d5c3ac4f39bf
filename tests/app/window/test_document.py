"""The document: every edit can be taken back, gestures are one step, saving is told apart from editing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import JobError
from app.job.document import DisplayUnits, Scale, ScaleBy
from app.job.edits import set_margin, set_scale, set_seconds, set_seed, set_units
from app.job.new import new_job
from app.window.document import Document
from app.window.job_files import job_from_artwork, moved_to, sample_jobs
from app.window.settings import WindowSettings

EDITS = {
    "seconds": lambda value: lambda job: set_seconds(job, float(value)),
    "seed": lambda value: lambda job: set_seed(job, value),
    "margin": lambda value: lambda job: set_margin(job, job.materials[0].id, float(value)),
    "units": lambda value: lambda job: set_units(job, list(DisplayUnits)[value % 2]),
}


@pytest.fixture
def document(qapp) -> Document:
    made = Document()
    made.open(new_job("a"), None)
    yield made
    made.undo_stack.blockSignals(True)


@given(st.lists(st.tuples(st.sampled_from(sorted(EDITS)), st.integers(0, 50)), max_size=12))
def test_every_edit_undone_gives_the_job_before_and_redone_the_job_after(steps):
    document = Document()
    document.open(new_job("a"), None)
    seen = [document.job]
    for name, value in steps:
        document.edit(name, EDITS[name](value))
        if document.job != seen[-1]:
            seen.append(document.job)
    assert document.undo_stack.count() == len(seen) - 1
    for job in reversed(seen[:-1]):
        document.undo_stack.undo()
        assert document.job == job
    for job in seen[1:]:
        document.undo_stack.redo()
        assert document.job == job


def test_edits_of_one_gesture_are_one_step_and_of_two_gestures_two(document):
    for value in (1, 2, 3):
        document.edit("seed", EDITS["seed"](value), merge="drag-1")
    for value in (4, 5):
        document.edit("seed", EDITS["seed"](value), merge="drag-2")
    assert document.undo_stack.count() == 2
    document.undo_stack.undo()
    assert document.job.seed == 3


def test_refused_edit_changes_nothing(document):
    before = document.job
    with pytest.raises(JobError):
        document.edit("margin", EDITS["margin"](-1))
    assert document.job is before
    assert document.undo_stack.count() == 0


def test_edit_that_changes_nothing_is_no_step(document):
    document.edit("seed", EDITS["seed"](document.job.seed))
    assert document.undo_stack.count() == 0


def test_saved_state_follows_undo_back_and_forth(document, tmp_path):
    assert not document.is_saved
    document.saved(str(tmp_path / "a.json"), document.job)
    assert document.is_saved
    document.edit("seed", EDITS["seed"](9))
    assert not document.is_saved
    document.undo_stack.undo()
    assert document.is_saved


def test_undo_after_save_as_keeps_the_new_folder(document, tmp_path):
    document.edit("seed", EDITS["seed"](9))
    document.saved(str(tmp_path / "a.json"), replace(document.job, folder=str(tmp_path)))
    document.undo_stack.undo()
    assert document.job.seed == 0
    assert document.job.folder == str(tmp_path)


def test_change_tells_before_after_and_who(document):
    told = []
    document.changed.connect(lambda *change: told.append(change))
    me = object()
    before = document.job
    document.edit("seed", EDITS["seed"](9), initiator=me)
    document.undo_stack.undo()
    assert told[0] == (before, told[0][1], me)
    assert told[1][1:] == (before, None)


# Files


def test_job_begun_with_artwork_has_a_build_and_stock(tmp_path):
    path = tmp_path / "Front sign.dxf"
    path.write_text("")
    job = job_from_artwork(str(path))
    assert (job.artwork[0].file, job.folder) == ("Front sign.dxf", str(tmp_path))
    assert job.artwork[0].build == job.builds[0].id
    assert job.stock


def test_job_moved_to_another_folder_still_finds_its_files(tmp_path):
    job = job_from_artwork(str(tmp_path / "in" / "sign.svg"))
    job = set_scale(job, job.artwork[0].id, Scale(ScaleBy.OVERALL_HEIGHT, 100.0))
    moved = moved_to(job, str(tmp_path / "out" / "deep"))
    assert moved.artwork[0].file == "../../in/sign.svg"
    assert moved_to(moved, str(tmp_path / "in")) == job


def test_sample_jobs_are_found_by_what_is_in_them(tmp_path):
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "a.json").write_text('{"letterbed_job": 1, "name": "Invented sign"}')
    (tmp_path / "other.json").write_text('{"name": "no job"}')
    (tmp_path / "broken.json").write_text("{")
    assert sample_jobs(tmp_path) == [("Invented sign", str(tmp_path / "one" / "a.json"))]
    assert sample_jobs(tmp_path / "absent") == []


def test_recent_jobs_are_newest_first_without_repeats_or_lost_files(settings: WindowSettings, tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / name).write_text("")
        settings.remember_job(str(tmp_path / name))
    settings.remember_job(str(tmp_path / "a"))
    (tmp_path / "b").unlink()
    assert settings.recent_jobs == [str(tmp_path / "a"), str(tmp_path / "c")]
