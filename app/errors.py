"""Errors that a person is meant to read: one sentence each, caught at the border (`app.cli`, `app.window`)."""

from __future__ import annotations


class AppError(Exception):
    """Base: `message` is one clear sentence (what, where, value, limit, way out)."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def __str__(self) -> str:
        return self.message


class ReadError(AppError):
    """Artwork or a font that cannot be read."""


class UnsupportedFile(ReadError):
    """A file of a kind no reader knows."""


class DamagedFile(ReadError):
    """A file that breaks its own format."""


class JobError(AppError):
    """A job document that asks for something impossible."""


class JobFileError(AppError):
    """A job file that cannot be read or written."""


class NewerJobFile(JobFileError):
    """A job file written by a later version."""


class ExportError(AppError):
    """Output that could not be written, or that did not read back the same."""


class PlanningError(AppError):
    """Planning that ended without an answer."""
