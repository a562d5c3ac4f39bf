"""`letterbed read`: what an artwork file holds."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from app.errors import ExportError, JobError
from geometry.units import MM_PER

if TYPE_CHECKING:
    from app.artwork.drawing import Drawing, Lettering
    from app.job.document import Artwork, Scale


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    read = commands.add_parser(
        "read",
        help="what an artwork file holds: letters, sizes, findings",
        description="Read artwork (SVG, DXF, PDF, PDF-compatible artwork files, or words in a font) and print its "
        "letters, sizes in both units, pieces before and after arc fitting, and findings. A length is written with its "
        'unit: 18in, 1 1/2", 4\' 6", 457mm.',
        epilog="Other limits of reading are environment variables: LETTERBED_READ_SECONDS, LETTERBED_READ_MEMORY_MB, "
        "LETTERBED_READ_FILE_MB, LETTERBED_READ_OBJECTS, LETTERBED_READ_SEGMENTS, LETTERBED_READ_DEPTH, "
        "LETTERBED_READ_CHARACTERS.",
    )
    read.add_argument(
        "artwork", metavar="ARTWORK", help="SVG, DXF or PDF file, or with --words a font (TTF, OTF, TTC, WOFF)"
    )
    size = read.add_mutually_exclusive_group()
    size.add_argument(
        "--height",
        metavar="LENGTH",
        help="height of a capital; measured on letters with flat tops when the artwork is a file",
    )
    size.add_argument("--overall-width", metavar="LENGTH", help="width of the whole artwork")
    size.add_argument("--overall-height", metavar="LENGTH", help="height of the whole artwork")
    size.add_argument(
        "--dimension",
        metavar='"X,Y X,Y LENGTH"',
        help='two points, in the file\'s own numbers and unit, and how far apart they are in truth: "0,0 240,0 18in"',
    )
    read.add_argument(
        "--units", metavar="UNIT", help=f"unit of the file's numbers, against what it states: {', '.join(MM_PER)}"
    )
    read.add_argument(
        "--layer", action="append", metavar="NAME", help="layer to read; repeat for more (all when left out)"
    )
    read.add_argument("--page", type=int, metavar="N", help="page of a PDF, from 1 (the first when left out)")
    read.add_argument("--outline-strokes", action="store_true", help="read strokes as the outline they paint")
    read.add_argument("--join-overlaps", action="store_true", help="make overlapping shapes or characters one")
    read.add_argument(
        "--join-gap",
        metavar="LENGTH",
        help="join loose ends of bare lines up to this gap, as drawn (0.1 mm when left out)",
    )
    read.add_argument(
        "--font-folder",
        action="append",
        metavar="DIR",
        help="where fonts are for the text of a DXF or PDF that holds none",
    )
    read.add_argument("--words", metavar="WORDS", help="words to set, when ARTWORK is a font")
    read.add_argument(
        "--axis", action="append", metavar="TAG=VALUE", help="axis of a variable font: wght=700; repeat for more"
    )
    read.add_argument("--picture", metavar="FILE", help="write a drawing of what was read, with findings marked (SVG)")
    read.add_argument("--read-seconds", type=float, metavar="S", help="longest time the reading may take, s (60)")
    read.add_argument("--read-memory-mb", type=float, metavar="MB", help="most memory the reading may take, MB (2147)")
    read.add_argument("--json", action="store_true", help="print JSON instead of text")
    read.set_defaults(run=_read)


def _read(chosen: argparse.Namespace) -> int:
    import json

    from app.artwork.report import reading_as_json, reading_as_text

    drawing, lettering = _reading(chosen)
    if chosen.picture is not None:
        _write_picture(lettering, Path(chosen.picture))
    if chosen.json:
        print(json.dumps(reading_as_json(drawing, lettering), indent=1, ensure_ascii=False))
    else:
        print(reading_as_text(drawing, lettering))
    return 0


def _reading(chosen: argparse.Namespace) -> tuple[Drawing, Lettering]:
    from app.artwork.letters import letter_drawing
    from app.artwork.limits import limits_set
    from app.planning.prepare import draw

    artwork = _artwork(chosen)
    limits = limits_set(seconds=chosen.read_seconds, memory_mb=chosen.read_memory_mb)
    drawing = draw(artwork, folder="", limits=limits)
    return drawing, letter_drawing(drawing, artwork)


def _artwork(chosen: argparse.Namespace) -> Artwork:
    from app.job.document import Artwork, Text

    path = os.path.abspath(chosen.artwork)
    text = None
    if chosen.words is not None:
        _refuse_choices_of_files(chosen)
        text = Text(chosen.words, path, axes=tuple(map(_axis, chosen.axis or ())))
    elif chosen.axis:
        raise JobError("--axis belongs to words in a font; give --words too")
    return Artwork(
        id="artwork",
        name=os.path.basename(path),
        build="",
        file=None if text else path,
        text=text,
        scale=_scale(chosen),
        units=chosen.units,
        layers=tuple(chosen.layer) if chosen.layer else None,
        page=1 if chosen.page is None else chosen.page,
        outline_strokes=chosen.outline_strokes,
        join_overlaps=chosen.join_overlaps,
        join_gap=None if chosen.join_gap is None else _length("--join-gap", chosen.join_gap),
        font_folders=tuple(map(os.path.abspath, chosen.font_folder or ())),
    )


def _refuse_choices_of_files(chosen: argparse.Namespace) -> None:
    """Words in a font have no unit, layers, pages or strokes: a choice among them would change nothing."""
    for given, option in (
        (chosen.units, "--units"),
        (chosen.layer, "--layer"),
        (chosen.page, "--page"),
        (chosen.outline_strokes, "--outline-strokes"),
        (chosen.join_gap, "--join-gap"),
        (chosen.font_folder, "--font-folder"),
        (chosen.dimension, "--dimension"),
    ):
        if given:
            raise JobError(f"{option} belongs to files, not to words in a font; leave it out")


def _axis(text: str) -> tuple[str, float]:
    tag, _, value = text.partition("=")
    try:
        return tag.strip(), float(value)
    except ValueError as error:
        raise JobError(f"--axis '{text}' is not a tag and a number; write it like wght=700") from error


def _scale(chosen: argparse.Namespace) -> Scale:
    from app.job.document import Scale, ScaleBy

    for option, by in (
        ("height", ScaleBy.CAPITAL_HEIGHT),
        ("overall_width", ScaleBy.OVERALL_WIDTH),
        ("overall_height", ScaleBy.OVERALL_HEIGHT),
    ):
        given = getattr(chosen, option)
        if given is not None:
            return Scale(by, _length(f"--{option.replace('_', '-')}", given))
    if chosen.dimension is not None:
        words = chosen.dimension.split(None, 2)
        if len(words) != 3:
            raise JobError(f"--dimension '{chosen.dimension}' is not two points and a length; {_DIMENSION}")
        return Scale(ScaleBy.KNOWN_DIMENSION, _length("--dimension", words[2]), _point(words[0]), _point(words[1]))
    return Scale()


_DIMENSION = 'write it like "0,0 240,0 18in"'


def _point(text: str) -> tuple[float, float]:
    try:
        x, y = map(float, text.split(","))
    except ValueError as error:
        raise JobError(f"--dimension: '{text}' is no point; {_DIMENSION}") from error
    return x, y


def _length(option: str, text: str) -> float:
    from geometry.errors import InvalidLength
    from geometry.units import parse_length

    try:
        length = parse_length(text)
    except InvalidLength as error:
        raise JobError(f"{option}: {error}") from error
    if length <= 0.0:
        raise JobError(f"{option}: {text.strip()} is not possible; give more than 0")
    return length


def _write_picture(lettering: Lettering, path: Path) -> None:
    from app.artwork.picture import lettering_as_svg

    unfinished = path.with_name(path.name + ".part")
    try:
        unfinished.write_text(lettering_as_svg(lettering), encoding="utf-8")
        unfinished.replace(path)
    except OSError as error:
        raise ExportError(f"the picture {path} cannot be written ({error.strerror}); name another file") from error
