"""A heading over a row for each thing that is wrong: the first few when there are many, hidden when there is none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from app.window.facts import clear, words


class ToldList(QFrame):
    """Each kind says how a thing's `row` looks.

    Fields
    ------
    most : int
        How many things have a row.
    told : tuple
        What is wrong now, all of it.
    """

    most: ClassVar[int] = 12

    def __init__(self, *, spacing: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.heading = words("", "bad")
        self.rows = QVBoxLayout()
        self.rows.setSpacing(spacing)
        self.box = QVBoxLayout(self)
        self.box.setContentsMargins(0, 0, 0, 0)
        self.box.setSpacing(6)
        self.box.addWidget(self.heading)
        self.box.addLayout(self.rows)
        self.told: tuple[object, ...] = ()
        self.hide()

    def tell(self, things: Sequence[object], heading: str) -> None:
        """Show these and no others."""
        things = tuple(things)
        if things == self.told:
            return
        self.told = things
        self.heading.setText(heading)
        clear(self.rows)
        for thing in things[: self.most]:
            self.rows.addWidget(self.row(thing))
        self.setVisible(bool(things))

    def row(self, thing: object) -> QWidget:
        """How one thing is told."""
        raise NotImplementedError
