"""The pieces without a place: why, and a way to put each onto a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from app.planning.job_plan import UnplacedPart
from app.window.facts import Fact, button, clear, words

MOST: Final = 30


class UnplacedList(QWidget):
    """A row for each piece, up to thirty.

    Signals
    -------
    place_wanted : str, int
        A piece is to be put onto a sheet: part id and copy.
    """

    place_wanted = Signal(str, int)

    def __init__(self) -> None:
        super().__init__()
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(1)
        self._shown: tuple[object, ...] = ()
        self.remarks: tuple[Fact, ...] = ()

    def show_pieces(self, pieces: Sequence[UnplacedPart], *, can_place: bool) -> None:
        """Show these; `can_place` says whether they can be put onto a sheet by hand now."""
        shown = (tuple(pieces[:MOST]), can_place)
        if shown == self._shown:
            return
        self._shown = shown
        self.remarks = tuple((f"{one.part} · {one.copy + 1}", one.reason) for one in pieces[:MOST])
        clear(self._box)
        for piece, (name, why) in zip(pieces, self.remarks, strict=False):
            row = QWidget()
            grid = QGridLayout(row)
            grid.setContentsMargins(0, 0, 0, 6)
            grid.setVerticalSpacing(0)
            grid.setColumnStretch(0, 1)
            grid.addWidget(words(name), 0, 0)
            tip = "Put it at a free place on the sheet shown, or on another sheet of its material"
            put = button("Put on sheet", "plain", tip=tip, name=f"Put {name} on a sheet")
            put.setEnabled(can_place)
            put.clicked.connect(lambda _on=False, piece=piece: self.place_wanted.emit(piece.part, piece.copy))
            grid.addWidget(put, 0, 1)
            grid.addWidget(words(why, "muted"), 1, 0, 1, 2)
            self._box.addWidget(row)
