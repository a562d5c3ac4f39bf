"""Text of a DXF as outlines, where its font is at hand."""

from __future__ import annotations

import functools
from pathlib import Path

from app.artwork.drawing import Shape, Source
from app.artwork.dxf_model import Words
from app.artwork.fonts import set_text
from app.artwork.limits import Limits
from app.errors import ReadError
from app.job.document import Align, Text
from geometry.measure import Bounds, contour_bounds
from geometry.transform import Affine, scaling, transform_contour, translation

_ALIGN = {"left": Align.LEFT, "centre": Align.CENTRE, "right": Align.RIGHT}
_ENDINGS = (".ttf", ".otf", ".ttc")


def find_font(name: str, folders: tuple[str, ...]) -> Path | None:
    """File of a font that a text style names, in the folders the user gave; None when it is not there.

    Only the name counts, not the folder that the file may give with it.
    """
    wanted = name.replace("\\", "/").rpartition("/")[2].lower()
    if not wanted:
        return None
    stem = wanted if wanted.endswith(_ENDINGS) else wanted + ".ttf"
    for folder in folders:
        try:
            files = sorted(Path(folder).iterdir())
        except OSError:
            continue
        for file in files:
            if file.name.lower() == stem and file.is_file():
                return file
    return None


def word_shapes(
    words: Words, font: Path, matrix: Affine, source: Source, limits: Limits
) -> tuple[tuple[Shape, ...], bool]:
    """One shape per character, in the drawing's coordinates, and whether lines run past their column.

    The text is aligned by the extent of its outlines, which may differ by a side bearing from where the drawing
    program puts it.

    Parameters
    ----------
    words : Words
    font : Path
    matrix : Affine
        From the text's block to the drawing.
    source : Source
        The character takes the place of its object id.
    limits : Limits

    Raises
    ------
    ReadError
        If the font cannot be read, has none of the characters, or no capital to size by.
    """
    drawing = set_text(Text(words.text, str(font), align=_ALIGN[words.align]), font, limits=limits)
    if not drawing.capital_height:
        raise ReadError(f"{font.name} has no capital to size the text by")
    to_capital = scaling(1.0 / drawing.capital_height)
    box = functools.reduce(Bounds.union, (contour_bounds(c) for shape in drawing.shapes for c in shape.contours))
    width, low = box.max_x / drawing.capital_height, box.min_y / drawing.capital_height
    shift_x = {"left": 0.0, "centre": -width / 2.0, "right": -width}[words.align]
    shift_y = {"baseline": 0.0, "bottom": -min(low, 0.0), "middle": -0.5, "top": -1.0}[words.upright]
    placed = to_capital.then(translation(shift_x, shift_y)).then(words.matrix).then(matrix)
    # Breaking lines is left to the drawing program: only its own rules give the lines it shows.
    is_too_wide = 0.0 < words.column < (box.max_x - box.min_x) / drawing.capital_height and " " in words.text
    shapes = tuple(
        Shape(
            tuple(transform_contour(contour, placed) for contour in shape.contours),
            shape.rule,
            Source(source.file, source.layer, shape.source.object_id),
            is_character=True,
        )
        for shape in drawing.shapes
    )
    return shapes, is_too_wide
