"""Over the drawing while seams are changed: what is wrong or right with them, and what can be done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from app.window.facts import button, set_look, words
from app.window.wording import count, sentence

if TYPE_CHECKING:
    from app.fabrication.seam_desk import SeamCheck


class SeamBar(QFrame):
    """A sentence on the seam chosen and the pieces, with the deeds.

    Signals
    -------
    add_wanted, remove_wanted, find_wanted, ended
        `find_wanted` lets the program find the seams again.
    """

    add_wanted = Signal()
    remove_wanted = Signal()
    find_wanted = Signal()
    ended = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("banner")
        self.heading = words("", "section", wrap=False)
        self.verdict = words("", "good")
        self.add = button("Add seam", tip="Then click where it is to run; with Shift it runs level (Insert adds one)")
        self.remove = button("Remove", tip="Take the chosen seam away (Delete)")
        self.find = button("Find again", tip="Let the program find the seams of this part again")
        self.done = button("Done", "primary", tip="Go back to all parts (Escape)")
        for one, signal in (
            (self.add, self.add_wanted),
            (self.remove, self.remove_wanted),
            (self.find, self.find_wanted),
            (self.done, self.ended),
        ):
            one.clicked.connect(signal)
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(self.heading, 1)
        for one in (self.add, self.remove, self.find, self.done):
            head.addWidget(one)
        box = QVBoxLayout(self)
        box.setContentsMargins(16, 8, 10, 9)
        box.setSpacing(4)
        box.addLayout(head)
        box.addWidget(self.verdict)
        self.verdict.setMinimumHeight(self.verdict.fontMetrics().lineSpacing() * 2)  # the drawing must not jump
        self.hide()

    def begin(self, what: str) -> None:
        """Begin with a part."""
        self.heading.setText(f"Seams of {what}")
        self.show()

    def say(self, text: str) -> None:
        """Say what is to be done next."""
        set_look(self.verdict, "muted")
        self.verdict.setText(text)

    def show_check(self, check: SeamCheck, chosen: int, *, is_own: bool) -> None:
        """Say how the seams stand: first what is wrong, else what the chosen one crosses."""
        self.remove.setEnabled(bool(check.seams))
        self.find.setEnabled(is_own)
        faults = [one.fault for one in check.seams if not one.is_sound] + [
            one.fault for one in check.pieces if one.fault
        ]
        mine = check.seams[chosen] if chosen < len(check.seams) else None
        if mine is not None and mine.fault:
            faults = [mine.fault, *(one for one in faults if one != mine.fault)]
        set_look(self.verdict, "bad" if faults else "good")
        if faults:
            more = f" ({count(len(faults) - 1, 'more fault')}.)" if len(faults) > 1 else ""
            self.verdict.setText(sentence(faults[0]) + more)
        elif mine is not None:
            self.verdict.setText(f"Sound, {count(len(check.pieces), 'piece')}. " + sentence(mine.sentence))
        else:
            self.verdict.setText("No seams: the part stays whole and fits a sheet.")
