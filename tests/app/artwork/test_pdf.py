"""PDF pages whose content is written out here; units, boxes and operators as ISO 32000-1 defines them."""

from __future__ import annotations

import io
import math
import time
import zlib
from pathlib import Path

import pikepdf
import pytest
import reportlab
from pikepdf import Array, Dictionary, Name
from reportlab.pdfgen.canvas import Canvas

from app.artwork.drawing import Drawing
from app.artwork.letters import letter_drawing
from app.artwork.limits import Limits
from app.artwork.notes import Code
from app.artwork.options import ReadOptions
from app.artwork.pdf import read_pdf
from app.artwork.read import read_here
from app.errors import AppError, DamagedFile, ReadError
from app.job.document import Artwork
from geometry.curve import Arc
from geometry.measure import Bounds, contour_area, contour_bounds, region_area

MM = 25.4 / 72.0
VERA = Path(reportlab.__file__).parent / "fonts" / "VeraBd.ttf"


def document(content: str | bytes, *, resources: Dictionary | None = None, **page: object) -> pikepdf.Pdf:
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(200, 100))
    first = pdf.pages[0].obj
    first.Contents = pdf.make_stream(content.encode() if isinstance(content, str) else content)
    if resources is not None:
        first.Resources = resources
    for key, value in page.items():
        first[f"/{key}"] = value
    return pdf


def saved(pdf: pikepdf.Pdf, **options: object) -> bytes:
    stream = io.BytesIO()
    pdf.save(stream, **options)
    return stream.getvalue()


def read(content: str, *, options: ReadOptions = ReadOptions(), **page: object) -> Drawing:
    return read_pdf(saved(document(content, **page)), "test.pdf", options=options)


def box(drawing: Drawing, index: int = 0) -> tuple[float, float, float, float]:
    total: Bounds | None = None
    for contour in drawing.shapes[index].contours:
        bounds = contour_bounds(contour)
        total = bounds if total is None else total.union(bounds)
    assert total is not None
    return tuple(value / MM for value in (total.min_x, total.min_y, total.max_x, total.max_y))


def codes(drawing: Drawing) -> set[str]:
    return {finding.code for finding in drawing.findings}


def test_a_point_is_a_72nd_of_an_inch() -> None:
    drawing = read("72 0 72 36 re f")
    assert drawing.units == "pt"
    bounds = contour_bounds(drawing.shapes[0].contours[0])
    assert (bounds.min_x, bounds.width, bounds.height) == pytest.approx((25.4, 25.4, 12.7))


def test_user_unit_multiplies() -> None:
    # ISO 32000-1, table 30: UserUnit is the size of default user space units in 1/72 in.
    assert box(read("10 10 20 5 re f", UserUnit=72)) == pytest.approx((720, 720, 2160, 1080))


def test_origin_is_the_crop_box_and_the_media_box_is_inherited() -> None:
    assert box(read("110 60 20 5 re f", MediaBox=Array([100, 50, 300, 150]))) == pytest.approx((10, 10, 30, 15))
    cropped = read("110 60 20 5 re f", CropBox=Array([105, 55, 190, 90]), MediaBox=Array([0, 0, 200, 100]))
    assert box(cropped) == pytest.approx((5, 5, 25, 10))
    pdf = document("110 60 20 5 re f")
    del pdf.pages[0].obj["/MediaBox"]
    pdf.Root.Pages.MediaBox = Array([100, 50, 300, 150])
    assert box(read_pdf(saved(pdf), "a.pdf")) == pytest.approx((10, 10, 30, 15))


@pytest.mark.parametrize(
    ("turn", "corners"),
    # A box 20 wide at (10, 30) on a page of 200 x 100, turned clockwise as table 30 says.
    [(90, (30, 170, 35, 190)), (180, (170, 65, 190, 70)), (270, (65, 10, 70, 30)), (-90, (65, 10, 70, 30))],
)
def test_rotation(turn: int, corners: tuple[float, ...]) -> None:
    assert box(read("10 30 20 5 re f", Rotate=turn)) == pytest.approx(corners)


def test_path_operators() -> None:
    drawing = read(
        "0 0 m 10 0 l 10 10 l h f "  # closed by h
        "20 0 m 30 0 l 30 10 l f "  # closed by filling
        "40 0 m 40 20 60 20 60 0 c f "
        "70 0 m 80 20 90 0 v f "
        "100 0 m 105 20 120 0 y f"
    )
    areas = [abs(contour_area(shape.contours[0])) / MM**2 for shape in drawing.shapes]

    # Area of a cubic over its chord (Green): 3/20 (2 P1xP2 + P1x0...) worked for each: 20 high arch over 20 is 240;
    # v takes the current point as first control, y the end as second.
    def cubic(x0: float, x1: float, y1: float, x2: float, y2: float, x3: float) -> float:
        def cross(a: tuple[float, float], b: tuple[float, float]) -> float:
            return a[0] * b[1] - a[1] * b[0]

        p0, p1, p2, p3 = (x0, 0.0), (x1, y1), (x2, y2), (x3, 0.0)
        total = 6 * cross(p0, p1) + 3 * cross(p0, p2) + cross(p0, p3)
        total += 3 * cross(p1, p2) + 3 * cross(p1, p3) + 6 * cross(p2, p3)
        return abs(total) / 20 + 0.0

    expected = [50, 50, cubic(0, 0, 20, 20, 20, 20), cubic(0, 0, 0, 10, 20, 20), cubic(0, 5, 20, 20, 0, 20)]
    assert areas == pytest.approx(expected, rel=1e-9)
    assert Code.CLOSED_BY_FILL in codes(drawing)


def test_matrices_nest() -> None:
    drawing = read("q 2 0 0 2 10 0 cm q 0 1 -1 0 20 0 cm 0 0 4 1 re f Q 0 0 4 1 re f Q 0 0 4 1 re f")
    assert [box(drawing, i) for i in range(3)] == [
        pytest.approx((48, 0, 50, 8)),
        pytest.approx((10, 0, 18, 2)),
        pytest.approx((0, 0, 4, 1)),
    ]


@pytest.mark.parametrize(("operator", "area"), [("f", 400), ("F", 400), ("f*", 300), ("B", 400), ("b*", 300)])
def test_fill_rules(operator: str, area: float) -> None:
    drawing = read(f"0 0 20 20 re 5 5 10 10 re {operator}")
    lettering = letter_drawing(drawing, Artwork("a", "a", "b"))
    total = sum(region_area(region) for letter in lettering.letters for region in letter.regions)
    assert total / MM**2 == pytest.approx(area)


def test_strokes_and_unpainted_paths() -> None:
    drawing = read("0 0 m 10 0 l 10 10 l s 20 0 m 30 0 l S 50 0 10 10 re n")
    assert [shape.contours[0].is_closed for shape in drawing.shapes] == [True, False]
    assert Code.STROKE_AS_LINE in codes(drawing)


def test_forms_with_matrix_and_resources() -> None:
    pdf = pikepdf.new()
    inner = pdf.make_stream(b"0 0 2 1 re f")
    inner.Type, inner.Subtype, inner.BBox = Name.XObject, Name.Form, Array([0, 0, 50, 50])
    inner.Matrix = Array([3, 0, 0, 3, 0, 0])
    outer = pdf.make_stream(b"q 1 0 0 1 5 5 cm /In Do Q")
    outer.Type, outer.Subtype, outer.BBox = Name.XObject, Name.Form, Array([0, 0, 90, 90])
    outer.Resources = Dictionary(XObject=Dictionary(In=inner))
    pdf.add_blank_page(page_size=(200, 100))
    pdf.pages[0].obj.Resources = Dictionary(XObject=Dictionary(Out=outer))
    pdf.pages[0].obj.Contents = pdf.make_stream(b"2 0 0 2 0 0 cm /Out Do")
    assert box(read_pdf(saved(pdf), "a.pdf")) == pytest.approx((10, 10, 22, 16))


def test_clips() -> None:
    drawing = read(
        "q 0 0 200 100 re W n 10 10 20 20 re f Q "  # the page's own frame: nothing to say
        "q 0 0 15 100 re W n 40 10 20 20 re f Q "  # hidden
        "q 0 0 100 100 re W n 90 10 20 20 re f Q"  # cut
    )
    assert [box(drawing, i)[0] for i in range(len(drawing.shapes))] == pytest.approx([10, 90])
    told = [finding.message for finding in drawing.findings]
    assert any("1 path read whole though a clip" in message for message in told)
    assert any("1 path not read: not visible" in message for message in told)


def test_layers() -> None:
    pdf = pikepdf.new()
    groups = {name: pdf.make_indirect(Dictionary(Type=Name.OCG, Name=name)) for name in ("Letters", "Panel", "Notes")}
    pdf.Root.OCProperties = Dictionary(
        OCGs=Array(list(groups.values())),
        D=Dictionary(OFF=Array([groups["Notes"]]), Order=Array(list(groups.values()))),
    )
    pdf.add_blank_page(page_size=(200, 100))
    page = pdf.pages[0].obj
    page.Resources = Dictionary(Properties=Dictionary(A=groups["Letters"], B=groups["Panel"], C=groups["Notes"]))
    page.Contents = pdf.make_stream(
        b"/OC /A BDC 0 0 1 1 re f EMC /OC /B BDC /Span <</X 1>> BDC 2 0 1 1 re f EMC EMC "
        b"/OC /C BDC 4 0 1 1 re f 4 2 1 1 re f EMC 6 0 1 1 re f"
    )
    data = saved(pdf)
    drawing = read_pdf(data, "a.pdf")
    assert drawing.layers == ("Letters", "Panel", "Notes")
    assert [shape.source.layer for shape in drawing.shapes] == ["Letters", "Panel", ""]
    assert [finding.message for finding in drawing.findings] == [
        "layer 'Notes' not read (2 objects): it is hidden in the file"
    ]
    chosen = read_pdf(data, "a.pdf", options=ReadOptions(layers=("Notes",)))
    assert [shape.source.layer for shape in chosen.shapes] == ["Notes", "Notes"]
    assert [finding.message for finding in chosen.findings] == [
        "layer 'Letters' not read (1 object): it was not asked for",
        "layer 'Panel' not read (1 object): it was not asked for",
        "what is in no layer not read (1 object): it was not asked for",
    ]
    with pytest.raises(ReadError, match="no layer 'Cut'; its layers are: Letters, Panel, Notes"):
        read_pdf(data, "a.pdf", options=ReadOptions(layers=("Cut",)))


def test_white_page_is_no_letter() -> None:
    drawing = read("1 1 1 rg 0 0 200 100 re f 0 g 5 5 10 10 re f")
    assert len(drawing.shapes) == 1
    assert Code.BACKGROUND in codes(drawing)
    assert len(read("0 0 0 1 k 0 0 200 100 re f 5 5 10 10 re f*").shapes) == 2


def test_white_on_colour_and_repeats_are_told() -> None:
    drawing = read("0 1 0 rg 5 5 50 50 re f 1 g 10 10 20 20 re f 0 g 99 5 9 9 re f 99 5 9 9 re f")
    assert len(drawing.shapes) == 3
    assert {Code.WHITE_FILL, Code.DUPLICATE} == codes(drawing)
    covered = read("0 g 5 5 50 50 re f 1 g 0 0 200 100 re f 0 g 99 5 9 9 re f")
    assert {Code.BACKGROUND, Code.COVERED} == codes(covered)


def test_pages() -> None:
    pdf = document("0 0 1 1 re f")
    pdf.pages.extend(document("0 0 7 1 re f").pages)
    data = saved(pdf)
    first = read_pdf(data, "a.pdf")
    assert Code.PAGE_CHOSEN in codes(first)
    assert box(read_pdf(data, "a.pdf", options=ReadOptions(page=2)))[2] == pytest.approx(7)
    with pytest.raises(ReadError, match="no page 3; its pages are 1 to 2"):
        read_pdf(data, "a.pdf", options=ReadOptions(page=3))


def test_file_saved_without_its_drawing() -> None:
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(400, 200))
    canvas.drawString(20, 100, "This file was saved without PDF Content.")
    canvas.save()
    with pytest.raises(ReadError, match="saved without its PDF part"):
        read_pdf(stream.getvalue(), "a.ai")


def test_images_and_shadings_are_said() -> None:
    drawing = read("0 0 10 10 re f /Nothing Do /S sh BI /W 1 /H 1 /BPC 8 /CS /G ID \x00 EI")
    told = next(finding.message for finding in drawing.findings if finding.code == Code.NOT_GEOMETRY)
    assert "1 image" in told
    assert "1 shading" in told
    assert Code.MISSING_REFERENCE in codes(drawing)


def test_bad_operands_leave_the_rest() -> None:
    drawing = read("0 0 10 re f 5 l /Name 0 m (text) w 0 0 10 10 re f Q Q 1e5 0 0 10 10 re f 2 2 2 2 re f")
    assert len(drawing.shapes) >= 2
    assert Code.BAD_OPERATOR in codes(drawing)


def test_password() -> None:
    data = saved(document("0 0 1 1 re f"), encryption=pikepdf.Encryption(owner="o", user="u"))
    with pytest.raises(ReadError, match="protected by a password"):
        read_pdf(data, "a.pdf")
    open_to_all = saved(document("0 0 1 1 re f"), encryption=pikepdf.Encryption(owner="o", user=""))
    assert len(read_pdf(open_to_all, "a.pdf").shapes) == 1


def forms(count: int, uses: int, *, closes: bool = False) -> bytes:
    """Forms of which each draws the next several times; the last draws a square, or the first again."""
    pdf = pikepdf.new()
    last = pdf.make_stream(b"0 0 1 1 re f")
    last.Type, last.Subtype, last.BBox = Name.XObject, Name.Form, Array([0, 0, 9, 9])
    first = last
    for _ in range(count):
        form = pdf.make_stream(b"/N Do " * uses)
        form.Type, form.Subtype, form.BBox = Name.XObject, Name.Form, Array([0, 0, 9, 9])
        form.Resources = Dictionary(XObject=Dictionary(N=first))
        first = form
    if closes:
        last.Resources = Dictionary(XObject=Dictionary(N=first))
        last.write(b"/N Do")
    pdf.add_blank_page(page_size=(200, 100))
    pdf.pages[0].obj.Resources = Dictionary(XObject=Dictionary(N=first))
    pdf.pages[0].obj.Contents = pdf.make_stream(b"/N Do")
    return saved(pdf)


def test_form_that_contains_itself() -> None:
    with pytest.raises(DamagedFile, match="contains itself without end"):
        read_pdf(forms(2, 1, closes=True), "a.pdf")


def test_forms_too_deep() -> None:
    with pytest.raises(ReadError, match="more than 32 deep"):
        read_pdf(forms(40, 1), "a.pdf")


def test_form_bomb_is_stopped() -> None:
    started = time.process_time()
    with pytest.raises(ReadError, match="more than 5,000 objects"):
        read_pdf(forms(8, 10), "a.pdf", limits=Limits(elements=5_000))
    assert time.process_time() - started < 5.0


def test_packed_bomb_is_stopped() -> None:
    pdf = document("")
    packed = zlib.compress(b" " * (1 << 24))
    pdf.pages[0].obj.Contents = pikepdf.Stream(pdf, packed, Filter=Name.FlateDecode)
    data = saved(pdf, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    with pytest.raises(ReadError, match="unpacks to more than"):
        read_pdf(data, "a.pdf", limits=Limits(file_bytes=1 << 20))


@pytest.mark.parametrize(
    "data",
    [
        b"%PDF-1.7\n",
        b"%PDF-1.7\n%%EOF\n" + bytes(500),
        b"%PDF-1.4\ntrailer<</Root 1 0 R>>\nstartxref\n0\n%%EOF",
        saved(document("")),
    ],
    ids=["head only", "zeros", "no root", "no content"],
)
def test_damaged_files_end_in_one_sentence(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "bad.pdf"
    path.write_bytes(data)
    with pytest.raises(AppError, match=r"bad\.pdf") as caught:
        read_here(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 0.99])
def test_truncated_files(share: float) -> None:
    data = saved(document("0 0 1 1 re f " * 200), compress_streams=False)
    said: list[str] = []
    try:
        drawing = read_pdf(data[: int(len(data) * share)], "cut.pdf")
        said = [finding.message for finding in drawing.findings if finding.code == Code.RECOVERED]
    except AppError as error:
        said = [str(error)] if "cut.pdf" in str(error) else []
    assert said


def test_page_without_size_is_said() -> None:
    drawing = read("0 0 1 1 re f", MediaBox=Array([0, 0, 0, 0]))
    assert len(drawing.shapes) == 1
    assert Code.BAD_VALUE in codes(drawing)


def test_circle_of_four_cubics_is_a_circle_again() -> None:
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(200, 200))
    canvas.circle(100, 100, 50, stroke=0, fill=1)
    canvas.save()
    drawing = read_pdf(stream.getvalue(), "a.pdf")
    (shape,) = drawing.shapes
    assert all(isinstance(segment, Arc) for segment in shape.contours[0].segments)
    # The page's numbers have six decimals.
    assert abs(contour_area(shape.contours[0])) == pytest.approx(math.pi * (50 * MM) ** 2, rel=1e-6)
    assert Code.ROUND in codes(drawing)


def test_transparency_and_soft_masks_are_told() -> None:
    """ISO 32000-1, 11.6.5.3: /SMask, /ca and /CA of a graphics state."""
    mask = Dictionary(Type=Name.Mask, S=Name.Alpha)
    states = Dictionary(
        M=Dictionary(SMask=mask),
        N=Dictionary(SMask=Name("/None")),
        H=Dictionary(ca=0.5),
        I=Dictionary(ca=0, CA=0),
        W=Dictionary(LW=4, ca=0),
    )
    resources = Dictionary(ExtGState=states)

    def told(state: str) -> set[str]:
        return codes(read(f"5 5 9 9 re f /{state} gs 20 20 10 10 re f", resources=resources))

    known = {Code.MASK_IGNORED, Code.EFFECT_IGNORED, Code.NOT_VISIBLE}
    assert told("M") & known == {Code.MASK_IGNORED}
    assert told("N") & known == set()
    assert told("H") & known == {Code.EFFECT_IGNORED}
    assert told("I") & known == {Code.NOT_VISIBLE}
    assert told("Z") >= {Code.MISSING_REFERENCE}
    # The fill is not seen, the stroke is, 4 points wide.
    drawing = read("/W gs 20 20 10 10 re B", resources=resources, options=ReadOptions(outline_strokes=True))
    assert box(drawing) == pytest.approx((18, 18, 32, 32))
    assert len(drawing.shapes[0].contours) == 2
