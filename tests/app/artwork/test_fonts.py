"""Words in fonts, against fontTools' own pens and HarfBuzz' own advances. The fonts are those reportlab carries."""

from __future__ import annotations

import io
import time
from pathlib import Path

import pytest
import reportlab
import uharfbuzz
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation

from app.artwork.drawing import Drawing
from app.artwork.fonts import set_text
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.errors import AppError, DamagedFile, ReadError, UnsupportedFile
from app.job.document import Align, Artwork, Scale, ScaleBy, Text
from geometry.measure import contour_area, contour_bounds, region_area

VERA = Path(reportlab.__file__).parent / "fonts" / "VeraBd.ttf"


def words(text: str, path: Path = VERA, **options: object) -> Drawing:
    return set_text(Text(text, str(path), **options), path)


def span(drawing: Drawing, index: int) -> tuple[float, float]:
    boxes = [contour_bounds(contour) for contour in drawing.shapes[index].contours]
    return min(box.min_x for box in boxes), max(box.max_x for box in boxes)


def small_font(*, cubic: bool, capital: int = 700, overlap: bool = False) -> bytes:
    """A font of H and O with 1000 units per em: H is 700 high; O is a ring of curves or two crossing bars."""
    builder = FontBuilder(1000, isTTF=not cubic)
    names = [".notdef", "H", "O", "space"]
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord("H"): "H", ord("O"): "O", ord(" "): "space"})

    def draw(name: str, pen: object) -> None:
        if name == "space":
            return
        bars = [(50, 0, 150, 700), (350, 0, 450, 700), (150, 300, 350, 400)] if name == "H" else [(0, 0, 500, 700)]
        if name == "O" and overlap:
            bars = [(0, 300, 700, 400), (300, 0, 400, 700)]
        for left, bottom, right, top in bars:
            pen.moveTo((left, bottom))
            pen.lineTo((left, top))
            pen.lineTo((right, top))
            pen.lineTo((right, bottom))
            pen.closePath()

    glyphs = {}
    for name in names:
        pen = T2CharStringPen(500, None) if cubic else TTGlyphPen(None)
        draw(name, pen)
        glyphs[name] = pen.getCharString() if cubic else pen.glyph()
    if cubic:
        builder.setupCFF("Test", {}, glyphs, {})
    else:
        builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(dict.fromkeys(names, (500, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupOS2(sCapHeight=capital, version=4)
    builder.setupNameTable({"familyName": "Test", "styleName": "Regular"})
    builder.setupPost()
    stream = io.BytesIO()
    builder.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize("character", list("SOGBRaeg&358%@"))
def test_glyph_areas_match_the_area_pen(character: str) -> None:
    font = TTFont(VERA)
    glyphs = font.getGlyphSet()
    name = font.getBestCmap()[ord(character)]
    pen, bounds = AreaPen(glyphs), BoundsPen(glyphs)
    glyphs[name].draw(pen)
    glyphs[name].draw(bounds)
    (shape,) = words(character).shapes
    assert sum(contour_area(contour) for contour in shape.contours) == pytest.approx(pen.value, rel=1e-9)
    assert span(words(character), 0) == pytest.approx((bounds.bounds[0], bounds.bounds[2]))


def test_filled_area_of_a_letter_is_that_of_its_regions() -> None:
    font = TTFont(VERA)
    pen = AreaPen(font.getGlyphSet())
    font.getGlyphSet()["B"].draw(pen)
    capital = words("B").capital_height
    assert capital is not None
    lettering = letter_drawing(words("B"), Artwork("a", "a", "b", scale=Scale(ScaleBy.CAPITAL_HEIGHT, capital)))
    assert lettering.scale == 1.0
    (region,) = lettering.letters[0].regions
    assert region_area(region) == pytest.approx(abs(pen.value), rel=1e-9)
    assert len(region.holes) == 2


def test_kerning_as_harfbuzz_has_it() -> None:
    face = uharfbuzz.Face(VERA.read_bytes())
    font = uharfbuzz.Font(face)
    widths = {}
    for kern in (True, False):
        buffer = uharfbuzz.Buffer()
        buffer.add_str("AVATAR")
        buffer.guess_segment_properties()
        uharfbuzz.shape(font, buffer, {"kern": kern})
        widths[kern] = sum(position.x_advance for position in buffer.glyph_positions[:-1])
    assert widths[True] < widths[False]
    drawing = words("AVATAR")
    metrics = TTFont(VERA)
    left_of_r = metrics["hmtx"]["R"][1]
    assert span(drawing, 5)[0] == pytest.approx(widths[True] + left_of_r)


def test_tracking_is_in_thousandths_of_the_em() -> None:
    plain, spaced = words("HHH"), words("HHH", tracking=100)
    em = TTFont(VERA)["head"].unitsPerEm
    assert span(spaced, 2)[0] - span(plain, 2)[0] == pytest.approx(2 * em / 10)


def test_lines_and_alignment() -> None:
    font = TTFont(VERA)
    em_line = font["hhea"].ascent - font["hhea"].descent + font["hhea"].lineGap
    left = words("HHH\nH", line_spacing=1.5)
    tops = [max(contour_bounds(c).max_y for c in shape.contours) for shape in left.shapes]
    assert tops[0] - tops[3] == pytest.approx(1.5 * em_line)
    advance = font["hmtx"]["H"][0]
    assert span(words("HHH\nH", align=Align.RIGHT), 3)[0] - span(left, 3)[0] == pytest.approx(2 * advance)
    assert span(words("HHH\nH", align=Align.CENTRE), 3)[0] - span(left, 3)[0] == pytest.approx(advance)


def test_loose_pieces_of_a_character_are_one_letter() -> None:
    drawing = words("iä%")
    lettering = letter_drawing(drawing, Artwork("w", "w", "b", scale=Scale(ScaleBy.CAPITAL_HEIGHT, 100)))
    assert [(letter.name, len(letter.regions)) for letter in lettering.letters] == [("i", 2), ("ä", 3), ("%", 3)]
    assert [letter.id for letter in lettering.letters] == ["w-01", "w-02", "w-03"]


def test_combining_marks_stay_with_their_letter() -> None:
    (shape,) = words("a\u0308").shapes
    assert shape.source.object_id == "a\u0308"


def test_capital_height_is_that_of_an_h() -> None:
    font = TTFont(VERA)
    bounds = BoundsPen(font.getGlyphSet())
    font.getGlyphSet()["H"].draw(bounds)
    drawing = words("Ho")
    assert drawing.units is None
    assert drawing.capital_height == pytest.approx(bounds.bounds[3])
    lettering = letter_drawing(drawing, Artwork("w", "w", "b", scale=Scale(ScaleBy.CAPITAL_HEIGHT, 609.6)))
    assert lettering.capital_height == pytest.approx(609.6)
    (region,) = lettering.letters[0].regions
    assert contour_bounds(region.outer).height == pytest.approx(609.6)


@pytest.mark.parametrize("cubic", [False, True])
def test_both_outline_formats(tmp_path: Path, cubic: bool) -> None:
    path = tmp_path / "test.otf"
    path.write_bytes(small_font(cubic=cubic))
    drawing = words("HO", path)
    assert drawing.capital_height == 700
    assert [abs(contour_area(c)) for c in drawing.shapes[0].contours] == [70000, 70000, 20000]


def variable_font() -> bytes:
    """A font whose I is a bar 100 wide and 700 high that grows to 300 wide at weight 900; 500 and 900 to advance."""
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder([".notdef", "I"])
    builder.setupCharacterMap({ord("I"): "I"})
    pen = TTGlyphPen(None)
    for index, point in enumerate([(50, 0), (50, 700), (150, 700), (150, 0)]):
        (pen.lineTo if index else pen.moveTo)(point)
    pen.closePath()
    builder.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "I": pen.glyph()})
    builder.setupHorizontalMetrics({".notdef": (500, 0), "I": (500, 50)})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupOS2(sCapHeight=700, version=4)
    builder.setupNameTable({"familyName": "Test", "styleName": "Regular"})
    builder.setupPost()
    builder.setupFvar([("wght", 400, 400, 900, "Weight")], [])
    # Two points of the right edge move by 200, the advance by 400.
    moves = [(0, 0), (0, 0), (200, 0), (200, 0), (0, 0), (400, 0), (0, 0), (0, 0)]
    builder.setupGvar({"I": [TupleVariation({"wght": (0.0, 1.0, 1.0)}, moves)], ".notdef": []})
    stream = io.BytesIO()
    builder.save(stream)
    return stream.getvalue()


def test_variable_axes(tmp_path: Path) -> None:
    path = tmp_path / "variable.ttf"
    path.write_bytes(variable_font())
    plain = set_text(Text("II", str(path)), path)
    heavy = set_text(Text("II", str(path), axes=(("wght", 900.0),)), path)
    middle = set_text(Text("II", str(path), axes=(("wght", 650.0),)), path)
    assert [abs(contour_area(d.shapes[0].contours[0])) for d in (plain, middle, heavy)] == [70000, 140000, 210000]
    assert [span(d, 1)[0] for d in (plain, middle, heavy)] == [550, 750, 950]
    with pytest.raises(ReadError, match="no axis 'wdth'; its axes are: wght"):
        set_text(Text("I", str(path), axes=(("wdth", 100.0),)), path)
    with pytest.raises(ReadError, match="outside 400 to 900"):
        set_text(Text("I", str(path), axes=(("wght", 1000.0),)), path)


def test_wrong_stated_capital_height_is_not_believed(tmp_path: Path) -> None:
    path = tmp_path / "test.ttf"
    path.write_bytes(small_font(cubic=False, capital=1400))
    drawing = words("H", path)
    assert drawing.capital_height == 700
    assert [finding.code for finding in drawing.findings] == [Code.MEASURED_ON]


def test_overlapping_contours_are_joined_by_the_nonzero_rule(tmp_path: Path) -> None:
    path = tmp_path / "test.ttf"
    path.write_bytes(small_font(cubic=False, overlap=True))
    lettering = letter_drawing(words("O", path), Artwork("a", "a", "b", scale=Scale(ScaleBy.CAPITAL_HEIGHT, 700)))
    (letter,) = lettering.letters
    assert sum(map(region_area, letter.regions)) == pytest.approx(2 * 70000 - 10000, rel=1e-6)


def test_missing_characters_are_never_cut() -> None:
    drawing = words("A☃B☃")
    assert [shape.source.object_id for shape in drawing.shapes] == ["A", "B"]
    (finding,) = drawing.findings
    assert finding.code == Code.MISSING_GLYPH
    assert "U+2603" in finding.message
    assert "2 times" in finding.message
    with pytest.raises(ReadError, match="none of these characters"):
        words("☃")


@pytest.mark.parametrize("text", ["", " ", "\n\n", "\t"])
def test_nothing_to_set(text: str) -> None:
    with pytest.raises(ReadError, match="no characters"):
        words(text)


def test_spaces_alone_have_no_outline_between_letters() -> None:
    assert [shape.source.object_id for shape in words("A B\r\nC\tD").shapes] == ["A", "B", "C", "D"]


@pytest.mark.parametrize("keep", [0, 3, 4, 12, 100, 1000, 20000, 40000])
def test_truncated_fonts_end_in_one_sentence(tmp_path: Path, keep: int) -> None:
    path = tmp_path / "cut.ttf"
    path.write_bytes(VERA.read_bytes()[:keep])
    with pytest.raises(AppError) as caught:
        words("ABC", path)
    assert "cut.ttf" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_damaged_and_foreign_files(tmp_path: Path) -> None:
    data = bytearray(VERA.read_bytes())
    data[12:600] = b"\xff" * 588
    (tmp_path / "bad.ttf").write_bytes(data)
    with pytest.raises(DamagedFile):
        words("A", tmp_path / "bad.ttf")
    (tmp_path / "text.ttf").write_text("no font at all")
    with pytest.raises(UnsupportedFile):
        words("A", tmp_path / "text.ttf")
    with pytest.raises(ReadError, match="does not exist"):
        words("A", tmp_path / "none.ttf")
    with pytest.raises(ReadError, match="limit of 5,000"):
        words("A" * 5001)


def test_two_hundred_letters_in_six_tenths_of_a_second() -> None:
    started = time.process_time()
    drawing = words("SIGNS BRIGHT & LARGE 24 INCHES HIGH " * 7)
    lettering = letter_drawing(drawing, Artwork("w", "w", "b", scale=Scale(ScaleBy.CAPITAL_HEIGHT, 609.6)))
    seconds = time.process_time() - started
    assert len(lettering.letters) >= 200
    assert seconds < 3.0, f"{seconds:.2f} s"
