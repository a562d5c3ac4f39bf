"""Which build makes the letters: for the whole artwork, or for those that are chosen."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.artwork.drawing import Letter
from app.job.document import Artwork, Job
from app.window.facts import button, words
from app.window.fields import Choice
from app.window.wording import count

SEVERAL = "(several)"


class BuildChoice(QWidget):
    """Whom it is for, the build, and a door to its settings.

    Signals
    -------
    chosen : str
        Id of the build.
    settings_wanted : the build is to be looked at or changed
    """

    chosen = Signal(str)
    settings_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.for_whom = words("", "muted")
        self.build = Choice("Build of the letters")
        self.build.chosen.connect(lambda build: self.chosen.emit(build) if build != SEVERAL else None)
        self.settings = button("Settings…", tip="Materials and numbers of this build, or a new one like it")
        self.settings.setAccessibleName("Settings of the build")
        self.settings.clicked.connect(self.settings_wanted)
        self.build.setToolTip(
            "How the letters are made. It is for the letters chosen in the list or on the drawing "
            "(Ctrl or Shift adds one), else for the whole artwork."
        )
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self.build, 1)
        row.addWidget(self.settings)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(5)
        box.addWidget(self.for_whom)
        box.addLayout(row)

    @property
    def shown(self) -> str:
        """Id of the build shown; nothing when the letters have several."""
        build = self.build.currentData()
        return build if isinstance(build, str) and build != SEVERAL else ""

    def show_builds(self, job: Job, artwork: Artwork, letters: Sequence[Letter]) -> None:
        """Show the build of some letters, or of the whole artwork when there are none."""
        self.for_whom.setText(whom(letters))
        builds = {artwork.build_of(letter.id) for letter in letters} or {
            artwork.build,
            *(build for _letter, build in artwork.letter_builds),
        }
        entries = [(build.name, build.id) for build in job.builds]
        if len(builds) > 1:
            self.build.offer([("several builds", SEVERAL), *entries], SEVERAL)
        else:
            self.build.offer(entries, next(iter(builds)))
        self.settings.setEnabled(len(builds) == 1)


def whom(letters: Sequence[Letter]) -> str:
    """Which letters something is for."""
    if not letters:
        return "For all letters of this artwork"
    names = " ".join(letter.name for letter in letters[:12]) + (" …" if len(letters) > 12 else "")
    return f"For {count(len(letters), 'letter')} chosen: {names}"


def letters_made(job: Job, build: str, letters: Sequence[Letter]) -> int:
    """How many letters of the job a build makes."""
    artwork = {one.id: one for one in job.artwork}
    return sum(artwork[one.artwork].build_of(one.id) == build for one in letters if one.artwork in artwork)
