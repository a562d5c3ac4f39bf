"""The menu of the jobs opened last."""

from __future__ import annotations

import os
from collections.abc import Callable

from PySide6.QtWidgets import QMenu, QWidget

from app.window.settings import WindowSettings


class RecentMenu(QMenu):
    """Filled anew each time it is opened, so that files gone meanwhile are not offered."""

    def __init__(self, settings: WindowSettings, open_path: Callable[[str], object], parent: QWidget) -> None:
        super().__init__("Open &recent", parent)
        self._settings, self._open_path = settings, open_path
        self.setToolTipsVisible(True)
        self.aboutToShow.connect(self.fill)
        self.fill()

    def fill(self) -> None:
        """One line for each job; the first nine answer to their digit."""
        self.clear()
        for number, path in enumerate(self._settings.recent_jobs, start=1):
            name = os.path.basename(path).replace("&", "&&")
            action = self.addAction(f"&{number}  {name}" if number < 10 else name)
            action.setToolTip(path)
            action.triggered.connect(lambda _checked=False, path=path: self._open_path(path))
        if self.isEmpty():
            self.addAction("No job was opened yet").setEnabled(False)
