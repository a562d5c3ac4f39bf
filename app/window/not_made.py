"""What was asked for and is not made, said where one would otherwise take the files to be the whole job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from app.window.facts import words
from app.window.told_list import ToldList
from app.window.wording import count, sentence

if TYPE_CHECKING:
    from app.planning.job_plan import JobPlan


class NotMade(ToldList):
    """A card with one sentence for each thing not made; hidden when all is."""

    most = 8

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(spacing=5, parent=parent)
        self.setObjectName("alarm")
        self.box.setContentsMargins(12, 9, 12, 10)
        self.more = words("", "muted")
        self.box.addWidget(self.more)

    def show_plan(self, plan: JobPlan | None) -> None:
        """Show what this plan leaves out; nothing for no plan."""
        messages = [sentence(one.message) for one in plan.not_done] if plan is not None else []
        self.tell(messages, f"Asked for, but not made: {len(messages)}")
        self.setAccessibleName(f"{self.heading.text()}. " + " ".join(messages))
        self.more.setText(f"And {len(messages) - self.most} more, all listed with the artwork and the parts.")
        self.more.setVisible(len(messages) > self.most)

    def row(self, thing: object) -> QWidget:
        """The sentence."""
        return words(str(thing))


def missing_in_words(plan: JobPlan) -> str:
    """What a plan lacks: "2 things not made, 1 piece not placed"."""
    lacks = []
    if plan.not_done:
        lacks.append(f"{count(len(plan.not_done), 'thing')} not made")
    if plan.unplaced:
        lacks.append(f"{count(len(plan.unplaced), 'piece')} not placed")
    return ", ".join(lacks)
