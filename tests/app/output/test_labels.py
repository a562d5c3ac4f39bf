"""Labels: where they lie, what their codes say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium
import pytest
import segno

from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheets
from app.output.labels import A4_24, LETTER_30, code_text, write_labels
from tests.app.output.plans import many_plan, sign_plan


def write(plan, tmp_path, **options):
    path = tmp_path / "labels.pdf"
    write_labels(plan, cut_sheets(plan), path, **options)
    return pdfium.PdfDocument(path)


def test_the_grids_fill_their_pages_by_measurement():
    # 3 x 2 5/8 + 2 x 1/8 + 2 x 3/16 = 8 1/2 in; 10 x 1 + 2 x 1/2 = 11 in.
    assert LETTER_30.per_page == 30
    x, y = LETTER_30.corner(29)
    assert (x + LETTER_30.width) / 72 == pytest.approx(8.5 - 3 / 16)
    assert y / 72 == pytest.approx(0.5)
    # 3 x 70 = 210 mm; 8 x 37 + 2 x 1/2 = 297 mm.
    assert A4_24.per_page == 24
    x, y = A4_24.corner(23)
    assert (x + A4_24.width) / 72 * 25.4 == pytest.approx(210.0, abs=0.02)
    assert y / 72 * 25.4 == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize(
    ("units", "pages", "size"),
    [(DisplayUnits.INCHES, 3, (612.0, 792.0)), (DisplayUnits.MILLIMETRES, 3, (595.28, 841.89))],
)
def test_every_part_cut_has_a_label(tmp_path, units, pages, size):
    document = write(many_plan(65, units=units), tmp_path)
    assert len(document) == pages
    assert document[0].get_size() == pytest.approx(size, abs=0.1)
    text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    plan = many_plan(65)
    assert all(part.id in text for part in plan.parts)
    assert text.count("copy 1 of 1") == 65
    document.close()


def test_a_label_says_letter_part_copy_material_sheet_and_job(tmp_path):
    document = write(sign_plan(), tmp_path)
    page = document[0]
    x, y = LETTER_30.corner(8)  # ninth to come free: the D's backer
    text = page.get_textpage().get_text_bounded(x, y, x + LETTER_30.width, y + LETTER_30.height)
    words = " ".join(text.split())
    assert words == (
        'D backer line1-04-backer 24" × 24" aluminium 3003-H14 0.063 in sheet 1 no. 9 copy 1 of 1 Lamp house canopy'
    )
    document.close()


def test_the_code_says_which_part_and_copy():
    piece = cut_sheets(sign_plan())[1].pieces[0]
    assert code_text(piece) == f"part line1-04-face copy {piece.copy + 1}"


def test_the_code_on_paper_is_that_code_with_its_quiet_zone(tmp_path):
    plan = sign_plan()
    piece = cut_sheets(plan)[0].pieces[0]
    document = write(plan, tmp_path)
    image = document[0].render(scale=8.0).to_numpy()[..., 0] < 128
    document.close()
    wanted = np.array(
        [list(row) for row in segno.make_qr(f"part {piece.part.id} copy 1", error="m", boost_error=False).matrix]
    )
    x, y = LETTER_30.corner(0)
    left, right = int((x + LETTER_30.width * 0.62) * 8), int((x + LETTER_30.width) * 8)
    top, bottom = int((792 - y - LETTER_30.height) * 8), int((792 - y) * 8)
    area = image[top:bottom, left:right]
    rows, columns = np.flatnonzero(area.any(axis=1)), np.flatnonzero(area.any(axis=0))
    code = area[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    count = len(wanted)
    centres = ((np.arange(count) + 0.5) / count * code.shape[0]).astype(int)
    assert (code[np.ix_(centres, centres)] == wanted.astype(bool)).all()
    # ISO/IEC 18004 asks for four modules of white round the code (from memory).
    module = code.shape[0] / count
    assert columns[0] > 3.9 * module
    assert area.shape[1] - columns[-1] > 3.9 * module


def test_long_and_foreign_names_stay_in_their_label(tmp_path):
    plan = sign_plan()
    parts = {
        part.id: replace(part, id=part.id + "-with-quite-a-long-tail-to-its-name", name="字" * 9) for part in plan.parts
    }
    sheets = tuple(
        replace(
            one,
            placed=tuple(
                replace(
                    put,
                    part=parts[put.part.id],
                    placement=replace(put.placement, part=parts[put.part.id].id),
                )
                for put in one.placed
            ),
        )
        for one in plan.sheets
    )
    document = write(replace(plan, parts=tuple(parts.values()), sheets=sheets), tmp_path)
    page = document[0]
    textpage = page.get_textpage()
    column_edges = [(LETTER_30.corner(n)[0], LETTER_30.corner(n)[0] + LETTER_30.width) for n in range(3)]
    for index in range(textpage.count_rects()):
        left, _, right, _ = textpage.get_rect(index)
        assert any(left >= low - 0.1 and right <= high + 0.1 for low, high in column_edges)
    document.close()


def test_a_plan_without_parts_says_so(tmp_path):
    document = write(replace(many_plan(1), sheets=()), tmp_path)
    assert "nothing to label" in document[0].get_textpage().get_text_bounded()
    document.close()
