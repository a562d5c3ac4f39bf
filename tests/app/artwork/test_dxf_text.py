"""Text of DXF files as outlines of fonts in folders that are given."""

from __future__ import annotations

from pathlib import Path

import pytest
import reportlab
from ezdxf.enums import TextEntityAlignment

from app.artwork.notes import Code
from tests.app.artwork.dxf_sheet import Sheet, box, codes, lettered

FONTS = Path(reportlab.__file__).parent / "fonts"


def test_text_becomes_outlines_when_its_font_is_given(sheet: Sheet) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VERABD.TTF"})
    sheet.space.add_text("HI", height=50, rotation=90, dxfattribs={"style": "sign", "insert": (10, 20)})
    drawing = sheet.read(font_folders=(str(FONTS),))
    assert [shape.source.object_id for shape in drawing.shapes] == ["H", "I"]
    assert Code.TEXT_OUTLINED in codes(drawing)
    left, bottom, right, _ = box(drawing.shapes[0].contours[0])
    # Turned by 90 degrees the capital of 50 runs from x = 10 to the left; the H starts a side bearing above y = 20.
    assert (left, right) == pytest.approx((-40, 10))
    assert 20 < bottom < 30
    lettering = lettered(drawing)
    assert [letter.name for letter in lettering.letters] == ["I", "H"]  # as it stands, the I is on top


@pytest.mark.parametrize(
    ("placement", "centre_x", "base"),
    [("CENTER", 100, 10), ("RIGHT", None, 10), ("MIDDLE_CENTER", 100, -15), ("TOP_CENTER", 100, -40)],
)
def test_text_alignment(sheet: Sheet, placement: str, centre_x: float | None, base: float) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    text = sheet.space.add_text("HH", height=50, dxfattribs={"style": "sign"})
    text.set_placement((100, 10), align=TextEntityAlignment[placement])
    drawing = sheet.read(font_folders=(str(FONTS),))
    boxes = [box(contour) for shape in drawing.shapes for contour in shape.contours]
    assert min(b[1] for b in boxes) == pytest.approx(base)
    if centre_x is not None:
        assert (min(b[0] for b in boxes) + max(b[2] for b in boxes)) / 2 == pytest.approx(centre_x, abs=5)
    else:
        assert max(b[2] for b in boxes) == pytest.approx(100)


def test_text_without_its_font_is_told(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.document.styles.new("sign", dxfattribs={"font": "elsewhere/../secret.ttf"})
    sheet.space.add_text("HI", height=50, dxfattribs={"style": "sign"})
    sheet.space.add_mtext("HI", dxfattribs={"style": "sign"})
    drawing = sheet.read(font_folders=(str(FONTS),))
    assert len(drawing.shapes) == 1
    assert {Code.TEXT_NOT_OUTLINES, Code.FONT_MISSING} <= codes(drawing)


def test_mtext_lines(sheet: Sheet) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    sheet.space.add_mtext("HO\\PX", dxfattribs={"style": "sign", "char_height": 30, "insert": (0, 100)})
    drawing = sheet.read(font_folders=(str(FONTS),))
    assert [shape.source.object_id for shape in drawing.shapes] == ["H", "O", "X"]
    assert box(drawing.shapes[0].contours[0])[3] == pytest.approx(100)


def test_mtext_that_its_column_would_break_is_told(sheet: Sheet) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    text = sheet.space.add_mtext("HO HO HO", dxfattribs={"style": "sign", "char_height": 30, "width": 1000})
    assert Code.TEXT_NOT_WRAPPED not in codes(sheet.read(font_folders=(str(FONTS),)))
    text.dxf.width = 100
    assert Code.TEXT_NOT_WRAPPED in codes(sheet.read(font_folders=(str(FONTS),)))
