"""What every place of the walk has: a large drawing with its strip, facts beside it, and one next step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import ClassVar

from PySide6.QtCore import QRectF, Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QSplitter, QVBoxLayout, QWidget

from app.errors import AppError
from app.job.document import DisplayUnits, Job
from app.window.document import Edit
from app.window.drawing_view import DrawingView
from app.window.facts import FactList, Section, button, words
from app.window.finding_marks import FindingMark
from app.window.findings_list import FindingsList
from app.window.picture import Thing
from app.window.session import Session
from app.window.strip import Strip
from app.window.theme import Theme
from app.window.walk import Standing
from geometry.findings import Finding

PANEL_WIDTH = 318
RESHAPED_MS = 60
"""A drawing is laid out anew when the window's edge has stood still this long."""


class Place(QWidget):
    """A place of the walk; each kind fills `body` and answers `standing`, `show_job` and `draw`.

    Fields
    ------
    only_when_seen : bool
        Whether it follows the job only while it is seen; it is brought up to date whenever it comes to be seen.

    Signals
    -------
    next_chosen : the button at the foot was pressed
    standing_changed : what `standing` answers is different now
    said : str
        A sentence for the banner.
    """

    next_chosen = Signal()
    standing_changed = Signal()
    said = Signal(str)
    only_when_seen: ClassVar[bool] = False

    def __init__(
        self, title: str, session: Session, theme: Theme, *, can_turn: bool = False, has_findings: bool = False
    ) -> None:
        super().__init__()
        self.title, self.session, self.theme = title, session, theme
        self._is_undrawn = True
        self._keep_view = False
        self._drawn_px = (1.0, 1.0)
        self._reshaped = QTimer(self, singleShot=True, interval=RESHAPED_MS)
        self._reshaped.timeout.connect(self._draw_reshaped)
        self.view = DrawingView(theme, f"{title} drawing")
        self.strip = Strip(self.view, theme, can_turn=can_turn)
        self.strip.units_chosen.connect(self._choose_units)
        self.empty = words("", "muted")
        self.empty.setParent(self.view)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.view.resized.connect(self._place_empty)

        self.drawing = stacked((self.view, 1), (self.strip, 0))
        self.board = QVBoxLayout()
        self.board.setContentsMargins(0, 0, 0, 0)
        self.board.setSpacing(0)
        self.board.addWidget(self.drawing, 1)

        contents = QWidget()
        contents.setObjectName("panelBody")
        self.body = QVBoxLayout(contents)
        self.body.setContentsMargins(16, 16, 14, 14)
        self.body.setSpacing(16)
        scroll = QScrollArea()
        scroll.setWidget(contents)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)

        self.hint = words("", "muted")
        self.next = button("Next", "primary")
        self.next.clicked.connect(self.go_on)
        footer = QFrame()
        footer.setObjectName("footer")
        self.foot = QVBoxLayout(footer)
        self.foot.setContentsMargins(16, 12, 16, 14)
        self.foot.setSpacing(8)
        self.foot.addWidget(self.hint)
        self.foot.addWidget(self.next)

        panel = QFrame()
        panel.setObjectName("panel")
        panel.setFixedWidth(PANEL_WIDTH)
        side = QVBoxLayout(panel)
        side.setContentsMargins(1, 0, 0, 0)
        side.setSpacing(0)
        side.addWidget(scroll, 1)
        side.addWidget(footer)

        self.row = QHBoxLayout(self)
        self.row.setContentsMargins(0, 0, 0, 0)
        self.row.setSpacing(0)
        self.row.addLayout(self.board, 1)
        self.row.addWidget(panel)

        self.selected_facts = FactList()
        self.selected = Section("Selected", self.selected_facts)
        self.findings = FindingsList(theme) if has_findings else None
        self.view.selected.connect(self._selected_on_board)
        if self.findings is not None:
            self.findings.chosen.connect(self.show_finding)
        self._show_selected(None)

    @property
    def job(self) -> Job | None:
        """The job as it stands."""
        return self.session.document.job

    def standing(self) -> Standing:
        """How the place stands, for the walk."""
        raise NotImplementedError

    def refresh(self) -> None:
        """Show what there is now."""
        self.standing_changed.emit()
        job = self.job
        if job is None:
            return
        are_other_units = self.view.units is not job.units
        self.show_units(job.units)
        if are_other_units:
            self.units_changed()
        if self.isVisible() or not self.only_when_seen:
            self.show_job(job)

    def show_job(self, job: Job) -> None:
        """Show how the job stands; part of `refresh`."""
        raise NotImplementedError

    def units_changed(self) -> None:
        """Lengths are shown in other units now: draw them anew."""
        self.draw_soon(keep_view=True)

    def go_on(self) -> None:
        """Do what the button at the foot says."""
        self.next_chosen.emit()

    def edit(self, text: str, edit: Edit, *, merge: str = "") -> None:
        """Change the job as one undo step; what the job refuses is said, and the fields show the job again."""
        try:
            self.session.document.edit(text, edit, initiator=self, merge=merge)
        except AppError as error:
            self.said.emit(str(error))
            self.refresh()

    def draw(self) -> None:
        """Put the picture on the board; called only when the place is seen."""
        raise NotImplementedError

    def draw_soon(self, *, keep_view: bool = False) -> None:
        """Draw now when the place is seen, else when it is next seen."""
        self._keep_view = keep_view and not self._is_undrawn
        self._is_undrawn = True
        if self.isVisible():
            self._draw_now()

    @property
    def keeps_view(self) -> bool:
        """Whether the drawing under way should leave zoom and place as they are."""
        return self._keep_view

    @property
    def board_px(self) -> tuple[float, float]:
        """Width and height of the board, pixels."""
        return float(self.view.viewport().width()), float(self.view.viewport().height())

    @property
    def board_shape(self) -> float:
        """Width to height of the board."""
        return max(self.view.viewport().width(), 1) / max(self.view.viewport().height(), 1)

    def show_empty(self, text: str) -> None:
        """Say why the board is bare; nothing when it is not."""
        self.empty.setText(text)
        self.empty.setVisible(bool(text))
        self._place_empty()

    def show_next(self, text: str, hint: str = "", *, is_ready: bool = True) -> None:
        """Name the next step."""
        self.next.setText(text)
        self.next.setAccessibleName(text)
        self.next.setEnabled(is_ready)
        self.hint.setText(hint)
        self.hint.setVisible(bool(hint))

    def show_finding(self, finding: Finding) -> None:
        """Bring what a finding speaks of into view and ring its place."""
        picture = self.view.picture
        if picture is None:
            return
        thing = picture.thing(finding.subject)
        if thing is not None:
            self.view.select(thing)
        mark = picture.mark_of(finding)
        if mark is not None:
            place = mark.pos()
            around = thing.area() if thing is not None and thing.area().contains(place) else None
            reach = max(around.width(), around.height()) * 0.25 if around is not None else 60.0
            self.view.show_place(QRectF(place.x() - reach, place.y() - reach, 2 * reach, 2 * reach))
            self.view.mark(place)
        else:
            self.view.mark(None)
            if thing is not None:
                self.view.show_place(thing.area())
            else:
                self.view.fit()

    def show_units(self, units: DisplayUnits) -> None:
        """Write lengths in these units."""
        self.strip.show_units(units)

    def resizeEvent(self, event: object) -> None:
        """Lay the drawing out anew when its board has become quite another."""
        super().resizeEvent(event)
        if self.isVisible() and self._is_reshaped():
            self._reshaped.start()

    def showEvent(self, event: object) -> None:
        """Show what has changed since it was last seen."""
        super().showEvent(event)
        self.layout().activate()  # the board must have its size before a picture is fitted to it
        if self._is_undrawn or self._is_reshaped():
            self._draw_now()
        if self.only_when_seen:
            self.refresh()

    def _place_empty(self) -> None:
        width = min(420, max(self.view.width() - 40, 60))
        height = self.empty.heightForWidth(width)
        self.empty.setGeometry((self.view.width() - width) // 2, (self.view.height() - height) // 2, width, height)

    def _draw_now(self) -> None:
        self._is_undrawn = False
        self._drawn_px = self.board_px
        self.draw()
        self._keep_view = False

    def _is_reshaped(self) -> bool:
        """Whether the board's size is so different that things had better be laid out anew, words having theirs."""
        changes = (now / max(then, 1.0) for now, then in zip(self.board_px, self._drawn_px, strict=True))
        return (
            self.view.picture is not None
            and self.view.is_fitted
            and any(not 0.95 < change < 1.05 for change in changes)
        )

    def _draw_reshaped(self) -> None:
        if self.isVisible() and self._is_reshaped():
            self.draw_soon(keep_view=True)

    def _choose_units(self, units: DisplayUnits) -> None:
        self.edit(f"show {units.value}", lambda job: replace(job, units=units))

    def _selected_on_board(self, thing: Thing | None) -> None:
        """A sign is its finding; anything else is looked at for its facts."""
        if isinstance(thing, FindingMark):
            self.findings.choose(thing.finding)
            self.view.mark(thing.pos())
        else:
            self._show_selected(thing)

    def _show_selected(self, thing: Thing | None) -> None:
        facts: Sequence[tuple[str, str]] = thing.facts if thing is not None else ()
        self.selected_facts.show_facts(facts)
        self.selected.setVisible(bool(facts))


def stacked(*parts: tuple[QWidget, int]) -> QWidget:
    """Widgets one above the other without a gap; each with how it stretches."""
    made = QWidget()
    column = QVBoxLayout(made)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(0)
    for widget, stretch in parts:
        column.addWidget(widget, stretch)
    return made


def shared(way: Qt.Orientation, *parts: tuple[QWidget, int]) -> QSplitter:
    """Widgets that share the room, each with what it begins with (px); none of them can be closed."""
    made = QSplitter(way)
    for widget, _size in parts:
        made.addWidget(widget)
    made.setSizes([size for _widget, size in parts])
    made.setChildrenCollapsible(False)
    return made
