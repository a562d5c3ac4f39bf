"""The rack: what is on it, drawn and listed; taking, reserving, returning, measuring, discarding, labels."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFileDialog,
    QGridLayout,
    QInputDialog,
    QLineEdit,
    QMessageBox,
    QWidget,
)

from app.errors import AppError
from app.job.document import DisplayUnits, Job
from app.stock.book import Material
from app.stock.rack_items import ON_THE_RACK, OffcutStatus, RackOffcut
from app.window.data_table import Cell, Column, DataTable, Row, number
from app.window.facts import FactList, Section, button, set_look, words
from app.window.fields import Choice
from app.window.forms import field_grid
from app.window.picture import Thing
from app.window.piece_dialog import AddPieceDialog, MeasureDialog, ReturnDialog
from app.window.place import Place, shared
from app.window.rack_picture import piece_facts, rack_picture, state_in_words
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.theme import Theme
from app.window.walk import Standing
from app.window.wording import count, size

if TYPE_CHECKING:
    from app.stock.rack import Rack

COLUMNS: Final = (
    Column("No.", "Number of the offcut, as on its label", 46, is_number=True),
    Column("Material", "Of the stock book, or of the job it came from"),
    Column("Usable size", "The rectangle to reckon with: measured, or as planned", 150),
    Column("", "Whether it was measured after cutting", 66),
    Column("Place", "Where it stands on the rack", 60),
    Column("Lot", "Colour or production lot", 50),
    Column("Age", "Days since it came onto the rack", 48, is_number=True),
    Column("State", "Free, reserved for a job, taken, cut into parts, discarded", 132),
)
EVENTS_SHOWN: Final = 4
ON_IT, TAKEN, OLD, ALL = "on", "taken", "old", "all"
SHOWN: Final = (
    ("on the rack", ON_IT),
    ("taken", TAKEN),
    ("there for long", OLD),
    ("all there ever were", ALL),
)


class RackPlace(Place):
    """Everything is done through the rack's own doors; what other programs do to it shows within a second."""

    only_when_seen = True

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__("Rack", session, theme)
        self._settings = settings
        self.pieces: tuple[RackOffcut, ...] = ()
        self._drawn: object = None
        self.table = DataTable("Offcuts", COLUMNS, theme)
        self.table.setMinimumHeight(110)
        self.table.chosen.connect(self._choose_row)
        self.board.addWidget(shared(Qt.Orientation.Vertical, (self.drawing, 430), (self.table, 250)), 1)
        self.view.selected.connect(self._choose_thing)

        self.material = Choice("Material")
        self.material.chosen.connect(lambda _value: self.refresh())
        self.shown = Choice("Pieces shown")
        self.shown.offer(SHOWN, ON_IT)
        self.shown.chosen.connect(lambda _value: self.refresh())
        fields = field_grid(("Material", self.material), ("Show", self.shown))
        self.facts = FactList()
        self.story = words("", "muted")
        self.chosen_section = Section("Chosen", self.facts, self.story)
        self.deeds = QWidget()
        self._lay_out_deeds()
        self.labels = button("Labels…", tip="Write labels with a QR code for the chosen pieces, or all shown, as PDF")
        self.labels.clicked.connect(self.ask_where_labels_go)
        self.body.addWidget(Section("Which pieces", fields))
        self.body.addWidget(self.chosen_section)
        self.body.addWidget(self.deeds)
        self.body.addWidget(self.labels)
        self.body.addStretch(1)
        self.selected.hide()
        session.rack.changed.connect(self.refresh)
        session.rack.busy_changed.connect(self._show_deeds)
        session.document.changed.connect(self.refresh)

    def standing(self) -> Standing:
        """Nothing of its own: the rack is no step of a job."""
        return Standing()

    def show_job(self, job: Job) -> None:
        """Show what the rack holds now."""
        kinds = tuple(OffcutStatus) if self._kind == ALL else ON_THE_RACK
        if self._kind == TAKEN:
            kinds = (OffcutStatus.TAKEN,)
        found = self.session.rack.read(lambda rack: rack.offcuts(statuses=kinds), ())
        now = datetime.now(UTC)
        if self._kind == OLD:
            from app.stock.rack import REVIEW_AFTER_DAYS

            found = tuple(piece for piece in found if piece.age_days(now) >= REVIEW_AFTER_DAYS)
        self._offer_materials(found)
        wanted = self.material.currentData()
        self.pieces = tuple(piece for piece in found if wanted in (None, piece.material))
        names = self.names()
        self.table.fill([_row(piece, names, job.units, now) for piece in self.pieces])
        is_bare = not self.pieces
        self.table.setVisible(not is_bare)
        self.show_empty(self._why_empty(bool(found)) if is_bare else "")
        self._show_chosen(job.units, now)
        self._show_deeds()
        drawn = (self.pieces, job.units)
        if drawn != self._drawn:
            self._drawn = drawn
            self.draw_soon(keep_view=True)

    def go_on(self) -> None:
        """Put a piece on the rack."""
        self.add()

    def draw(self) -> None:
        """The pieces shown, to one scale."""
        job = self.job
        if job is None or not self.pieces:
            self.view.show_picture(None)
            return
        picture = rack_picture(self.pieces, self.names(), job.units, datetime.now(UTC), self.theme, self.board_px)
        self.view.show_picture(picture)
        self.view.select(picture.thing(f"offcut {self.table.key}"))

    # Deeds

    @property
    def chosen(self) -> tuple[RackOffcut, ...]:
        """The pieces of the rows chosen."""
        keys = set(self.table.keys)
        return tuple(piece for piece in self.pieces if str(piece.id) in keys)

    def take(self) -> None:
        """Take the chosen pieces off the rack, for this job where they are reserved for it."""
        numbers, job = self._numbers(), self._job_name()
        self._do(lambda rack: rack.take(numbers, job=job))

    def reserve(self) -> None:
        """Keep the chosen pieces for this job."""
        numbers, job = self._numbers(), self._job_name()
        self._do(lambda rack: rack.reserve(numbers, job))

    def release(self) -> None:
        """Give the chosen pieces free again."""
        numbers = self._numbers()
        self._do(lambda rack: rack.release(numbers))

    def return_piece(self) -> None:
        """Put a taken piece back, with its new size when something was cut off."""
        (piece,) = self.chosen
        dialog = ReturnDialog(piece, self._units(), self)
        answer = self._asked(dialog)
        if answer is not None:
            self._do(lambda rack: rack.put_back(piece.id, measured=answer.measured, slot=answer.slot))

    def measure(self) -> None:
        """Record the size found on a piece."""
        (piece,) = self.chosen
        measured = self._asked(MeasureDialog(piece, self._units(), self))
        if measured is not None:
            self._do(lambda rack: rack.measure(piece.id, measured), self._warn_of_thickness)

    def move(self) -> None:
        """Record another place on the rack."""
        (piece,) = self.chosen
        slot, is_given = QInputDialog.getText(
            self, "Place on the rack", f"Where offcut {piece.id} stands:", QLineEdit.EchoMode.Normal, piece.slot
        )
        if is_given:
            self._do(lambda rack: rack.move(piece.id, slot.strip()))

    def discard(self) -> None:
        """Throw the chosen pieces away, after asking once."""
        numbers = self._numbers()
        named = ", ".join(map(str, numbers))
        leave = f"offcut {named}? It leaves" if len(numbers) == 1 else f"offcuts {named}? They leave"
        answer = QMessageBox.question(
            self,
            "Discard?",
            f"Discard {leave} the rack for good and can be found in its history only.",
            QMessageBox.StandardButton.Discard | QMessageBox.StandardButton.Cancel,
            QMessageBox.StandardButton.Cancel,
        )
        if answer == QMessageBox.StandardButton.Discard:
            self._do(lambda rack: rack.discard(numbers))

    def add(self) -> None:
        """Put a piece on the rack by hand."""
        materials = self._materials()
        dialog = AddPieceDialog(
            materials,
            self._units(),
            material=self.material.currentData() or "",
            folder=self._settings.folder("artwork"),
            parent=self,
        )
        piece = self._asked(dialog)
        if piece is not None:

            def kept(pieces: tuple[RackOffcut, ...]) -> None:
                self.table.choose(str(pieces[0].id))
                self._warn_of_thickness(pieces[0])

            self._do(lambda rack: rack.keep([piece]), kept)

    def ask_where_labels_go(self) -> None:
        """Write labels for the chosen pieces, or for all that are shown."""
        start = os.path.join(self._settings.folder("output"), "rack labels.pdf")
        path, _kind = QFileDialog.getSaveFileName(self, "Labels for the rack", start, "PDF (*.pdf)")
        if path:
            self.write_labels(path if os.path.splitext(path)[1] else f"{path}.pdf")

    def write_labels(self, path: str) -> None:
        """Write the labels."""
        from app.output.order_files import replace_file
        from app.output.rack_labels import write_rack_labels

        pieces, units, names = self.chosen or self.pieces, self._units(), dict(self.names())
        try:
            replace_file(Path(path), lambda draft: write_rack_labels(pieces, draft, units=units, names=names))
        except OSError as error:
            self.said.emit(f"'{path}' could not be written: {error.strerror or error}")
            return
        self._settings.remember_folder("output", os.path.dirname(path))

    def names(self) -> Mapping[str, str]:
        """Names of materials by id: those of the stock book and of the job."""
        return {key: one.name for key, one in self._materials().items()}

    # Showing

    @property
    def _kind(self) -> str:
        return self.shown.currentData() or ON_IT

    def _lay_out_deeds(self) -> None:
        self.buttons = {}
        grid = QGridLayout(self.deeds)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(8)
        deeds: tuple[tuple[str, str, str, Callable[[], None]], ...] = (
            ("take", "Take", "Take the chosen pieces off the rack", self.take),
            ("reserve", "Reserve", "Keep the chosen pieces for this job; no other job may use them", self.reserve),
            ("release", "Release", "Give the chosen pieces free for any job", self.release),
            ("return", "Return…", "Put a taken piece back, with its new size", self.return_piece),
            ("measure", "Measure…", "Record the size found on the piece", self.measure),
            ("move", "Move…", "Record another place on the rack", self.move),
            ("discard", "Discard…", "Throw the chosen pieces away", self.discard),
        )
        for index, (key, text, tip, deed) in enumerate(deeds):
            made = self.buttons[key] = button(text, tip=tip)
            made.clicked.connect(lambda _checked=False, deed=deed: deed())
            grid.addWidget(made, index // 2, index % 2)

    def _offer_materials(self, pieces: tuple[RackOffcut, ...]) -> None:
        names = self.names()
        kept = self.material.currentData()
        there = sorted({piece.material for piece in pieces} | ({kept} if kept else set()))
        self.material.offer((("all materials", None), *((names.get(one, one), one) for one in there)), kept)

    def _why_empty(self, has_others: bool) -> str:
        if has_others:
            return "No piece of this material.\nChoose all materials to see the others."
        if self._kind == ON_IT:
            return (
                "Nothing is on the rack yet.\nBook a sheet as cut under Output, and its offcuts come here by "
                "themselves; or put a piece on by hand."
            )
        return "No piece is in that state."

    def _show_chosen(self, units: DisplayUnits, now: datetime) -> None:
        chosen = self.chosen
        self.chosen_section.setVisible(bool(chosen))
        if len(chosen) == 1:
            (piece,) = chosen
            self.facts.show_facts(piece_facts(piece, self.names().get(piece.material, piece.material), units, now))
            events = self.session.rack.read(lambda rack: rack.history(piece.id), ())
            lines = [
                (f"{one.at.astimezone():%Y-%m-%d %H:%M}", one.what.value, one.job, one.note)
                for one in events[-EVENTS_SHOWN:]
            ]
            self.story.setText("\n".join("  ".join(filter(None, line)) for line in lines))
        elif chosen:
            self.facts.show_facts((("Pieces", str(len(chosen))),))
            self.story.setText("")
        self.story.setVisible(bool(self.story.text()))

    def _show_deeds(self) -> None:
        chosen, job = self.chosen, self._job_name()
        is_idle = not self.session.rack.is_busy
        there = bool(chosen) and all(piece.status in ON_THE_RACK for piece in chosen)
        mine = there and all(piece.reserved_for in ("", job) for piece in chosen)
        may = {
            "take": mine,
            "reserve": bool(chosen) and all(piece.status is OffcutStatus.KEPT for piece in chosen),
            "release": bool(chosen) and all(piece.status is OffcutStatus.RESERVED for piece in chosen),
            "return": len(chosen) == 1 and chosen[0].status is OffcutStatus.TAKEN,
            "measure": there and len(chosen) == 1,
            "move": there and len(chosen) == 1,
            "discard": bool(chosen) and all(p.status in (OffcutStatus.KEPT, OffcutStatus.TAKEN) for p in chosen),
        }
        for key, is_possible in may.items():
            self.buttons[key].setEnabled(is_possible and is_idle)
        self.deeds.setVisible(bool(chosen))
        self.labels.setVisible(bool(self.pieces))
        self.labels.setText(f"Labels for {count(len(chosen), 'piece')}…" if chosen else "Labels for all shown…")
        self.show_next("Put a piece on the rack…", is_ready=is_idle)
        set_look(self.next, "primary")

    def _choose_row(self, key: str) -> None:
        picture = self.view.picture
        if picture is not None:
            self.view.select(picture.thing(f"offcut {key}") if key else None)
        self._show_chosen(self._units(), datetime.now(UTC))
        self._show_deeds()

    def _choose_thing(self, thing: Thing | None) -> None:
        self.selected.hide()  # the facts stand under "Chosen" already
        if thing is not None:
            self.table.choose(thing.key.removeprefix("offcut "))

    # Doing

    def _do(self, deed: Callable[[Rack], object], then: Callable[[object], None] | None = None) -> None:
        self.session.rack.act(deed, then)

    def _asked(self, dialog):
        answer = dialog.answer if dialog.exec() == dialog.DialogCode.Accepted else None
        dialog.deleteLater()
        return answer

    def _numbers(self) -> tuple[int, ...]:
        return tuple(piece.id for piece in self.chosen)

    def _job_name(self) -> str:
        return self.job.name if self.job is not None else ""

    def _units(self) -> DisplayUnits:
        return self.job.units if self.job is not None else DisplayUnits.INCHES

    def _materials(self) -> dict[str, Material]:
        from app.stock.shop_book import shop_book

        try:
            book = {key: one.material for key, one in shop_book().materials.items()}
        except AppError:
            book = {}  # told where the stock book is shown
        return book | {one.id: one for one in (self.job.materials if self.job is not None else ())}

    def _warn_of_thickness(self, piece: RackOffcut) -> None:
        from app.stock.shop_book import thickness_doubt

        doubt = thickness_doubt(piece)
        if doubt:
            self.said.emit(doubt)


def _row(piece: RackOffcut, names: Mapping[str, str], units: DisplayUnits, now: datetime) -> Row:
    state = state_in_words(piece)
    looks = {OffcutStatus.RESERVED: "own", OffcutStatus.KEPT: ""}
    return Row(
        str(piece.id),
        (
            number(str(piece.id), piece.id),
            Cell(names.get(piece.material, piece.material)),
            number(size(piece.width, piece.height, units), piece.width * piece.height),
            Cell("measured" if piece.measured else "planned", look="" if piece.measured else "muted"),
            Cell(piece.slot),
            Cell(piece.lot),
            number(f"{piece.age_days(now)} d", piece.age_days(now)),
            Cell(state, look=looks.get(piece.status, "muted")),
        ),
    )
