"""Beginning a job and adding to one: drawings of every kind, and words in a font."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication, QFileDialog

from app.job.document import Scale, ScaleBy
from app.window.artwork_files import FileKind, kind_of_file
from app.window.job_files import SAMPLE_FOLDER
from app.window.services import Services
from app.window.walk import Mark
from app.window.words_dialog import WordsDialog
from tests.app.window.stand_ins import Desk

FONT = SAMPLE_FOLDER / "fonts" / "DejaVuSans-Bold.ttf"


@pytest.fixture
def reading_desk(make_desk) -> Desk:
    """A window that really reads artwork and derives parts."""
    return make_desk(prepare=Services().prepare)


@pytest.fixture
def pdf(tmp_path: Path) -> Path:
    """A square of 2 in and a bar, written by reportlab, which counts in points of 1/72 in."""
    from reportlab.pdfgen.canvas import Canvas

    path = tmp_path / "two boxes.pdf"
    canvas = Canvas(str(path), pagesize=(400, 300))
    canvas.rect(20, 20, 144, 144, stroke=0, fill=1)
    canvas.rect(200, 20, 36, 144, stroke=0, fill=1)
    canvas.save()
    return path


def drop(desk: Desk, *paths: Path | str) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(50, 50), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    desk.window.dropEvent(event)


def when_asked(act) -> list[WordsDialog]:
    """Do something with the dialog for words once it is open; the dialogs met."""
    met: list[WordsDialog] = []

    def look() -> None:
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, WordsDialog):
            met.append(dialog)
            act(dialog)
        else:
            QTimer.singleShot(10, look)

    QTimer.singleShot(0, look)
    return met


def fill(dialog: WordsDialog, words: str, font: str, capital: str) -> None:
    dialog.words.setPlainText(words)
    dialog.font_file.setText(font)
    dialog.capital.setText(capital)
    dialog.accept_button.click()


def read(desk: Desk, qtbot):
    qtbot.waitUntil(lambda: not desk.session.preparation.is_busy, timeout=60_000)
    assert desk.session.preparation.error is None
    return desk.session.preparation.prepared


@pytest.mark.parametrize("suffix", [".pdf", ".ai", ".art"])
def test_pdf_dropped_begins_a_job_whatever_it_is_called(reading_desk: Desk, qtbot, pdf: Path, suffix: str):
    drop(reading_desk, pdf.rename(pdf.with_suffix(suffix)))
    assert reading_desk.session.document.job.artwork[0].file == f"two boxes{suffix}"
    lettering = read(reading_desk, qtbot).lettering[0]
    assert len(lettering.letters) == 2
    assert lettering.height == pytest.approx(50.8, abs=1e-3)  # 144 pt = 2 in
    assert not reading_desk.window.banner.isVisible()


def test_font_dropped_asks_for_words_and_begins_a_job_with_them(reading_desk: Desk, qtbot, tmp_path: Path):
    font = tmp_path / "bold.ttf"
    shutil.copy(FONT, font)
    met = when_asked(lambda dialog: fill(dialog, "OPEN", dialog.font_file.text(), "18 in"))
    drop(reading_desk, font)
    assert len(met) == 1
    job = reading_desk.session.document.job
    assert job.name == "OPEN"
    assert (job.artwork[0].text.words, job.artwork[0].text.font) == ("OPEN", "bold.ttf")
    assert job.folder == str(tmp_path)
    assert job.artwork[0].scale == Scale(ScaleBy.CAPITAL_HEIGHT, pytest.approx(18 * 25.4))
    lettering = read(reading_desk, qtbot).lettering[0]
    assert [letter.name for letter in lettering.letters] == list("OPEN")
    assert lettering.capital_height == pytest.approx(18 * 25.4)


def test_dialog_says_what_is_missing_and_stays_until_it_is_right(desk: Desk, qtbot, tmp_path: Path):
    drawing = tmp_path / "drawing.svg"
    drawing.write_text("<svg/>")
    said = []

    def answer(dialog: WordsDialog) -> None:
        for words, font, capital in (
            ("  ", str(FONT), "12"),
            ("OPEN", "", "12"),
            ("OPEN", str(tmp_path / "gone.ttf"), "12"),
            ("OPEN", str(drawing), "12"),
            ("OPEN", str(FONT), "tall"),
            ("OPEN", str(FONT), "0"),
        ):
            fill(dialog, words, font, capital)
            said.append(dialog.trouble.text() if dialog.isVisible() else "closed")
            assert dialog.words.geometry().bottom() < dialog.font_file.geometry().top()  # nothing is squeezed
        dialog.reject()

    when_asked(answer)
    desk.window.actions_by_id["new_words"].trigger()
    hints = ("no words", "No font file", "gone.ttf cannot be opened", "drawing.svg is no font", "tall", "more than 0")
    assert [hint in text for hint, text in zip(hints, said, strict=True)] == [True] * len(hints), said
    assert desk.session.document.job is None


def test_artwork_is_added_to_the_job_in_hand_and_undone(open_desk: Desk, qtbot, pdf: Path, monkeypatch):
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(pdf)], ""))
    open_desk.window.artwork.add.click()
    job = open_desk.session.document.job
    assert [one.file for one in job.artwork] == ["sign.svg", "two boxes.pdf"]
    assert job.artwork[1].build == job.builds[0].id
    assert open_desk.window.artwork.size_fields.artwork.currentText() == "two boxes"
    assert open_desk.session.document.undo_stack.undoText() == "add two boxes.pdf"
    open_desk.session.document.undo_stack.undo()
    assert len(open_desk.session.document.job.artwork) == 1
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_words_are_added_twice_under_different_ids(open_desk: Desk, qtbot):
    for _ in range(2):
        when_asked(lambda dialog: fill(dialog, "ICE", str(FONT), "300 mm"))
        open_desk.window.artwork.add_words.click()
    artwork = open_desk.session.document.job.artwork
    assert [one.text.words for one in artwork[1:]] == ["ICE", "ICE"]
    assert len({one.id for one in artwork}) == 3
    assert artwork[1].text.font == str(FONT)  # outside the job's folder: told in full
    assert artwork[1].scale.length == pytest.approx(300.0)
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


@pytest.mark.parametrize(
    ("name", "head", "hint"),
    [("photo.svg", b"\x89PNG\r\n\x1a\n" + bytes(60), "a PNG picture"), ("notes.txt", b"hello there", "no drawing")],
)
def test_file_that_cannot_be_used_is_told_by_name_and_the_job_stays(open_desk: Desk, tmp_path: Path, name, head, hint):
    path = tmp_path / name
    path.write_bytes(head)
    before = open_desk.session.document.job
    window = open_desk.window
    for take in (
        window.open_path,
        lambda path: window.taking_in.add_artwork([path]),
        lambda path: drop(open_desk, path),
    ):
        window.banner.clear()
        take(str(path))
        assert hint in open_desk.window.banner.message.text()
    assert open_desk.session.document.job is before


def test_job_file_is_not_added_as_artwork(open_desk: Desk, tmp_path: Path):
    path = tmp_path / "other.json"
    path.write_text("{}")
    open_desk.window.taking_in.add_artwork([str(path)])
    assert "is a job, not artwork" in open_desk.window.banner.message.text()
    assert len(open_desk.session.document.job.artwork) == 1


def test_kinds_of_the_shipped_samples_are_told_by_their_contents():
    kinds = {
        path.name: kind_of_file(str(path))
        for path in SAMPLE_FOLDER.rglob("*")
        if path.suffix in (".svg", ".dxf", ".ttf", ".otf", ".json")
    }
    wanted = {".svg": FileKind.ARTWORK, ".dxf": FileKind.ARTWORK, ".json": FileKind.JOB}
    assert kinds
    assert kinds == {name: wanted.get(Path(name).suffix, FileKind.FONT) for name in kinds}


def test_findings_say_reading_while_artwork_is_read(make_desk, qtbot, small_job):
    desk = make_desk()
    desk.gate.clear()
    desk.session.document.open(small_job, None)
    desk.window.go(0)
    for place in (desk.window.artwork, desk.window.parts):
        assert place.findings.nothing.text() == "Reading…"
        assert not place.findings.nothing.isHidden()
    assert desk.window.artwork.standing().mark is Mark.BUSY
    desk.gate.set()
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    for place in (desk.window.artwork, desk.window.parts):
        assert place.findings.nothing.isHidden()
        assert place.findings.list.count() > 0
