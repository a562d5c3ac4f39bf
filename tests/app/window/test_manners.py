"""Manners: names, focus, contrast, keys told truly, choices that last, printing, recent jobs, and nothing leaked."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt
from PySide6.QtGui import QColor, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QWidget,
)
from shiboken6 import isValid

from app.fabrication.part import Role
from app.job.document import DisplayUnits
from app.job.edits import set_material_cutter, set_seconds
from app.window.actions import ACTIONS, VIEW_KEYS, shortcut_rows
from app.window.build_dialog import BuildDialog
from app.window.fields import CheckBox
from app.window.job_files import job_from_artwork
from app.window.printing import paper_for, print_drawing
from app.window.settings import WindowSettings
from app.window.shortcuts_dialog import ShortcutsDialog
from app.window.theme import DARK, LIGHT, Colours, Theme, ThemeChoice
from app.window.usual import with_usual
from app.window.words_dialog import WordsDialog
from tests.app.window.stand_ins import Desk, FakePlanner, made

# Names and keys


def controls(root: QWidget) -> list[QWidget]:
    """Everything a person can act on, but what Qt puts inside its own widgets."""
    return [
        one
        for one in root.findChildren(QWidget)
        if one.focusPolicy() & Qt.FocusPolicy.TabFocus
        and not one.objectName().startswith("qt_")
        and not isinstance(one.parent(), QAbstractSpinBox | QComboBox)
        and not isinstance(one.parentWidget(), QAbstractItemView)
        and type(one) is not QWidget
        and one.window().windowType() != Qt.WindowType.Popup
    ]


def name_of(widget: QWidget) -> str:
    from PySide6.QtGui import QAccessible

    return QAccessible.queryAccessibleInterface(widget).text(QAccessible.Text.Name)


def test_every_control_of_the_window_and_its_dialogs_has_a_name(open_desk: Desk):
    job = open_desk.session.document.job
    roots = [
        open_desk.window,
        WordsDialog("Words", job.units, parent=open_desk.window),
        BuildDialog(job, job.builds[0], 2, "all letters", open_desk.window),
        ShortcutsDialog(open_desk.window),
    ]
    nameless = {
        f"{type(root).__name__}: {type(one).__name__} {one.toolTip()!r} in {type(one.parentWidget()).__name__}"
        for root in roots
        for one in controls(root)
        if not name_of(one)
    }
    assert not nameless


def test_every_length_field_says_how_lengths_are_written(open_desk: Desk):
    from app.window.fields import LengthField

    fields = open_desk.window.findChildren(LengthField)
    assert len(fields) > 4
    assert all("610 mm" in field.toolTip() and '24"' in field.toolTip() for field in fields)


def test_page_of_shortcuts_names_every_key_there_is(desk: Desk):
    told = {key.strip() for _menu, _what, keys in shortcut_rows() for key in keys.split(" or ")}
    made = {key.toString() for action in desk.window.actions_by_id.by_id.values() for key in action.shortcuts()}
    assert {QKeySequence(key).toString() for spec in ACTIONS for key in spec.shortcuts} == made
    assert {key for spec in ACTIONS for key in spec.shortcuts} <= told
    assert {keys for _what, keys in VIEW_KEYS} <= {keys for _menu, _what, keys in shortcut_rows()}
    # In one menu no letter is asked for twice.
    for menu in {spec.menu for spec in ACTIONS}:
        letters = [
            spec.text[spec.text.index("&") + 1].lower() for spec in ACTIONS if spec.menu == menu and "&" in spec.text
        ]
        assert len(letters) == len(set(letters)), f"{menu}: {sorted(letters)}"


def is_in_group(widget: QWidget) -> bool:
    """Of buttons of which one is down Tab reaches that one, and the arrow keys go to the others."""
    return isinstance(widget, QAbstractButton) and widget.group() is not None and not widget.isChecked()


@pytest.mark.parametrize("index", [0, 1])
def test_all_controls_of_a_place_are_reached_with_tab(open_desk: Desk, qtbot, index):
    """Tab goes through every control that can be acted on and comes round again."""
    window = open_desk.window
    window.go(index)
    place = window.places[index]
    wanted = {one for one in controls(place) if one.isVisible() and one.isEnabled() and not is_in_group(one)}
    place.view.setFocus()
    met = set()
    for _ in range(len(controls(window)) + 5):
        window.focusNextPrevChild(True)
        met.add(window.focusWidget())
    missed = {f"{type(one).__name__} {name_of(one)}" for one in wanted - met}
    assert not missed


def test_focus_is_seen_on_every_sort_of_control(open_desk: Desk, qtbot):
    """With the focus a control looks different at its edge."""
    window = open_desk.window
    window.activateWindow()
    place = window.artwork
    for widget in (
        place.size_fields.length,
        place.size_fields.scale_by,
        place.next,
        place.add,
        place.strip.fit,
        place.letters.table,
        place.view,
    ):
        window.artwork.size_fields.sets.setFocus()
        before = widget.grab().toImage()
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        qtbot.wait(10)
        after = widget.grab().toImage()
        assert before != after, name_of(widget)


# Contrast


def luminance(colour: str) -> float:
    """Relative luminance: WCAG 2.2, "relative luminance", https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    rgb = (QColor(colour).redF(), QColor(colour).greenF(), QColor(colour).blueF())
    r, g, b = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in rgb)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio: WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_gives_the_published_extremes():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)  # just short of 4.5, as the W3C's notes say


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_text_stands_out_from_what_is_behind_it(colours: Colours):
    """4.5 to 1 for text (WCAG 2.2, 1.4.3 AA)."""
    grounds = ("window", "panel", "field", "bench")
    pairs = [(ink, ground) for ink in ("ink", "muted") for ground in grounds]
    pairs += [(ink, ground) for ink in ("error", "warning", "good", "note") for ground in ("panel", "window", "field")]
    pairs += [("on_accent", "accent"), ("ink", "accent_wash"), ("accent", "accent_wash"), ("ink", "sheet")]
    low = {
        pair: round(found, 2)
        for pair in pairs
        if (found := contrast(getattr(colours, pair[0]), getattr(colours, pair[1]))) < 4.5
    }
    assert not low


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_what_is_drawn_stands_out_from_the_board(colours: Colours):
    """3 to 1 for graphics and for the focus (WCAG 2.2, 1.4.11 AA): a part by its edge or its fill."""
    assert contrast(colours.letter, colours.bench) >= 3.0
    for ground in ("panel", "window", "field", "bench"):
        assert contrast(colours.accent, getattr(colours, ground)) >= 3.0
    for role in Role:
        fill, edge = colours.role_fill(role).name(), colours.role_edge(role).name()
        assert max(contrast(one, colours.bench) for one in (fill, edge)) >= 3.0, role


@pytest.mark.parametrize("choice", [ThemeChoice.LIGHT, ThemeChoice.DARK])
@pytest.mark.parametrize("is_on", [False, True])
def test_box_to_tick_stands_out_from_the_panel(desk: Desk, qtbot, choice: ThemeChoice, is_on: bool):
    """3 to 1 (WCAG 2.2, 1.4.11 AA); the tick again from its box."""
    desk.window.theme.choose(choice)
    ground = QWidget()
    ground.setObjectName("panel")
    ground.setStyleSheet(f"QWidget#panel {{ background: {desk.window.theme.colours.panel}; }}")
    box = CheckBox("grain", ground)
    box.setChecked(is_on)
    qtbot.addWidget(ground)
    ground.resize(200, 40)
    ground.show()
    shot = ground.grab().toImage()
    middle = round(box.height() / 2 * shot.devicePixelRatio())
    row = [shot.pixelColor(x, middle).name() for x in range(round(18 * shot.devicePixelRatio()))]
    best = max(row, key=lambda colour: contrast(colour, desk.window.theme.colours.panel))
    assert contrast(best, desk.window.theme.colours.panel) >= 3.0
    inside = [shot.pixelColor(x, y).name() for x in range(4, 14) for y in range(middle - 5, middle + 6)]
    fill = desk.window.theme.colours.accent if is_on else desk.window.theme.colours.field
    assert fill.lower() in inside
    assert (max(contrast(colour, fill) for colour in inside) >= 3.0) == is_on


# What lasts


def test_units_cutter_and_time_chosen_once_are_those_of_the_next_job(open_desk: Desk, tmp_path: Path, qtbot):
    document, settings = open_desk.session.document, open_desk.settings
    artwork = tmp_path / "next.svg"
    artwork.write_text("<svg/>")
    before = with_usual(job_from_artwork(str(artwork)), settings)
    assert before.units is DisplayUnits.INCHES
    open_desk.window.artwork.strip.millimetres.click()
    material = document.job.materials[0].id
    document.edit("cutter", lambda job: set_material_cutter(job, material, "1/8"))
    document.edit("time", lambda job: set_seconds(job, 42.0))
    again = WindowSettings(settings._store)  # as in the next run
    job = with_usual(job_from_artwork(str(artwork)), again)
    assert job.units is DisplayUnits.MILLIMETRES
    assert next(one for one in job.materials if one.id == material).cutter == "1/8"
    assert job.seconds == 42.0
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_job_of_somebody_else_changes_no_choice(open_desk: Desk, qtbot, small_job):
    from dataclasses import replace

    open_desk.session.document.open(replace(small_job, units=DisplayUnits.MILLIMETRES, seconds=99.0), None)
    assert with_usual(small_job, open_desk.settings).seconds == small_job.seconds
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_recent_jobs_are_in_the_menu_and_open(desk: Desk, qtbot, small_job, tmp_path: Path):
    for name in ("one", "two"):
        path = tmp_path / f"{name}.json"
        desk.session.services.write_job(small_job, str(path))
        desk.settings.remember_job(str(path))
    desk.window.recent.fill()
    assert [action.text() for action in desk.window.recent.actions()] == ["&1  two.json", "&2  one.json"]
    desk.window.recent.actions()[1].trigger()
    assert desk.session.document.path == str(tmp_path / "one.json")
    (tmp_path / "two.json").unlink()
    desk.window.recent.fill()
    assert [action.text() for action in desk.window.recent.actions()] == ["&1  one.json"]
    qtbot.waitUntil(lambda: not desk.session.preparation.is_busy)


# Tables


def test_parts_are_sorted_copied_and_their_pieces_pasted(open_desk: Desk, qtbot):
    window = open_desk.window
    window.go(1)
    table = window.parts.table
    table.sortItems(1, Qt.SortOrder.AscendingOrder)
    assert [table.item(row, 0).text() for row in range(4)] == ["L backer", "L face", "O backer", "O face"]
    table.clearSelection()
    table.setFocus()
    qtbot.keyClick(table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0] == "Part\tWidth\tHeight\tPieces"
    assert lines[1] == 'L backer\t9.449"\t15.748"\t2'
    table.setCurrentCell(0, 3)
    QGuiApplication.clipboard().setText("5")
    qtbot.keyClick(table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert open_desk.session.document.job.artwork[0].sets == 5
    assert open_desk.session.document.undo_stack.undoText() == "change pieces"
    QGuiApplication.clipboard().setText("many")
    qtbot.keyClick(table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert open_desk.session.document.job.artwork[0].sets == 5
    assert "'many' is no number of pieces" in window.banner.message.text()
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


# Parts


def test_grain_and_sides_of_a_material_are_changed_where_its_parts_are_seen(open_desk: Desk, qtbot):
    window = open_desk.window
    window.go(1)
    parts = window.parts
    assert "any angle" in parts.turns.text()
    parts.grain.click()
    material = next(one for one in open_desk.session.document.job.materials if one.id == parts.material.currentData())
    assert material.has_grain
    assert "0° and 180° only" in parts.turns.text()
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_selected_part_is_measured_on_the_drawing(open_desk: Desk, qtbot):
    from app.window.picture import Words

    window = open_desk.window
    window.go(1)
    view = window.parts.view
    view.select(view.picture.thing("sign-2-face"))
    texts = {one._text for one in view.scene().items() if isinstance(one, Words) and one.isVisible()}
    assert {'9.449" (240 mm)', '15.748" (400 mm)'} <= texts  # 240 / 25.4 and 400 / 25.4
    view.select(None)
    assert not {'9.449" (240 mm)'} & {one._text for one in view.scene().items() if isinstance(one, Words)}


@pytest.mark.parametrize(("how", "heads"), [("By material", 2), ("By letter", 2), ("By role", 2)])
def test_parts_are_laid_out_in_groups(open_desk: Desk, how, heads):
    from app.window.parts_picture import Arrangement
    from app.window.picture import Words

    window = open_desk.window
    window.go(1)
    window.parts.arrange(Arrangement(how))
    titles = [item._text for item in window.parts.view.picture.items if isinstance(item, Words) and item._bold]
    assert len(titles) == heads
    assert all("pieces" in title for title in titles)


# Printing


def test_drawing_is_printed_as_it_is_shown_in_light_colours(open_desk: Desk, tmp_path: Path):
    import pypdfium2

    theme, job = open_desk.window.theme, open_desk.session.document.job
    open_desk.window.actions_by_id["theme_dark"].trigger()
    view = open_desk.window.artwork.view
    printer = paper_for(view, job)
    printer.setOutputFileName(str(tmp_path / "drawing.pdf"))
    print_drawing(printer, view, theme, job, "Artwork")
    assert theme.colours is DARK
    document = pypdfium2.PdfDocument(str(tmp_path / "drawing.pdf"))
    page = document[0]
    assert len(document) == 1
    assert (round(page.get_width()), round(page.get_height())) == (792, 612)  # US letter on its side, points
    text = page.get_textpage().get_text_range()
    assert "Two letters: Artwork" in text
    assert '27.559" (700 mm)' in text  # its width; 700 / 25.4
    image = page.render(scale=1).to_pil().convert("RGB")
    seen = {colour for _count, colour in image.getcolors(maxcolors=1 << 24)}
    letter, bench = QColor(LIGHT.letter), QColor(LIGHT.bench)
    assert (letter.red(), letter.green(), letter.blue()) in seen
    assert (bench.red(), bench.green(), bench.blue()) in seen
    document.close()


# Leaks


def objects(root: QObject) -> int:
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    return len(root.findChildren(QObject))


def test_opening_jobs_and_going_about_leaves_no_more_objects_behind(open_desk: Desk, qtbot, small_job):
    """Qt objects below the window, after a first round that makes what is made once."""
    window = open_desk.window

    def once() -> None:
        open_desk.session.document.open(small_job, None)
        qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)
        for index in range(len(window.places)):
            window.go(index)
            QApplication.processEvents()
        window.go(0)
        window.artwork.begin_dimension()
        window.artwork.dimension.cancel.click()
        dialog = WordsDialog("Words", small_job.units, parent=window)
        dialog.show()
        dialog.close()
        dialog.deleteLater()

    for _ in range(2):
        once()
    before = objects(window)
    for _ in range(4):
        once()
    assert objects(window) <= before


def test_windows_opened_and_closed_leave_nothing(qtbot, qapp, no_timers_left, settings, small_job):
    """Widgets still alive in Python's hands after each round, from the second on."""
    from app.window.main_window import MainWindow
    from app.window.services import Services
    from app.window.session import Session

    theme = Theme(qapp, ThemeChoice.LIGHT)

    def once() -> int:
        session = Session(Services(prepare=lambda job, _report: made(job), new_planner=FakePlanner))
        window = MainWindow(session, theme, settings)
        window.show()
        session.document.open(small_job, "somewhere.json")
        window.go(0)
        qtbot.waitUntil(lambda: session.preparation.prepared is not None)
        window.go(1)
        window.close()
        window.deleteLater()
        session.deleteLater()
        del window
        for _ in range(3):
            QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
            gc.collect()
        return sum(isinstance(one, QWidget) and isValid(one) for one in gc.get_objects())

    first = [once() for _ in range(2)][-1]
    assert [once() for _ in range(3)][-1] <= first
