"""Files and words on their way into the window: opened, begun with, added, dropped."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QMimeData
from PySide6.QtWidgets import QFileDialog

from app.errors import AppError
from app.job.document import Artwork, DisplayUnits, Job, ScaleBy, Text
from app.window.artwork_files import FileKind, kind_of_file
from app.window.document import Edit
from app.window.job_files import (
    JOB_SUFFIX,
    fonts_at_hand,
    job_from_artwork,
    job_from_words,
    with_artwork_file,
    with_other_words,
    with_words,
)
from app.window.usual import usual_units, with_usual
from app.window.wording import count
from app.window.words_dialog import SetWords, WordsDialog
from geometry.findings import Severity

if TYPE_CHECKING:
    from app.window.main_window import MainWindow

JOB_FILTER: Final = f"Jobs (*{JOB_SUFFIX});;All files (*)"
ARTWORK_FILTER: Final = (
    "Artwork and fonts (*.svg *.svgz *.dxf *.pdf *.ai *.ttf *.otf *.ttc *.woff *.woff2);;"
    "Drawings (*.svg *.svgz *.dxf *.pdf *.ai);;Fonts (*.ttf *.otf *.ttc *.woff *.woff2);;All files (*)"
)
"""Only a help in the file dialog: what a file is is told by its contents."""


class TakingIn:
    """Everything that brings a job, artwork or words into a window."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window
        self._session, self._settings, self._banner = window.session, window.settings, window.banner

    def open_path(self, path: str) -> None:
        """Open a job file, or begin a job with an artwork file or with words in a font file."""
        try:
            kind = kind_of_file(path)
            if kind is FileKind.FONT:
                self.begin_with_words(path)
                return
            if not self._window.may_leave():
                return
            if kind is FileKind.ARTWORK:
                self._begin(job_from_artwork(path, self._usual))
                self._settings.remember_folder("artwork", os.path.dirname(os.path.abspath(path)))
                return
            job = self._session.services.read_job(path)
        except AppError as error:
            self._refuse(error)
            return
        self._banner.clear()
        self._session.document.open(job, os.path.abspath(path))
        self._settings.remember_job(path)
        self._settings.remember_folder("open", os.path.dirname(os.path.abspath(path)))
        self._window.go(0)

    def begin_with_words(self, font: str = "") -> None:
        """Ask for words, font and size, and begin a job with them."""
        answer = self._ask_words("New job from words", font)
        if answer is not None and self._window.may_leave():
            self._begin(job_from_words(answer.text, answer.capital, self._usual))

    def add_artwork(self, paths: Sequence[str]) -> None:
        """Add artwork files to the job in hand, as one step; a font asks for words."""
        drawings, fonts = [], []
        for path in paths:
            try:
                kind = kind_of_file(path)
            except AppError as error:
                self._refuse(error)
                return
            name = os.path.basename(path)
            if kind is FileKind.JOB:
                self._say(f"{name} is a job, not artwork; open it instead, or choose a drawing")
                return
            self._settings.remember_folder("artwork", os.path.dirname(os.path.abspath(path)))
            (fonts if kind is FileKind.FONT else drawings).append(path)

        def with_drawings(job: Job) -> Job:
            for path in drawings:
                job = with_artwork_file(job, path)
            return job

        if drawings:
            named = os.path.basename(drawings[0]) if len(drawings) == 1 else count(len(drawings), "drawing")
            self._add(f"add {named}", with_drawings)
        for font in fonts:
            self.add_words(font)

    def add_words(self, font: str = "") -> None:
        """Ask for words, font and size, and add them to the job in hand."""
        answer = self._ask_words("Add words", font)
        if answer is not None:
            self._add("add words", lambda job: with_words(job, answer.text, answer.capital))

    def change_words(self, artwork: Artwork) -> None:
        """Ask for other words, font or spacing in place of an artwork's."""
        job, text = self._session.document.job, artwork.text
        if job is None or text is None:
            return
        by_capital = artwork.scale.by is ScaleBy.CAPITAL_HEIGHT and artwork.scale.length is not None
        dialog = WordsDialog(
            "Change words",
            job.units,
            fonts=fonts_at_hand(job),
            text=_from_here(text, job),
            capital=artwork.scale.length if by_capital else None,
            parent=self._window,
        )
        answer = self._answer(dialog)
        if answer is not None:
            self._add("change words", lambda job: with_other_words(job, artwork, answer.text, answer.capital), artwork)

    def drop(self, paths: Sequence[str]) -> None:
        """Take dropped files: a job is opened, artwork added to the job in hand or a new one begun with it."""
        try:
            kinds = {path: kind_of_file(path) for path in paths}
        except AppError as error:
            self._refuse(error)
            return
        jobs = [path for path, kind in kinds.items() if kind is FileKind.JOB]
        rest = [path for path in paths if path not in jobs]
        if len(jobs) > 1 or (jobs and rest):
            self._say("drop one job by itself, or drawings and fonts without a job")
        elif jobs or (self._session.document.job is None and len(rest) == 1):
            self.open_path((jobs or rest)[0])
        elif self._session.document.job is None:
            first = next((path for path in rest if kinds[path] is FileKind.ARTWORK), rest[0])
            self.open_path(first)
            if self._session.document.job is not None:
                self.add_artwork([path for path in rest if path != first])
        else:
            self.add_artwork(rest)

    def ask_job(self) -> None:
        """Ask for a job file and open it."""
        start = self._settings.folder("open")
        path, _filter = QFileDialog.getOpenFileName(self._window, "Open a job", start, JOB_FILTER)
        if path:
            self.open_path(path)

    def ask_artwork(self) -> None:
        """Ask for artwork and begin a job with it."""
        start = self._settings.folder("artwork")
        path, _filter = QFileDialog.getOpenFileName(self._window, "Begin a job with artwork", start, ARTWORK_FILTER)
        if path:
            self.open_path(path)

    def ask_more_artwork(self) -> None:
        """Ask for artwork, several files perhaps, and add it to the job in hand."""
        start = self._settings.folder("artwork")
        paths, _filter = QFileDialog.getOpenFileNames(self._window, "Add artwork to this job", start, ARTWORK_FILTER)
        if paths:
            self.add_artwork(paths)

    def _ask_words(self, title: str, font: str) -> SetWords | None:
        job = self._session.document.job
        folder = os.path.dirname(os.path.abspath(font)) if font else self._settings.folder("font")
        return self._answer(
            WordsDialog(title, self._units(), font=font, folder=folder, fonts=fonts_at_hand(job), parent=self._window)
        )

    def _answer(self, dialog: WordsDialog) -> SetWords | None:
        is_taken = dialog.exec() == WordsDialog.DialogCode.Accepted
        answer = dialog.answer if is_taken else None
        dialog.deleteLater()
        if answer is not None:
            self._settings.remember_folder("font", os.path.dirname(answer.text.font))
        return answer

    def _units(self) -> DisplayUnits:
        job = self._session.document.job
        return job.units if job is not None else usual_units(self._settings)

    def _begin(self, job: Job) -> None:
        self._banner.clear()
        self._session.document.open(job, None)
        self._window.go(0)

    def _add(self, text: str, edit: Edit, artwork: Artwork | None = None) -> None:
        try:
            self._session.document.edit(text, edit)
        except AppError as error:
            self._refuse(error)
            return
        self._banner.clear()
        job = self._session.document.job
        if job is not None:
            self._window.artwork.show_artwork((artwork or job.artwork[-1]).id)
        self._window.go(0)

    def _usual(self, job: Job) -> Job:
        return with_usual(job, self._settings)

    def _refuse(self, error: AppError) -> None:
        self._say(str(error))

    def _say(self, text: str) -> None:
        self._banner.say(text, Severity.ERROR)


def local_files(data: QMimeData) -> list[str]:
    """Paths of the files that are dragged; nothing when anything else is among them."""
    urls = data.urls()
    return [url.toLocalFile() for url in urls] if urls and all(url.isLocalFile() for url in urls) else []


def _from_here(text: Text, job: Job) -> Text:
    return replace(text, font=os.path.abspath(os.path.join(job.folder, text.font)))
