"""Last place: the files, the report, what was cut and what is cut again."""

from __future__ import annotations

from app.window.cut_place import CutPlace
from app.window.files_place import FilesPlace
from app.window.pages import PagedPlace
from app.window.recut_place import RecutPlace
from app.window.report_place import ReportPlace
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.theme import Theme


class OutputPlace(PagedPlace):
    """Its pages, by name."""

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        self.writing = FilesPlace(session, theme, settings)
        self.cutting = CutPlace(session, theme)
        self.recut = RecutPlace(session, theme, settings)
        self.report = ReportPlace(session, theme)
        super().__init__("Output", (self.writing, self.report, self.cutting, self.recut))
        self.report.files_wanted.connect(lambda: self.show_page(self.writing))

    def write(self) -> None:
        """Write all files."""
        self.show_page(self.writing)
        self.writing.write()
