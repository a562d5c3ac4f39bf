"""Each reader on broken bytes and on odd structures: an AppError or a drawing of finite numbers, and nothing else."""

from __future__ import annotations

import io
import math
import tempfile
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pikepdf
import pytest
import reportlab
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from app.artwork.checks import reach
from app.artwork.drawing import Drawing
from app.artwork.fonts import set_text
from app.artwork.letters import letter_drawing
from app.artwork.limits import Limits
from app.artwork.pdf import read_pdf
from app.artwork.read import read_here
from app.artwork.svg import read_svg
from app.artwork.svg_path import parse_path
from app.errors import AppError
from app.job.document import Artwork, Scale, ScaleBy, Text

QUICK = settings(max_examples=40, deadline=5000, suppress_health_check=[HealthCheck.too_slow])
LIMITS = Limits(elements=2_000, segments=50_000)
VERA = Path(reportlab.__file__).parent / "fonts" / "VeraBd.ttf"


def svg() -> bytes:
    return (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90">'
        b'<style>.a{fill:red}</style><defs><g id="g"><circle class="a" r="7" cx="9"/></g></defs>'
        b'<g id="L" transform="rotate(3) scale(2)"><use href="#g" x="5"/>'
        b'<path d="M0 0C1 2 3 4 5 6A3 4 5 0 1 7 8Q1 2 3 4z"/><rect width="5" height="4" rx="1"/></g>'
        b'<polygon points="0,0 5,0 5,5"/></svg>'
    )


def dxf() -> bytes:
    document = ezdxf.new("R2000")
    space = document.modelspace()
    space.add_circle((0, 0), 5)
    space.add_lwpolyline([(0, 0, 0.5), (9, 0, 0), (9, 9, 0)], format="xyb", close=True)
    space.add_spline([(0, 0), (5, 5), (9, 0)])
    document.blocks.new("b").add_ellipse((0, 0), (5, 0), 0.5)
    space.add_blockref("b", (50, 0), dxfattribs={"xscale": 2})
    stream = io.StringIO()
    document.write(stream)
    text = stream.getvalue()
    # Without the long tables in front most mutations would miss everything that is read.
    return (
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n0\nENDSEC\n" + text[text.index("  0\nSECTION\n  2\nBLOCKS") :]
    ).encode()


def pdf() -> bytes:
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(200, 200), pageCompression=0)
    canvas.circle(100, 100, 50, fill=1)
    canvas.rotate(10)
    canvas.rect(5, 5, 50, 20)
    canvas.drawString(10, 10, "SIGN")
    canvas.save()
    return stream.getvalue()


SEEDS = {"svg": svg(), "dxf": dxf(), "pdf": pdf()}


PIECES = [b"nan", b"1e999", b"-", b"0", b" ", b"\n"]


def check(drawing: Drawing) -> None:
    for shape in drawing.shapes:
        assert shape.contours
        assert math.isfinite(reach(shape.contours))
    try:
        lettering = letter_drawing(drawing, Artwork("a", "a", "b", scale=Scale(ScaleBy.OVERALL_WIDTH, 100.0)))
    except AppError:
        return
    assert all(letter.regions for letter in lettering.letters)


def read(data: bytes, extension: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"a.{extension}"
        path.write_bytes(data)
        drawing = attempt(lambda: read_here(path, limits=LIMITS))
    if drawing is not None:
        check(drawing)


def attempt(read_one: Callable[[], Drawing]) -> Drawing | None:
    """The drawing, or None after an AppError of one line that names the file."""
    said = ""
    try:
        return read_one()
    except AppError as error:
        said = str(error)
    assert "a." in said
    assert "\n" not in said
    return None


@pytest.mark.parametrize("kind", sorted(SEEDS))
@QUICK
@given(
    edits=st.lists(
        st.tuples(
            st.floats(0, 1), st.integers(0, 30), st.binary(max_size=8) | st.sampled_from([b"nan", b"1e999", b"-", b"0"])
        ),
        min_size=1,
        max_size=6,
    )
)
def test_bytes_cut_out_and_put_in(kind: str, edits: list[tuple[float, int, bytes]]) -> None:
    data = SEEDS[kind]
    for place, gone, put in edits:
        at = int(place * len(data))
        data = data[:at] + put + data[at + gone :]
    read(data, kind)


@pytest.mark.parametrize("kind", sorted(SEEDS))
@QUICK
@given(data=st.binary(max_size=300))
def test_noise_after_a_right_beginning(kind: str, data: bytes) -> None:
    read({"svg": b"<svg ", "dxf": b"0\nSECTION\n", "pdf": b"%PDF-1.7\n"}[kind] + data, kind)


NUMBERS = st.floats(allow_nan=True, allow_infinity=True) | st.integers(-20, 20)
WORDS = st.text(alphabet="MLHVCSQTAZmlhvcsqtaz0123456789.,-+eE \n", max_size=60)


@QUICK
@given(data=WORDS)
def test_path_data(data: str) -> None:
    contours, _error = parse_path(data)
    for contour in contours:
        assert contour.segments
        for before, after in zip(contour.segments, contour.segments[1:], strict=False):
            assert before.end == after.start


NAMES = st.sampled_from(["rect", "circle", "ellipse", "line", "polygon", "path", "g", "use", "svg", "symbol", "switch"])
KEYS = ["x", "y", "width", "height", "r", "rx", "ry", "cx", "cy", "d", "points", "transform", "href", "id", "viewBox",
        "fill", "stroke", "style", "stroke-width", "preserveAspectRatio", "display", "class"]  # fmt: skip
VALUES = st.one_of(
    NUMBERS.map(str),
    WORDS,
    st.sampled_from(
        ["#a", "#b", "a", "b", "none", "50%", "1e300", "-1", "translate(1e200)", "scale(0)", "rotate(45 1 1)", "2em",
         "0 0 10 10", "fill:none", "M0 0H9V9z", "0,0 9,0 9,9", "matrix(1 0 0 1 nan 0)", "skewX(90)", "inherit",
         "xMaxYMin slice"]
    ),
)  # fmt: skip


@QUICK
@given(
    elements=st.lists(
        st.tuples(NAMES, st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=6), st.booleans()), max_size=12
    )
)
def test_svg_structures(elements: list[tuple[str, dict[str, str], bool]]) -> None:
    from xml.sax.saxutils import quoteattr

    body, open_ = "", []
    for name, attributes, is_parent in elements:
        written = "".join(f" {key}={quoteattr(value)}" for key, value in attributes.items())
        body += f"<{name}{written}" + (">" if is_parent else "/>")
        if is_parent:
            open_.append(name)
    body += "".join(f"</{name}>" for name in reversed(open_))
    data = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="3" height="2"/>{body}</svg>'
    try:
        drawing = read_svg(data.encode(), "a.svg", limits=LIMITS)
    except AppError:
        return
    check(drawing)


CODES = st.sampled_from([0, 2, 5, 8, 10, 11, 20, 21, 40, 41, 42, 50, 51, 60, 62, 66, 67, 70, 71, 72, 73, 74, 210, 230])
KINDS = st.sampled_from(
    ["LINE", "ARC", "CIRCLE", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "VERTEX", "SEQEND", "SPLINE", "INSERT", "SOLID"]
)


@QUICK
@given(entities=st.lists(st.tuples(KINDS, st.lists(st.tuples(CODES, NUMBERS), max_size=12)), max_size=8))
def test_dxf_structures(entities: list[tuple[str, list[tuple[int, float]]]]) -> None:
    rows = ["0", "SECTION", "2", "ENTITIES"]
    for kind, tags in entities:
        rows += ["0", kind, "8", "0"]
        for code, value in tags:
            rows += [str(code), str(int(value)) if 60 <= code < 80 and math.isfinite(value) else str(value)]
    rows += ["0", "ENDSEC", "0", "EOF", ""]
    read("\n".join(rows).encode(), "dxf")


OPERATORS = ["q", "Q", "cm", "m", "l", "c", "v", "y", "h", "re", "W", "W*", "n", "f", "f*", "S", "s", "B", "b*", "w",
             "J", "d", "Do", "BDC", "EMC", "BT", "ET", "Tf", "Tj", "TJ", "Td", "Tm", "gs", "scn", "k"]  # fmt: skip


@QUICK
@given(content=st.lists(st.tuples(st.lists(NUMBERS, max_size=6), st.sampled_from(OPERATORS)), max_size=25))
def test_pdf_content(content: list[tuple[list[float], str]]) -> None:
    text = "\n".join(" ".join([*(f"{value:.6f}" for value in values), operator]) for values, operator in content)
    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 100))
    document.pages[0].obj.Contents = document.make_stream(text.encode())
    stream = io.BytesIO()
    document.save(stream)
    try:
        drawing = read_pdf(stream.getvalue(), "a.pdf", limits=LIMITS)
    except AppError:
        return
    check(drawing)


@settings(QUICK, max_examples=40)
@given(
    edits=st.lists(st.tuples(st.floats(0, 1), st.binary(min_size=1, max_size=40)), min_size=1, max_size=8),
    at=st.booleans(),
)
def test_fonts(edits: list[tuple[float, bytes]], at: bool) -> None:
    data = bytearray(VERA.read_bytes())
    size = 2000 if at else len(data)  # the table directory and small tables, or anywhere
    for place, put in edits:
        start = int(place * size)
        data[start : start + len(put)] = put
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.ttf"
        path.write_bytes(data)
        drawing = attempt(lambda: set_text(Text("Sign &\nAV", str(path)), path))
    if drawing is not None:
        check(drawing)
