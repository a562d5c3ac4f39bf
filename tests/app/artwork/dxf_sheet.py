"""DXF files being drawn for a test, saved and read back."""

from __future__ import annotations

from pathlib import Path

import ezdxf

from app.artwork.drawing import Drawing, Lettering
from app.artwork.dxf import read_dxf
from app.artwork.letters import letter_drawing
from app.artwork.options import ReadOptions
from app.job.document import Artwork
from geometry.contour import Contour
from geometry.measure import contour_bounds


class Sheet:
    """A DXF being drawn, saved and read back."""

    def __init__(self, folder: Path, *, insunits: int | None = 4, measurement: int = 1) -> None:
        self.path = folder / "test.dxf"
        self.document = ezdxf.new("R2010")
        self.document.header["$MEASUREMENT"] = measurement
        if insunits is None:
            del self.document.header["$INSUNITS"]
        else:
            self.document.header["$INSUNITS"] = insunits
        self.space = self.document.modelspace()

    def read(self, **options: object) -> Drawing:
        self.document.saveas(self.path)
        return read_dxf(str(self.path), self.path.name, options=ReadOptions(**options))

    def contours(self, **options: object) -> list[Contour]:
        return [contour for shape in self.read(**options).shapes for contour in shape.contours]


def codes(drawing: Drawing) -> set[str]:
    return {finding.code for finding in drawing.findings}


def box(contour: Contour) -> tuple[float, float, float, float]:
    bounds = contour_bounds(contour)
    return (bounds.min_x, bounds.min_y, bounds.max_x, bounds.max_y)


def lettered(drawing: Drawing) -> Lettering:
    return letter_drawing(drawing, Artwork("a", "a", "b"))
