"""The window: menus, the walk, the places, and what joins them to the session."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace
from typing import Final

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDragLeaveEvent, QDropEvent
from PySide6.QtWidgets import QFileDialog, QMainWindow, QMenu, QMessageBox, QStackedWidget, QVBoxLayout, QWidget

from app.errors import AppError, UnitWanted
from app.job.document import DisplayUnits
from app.window.actions import build_actions
from app.window.artwork_place import ArtworkPlace
from app.window.banner import Banner
from app.window.drafts import Draft, DraftSlot, drafts_place, left_behind
from app.window.drop_veil import DropVeil
from app.window.fault_dialog import FaultDialog, trace_of
from app.window.job_files import (
    JOB_SUFFIX,
    moved_to,
    sample_jobs,
)
from app.window.order_place import OrderPlace
from app.window.output_place import OutputPlace
from app.window.pages import PagedPlace
from app.window.parts_picture import Arrangement
from app.window.parts_place import PartsPlace
from app.window.place import Place
from app.window.recent_menu import RecentMenu
from app.window.recovery import RecoveryDialog
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.sheets_place import SheetsPlace
from app.window.shortcuts_dialog import AboutDialog, ShortcutsDialog
from app.window.stock_place import StockPlace
from app.window.taking_in import JOB_FILTER, TakingIn, local_files
from app.window.theme import Theme, ThemeChoice
from app.window.usual import remember_usual
from app.window.walk import Walk
from app.window.welcome import Welcome
from geometry.findings import Severity

WARM_AFTER_MS: Final = 1500
"""The planner's child is started this long after a job is read, when the window has settled."""


class MainWindow(QMainWindow):
    """One window, one job."""

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__()
        self.session, self.theme, self.settings = session, theme, settings
        self.banner = Banner(theme)
        self.taking_in = TakingIn(self)
        self.welcome = Welcome(theme)
        self.artwork = ArtworkPlace(session, theme)
        self.parts = PartsPlace(session, theme)
        self.stock = StockPlace(session, theme, settings)
        self.sheets = SheetsPlace(session, theme)
        self.order = OrderPlace(session, theme, settings)
        self.output = OutputPlace(session, theme, settings)
        self.places: tuple[Place | PagedPlace, ...] = (
            self.artwork,
            self.parts,
            self.stock,
            self.sheets,
            self.order,
            self.output,
        )
        self.walk = Walk([place.title for place in self.places], theme)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.welcome)
        for place in self.places:
            self.pages.addWidget(place)
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.walk)
        column.addWidget(self.banner)
        column.addWidget(self.pages, 1)
        self.setCentralWidget(body)
        self.veil = DropVeil(theme, body)
        self.setAcceptDrops(True)
        self.setMinimumSize(860, 560)
        self.resize(1280, 820)
        self.actions_by_id = build_actions(self, self._callbacks())
        self.recent = RecentMenu(settings, self.open_path, self)
        self.menu_of("save").insertMenu(self.actions_by_id["save"], self.recent)
        self._warm_timer = QTimer(self, singleShot=True, interval=WARM_AFTER_MS)
        self._warm_timer.timeout.connect(self._warm)
        self._connect()
        if settings.geometry is not None:
            self.restoreGeometry(settings.geometry)
        self._show_welcome()
        self._job_changed()

    @property
    def place(self) -> Place | None:
        """The place one is at; None on the first page."""
        page = self.pages.currentWidget()
        if isinstance(page, PagedPlace):
            return page.page
        return page if isinstance(page, Place) else None

    def menu_of(self, action: str) -> QMenu:
        """The menu an action is in."""
        return next(menu for menu in self.menuBar().findChildren(QMenu) if self.actions_by_id[action] in menu.actions())

    # What can be done

    def open_path(self, path: str) -> None:
        """Open a job file, or begin a job with an artwork file or with words in a font file."""
        self.taking_in.open_path(path)

    def offer_unsaved(self) -> None:
        """Offer what an earlier run could not save, if there is any."""
        drafts = left_behind(drafts_place())
        if drafts:
            dialog = RecoveryDialog(drafts, self)
            dialog.wanted.connect(self._bring_back)
            dialog.show()

    def may_leave(self) -> bool:
        """Whether the open job may be closed; asks when something would be lost."""
        document = self.session.document
        if document.is_saved:
            return True
        answer = QMessageBox.question(
            self,
            "Save the job?",
            f"“{document.title}” has changes that are not saved.",
            QMessageBox.StandardButton.Save | QMessageBox.StandardButton.Discard | QMessageBox.StandardButton.Cancel,
            QMessageBox.StandardButton.Save,
        )
        if answer == QMessageBox.StandardButton.Save:
            return self.save()
        return answer == QMessageBox.StandardButton.Discard

    def save(self) -> bool:
        """Save the job, asking for a file when it has none; whether it is saved."""
        path = self.session.document.path
        return self.save_as() if path is None else self._write(path)

    def save_as(self) -> bool:
        """Save the job in a file that is asked for; whether it is saved."""
        job = self.session.document.job
        if job is None:
            return False
        start = self.session.document.path or os.path.join(
            job.folder or self.settings.folder("open"), (job.name or "job").replace("/", "-") + JOB_SUFFIX
        )
        path, _filter = QFileDialog.getSaveFileName(self, "Save the job", start, JOB_FILTER)
        if not path:
            return False
        return self._write(path if os.path.splitext(path)[1] else path + JOB_SUFFIX)

    def go(self, index: int) -> None:
        """Go to a place of the walk."""
        if self.session.document.job is None:
            return
        self.pages.setCurrentWidget(self.places[index])
        self.walk.go(index)
        self.actions_by_id[f"go_{index + 1}"].setChecked(True)
        self._show_enabled()
        self.places[index].view.setFocus(Qt.FocusReason.OtherFocusReason)

    def plan(self) -> None:
        """Plan, at the place where it can be watched."""
        if self.session.can_plan:
            self.go(self.places.index(self.sheets))
            self.session.plan()

    def print_drawing(self) -> None:
        """Print what is on the board."""
        from app.window.printing import ask_and_print  # the printing library is loaded when it is first wanted

        place, job = self.place, self.session.document.job
        if place is None or job is None or place.view.picture is None:
            return
        try:
            ask_and_print(self, place.view, self.theme, job, place.title)
        except AppError as error:
            self.show_error(error)

    def show_error(self, error: BaseException) -> None:
        """Say what an error means: a sentence for an `AppError`, a trace for a fault of the program."""
        if isinstance(error, UnitWanted):
            self.go(0)  # asked there, with the sizes each answer gives
        elif isinstance(error, AppError):
            self.banner.say(str(error), Severity.ERROR)
        else:
            self.show_fault(f"Something went wrong in the program: {type(error).__name__}", trace_of(error))

    def show_fault(self, text: str, trace: str) -> None:
        """Show a fault of the program with its trace."""
        dialog = FaultDialog(text, trace, self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.show()

    # Qt's own calls

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files, one or several."""
        if local_files(event.mimeData()):
            event.acceptProposedAction()
            self.veil.show_over(self.centralWidget(), has_job=self.session.document.job is not None)

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        """They are dropped elsewhere."""
        self.veil.hide()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open or add the files dropped."""
        self.veil.hide()
        event.acceptProposedAction()
        self.taking_in.drop(local_files(event.mimeData()))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask about unsaved work, then end every thread and child."""
        if not self.may_leave():
            event.ignore()
            return
        self._warm_timer.stop()
        self.settings.geometry = self.saveGeometry()
        self.hide()  # ending the threads can take as long as one reading
        self.sheets.hands.close()
        self.session.close()
        event.accept()

    # Wiring

    def _callbacks(self):
        units = self._choose_units
        return {
            "new": self.taking_in.ask_artwork,
            "new_words": self.taking_in.begin_with_words,
            "add_artwork": self.taking_in.ask_more_artwork,
            "add_words": self.taking_in.add_words,
            "two_points": self.artwork.begin_dimension,
            "open": self.taking_in.ask_job,
            "save": self.save,
            "save_as": self.save_as,
            "print": self.print_drawing,
            "quit": self.close,
            "undo": self.session.document.undo_stack.undo,
            "redo": self.session.document.undo_stack.redo,
            "inches": lambda: units(DisplayUnits.INCHES),
            "millimetres": lambda: units(DisplayUnits.MILLIMETRES),
            **{f"go_{index + 1}": lambda index=index: self.go(index) for index in range(len(self.places))},
            "page_after": lambda: self._step_page(1),
            "page_before": lambda: self._step_page(-1),
            "next_step": lambda: self.place.next.click() if self.place is not None else None,
            "sheet_before": lambda: self._step_sheet(-1),
            "sheet_after": lambda: self._step_sheet(1),
            **self.sheets.hands.deeds(),
            "cut_again": self._cut_again,
            "plan": self.plan,
            "pause": self.session.planning.pause,
            "cancel": self.session.planning.cancel,
            "stop": self.session.planning.stop_at_once,
            "write": self._write_files,
            "fit": lambda: self._view().fit(),
            "closer": lambda: self._view().zoom(1.5),
            "farther": lambda: self._view().zoom(1 / 1.5),
            "turn": lambda: self.sheets.strip.turn.click(),
            "by_role": lambda: self.parts.arrange(Arrangement.BY_ROLE),
            "in_place": lambda: self.parts.arrange(Arrangement.IN_PLACE),
            "theme_system": lambda: self._choose_theme(ThemeChoice.SYSTEM),
            "theme_light": lambda: self._choose_theme(ThemeChoice.LIGHT),
            "theme_dark": lambda: self._choose_theme(ThemeChoice.DARK),
            "shortcuts": lambda: ShortcutsDialog(self).show(),
            "about": lambda: AboutDialog(self).show(),
        }

    def _connect(self) -> None:
        session, document = self.session, self.session.document
        self.walk.chosen.connect(self.go)
        self.welcome.open_wanted.connect(self.taking_in.ask_job)
        self.welcome.artwork_wanted.connect(self.taking_in.ask_artwork)
        self.welcome.words_wanted.connect(self.taking_in.begin_with_words)
        self.welcome.job_chosen.connect(self.open_path)
        self.artwork.artwork_wanted.connect(self.taking_in.ask_more_artwork)
        self.artwork.words_wanted.connect(self.taking_in.add_words)
        self.artwork.change_wanted.connect(self.taking_in.change_words)
        document.edited.connect(lambda before, after: remember_usual(before, after, self.settings))
        for index, place in enumerate(self.places):
            place.next_chosen.connect(lambda index=index: self._next(index))
            place.standing_changed.connect(lambda index=index: self._show_standing(index))
            place.said.connect(lambda text: self.banner.say(text, Severity.ERROR))
            if isinstance(place, PagedPlace):
                place.page_changed.connect(self._show_enabled)
        document.changed.connect(self._job_changed)
        document.title_changed.connect(self._show_title)
        stack = document.undo_stack
        for changed in (stack.canUndoChanged, stack.canRedoChanged, stack.undoTextChanged, stack.redoTextChanged):
            changed.connect(self._show_enabled)
        session.fault.connect(self.show_error)
        session.preparation.changed.connect(self._prepared)
        session.preparation.busy_changed.connect(self._show_enabled)
        session.planning.state_changed.connect(self._show_enabled)
        session.planning.stop_offered.connect(self._show_enabled)
        self.sheets.hands.changed.connect(self._show_enabled)
        session.planning.failed.connect(self._planning_failed)
        session.exporting.busy_changed.connect(self._show_enabled)
        session.exported.connect(self._show_enabled)
        self.actions_by_id[f"theme_{self.theme.choice.value}"].setChecked(True)

    def _show_welcome(self) -> None:
        samples = sample_jobs()
        shipped = {path for _name, path in samples}
        self.welcome.show_jobs([path for path in self.settings.recent_jobs if path not in shipped], samples)
        self.pages.setCurrentWidget(self.welcome)

    def _job_changed(self) -> None:
        job = self.session.document.job
        self.walk.setVisible(job is not None)
        if job is not None:
            name = "inches" if job.units is DisplayUnits.INCHES else "millimetres"
            self.actions_by_id[name].setChecked(True)
        for place in self.places:
            place.refresh()
        self._show_title()
        self._show_enabled()

    def _prepared(self) -> None:
        self._show_enabled()
        preparation = self.session.preparation
        if preparation.prepared is not None:
            self._warm_timer.start()

    def _warm(self) -> None:
        self.session.planning.warm()

    def _planning_failed(self, text: str, trace: str) -> None:
        if trace:
            self.show_fault(text, trace)
        else:
            self.banner.say(text, Severity.ERROR)

    def _show_title(self) -> None:
        document = self.session.document
        self.setWindowTitle(f"{document.title}[*] · Letterbed" if document.job is not None else "Letterbed")
        self.setWindowModified(not document.is_saved)
        self._show_enabled()

    def _show_standing(self, index: int) -> None:
        self.walk.steps[index].show_standing(self.places[index].standing())

    def _show_enabled(self) -> None:
        session, document = self.session, self.session.document
        has_job = document.job is not None
        stack = document.undo_stack
        at = self.place
        for name, is_enabled in (
            ("save", has_job and not document.is_saved),
            ("save_as", has_job),
            ("undo", stack.canUndo()),
            ("redo", stack.canRedo()),
            ("add_artwork", has_job),
            ("add_words", has_job),
            ("inches", has_job),
            ("millimetres", has_job),
            *((f"go_{number}", has_job) for number in range(1, len(self.places) + 1)),
            ("page_after", isinstance(self.pages.currentWidget(), PagedPlace)),
            ("page_before", isinstance(self.pages.currentWidget(), PagedPlace)),
            ("next_step", has_job),
            ("sheet_before", at in (self.sheets, self.output.report)),
            ("sheet_after", at in (self.sheets, self.output.report)),
            *((name, at is self.sheets and can) for name, can in self.sheets.hands.possible().items()),
            ("cut_again", at is self.sheets and bool(self.sheets.hands.chosen)),
            ("plan", session.can_plan),
            ("pause", session.planning.state in ("running", "paused")),
            ("cancel", session.planning.is_running),
            ("stop", session.planning.may_stop_at_once),
            ("write", session.can_export),
            ("fit", has_job),
            ("closer", has_job),
            ("farther", has_job),
            ("print", at is not None and at.view.picture is not None),
            ("two_points", at is self.artwork),
            ("turn", at is self.sheets),
            ("by_role", at is self.parts),
            ("in_place", at is self.parts),
        ):
            self.actions_by_id[name].setEnabled(is_enabled)
        self.actions_by_id["undo"].setText(f"&Undo {stack.undoText()}".rstrip())
        self.actions_by_id["redo"].setText(f"&Redo {stack.redoText()}".rstrip())

    # Single deeds

    def _next(self, index: int) -> None:
        if self.places[index] is self.output:
            self.go(self.places.index(self.sheets))
        elif index + 1 < len(self.places):
            self.go(index + 1)

    def _cut_again(self) -> None:
        """Take the parts chosen on the sheet to where spoiled and lost ones are planned again."""
        counts = Counter(one.part.id for one in self.sheets.hands.chosen)
        self.go(self.places.index(self.output))
        self.output.show_page(self.output.recut)
        self.output.recut.ask_for(counts)

    def _step_sheet(self, by: int) -> None:
        if self.place in (self.sheets, self.output.report):
            self.place.step(by)

    def _step_page(self, by: int) -> None:
        place = self.pages.currentWidget()
        if isinstance(place, PagedPlace):
            place.step_page(by)

    def _view(self):
        place = self.place
        return place.view if place is not None else self.artwork.view

    def _bring_back(self, slot: DraftSlot, draft: Draft) -> None:
        if not self.may_leave():
            slot.release()
            return
        self.banner.clear()
        self.session.document.open(draft.job, draft.path, is_saved=False)
        self.session.autosave.take_over(slot)
        self.go(0)

    def _write(self, path: str) -> bool:
        job = self.session.document.job
        if job is None:
            return False
        moved = moved_to(job, os.path.dirname(os.path.abspath(path)))
        try:
            self.session.services.write_job(moved, path)
        except AppError as error:
            self.banner.say(str(error), Severity.ERROR)
            return False
        self.session.document.saved(os.path.abspath(path), moved)
        self.settings.remember_job(path)
        self.settings.remember_folder("open", os.path.dirname(os.path.abspath(path)))
        return True

    def _write_files(self) -> None:
        self.go(self.places.index(self.output))
        self.output.write()

    def _choose_units(self, units: DisplayUnits) -> None:
        self.session.document.edit(f"show {units.value}", lambda job: replace(job, units=units))

    def _choose_theme(self, choice: ThemeChoice) -> None:
        self.settings.theme = choice
        self.theme.choose(choice)
