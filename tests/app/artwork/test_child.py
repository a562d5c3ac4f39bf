"""Reading in a process of its own: the same drawing comes back, and nothing takes the program down."""

from __future__ import annotations

import dataclasses
import multiprocessing
import os
import signal
import time
from pathlib import Path

import pytest

from app.artwork import child
from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.limits import DEFAULT_LIMITS, Limits
from app.artwork.options import ReadOptions
from app.artwork.plain import drawing_from_bytes, drawing_to_bytes
from app.artwork.read import read_drawing, read_here
from app.errors import DamagedFile, ReadError, UnsupportedFile
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line
from geometry.findings import Finding, Severity

BODY = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm"><g id="Letters"><circle r="7"/>'
    '<path id="S" d="M0 0C1 2 3.3 4.7 5 6L1 9z"/></g><text>?</text></svg>'
)


@pytest.fixture
def artwork(tmp_path: Path) -> Path:
    path = tmp_path / "sign.svg"
    path.write_text(BODY)
    return path


def test_the_same_drawing_comes_back(artwork: Path) -> None:
    assert read_drawing(artwork) == read_here(artwork)
    assert multiprocessing.active_children() == []


def test_errors_come_back_with_their_kind(tmp_path: Path) -> None:
    for data, kind in ((b"words", UnsupportedFile), (b"<svg", DamagedFile), (b"<svg/>", ReadError)):
        path = tmp_path / "bad.svg"
        path.write_bytes(data)
        with pytest.raises(kind) as caught:
            read_drawing(path)
        assert type(caught.value) is kind
        assert "bad.svg" in str(caught.value)


def test_plain_bytes_are_exact() -> None:
    contour = Contour(
        (
            Line((0.1, 1 / 3), (2.0, 1e-17)),
            Arc((2.0, 1e-17), (5.5, 5.5), -0.7),
            Cubic((5.5, 5.5), (1, 2), (3, 4), (0.1, 1 / 3)),
        )
    )
    open_ = Contour((Line((1, 2), (3, 4)),), is_closed=False)
    finding = Finding("x", Severity.ERROR, "ünïcode", (1.5, 2.5), True, "s")
    drawing = Drawing(
        (Shape((contour, open_), FillRule.EVEN_ODD, Source("f", "l", "ä"), True),), "mm", ("l",), 3.25, (finding,)
    )
    assert drawing_from_bytes(*drawing_to_bytes(drawing)) == drawing
    header, numbers = drawing_to_bytes(drawing)
    with pytest.raises(ValueError, match="cut short"):
        drawing_from_bytes(header, numbers[:-8])


def _hang(*_: object) -> None:
    time.sleep(60)


def _crash(*_: object) -> None:
    os.kill(os.getpid(), signal.SIGSEGV)


def _devour(answer: object, path: Path, options: ReadOptions, limits: Limits) -> None:
    from app.artwork import read

    def greedy(*_: object, **__: object) -> Drawing:
        return [bytearray(1 << 26) for _ in range(1000)]  # type: ignore[return-value]

    read.read_here = greedy
    child._work_itself(answer, path, options, limits)


child._work_itself = child._work


@pytest.mark.parametrize(
    ("work", "words"),
    [(_hang, "took longer than 2 s"), (_crash, "ended by SIGSEGV"), (_devour, "of memory")],
    ids=["hangs", "crashes", "devours memory"],
)
def test_a_reader_that_goes_wrong_ends_in_one_sentence(
    artwork: Path, monkeypatch: pytest.MonkeyPatch, work: object, words: str
) -> None:
    monkeypatch.setattr(child, "_work", work)
    limits = dataclasses.replace(DEFAULT_LIMITS, seconds=2.0 if work is _hang else 30.0, memory_bytes=200 << 20)
    with pytest.raises(ReadError, match=words):
        read_drawing(artwork, limits=limits)
    assert multiprocessing.active_children() == []
