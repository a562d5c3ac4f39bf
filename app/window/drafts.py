"""Unsaved work on disk: one file for each window, taken up again after a crash and gone once the job is saved."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final
from uuid import uuid4

from PySide6.QtCore import QIODevice, QLockFile, QSaveFile

from app.errors import JobFileError
from app.job.document import Job

PLACE_VARIABLE: Final = "LETTERBED_UNSAVED"
"""Environment variable that names the folder of the drafts."""

_SUFFIX: Final = ".unsaved"
_VERSION_KEY: Final = "letterbed_unsaved"
_VERSION: Final = 1


def drafts_place() -> str:
    """Folder of the drafts: as the environment variable says, else in the user's data folder."""
    given = os.environ.get(PLACE_VARIABLE)
    if given:
        return os.path.abspath(given)
    from platformdirs import user_data_dir

    return os.path.join(user_data_dir("letterbed", appauthor=False), "unsaved")


@dataclass(frozen=True, slots=True)
class Draft:
    """Unsaved work as it was kept.

    Fields
    ------
    job : Job
    path : str or None
        The job's file, where it had one.
    kept_at : datetime
    """

    job: Job
    path: str | None
    kept_at: datetime


class DraftSlot:
    """A place for one window's draft. It belongs to who holds its lock; a lock ends with its process.

    Parameters
    ----------
    file : str
        Path of the draft.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self._lock = QLockFile(file + ".lock")
        self._lock.setStaleLockTime(0)  # only the end of the process that took it makes it free

    @classmethod
    def new(cls, folder: str) -> DraftSlot:
        """A free slot of the folder."""
        return cls(os.path.join(folder, uuid4().hex + _SUFFIX))

    def take(self) -> bool:
        """Take the slot; whether it is now this window's."""
        return self._lock.isLocked() or self._lock.tryLock(0)

    def write(self, draft: Draft) -> None:
        """Keep a draft; the file holds the old one or the new one at every moment.

        Raises
        ------
        JobFileError
            When the disk refuses.
        """
        from app.job.to_json import job_text

        try:
            os.makedirs(os.path.dirname(self.file), exist_ok=True)
        except OSError as error:
            raise _not_kept(error.strerror or str(error)) from error
        if not self.take():
            raise _not_kept("its lock cannot be had")
        text = json.dumps(
            {
                _VERSION_KEY: _VERSION,
                "path": draft.path,
                "folder": draft.job.folder,
                "kept_at": draft.kept_at.isoformat(),
                "job": job_text(draft.job),
            },
            ensure_ascii=True,
        )
        file = QSaveFile(self.file)
        is_open = file.open(QIODevice.OpenModeFlag.WriteOnly)
        if not is_open or file.write(text.encode("ascii")) < 0 or not file.commit():
            raise _not_kept(file.errorString())

    def read(self) -> Draft:
        """The draft.

        Raises
        ------
        JobFileError
            When it is not one that this version can read.
        """
        from app.job.file import job_of_text

        try:
            with open(self.file, encoding="ascii") as stream:
                found = json.load(stream)
            text, folder, path = found["job"], str(found["folder"]), found["path"]
            kept_at = datetime.fromisoformat(found["kept_at"])
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise JobFileError(f"unsaved work in {os.path.basename(self.file)} cannot be read") from error
        job = job_of_text(text, "unsaved work", folder=folder)
        return Draft(job, path if isinstance(path, str) else None, kept_at)

    def clear(self) -> None:
        """Let the draft go and keep the slot."""
        with suppress(OSError):  # where it could not be written it cannot be unlinked either
            os.unlink(self.file)

    def drop(self) -> None:
        """Let the draft and the slot go."""
        self.clear()
        self.release()

    def release(self) -> None:
        """Leave the slot to others, draft and all."""
        self._lock.unlock()


def left_behind(folder: str) -> list[tuple[DraftSlot, Draft]]:
    """Drafts whose window has ended without saving or dropping them, newest first; their slots are taken by this call.

    One that cannot be read stays where it is, for a version that can.
    """
    found = []
    with suppress(FileNotFoundError), os.scandir(folder) as entries:
        for entry in entries:
            if not entry.name.endswith(_SUFFIX):
                continue
            slot = DraftSlot(entry.path)
            if not slot.take():
                continue  # of a window that is open
            try:
                found.append((slot, slot.read()))
            except JobFileError:
                slot.release()
    return sorted(found, key=lambda one: one[1].kept_at, reverse=True)


def now() -> datetime:
    """The present moment."""
    return datetime.now(UTC)


def _not_kept(why: str) -> JobFileError:
    return JobFileError(f"unsaved work could not be kept for after a crash: {why}; save the job, and often")
