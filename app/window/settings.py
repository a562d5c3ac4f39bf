"""What the window remembers between runs."""

from __future__ import annotations

import os
from typing import Final

from PySide6.QtCore import QByteArray, QSettings

from app.window.theme import ThemeChoice

ORGANISATION: Final = "Letterbed"
RECENT_LIMIT: Final = 8


class WindowSettings:
    """Typed access to a `QSettings`; tests hand in one on a file of their own."""

    def __init__(self, store: QSettings | None = None) -> None:
        self._store = store if store is not None else QSettings(ORGANISATION, ORGANISATION)

    @property
    def theme(self) -> ThemeChoice:
        """Light, dark, or as the system says."""
        value = self._store.value("look/theme", ThemeChoice.SYSTEM.value)
        return ThemeChoice(value) if value in list(ThemeChoice) else ThemeChoice.SYSTEM

    @theme.setter
    def theme(self, choice: ThemeChoice) -> None:
        self._store.setValue("look/theme", choice.value)

    @property
    def geometry(self) -> QByteArray | None:
        """Place and size of the window."""
        value = self._store.value("window/geometry")
        return value if isinstance(value, QByteArray) and not value.isEmpty() else None

    @geometry.setter
    def geometry(self, value: QByteArray) -> None:
        self._store.setValue("window/geometry", value)

    @property
    def recent_jobs(self) -> list[str]:
        """Job files opened last, newest first; those that are gone are left out."""
        value = self._store.value("jobs/recent", [])
        paths = [value] if isinstance(value, str) else list(value or [])
        return [path for path in paths if isinstance(path, str) and os.path.isfile(path)][:RECENT_LIMIT]

    def remember_job(self, path: str) -> None:
        """Put a job file at the head of the recent ones."""
        path = os.path.abspath(path)
        self._store.setValue("jobs/recent", [path, *(one for one in self.recent_jobs if one != path)][:RECENT_LIMIT])

    def usual(self, what: str) -> str:
        """What was last chosen for all jobs to come ("units"), or nothing."""
        value = self._store.value(f"usual/{_key(what)}", "")
        return value if isinstance(value, str) else ""

    def set_usual(self, what: str, value: str) -> None:
        """Keep a choice for all jobs to come."""
        self._store.setValue(f"usual/{_key(what)}", value)

    def folder(self, purpose: str) -> str:
        """The folder last used for a purpose ("open", "artwork", "output"), or nothing."""
        value = self._store.value(f"folders/{purpose}", "")
        return value if isinstance(value, str) and os.path.isdir(value) else ""

    def remember_folder(self, purpose: str, folder: str) -> None:
        """Keep the folder last used for a purpose."""
        self._store.setValue(f"folders/{purpose}", folder)


def _key(what: str) -> str:
    """A name without what `QSettings` takes for a group."""
    return what.replace("/", "_").replace("\\", "_")
