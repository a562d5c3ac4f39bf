"""What a file is, told by its contents as the readers tell it: a job, artwork, or a font to set words in."""

from __future__ import annotations

import os
from enum import Enum, auto
from typing import Final

from app.errors import ReadError

HEAD_BYTES: Final = 4096
"""Every kind there is shows itself within this."""
FONT_MARKS: Final = (b"\0\1\0\0", b"OTTO", b"true", b"ttcf", b"wOFF", b"wOF2")
"""First bytes of TrueType, OpenType with cubic outlines, Apple's TrueType, collections and the two web forms:
OpenType specification 1.9, "Organization of an OpenType font"; W3C WOFF 1.0 and 2.0."""


class FileKind(Enum):
    """What a file can be opened as."""

    JOB = auto()
    ARTWORK = auto()
    FONT = auto()


def kind_of_file(path: str) -> FileKind:
    """What a file is, by its first bytes; its name only decides between a job and nothing known.

    Raises
    ------
    ReadError
        When it cannot be opened, or holds nothing that can; one sentence.
    """
    from app.artwork.read import kind_of

    name = os.path.basename(path)
    try:
        with open(path, "rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as error:
        why = error.strerror or "it is not readable"
        raise ReadError(f"{name} cannot be opened: {why}; check that the file is there") from error
    if head.startswith(FONT_MARKS):
        return FileKind.FONT
    if kind_of(head):
        return FileKind.ARTWORK
    if os.path.splitext(name)[1].lower() == ".json" or head.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{"):
        return FileKind.JOB
    _refuse(path)
    return FileKind.ARTWORK


def _refuse(path: str) -> None:
    """Have the readers say what the file is instead: they know pictures, office documents and the like by name."""
    from pathlib import Path

    from app.artwork.read import read_here

    read_here(Path(path))
