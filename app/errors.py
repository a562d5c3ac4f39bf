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


class UnitWanted(JobError):
    """An artwork whose file states no unit, to be made as drawn: somebody has to say in what it is drawn.

    Fields
    ------
    artwork : str
        Id of the artwork.
    size : tuple of float
        Its width and height in the file's numbers.
    """

    def __init__(self, message: str, artwork: str, size: tuple[float, float]) -> None:
        super().__init__(message)
        self.artwork, self.size = artwork, size

    def __reduce__(self) -> tuple[type[UnitWanted], tuple[str, str, tuple[float, float]]]:
        return (type(self), (self.message, self.artwork, self.size))


class JobFileError(AppError):
    """A job file that cannot be read or written."""


class NewerJobFile(JobFileError):
    """A job file written by a later version."""


class ExportError(AppError):
    """Output that could not be written, or that did not read back the same."""


class PlanningError(AppError):
    """Planning that ended without an answer."""
