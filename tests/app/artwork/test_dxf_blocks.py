"""Blocks, layers and layouts of DXF files, and how far they may be written out."""

from __future__ import annotations

import math
import time
from pathlib import Path

import pytest

from app.artwork.notes import Code
from app.artwork.read import read_here
from app.errors import DamagedFile, ReadError
from geometry.measure import contour_area
from tests.app.artwork.dxf_sheet import Sheet, box, codes


def test_blocks_nested_scaled_mirrored_and_in_arrays(sheet: Sheet) -> None:
    inner = sheet.document.blocks.new("inner", base_point=(1, 1))
    inner.add_lwpolyline([(1, 1), (3, 1), (3, 2), (1, 2)], close=True)
    outer = sheet.document.blocks.new("outer")
    outer.add_blockref("inner", (10, 0), dxfattribs={"xscale": 2, "yscale": 2, "rotation": 90})
    sheet.space.add_blockref("outer", (100, 0), dxfattribs={"xscale": -1})
    sheet.space.add_blockref(
        "inner",
        (0, 200),
        dxfattribs={"column_count": 3, "row_count": 2, "column_spacing": 10, "row_spacing": 20, "rotation": 90},
    )
    boxes = sorted(box(contour) for contour in sheet.contours())
    # inner from its base: (0,0)-(2,1); doubled and turned: (-2,0)-(0,4), moved: (8,0)-(10,4); mirrored at x = 100.
    assert boxes[-1] == pytest.approx((90, 0, 92, 4))
    # The array turns as a whole: columns run up, rows to the left.
    wanted = sorted((-1 - 20 * row, 200 + 10 * column) for row in range(2) for column in range(3))
    assert [b[:2] for b in boxes[:-1]] == [pytest.approx(w) for w in wanted]


def test_stretched_block_turns_a_circle_into_an_ellipse(sheet: Sheet) -> None:
    sheet.document.blocks.new("dot").add_circle((0, 0), 5)
    sheet.space.add_blockref("dot", (0, 0), dxfattribs={"xscale": 3, "yscale": 1})
    (contour,) = sheet.contours()
    assert abs(contour_area(contour)) == pytest.approx(75 * math.pi, rel=1e-5)


def test_block_on_layer_0_takes_the_layer_of_its_reference(sheet: Sheet) -> None:
    sheet.document.layers.add("Letters")
    sheet.document.blocks.new("dot").add_circle((0, 0), 5)
    sheet.space.add_blockref("dot", (0, 0), dxfattribs={"layer": "Letters"})
    (shape,) = sheet.read().shapes
    assert shape.source.layer == "Letters"
    assert shape.source.object_id == "dot"


def test_layers_that_are_off_or_frozen(sheet: Sheet) -> None:
    for name in ("Off", "Frozen", "On"):
        layer = sheet.document.layers.add(name)
        sheet.space.add_circle((0, 0), 5, dxfattribs={"layer": name})
        if name == "Off":
            layer.off()
        if name == "Frozen":
            layer.freeze()
    drawing = sheet.read()
    assert [shape.source.layer for shape in drawing.shapes] == ["On"]
    assert sum(f.code == Code.LAYER_SKIPPED for f in drawing.findings) == 2
    assert [shape.source.layer for shape in sheet.read(layers=("Off",)).shapes] == ["Off"]
    with pytest.raises(ReadError, match="no layer 'Nope'"):
        sheet.read(layers=("Nope",))


def test_paper_space_is_read_when_the_model_is_empty(sheet: Sheet) -> None:
    sheet.document.layout("Layout1").add_circle((0, 0), 5)
    drawing = sheet.read()
    assert len(drawing.shapes) == 1
    assert Code.PAPER_SPACE in codes(drawing)


def test_block_that_contains_itself(sheet: Sheet) -> None:
    block = sheet.document.blocks.new("snake")
    block.add_circle((0, 0), 1)
    sheet.document.blocks.new("tail").add_blockref("snake", (0, 0))
    block.add_blockref("tail", (0, 0))
    sheet.space.add_blockref("snake", (0, 0))
    with pytest.raises(DamagedFile, match="block 'snake' that contains itself"):
        sheet.read()


def test_expansions_are_counted_before_they_are_made(sheet: Sheet) -> None:
    name = "level0"
    sheet.document.blocks.new(name).add_circle((0, 0), 1)
    for level in range(1, 9):
        block = sheet.document.blocks.new(f"level{level}")
        for x in range(10):
            block.add_blockref(name, (x, 0))
        name = f"level{level}"
    sheet.space.add_blockref(name, (0, 0))
    started = time.process_time()
    with pytest.raises(ReadError, match="more than 200,000 objects"):
        sheet.read()
    assert time.process_time() - started < 8.0


def test_crowds_are_counted_before_they_are_parsed(tmp_path: Path) -> None:
    line = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n5\n21\n5\n"
    path = tmp_path / "crowd.dxf"
    path.write_text("0\nSECTION\n2\nENTITIES\n" + line * 1_000_000 + "0\nENDSEC\n0\nEOF\n")
    started = time.process_time()
    with pytest.raises(ReadError, match=r"holds 1,000,00\d entities"):
        read_here(path)
    assert time.process_time() - started < 20.0


def test_huge_array_is_refused(sheet: Sheet) -> None:
    sheet.document.blocks.new("dot").add_circle((0, 0), 1)
    sheet.space.add_blockref("dot", (0, 0), dxfattribs={"column_count": 30000, "row_count": 30000})
    with pytest.raises(ReadError, match="more than 200,000 objects"):
        sheet.read()
