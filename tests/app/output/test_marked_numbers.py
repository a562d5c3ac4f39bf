"""Words marked on parts pass through operations, cut file and re-reading like every other mark."""

from __future__ import annotations

from dataclasses import replace

import ezdxf
import pytest

from app.cutting.operations import Work, operations
from app.cutting.swept import check_swept
from app.errors import ExportError
from app.fabrication.stroke_text import mark_text
from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheet
from app.output.dxf import write_dxf
from app.output.reread import check_cut_file
from tests.app.output.plans import ALUMINIUM, INCH, QUARTER, SHEET_48_96, block, part, put, sheet, sign_plan

WORD = "a-1-backer"


def marked():
    plate = part("a-1", block(300.0, 200.0), quantity=2)
    plate = replace(plate, texts=(mark_text(WORD, (150.0, 100.0), 12.7),))
    return [put(plate, 400.0, 300.0, rotation=30.0), put(plate, 900.0, 500.0, rotation=200.0, mirrored=True, copy=1)]


def test_numbers_are_marked_before_the_part_is_cut_and_read_back(tmp_path):
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, marked())
    made = operations(planned)
    assert sum(one.work is Work.MARK for one in made) == 2 * len(WORD)
    assert check_swept(planned, made).is_clean
    for copy in (0, 1):
        order = [one.work for one in made if one.copy == copy]
        assert order.index(Work.OUTSIDE) > max(i for i, work in enumerate(order) if work is Work.MARK)
    path = tmp_path / "m.dxf"
    write_dxf(cut_sheet(planned), sign_plan().job, path, sheet_count=1)
    check_cut_file(path, planned, DisplayUnits.INCHES)


def test_a_sign_that_stands_elsewhere_is_found(tmp_path):
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, marked())
    path = tmp_path / "m.dxf"
    write_dxf(cut_sheet(planned), sign_plan().job, path, sheet_count=1)
    document = ezdxf.readfile(path)
    sign = document.modelspace().query('LWPOLYLINE[layer=="MARK"]').first
    sign.translate(0.01 / INCH, 0.0, 0.0)
    document.saveas(path)
    with pytest.raises(ExportError, match="line to mark"):
        check_cut_file(path, planned, DisplayUnits.INCHES)
