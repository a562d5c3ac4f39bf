"""The Artwork place: size by two clicks, the unit question, builds of letters, readings, several files, findings."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication

from app.job import edits
from app.job.document import Align, ScaleBy
from app.window.build_dialog import BuildDialog
from app.window.letters_list import BUILD
from app.window.services import Services
from app.window.words_dialog import WordsDialog
from tests.app.window.stand_ins import Desk
from tests.app.window.test_begin import FONT, drop, fill, when_asked

TWO_BOXES = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
<path id="left" d="M0 0 H80 V100 H0 Z"/><path id="right" d="M120 0 H200 V100 H120 Z"/></svg>"""
NO_UNIT_DXF = "0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"


@pytest.fixture
def reading_desk(make_desk) -> Desk:
    return make_desk(prepare=Services().prepare)


@pytest.fixture
def boxes(reading_desk: Desk, qtbot, tmp_path: Path) -> Desk:
    path = tmp_path / "boxes.svg"
    path.write_text(TWO_BOXES)
    drop(reading_desk, path)
    read(reading_desk, qtbot)
    return reading_desk


def read(desk: Desk, qtbot):
    qtbot.waitUntil(lambda: not desk.session.preparation.is_busy, timeout=60_000)
    return desk.session.preparation.prepared


def box_dxf(width: float, height: float) -> str:
    corners = "".join(f"10\n{x}\n20\n{y}\n" for x, y in ((0, 0), (width, 0), (width, height), (0, height)))
    return NO_UNIT_DXF.format(entities=f"0\nLWPOLYLINE\n8\nCUT\n90\n4\n70\n1\n{corners}")


def at(desk: Desk, x: float, y: float, *, off: tuple[int, int] = (0, 0)):
    """A place of the first artwork, mm, as a pixel of its drawing."""
    view = desk.window.artwork.view
    artwork = desk.session.document.job.artwork[0].id
    spot = view._from_scene(view.picture.frames[artwork].map(QPointF(x, y))).toPoint()
    spot.setX(spot.x() + off[0])
    spot.setY(spot.y() + off[1])
    return spot


# Size by two points


def test_two_clicks_near_corners_and_a_true_length_set_the_size(boxes: Desk, qtbot):
    place = boxes.window.artwork
    viewport = place.view.viewport()
    place.size_fields.measure.click()
    assert place.dimension.isVisible()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at(boxes, 0, 0, off=(4, -3)))  # snaps to the corner
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at(boxes, 80, 0, off=(-3, 4)))
    assert place.dimension.length.isVisible()
    assert "80 mm" in place.dimension.told.text()
    qtbot.keyClicks(place.dimension.length, "20 in")
    qtbot.keyClick(place.dimension.length, Qt.Key.Key_Return)
    scale = boxes.session.document.job.artwork[0].scale
    assert (scale.by, scale.length) == (ScaleBy.KNOWN_DIMENSION, pytest.approx(508.0))
    assert math.dist(scale.start, scale.end) == pytest.approx(80.0)  # the file's own numbers: mm
    lettering = read(boxes, qtbot).lettering[0]
    assert lettering.width == pytest.approx(200.0 * 508.0 / 80.0)
    assert place.view.hand is None
    boxes.session.document.undo_stack.undo()
    assert read(boxes, qtbot).lettering[0].width == pytest.approx(200.0)


def test_two_points_are_picked_with_keys_and_given_up_with_escape(boxes: Desk, qtbot):
    place = boxes.window.artwork
    boxes.window.actions_by_id["two_points"].trigger()
    view = place.view
    for key in (Qt.Key.Key_Period, Qt.Key.Key_Return, Qt.Key.Key_Period, Qt.Key.Key_Return):
        qtbot.keyClick(view, key)
    assert place.dimension.length.isVisible()
    view.setFocus()
    qtbot.keyClick(view, Qt.Key.Key_Escape)
    assert not place.dimension.isVisible()
    assert view.hand is None
    assert not boxes.session.document.undo_stack.canUndo()


def test_two_points_of_words_set_their_capital_height(reading_desk: Desk, qtbot):
    when_asked(lambda dialog: fill(dialog, "H", str(FONT), "10 in"))
    reading_desk.window.taking_in.begin_with_words()
    lettering = read(reading_desk, qtbot).lettering[0]
    place = reading_desk.window.artwork
    place.size_fields.measure.click()
    viewport = place.view.viewport()
    for corner in ((0.0, 0.0), (0.0, lettering.height)):
        qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at(reading_desk, *corner))
    qtbot.keyClicks(place.dimension.length, "500 mm")
    qtbot.keyClick(place.dimension.length, Qt.Key.Key_Return)
    assert reading_desk.session.document.job.artwork[0].scale.by is ScaleBy.CAPITAL_HEIGHT
    assert read(reading_desk, qtbot).lettering[0].height == pytest.approx(500.0, rel=1e-6)


# The unit


def test_file_without_a_unit_is_asked_about_with_the_sizes_it_would_have(reading_desk: Desk, qtbot, tmp_path: Path):
    path = tmp_path / "box.dxf"
    path.write_text(box_dxf(24, 12))
    drop(reading_desk, path)
    read(reading_desk, qtbot)
    place = reading_desk.window.artwork
    question = place.question
    assert question.isVisible()
    assert not reading_desk.window.banner.isVisible()  # it is a question, not a fault
    texts = [one.text() for one in question.buttons()]
    assert texts[0] == 'Inches:  24" (609.6 mm) × 12" (304.8 mm)'
    assert any(text.startswith("Millimetres:") and "24 mm" in text for text in texts)
    question.buttons()[0].click()
    lettering = read(reading_desk, qtbot).lettering[0]
    assert (lettering.width, lettering.height) == (pytest.approx(609.6), pytest.approx(304.8))
    assert not question.isVisible()
    reading_desk.session.document.undo_stack.undo()
    read(reading_desk, qtbot)
    assert question.isVisible()
    qtbot.keyClicks(question.height_field, "6 in")
    qtbot.keyClick(question.height_field, Qt.Key.Key_Return)
    assert read(reading_desk, qtbot).lettering[0].height == pytest.approx(152.4)


def test_units_to_choose_from_tell_the_size_each_gives(boxes: Desk):
    texts = [
        boxes.window.artwork.size_fields.file_units.itemText(i)
        for i in range(boxes.window.artwork.size_fields.file_units.count())
    ]
    assert 'inches: 200" × 100"' in texts
    assert 'centimetres: 78.74" × 39.37"' in texts  # 200 cm, 100 cm


# Builds


def answer_build(act) -> None:
    """Do something with the dialog for a build once it is open."""

    def look() -> None:
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, BuildDialog):
            act(dialog)
            if dialog.isVisible():
                dialog.reject()
        else:
            QTimer.singleShot(10, look)

    QTimer.singleShot(0, look)


def test_letters_chosen_get_a_build_of_their_own(boxes: Desk, qtbot):
    place, document = boxes.window.artwork, boxes.session.document
    viewport = place.view.viewport()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at(boxes, 160, 50))
    assert "1 letter chosen: right" in place.build.for_whom.text()

    def as_flat(dialog: BuildDialog) -> None:
        dialog.kind.setCurrentIndex(dialog.kind.findData("flat-cut"))
        dialog.kind.chosen.emit("flat-cut")
        dialog.name.setText("Flat")
        dialog.add.click()

    answer_build(as_flat)
    place.build.settings.click()
    job = document.job
    assert [build.name for build in job.builds] == ["Face-lit letters", "Flat"]
    assert job.artwork[0].letter_builds == ((f"{job.artwork[0].id}-02", job.builds[1].id),)
    parts = read(boxes, qtbot).parts
    assert {part.role.value for part in parts if part.letter.endswith("-02")} == {"panel"}
    assert {part.role.value for part in parts if part.letter.endswith("-01")} >= {"backer", "face"}
    colours, table = boxes.window.theme.colours, place.letters.table
    assert [table.text(key, BUILD) for key in table.all_keys] == ["Face-lit letters", "Flat"]
    inks = [table.item(row, BUILD).foreground().color().name() for row in range(2)]
    assert inks == [colours.ink.lower(), colours.accent.lower()]
    place.view.select(None)
    shot = viewport.grab().toImage()
    fills = [shot.pixelColor(at(boxes, x, 50) * shot.devicePixelRatio()).name() for x in (40, 160)]
    assert fills == [colours.letter.lower(), colours.accent.lower()]
    assert "made as Flat" in place.view.picture.thing(f"{job.artwork[0].id}-02").tip
    document.undo_stack.undo()
    assert document.job.artwork[0].letter_builds == ()
    read(boxes, qtbot)


def test_several_letters_are_chosen_on_the_drawing_and_in_the_list(boxes: Desk, qtbot):
    place = boxes.window.artwork
    viewport = place.view.viewport()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at(boxes, 40, 50))
    ctrl = Qt.KeyboardModifier.ControlModifier
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, ctrl, at(boxes, 160, 50))
    assert len(place.letters.letters) == 2
    assert "2 letters chosen" in place.build.for_whom.text()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, ctrl, at(boxes, 40, 50))
    assert len(place.letters.letters) == 1
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at(boxes, 100, 50))  # between the boxes
    assert "all letters" in place.build.for_whom.text()


def test_settings_of_a_build_are_changed_in_any_unit_and_nonsense_is_told(boxes: Desk, qtbot):
    said = []

    def change(dialog: BuildDialog) -> None:
        for text in ("wide", "900 in", "38.1 mm"):
            field = dialog.setting_fields["retainer flange"]
            field.setFocus()
            field.selectAll()
            qtbot.keyClicks(field, text)
            dialog.change.click()
            said.append(dialog.trouble.text() if dialog.isVisible() else "taken")

    answer_build(change)
    boxes.window.artwork.build.settings.click()
    assert "wide" in said[0]
    assert "out of range" in said[1]
    assert said[2] == "taken"
    assert dict(boxes.session.document.job.builds[0].settings)["retainer flange"] == pytest.approx(38.1)
    read(boxes, qtbot)


# Words, names, readings


def test_words_are_set_in_lines_with_spacing_and_changed_later(reading_desk: Desk, qtbot):
    def lines(dialog: WordsDialog) -> None:
        dialog.spacing.setValue(40)
        dialog.lines.setValue(1.25)
        dialog.align.setCurrentIndex(1)
        fill(dialog, "OPEN\nLATE", str(FONT), "8 in")

    when_asked(lines)
    reading_desk.window.taking_in.begin_with_words()
    text = reading_desk.session.document.job.artwork[0].text
    assert (text.words, text.tracking, text.line_spacing, text.align) == ("OPEN\nLATE", 40.0, 1.25, Align.CENTRE)
    assert [letter.name for letter in read(reading_desk, qtbot).lettering[0].letters] == list("OPENLATE")

    def other(dialog: WordsDialog) -> None:
        assert dialog.words.toPlainText() == "OPEN\nLATE"
        assert dialog.spacing.value() == 40
        dialog.words.setPlainText("SHUT")
        dialog.accept_button.click()

    when_asked(other)
    reading_desk.window.artwork.change.click()
    artwork = reading_desk.session.document.job.artwork[0]
    assert (artwork.text.words, artwork.text.align, artwork.name) == ("SHUT", Align.CENTRE, "SHUT")
    assert artwork.scale.length == pytest.approx(203.2)
    assert [letter.name for letter in read(reading_desk, qtbot).lettering[0].letters] == list("SHUT")


def test_letters_of_a_file_are_named_by_what_they_say(boxes: Desk, qtbot):
    reading = boxes.window.artwork.reading
    reading.unfold.click()
    qtbot.keyClicks(reading.reads, "I L")
    qtbot.keyClick(reading.reads, Qt.Key.Key_Return)
    assert [letter.name for letter in read(boxes, qtbot).lettering[0].letters] == ["I", "L"]
    assert any(part.name == "L face" for part in boxes.session.preparation.prepared.parts)
    assert "1 choice made" in reading.unfold.text()


def test_layers_of_a_file_are_chosen(reading_desk: Desk, qtbot, tmp_path: Path):
    path = tmp_path / "layers.dxf"
    one, two = box_dxf(24, 12), box_dxf(10, 5).replace("CUT", "NOTES")
    entities = (text.split("ENTITIES\n")[1].split("0\nENDSEC")[0] for text in (one, two))
    path.write_text(NO_UNIT_DXF.format(entities="".join(entities)))
    drop(reading_desk, path)
    read(reading_desk, qtbot)
    reading_desk.window.artwork.question.buttons()[0].click()
    assert len(read(reading_desk, qtbot).lettering[0].letters) == 1  # one in the other: a counter
    reading = reading_desk.window.artwork.reading
    reading.unfold.click()
    names = [reading.layers.item(index).text() for index in range(reading.layers.count())]
    assert {"CUT", "NOTES"} <= set(names)
    reading.layers.item(names.index("NOTES")).setCheckState(Qt.CheckState.Checked)
    assert reading_desk.session.document.job.artwork[0].layers == ("NOTES",)
    assert read(reading_desk, qtbot).lettering[0].width == pytest.approx(254.0)


def test_strokes_overlaps_and_gaps_are_choices_in_plain_sight(boxes: Desk, qtbot):
    reading = boxes.window.artwork.reading
    reading.unfold.click()
    reading.strokes.click()
    reading.overlaps.click()
    qtbot.keyClicks(reading.gap, "1 mm")
    qtbot.keyClick(reading.gap, Qt.Key.Key_Return)
    artwork = boxes.session.document.job.artwork[0]
    assert (artwork.outline_strokes, artwork.join_overlaps, artwork.join_gap) == (True, True, pytest.approx(1.0))
    reading.gap.selectAll()
    qtbot.keyClick(reading.gap, Qt.Key.Key_Delete)
    qtbot.keyClick(reading.gap, Qt.Key.Key_Return)
    assert boxes.session.document.job.artwork[0].join_gap is None
    read(boxes, qtbot)


# Files


def test_several_files_dropped_begin_one_job(reading_desk: Desk, qtbot, tmp_path: Path):
    paths = []
    for name in ("one", "two"):
        paths.append(tmp_path / f"{name}.svg")
        paths[-1].write_text(TWO_BOXES)
    drop(reading_desk, *paths)
    assert [one.file for one in reading_desk.session.document.job.artwork] == ["one.svg", "two.svg"]
    assert len(read(reading_desk, qtbot).lettering) == 2
    three = tmp_path / "three.svg"
    three.write_text(TWO_BOXES)
    drop(reading_desk, three)  # onto a job that is open: added to it
    assert len(reading_desk.session.document.job.artwork) == 3
    assert reading_desk.session.document.undo_stack.undoText() == "add three.svg"
    read(reading_desk, qtbot)


def test_artwork_is_removed_and_a_job_without_any_says_what_to_do(boxes: Desk, qtbot):
    place = boxes.window.artwork
    place.remove.click()
    assert boxes.session.document.job.artwork == ()
    qtbot.waitUntil(lambda: not boxes.session.preparation.is_busy)
    assert "Drop drawings" in place.empty.text()
    assert place.empty.isVisible()
    assert not boxes.window.banner.isVisible()
    assert place.add.isVisible()
    boxes.session.document.undo_stack.undo()
    assert len(read(boxes, qtbot).lettering[0].letters) == 2


# Findings


def test_findings_are_marked_on_the_drawing_and_a_click_on_one_finds_it_in_the_list(open_desk: Desk, qtbot):
    place = open_desk.window.artwork
    marks = place.view.picture.marks
    assert [mark.finding.code for mark in marks] == ["thin"]  # the other has no place
    frame = place.view.picture.frames["sign"]
    assert marks[0].pos() == frame.map(QPointF(500.0, 50.0))
    pixel = place.view._from_scene(marks[0].pos()).toPoint()
    image = place.view.grab().toImage()
    warning = open_desk.window.theme.colours.warning.lower()
    near = {image.pixelColor(pixel.x() + dx, pixel.y() + dy).name() for dx in range(-8, 9) for dy in range(-8, 9)}
    assert warning in near
    qtbot.mouseClick(place.view.viewport(), Qt.MouseButton.LeftButton, pos=pixel)
    assert place.findings.list.currentItem().data(Qt.ItemDataRole.UserRole).code == "thin"


def test_scale_of_a_file_in_pixels_keeps_to_its_own_numbers(boxes: Desk, qtbot):
    """Whatever the size now, the same two points are the same numbers of the file."""
    artwork = boxes.session.document.job.artwork[0].id
    from app.window.dimension_hand import Span
    from app.window.size_fields import scale_of_span

    first = read(boxes, qtbot).lettering[0]
    span = Span(artwork, (0.0, 0.0), (80.0, 0.0))
    found = scale_of_span(boxes.session.document.job.artwork[0], first, span, 400.0)
    boxes.session.document.edit("scale", lambda job: edits.set_scale(job, artwork, found))
    second = read(boxes, qtbot).lettering[0]
    again = scale_of_span(boxes.session.document.job.artwork[0], second, Span(artwork, (0.0, 0.0), (400.0, 0.0)), 400.0)
    assert again.start == pytest.approx(found.start)
    assert again.end == pytest.approx(found.end)


def test_files_held_over_the_drawing_are_taken_by_the_window(boxes: Desk, qtbot, tmp_path: Path):
    """Not only over the window's bare edge: the drawing lets them through, and the window says what dropping does."""
    path = tmp_path / "more.svg"
    path.write_text(TWO_BOXES)
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    viewport = boxes.window.artwork.view.viewport()
    no, left = Qt.KeyboardModifier.NoModifier, Qt.MouseButton.LeftButton
    QApplication.sendEvent(viewport, QDragEnterEvent(QPoint(50, 50), Qt.DropAction.CopyAction, mime, left, no))
    assert boxes.window.veil.isVisible()
    assert "add artwork to this job" in boxes.window.veil.text
    QApplication.sendEvent(boxes.window, QDropEvent(QPointF(50, 50), Qt.DropAction.CopyAction, mime, left, no))
    assert not boxes.window.veil.isVisible()
    assert len(boxes.session.document.job.artwork) == 2
    read(boxes, qtbot)
