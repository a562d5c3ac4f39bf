"""A drawing as plain bytes and back, exactly: what the reading process hands to the program.

Nothing is pickled, so whatever happens in the reading process, only numbers and texts come out of it.
"""

from __future__ import annotations

import json
import math
from array import array
from collections.abc import Iterator

from app.artwork.drawing import Drawing, Shape, Source
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.findings import Finding, Severity


def drawing_to_bytes(drawing: Drawing) -> tuple[bytes, bytes]:
    """Header (JSON) and coordinates (float64) of a drawing."""
    numbers = array("d")
    shapes = [
        {
            "rule": str(shape.rule),
            "file": shape.source.file,
            "layer": shape.source.layer,
            "object": shape.source.object_id,
            "character": shape.is_character,
            "contours": [_write(contour, numbers) for contour in shape.contours],
        }
        for shape in drawing.shapes
    ]
    header = {
        "shapes": shapes,
        "units": drawing.units,
        "layers": list(drawing.layers),
        "capital_height": drawing.capital_height,
        "pages": drawing.pages,
        "findings": [
            [str(one.code), str(one.severity), one.message, one.where, one.fixed, one.subject]
            for one in drawing.findings
        ],
    }
    return json.dumps(header).encode(), numbers.tobytes()


def drawing_from_bytes(header: bytes, coordinates: bytes) -> Drawing:
    """Drawing from what `drawing_to_bytes` made.

    Raises
    ------
    ValueError, KeyError, TypeError
        If the bytes are not of that form.
    """
    data = json.loads(header)
    numbers = array("d")
    numbers.frombytes(coordinates)
    values = iter(numbers)
    shapes = tuple(
        Shape(
            tuple(_read(kinds, is_closed, values) for kinds, is_closed in shape["contours"]),
            FillRule(shape["rule"]),
            Source(shape["file"], shape["layer"], shape["object"]),
            shape["character"],
        )
        for shape in data["shapes"]
    )
    findings = tuple(
        Finding(code, Severity(severity), message, (where[0], where[1]) if where else None, fixed, subject)
        for code, severity, message, where, fixed, subject in data["findings"]
    )
    return Drawing(shapes, data["units"], tuple(data["layers"]), data["capital_height"], findings, data["pages"])


def _point(values: Iterator[float]) -> Point:
    x, y = next(values, None), next(values, None)
    if x is None or y is None:
        raise ValueError("the coordinates are cut short")
    return (x, y)


def _write(contour: Contour, numbers: array[float]) -> tuple[str, bool]:
    kinds: list[str] = []
    numbers.extend(contour.segments[0].start)
    for segment in contour.segments:
        match segment:
            case Line():
                kinds.append("L")
            case Arc(bulge=bulge):
                kinds.append("A")
                numbers.append(bulge)
            case Cubic(control1=control1, control2=control2):
                kinds.append("C")
                numbers.extend((*control1, *control2))
        numbers.extend(segment.end)
    return "".join(kinds), contour.is_closed


def _read(kinds: str, is_closed: bool, values: Iterator[float]) -> Contour:
    at = _point(values)
    segments: list[Segment] = []
    for kind in kinds:
        if kind == "L":
            segment: Segment = Line(at, _point(values))
        elif kind == "A":
            bulge, end = next(values, math.nan), _point(values)
            segment = Arc(at, end, bulge)
        elif kind == "C":
            first, second, end = _point(values), _point(values), _point(values)
            segment = Cubic(at, first, second, end)
        else:
            raise ValueError(f"'{kind}' is no kind of segment")
        segments.append(segment)
        at = segment.end
    return Contour(tuple(segments), is_closed)
