"""Text of PDF pages as outlines: fonts in the file, fonts named only, and fonts from folders."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pikepdf
import pytest
import reportlab
from fontTools.pens.areaPen import AreaPen
from fontTools.ttLib import TTFont
from pikepdf import Array, Dictionary, Name
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont as ReportFont
from reportlab.pdfgen.canvas import Canvas

from app.artwork.drawing import Drawing
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.artwork.options import ReadOptions
from app.artwork.pdf import read_pdf
from app.artwork.pdf_substitutes import standard_name
from app.job.document import Artwork
from geometry.findings import Finding, Severity
from geometry.measure import contour_area, contour_bounds

MM = 25.4 / 72.0
FONTS = Path(reportlab.__file__).parent / "fonts"
VERA = FONTS / "VeraBd.ttf"
STANDARD = sorted({*pdfmetrics.standardFonts} - {"Symbol", "ZapfDingbats"})


def codes(drawing: Drawing) -> set[str]:
    return {finding.code for finding in drawing.findings}


def page(font: Dictionary, shown: bytes, size: float = 100.0) -> bytes:
    """A page of 1000 x 200 points that shows bytes in a font, from (50, 50)."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(1000, 200))
    first = pdf.pages[0].obj
    first.Resources = Dictionary(Font=Dictionary(F=font))
    first.Contents = pdf.make_stream(b"BT /F %f Tf 50 50 Td <%s> Tj ET" % (size, shown.hex().encode()))
    stream = io.BytesIO()
    pdf.save(stream)
    return stream.getvalue()


def simple(name: str, **more: object) -> Dictionary:
    return Dictionary(
        Type=Name.Font, Subtype=Name.TrueType, BaseFont=Name("/" + name), Encoding=Name.WinAnsiEncoding, **more
    )


def left(drawing: Drawing, index: int) -> float:
    """Left edge of a character, points."""
    return min(contour_bounds(contour).min_x for contour in drawing.shapes[index].contours) / MM


def told(drawing: Drawing, code: Code) -> list[Finding]:
    return [finding for finding in drawing.findings if finding.code == code]


def test_embedded_font_gives_true_outlines() -> None:
    pdfmetrics.registerFont(ReportFont("VeraTest", str(VERA)))
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(400, 200))
    canvas.setFont("VeraTest", 72)
    canvas.drawString(20, 50, "RÄg")
    canvas.save()
    drawing = read_pdf(stream.getvalue(), "a.pdf")
    assert [shape.source.object_id for shape in drawing.shapes] == ["R", "Ä", "g"]
    assert codes(drawing) == {Code.TEXT_OUTLINED}
    font = TTFont(VERA)
    scale = 72 * MM / font["head"].unitsPerEm
    x = 20 * MM
    for shape, character in zip(drawing.shapes, "RÄg", strict=True):
        name = font.getBestCmap()[ord(character)]
        pen = AreaPen(font.getGlyphSet())
        font.getGlyphSet()[name].draw(pen)
        assert sum(map(contour_area, shape.contours)) == pytest.approx(pen.value * scale**2, rel=1e-6)
        left = min(contour_bounds(contour).min_x for contour in shape.contours)
        assert left == pytest.approx(x + font["hmtx"][name][1] * scale, abs=0.02)
        x += font["hmtx"][name][0] * scale
    lettering = letter_drawing(drawing, Artwork("a", "a", "b"))
    assert [(letter.name, len(letter.regions)) for letter in lettering.letters] == [("R", 1), ("Ä", 3), ("g", 1)]


@pytest.mark.parametrize("font", STANDARD)
def test_standard_fonts_are_as_wide_as_their_metrics_say(font: str) -> None:
    """Widths of the fourteen standard fonts are Adobe's published metrics, as reportlab carries them."""
    drawing = read_pdf(
        page(Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name("/" + font)), b"HxxH"), "a.pdf"
    )
    assert [shape.source.object_id for shape in drawing.shapes] == list("HxxH")
    assert left(drawing, 3) - left(drawing, 0) == pytest.approx(pdfmetrics.stringWidth("Hxx", font, 100), abs=1e-6)
    (said,) = told(drawing, Code.FONT_REPLACED)
    assert said.severity is Severity.WARNING
    assert f"the font {font} is not in the file: 'HxxH' set in a free font" in said.message
    assert said.where == pytest.approx((50 * MM, 50 * MM))
    assert codes(drawing) == {Code.FONT_REPLACED}
    assert letter_drawing(drawing, Artwork("a", "a", "b")).capital_height == pytest.approx(
        100 * MM * pdfmetrics.getTypeFace(font).ascent / 1000, rel=0.2
    )


@pytest.mark.parametrize(
    ("name", "standard"),
    [
        ("Arial", "Helvetica"),
        ("ArialMT", "Helvetica"),
        ("Arial,BoldItalic", "Helvetica-BoldOblique"),
        ("Arial-BoldMT", "Helvetica-Bold"),
        ("TimesNewRomanPS-ItalicMT", "Times-Italic"),
        ("TimesNewRoman", "Times-Roman"),
        ("CourierNewPS-BoldMT", "Courier-Bold"),
        ("Helvetica", "Helvetica"),
        ("Symbol", "Symbol"),
        ("Arial-Black", None),
        ("ArialNarrow-Bold", None),
        ("HelveticaNeue-Bold", None),
        ("Futura-Medium", None),
        ("", None),
    ],
)
def test_which_fonts_have_standard_widths(name: str, standard: str | None) -> None:
    assert standard_name(name) == standard


def test_symbols_have_their_own_encoding() -> None:
    font = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Symbol)
    assert [shape.source.object_id for shape in read_pdf(page(font, b"abp"), "a.pdf").shapes] == list("αβπ")
    font.BaseFont = Name.ZapfDingbats
    assert len(read_pdf(page(font, b"\x21\x36"), "a.pdf").shapes) == 2


def test_a_font_that_nobody_has_is_told_with_its_text() -> None:
    drawing = read_pdf(page(simple("Nowhere-Black", FirstChar=32, Widths=Array([600] * 200)), b"Sale today"), "a.pdf")
    assert drawing.shapes == ()
    (said,) = told(drawing, Code.TEXT_NOT_OUTLINES)
    assert said.severity is Severity.ERROR
    assert (
        "the font Nowhere-Black is not in the file: 'Sale today' not read; ask for the text as curves" in said.message
    )
    assert "--font-folder" in said.message


def test_a_glyph_that_is_not_as_wide_as_stated_is_not_used() -> None:
    """A condensed face under a usual name: the free font would give letters that run into each other."""
    drawing = read_pdf(page(simple("Arial", FirstChar=65, Widths=Array([667, 400])), b"AB"), "a.pdf")
    assert [shape.source.object_id for shape in drawing.shapes] == ["A"]
    assert "1 character not read" in told(drawing, Code.TEXT_NOT_OUTLINES)[0].message


def test_the_font_itself_from_a_folder(tmp_path: Path) -> None:
    """Vera Bold by its PostScript name, whatever the file is called; outlines are those fontTools draws."""
    shutil.copy(VERA, tmp_path / "other.ttf")
    (tmp_path / "broken.ttf").write_bytes(b"\0\1\0\0nothing")
    name = TTFont(VERA)["name"].getDebugName(6)
    stated = pdfmetrics.getFont("Helvetica").widths  # any widths but its own
    data = page(simple(name), b"Rg")
    options = ReadOptions(font_folders=(str(tmp_path / "none"), str(tmp_path)))
    drawing = read_pdf(data, "a.pdf", options=options)
    (said,) = told(drawing, Code.FONT_REPLACED)
    assert said.severity is Severity.NOTE
    assert "set in other.ttf of the folders given, which has the same name" in said.message
    font = TTFont(VERA)
    scale = 100 * MM / font["head"].unitsPerEm
    for shape, glyph in zip(drawing.shapes, "Rg", strict=True):
        pen = AreaPen(font.getGlyphSet())
        font.getGlyphSet()[glyph].draw(pen)
        assert sum(map(contour_area, shape.contours)) == pytest.approx(pen.value * scale**2, rel=1e-6)
    assert read_pdf(data, "a.pdf").shapes == ()
    other = page(simple(name, FirstChar=0, Widths=Array(stated)), b"Rg")
    assert read_pdf(other, "a.pdf", options=options).shapes == ()  # another cut of that name


def test_a_composite_font_is_read_by_its_characters() -> None:
    """Glyph ids of a font that is not there mean nothing; what the text says does."""
    pdf = pikepdf.new()
    text = b"2 beginbfchar <0003> <0045> <0004> <0046> endbfchar"
    font = Dictionary(
        Type=Name.Font,
        Subtype=Name.Type0,
        BaseFont=Name("/ArialMT"),
        Encoding=Name("/Identity-H"),
        DescendantFonts=Array(
            [Dictionary(Type=Name.Font, Subtype=Name.CIDFontType2, BaseFont=Name("/ArialMT"), W=Array([3, 4, 667]))]
        ),
        ToUnicode=pdf.make_stream(text),
    )
    pdf.add_blank_page(page_size=(1000, 200))
    first = pdf.pages[0].obj
    first.Resources = Dictionary(Font=Dictionary(F=font))
    first.Contents = pdf.make_stream(b"BT /F 100 Tf 50 50 Td <00030004> Tj ET")
    stream = io.BytesIO()
    pdf.save(stream)
    drawing = read_pdf(stream.getvalue(), "a.pdf")
    # E is 667 wide, F 611: the widths stated are those of an E.
    assert [shape.source.object_id for shape in drawing.shapes] == ["E"]
