"""One door for all artwork files: the reader is chosen by what is in the file, not by its name alone."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from app.artwork.child import ReadingProcess
from app.artwork.drawing import Drawing
from app.artwork.files import FONT_MARKS, check_file, read_bytes
from app.artwork.limits import DEFAULT_LIMITS, Limits, limits_set
from app.artwork.notes import Notes
from app.artwork.options import DEFAULT_OPTIONS, ReadOptions
from app.errors import ReadError, UnsupportedFile
from app.job.document import Text
from geometry.units import MM_PER

_HEAD = 4096
_BINARY_DXF = b"AutoCAD Binary DXF"
_READABLE = "DXF, SVG, PDF and PDF-compatible artwork files are read"


def read_drawing(
    path: str | os.PathLike[str],
    *,
    units: str | None = None,
    layers: tuple[str, ...] | None = None,
    options: ReadOptions | None = None,
    limits: Limits | None = None,
    process: ReadingProcess | None = None,
) -> Drawing:
    """Read an artwork file in a process of its own. Nothing but the named file is opened, and fonts in given folders.

    Parameters
    ----------
    path : path
        DXF (text or binary), SVG (plain or packed), PDF or a PDF-compatible artwork file.
    units : str, optional
        Unit of the file's numbers ("in", "mm", "cm", "m", "ft", "yd", "px", "pt", "pc"), against what the file states.
    layers : tuple of str, optional
        Layers to read, hidden or not; all visible ones when None.
    options : ReadOptions, optional
        Further choices; `units` and `layers` given above go before those in it.
    limits : Limits, optional
        How large the file may be in every respect, and how long and with how much memory it may be read; those of the
        settings by default.
    process : ReadingProcess, optional
        The process to ask, whose own limits hold then; by default one is started for this file.

    Raises
    ------
    ReadError
        If there is no such file, it cannot be opened, is too large, of no known kind, damaged, or holds nothing that
        could be cut; also when a limit is reached or the reading process dies.
    """
    chosen = options or DEFAULT_OPTIONS
    chosen = replace(chosen, units=units or chosen.units, layers=chosen.layers if layers is None else layers)
    limits = limits or limits_set()
    path = Path(path)
    _check_units(chosen)
    check_file(path, limits)
    if process is not None:
        return process.read_file(path, chosen)
    with ReadingProcess(limits) as own:
        return own.read_file(path, chosen)


def read_words(
    text: Text,
    font: str | os.PathLike[str],
    *,
    join_overlaps: bool = False,
    limits: Limits | None = None,
    process: ReadingProcess | None = None,
) -> Drawing:
    """Set words in a font, in a process of its own; `app.artwork.fonts.set_text` tells how.

    Characters that overlap, as those of a script do, are made one letter when `join_overlaps` says so.

    Raises
    ------
    ReadError
        As `set_text`; also when a limit is reached or the reading process dies.
    """
    limits = limits or limits_set()
    path = Path(font)
    check_file(path, limits)
    if process is not None:
        drawing = process.set_words(text, path)
    else:
        with ReadingProcess(limits) as own:
            drawing = own.set_words(text, path)
    return _joined(drawing, path.name) if join_overlaps else drawing


def read_here(path: Path, *, options: ReadOptions = DEFAULT_OPTIONS, limits: Limits = DEFAULT_LIMITS) -> Drawing:
    """`read_drawing` in this process, where nothing holds back a library that hangs or crashes."""
    _check_units(options)
    data = read_bytes(path, limits)
    kind = kind_of(data)
    if options.page != 1 and kind in ("dxf", "svg"):
        raise ReadError(f"{path.name} has one page only, so there is no page {options.page}; leave the page out")
    # Each reader brings its libraries; only the one that is wanted is imported.
    if kind == "dxf":
        from app.artwork.dxf import read_dxf

        drawing = read_dxf(str(path), path.name, options=options, limits=limits)
    elif kind == "pdf":
        from app.artwork.pdf import read_pdf

        drawing = read_pdf(data, path.name, options=options, limits=limits)
    elif kind == "svg":
        from app.artwork.svg import read_svg

        drawing = read_svg(data, path.name, options=options, limits=limits)
    else:
        raise UnsupportedFile(f"{path.name} is {_what(data)}; {_READABLE}")
    if options.join_overlaps:
        drawing = _joined(drawing, path.name)
    if not drawing.shapes:
        raise ReadError(_nothing(path.name, drawing))
    return drawing


def _joined(drawing: Drawing, name: str) -> Drawing:
    from app.artwork.joining import united

    notes = Notes(name)
    shapes = united(drawing.shapes, notes)
    return replace(drawing, shapes=shapes, findings=drawing.findings + notes.findings())


def _check_units(options: ReadOptions) -> None:
    if options.units is not None and options.units not in MM_PER:
        raise ReadError(f"'{options.units}' is no unit; use one of {', '.join(sorted(MM_PER))}")


def kind_of(data: bytes) -> str:
    """Kind of artwork by content: "dxf", "svg", "pdf", or "" when it is none of them."""
    if data.startswith(_BINARY_DXF):
        return "dxf"
    if data.startswith(b"\x1f\x8b"):
        return "svg"  # packed; what is inside is found out by unpacking within the limits
    head = data[:_HEAD]
    if b"%PDF-" in head[:1024]:
        return "pdf"
    if head.startswith((b"\xff\xfe", b"\xfe\xff", b"<\x00", b"\x00<")):
        encoding = "utf-16-be" if head[0] in (0xFE, 0x00) else "utf-16-le"
        head = head.decode(encoding, errors="ignore").encode("utf-8", errors="ignore")
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith(b"<"):
        return "" if b"<html" in text[:1024].lower() else "svg"
    if _looks_like_dxf(text):
        return "dxf"
    return ""


def is_artwork(path: str | os.PathLike[str]) -> bool:
    """Whether a file is artwork or a font by its first bytes; False when it cannot be opened."""
    try:
        with open(path, "rb") as stream:
            data = stream.read(_HEAD)
    except (OSError, ValueError):
        return False
    return kind_of(data) != "" or data.startswith(FONT_MARKS)


def _looks_like_dxf(text: bytes) -> bool:
    """Whether it starts with group code 0 or 999 on a line of its own, as every text DXF does."""
    if b"\0" in text:
        return False
    rows = [row.strip() for row in text[:2048].splitlines()[:400]]
    while len(rows) >= 2 and rows[0] == b"999":
        rows = rows[2:]
    return len(rows) >= 2 and rows[0] == b"0" and rows[1].upper() in (b"SECTION", b"EOF")


def _what(data: bytes) -> str:
    for mark, what in (
        (b"\x89PNG", "a PNG picture, which has no outlines to cut; ask for a drawing"),
        (b"\xff\xd8\xff", "a JPEG picture, which has no outlines to cut; ask for a drawing"),
        (b"GIF8", "a GIF picture, which has no outlines to cut; ask for a drawing"),
        (b"II*\0", "a TIFF picture, which has no outlines to cut; ask for a drawing"),
        (b"AC10", "a DWG drawing; save it as DXF"),
        (b"PK\x03\x04", "a packed folder or office document; take the drawing out of it"),
        (b"%!PS", "a PostScript file; save it as PDF or SVG"),
        (b"\0\x01\0\0", "a font; set words in it instead of reading it as artwork"),
        (b"OTTO", "a font; set words in it instead of reading it as artwork"),
    ):
        if data.startswith(mark):
            return what
    return "no drawing that can be recognised"


def _nothing(name: str, drawing: Drawing) -> str:
    notes = Notes(name)
    notes.extend(drawing.findings)
    said = next((finding.message for finding in drawing.findings if finding.severity == "error"), "")
    said = said or next((finding.message for finding in drawing.findings if "unit" not in finding.code), "")
    return f"{name} holds no shape that could be cut" + (f": {said}" if said else "")
