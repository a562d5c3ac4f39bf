"""Opening the one named file, within the size limit."""

from __future__ import annotations

from pathlib import Path

from app.artwork.limits import Limits
from app.errors import ReadError

FONT_MARKS = (b"\0\1\0\0", b"OTTO", b"true", b"ttcf", b"wOFF", b"wOF2", b"typ1")
"""What font files start with."""


def check_file(path: Path, limits: Limits) -> None:
    """Check that there is such a file, within the size limit.

    Raises
    ------
    ReadError
        If it is missing, a folder, no ordinary file, empty or too large.
    """
    try:
        if path.is_dir():
            raise ReadError(f"{path} is a folder; name the artwork file in it")
        if not path.exists():
            raise ReadError(f"{path} does not exist; check the name and the folder")
        if not path.is_file():
            raise ReadError(f"{path} is not an ordinary file")
        size = path.stat().st_size
    except (OSError, ValueError) as error:
        raise ReadError(f"{path} cannot be opened: {_reason(error)}") from error
    if size == 0:
        raise ReadError(f"{path.name} is empty (0 bytes); ask for the file again")
    if size > limits.file_bytes:
        raise ReadError(
            f"{path.name} has {size / 1e6:.0f} MB, more than the limit of {limits.file_bytes / 1e6:.0f} MB "
            "in the settings"
        )


def read_bytes(path: Path, limits: Limits) -> bytes:
    """Content of a file within the size limit.

    Raises
    ------
    ReadError
        As `check_file`, or if it may not be read.
    """
    check_file(path, limits)
    try:
        return path.read_bytes()
    except OSError as error:
        raise ReadError(f"{path} cannot be opened: {_reason(error)}") from error


def _reason(error: OSError | ValueError) -> str:
    return error.strerror if isinstance(error, OSError) and error.strerror else str(error)
