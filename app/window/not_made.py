"""What was asked for and is not made, said where one would otherwise take the files to be the whole job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from app.window.facts import clear, words
from app.window.wording import count, sentence

if TYPE_CHECKING:
    from app.planning.job_plan import JobPlan

MOST_SHOWN: Final = 8


class NotMade(QFrame):
    """A card with one sentence for each thing not made; hidden when all is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("alarm")
        self.heading = words("", "bad")
        self._rows = QVBoxLayout()
        self._rows.setSpacing(5)
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 9, 12, 10)
        box.setSpacing(6)
        box.addWidget(self.heading)
        box.addLayout(self._rows)
        self.messages: tuple[str, ...] = ()
        self.hide()

    def show_plan(self, plan: JobPlan | None) -> None:
        """Show what this plan leaves out; nothing for no plan."""
        messages = tuple(sentence(one.message) for one in plan.not_done) if plan is not None else ()
        self.setVisible(bool(messages))
        if messages == self.messages:
            return
        self.messages = messages
        self.heading.setText(f"Asked for, but not made: {len(messages)}")
        self.setAccessibleName(f"{self.heading.text()}. " + " ".join(messages))
        clear(self._rows)
        for message in messages[:MOST_SHOWN]:
            self._rows.addWidget(words(message))
        if len(messages) > MOST_SHOWN:
            more = len(messages) - MOST_SHOWN
            self._rows.addWidget(words(f"And {more} more, all listed with the artwork and the parts.", "muted"))


def missing_in_words(plan: JobPlan) -> str:
    """What a plan lacks: "2 things not made, 1 piece not placed"."""
    lacks = []
    if plan.not_done:
        lacks.append(f"{count(len(plan.not_done), 'thing')} not made")
    if plan.unplaced:
        lacks.append(f"{count(len(plan.unplaced), 'piece')} not placed")
    return ", ".join(lacks)
