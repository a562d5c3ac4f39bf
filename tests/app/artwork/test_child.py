"""Reading in a process of its own: the same drawing comes back, and nothing takes the program down."""

from __future__ import annotations

import dataclasses
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import reportlab

from app.artwork import child
from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.fonts import set_text
from app.artwork.limits import DEFAULT_LIMITS, limits_set
from app.artwork.options import ReadOptions
from app.artwork.plain import drawing_from_bytes, drawing_to_bytes
from app.artwork.read import read_drawing, read_here
from app.errors import DamagedFile, ReadError, UnsupportedFile
from app.job.document import Align, Text
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line
from geometry.findings import Finding, Severity

VERA = Path(reportlab.__file__).parent / "fonts" / "VeraBd.ttf"
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


GREEDY = """
import app.artwork.read as read
from app.artwork import child
read.read_here = lambda *_, **__: [bytearray(1 << 26) for _ in range(1000)]
child.main()
"""


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("import time; time.sleep(60)", "took longer than 2 s"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "ended by SIGSEGV"),
        ("raise ZeroDivisionError", "exit code 1"),
        ("print('chatter of a library')", "made its reader fail"),
        (GREEDY, "needs more than 0.2 GB of memory"),
    ],
    ids=["hangs", "crashes", "raises", "chatters", "devours memory"],
)
def test_a_reader_that_goes_wrong_ends_in_one_sentence(
    artwork: Path, monkeypatch: pytest.MonkeyPatch, script: str, words: str
) -> None:
    monkeypatch.setattr(child, "COMMAND", (sys.executable, "-c", script))
    seconds = 2.0 if "sleep" in script else 30.0
    limits = dataclasses.replace(DEFAULT_LIMITS, seconds=seconds, memory_bytes=200 << 20)
    with pytest.raises(ReadError, match=words) as caught:
        read_drawing(artwork, limits=limits)
    assert "\n" not in str(caught.value)


def test_choices_reach_the_reader(artwork: Path) -> None:
    options = ReadOptions(units="in", layers=("Letters",), font_folders=("nowhere",), outline_strokes=True)
    assert read_drawing(artwork, options=options) == read_here(artwork, options=options)
    assert read_drawing(artwork, units="cm").units == "cm"


def test_a_script_without_a_main_guard_may_read(artwork: Path, tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text(f"from app.artwork.read import read_drawing\nprint(len(read_drawing({str(artwork)!r}).shapes))\n")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(entry or os.getcwd() for entry in sys.path)}
    done = subprocess.run([sys.executable, script], capture_output=True, env=environment, check=True, text=True)
    assert done.stdout == "2\n"


def test_one_process_serves_files_and_words(artwork: Path) -> None:
    text = Text("AVA\nTo", str(VERA), tracking=20.0, align=Align.RIGHT)
    with child.ReadingProcess() as process:
        process.start()
        first = process._process
        assert process.read_file(artwork, ReadOptions()) == read_here(artwork)
        assert process.set_words(text, VERA) == set_text(text, VERA)
        with pytest.raises(ReadError, match="no page 2"):
            process.read_file(artwork, ReadOptions(page=2))
        assert process.read_file(artwork, ReadOptions()) == read_here(artwork)
        assert process._process is first
    assert process._process is None
    assert first is not None
    assert first.returncode is not None


def test_a_process_that_was_killed_is_replaced(artwork: Path, tmp_path: Path) -> None:
    with child.ReadingProcess() as process:
        process.start()
        assert process._process is not None
        process._process.kill()
        process._process.wait()
        assert process.read_file(artwork, ReadOptions()) == read_here(artwork)


def test_limits_from_the_environment() -> None:
    assert limits_set({}) == DEFAULT_LIMITS
    found = limits_set({"LETTERBED_READ_SECONDS": "7.5", "LETTERBED_READ_MEMORY_MB": "500", "LETTERBED_READ_DEPTH": ""})
    assert (found.seconds, found.memory_bytes, found.depth) == (7.5, 500_000_000, DEFAULT_LIMITS.depth)
    assert limits_set({"LETTERBED_READ_SECONDS": "7.5"}, seconds=3.0).seconds == 3.0
    for value in ("0", "nan", "inf", "-1", "soon"):
        with pytest.raises(ReadError, match=r"LETTERBED_READ_SECONDS of '.*' cannot be used; give 0.1 to 86400"):
            limits_set({"LETTERBED_READ_SECONDS": value})


BUSY = """
import app.artwork.read as read
from app.artwork import child
def forever(*_, **__):
    while True:
        pass
read.read_here = forever
child.main()
"""


@pytest.mark.skipif(os.name != "posix", reason="this system caps no computing time")
def test_a_process_whose_caller_is_gone_ends_by_itself(artwork: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(child, "COMMAND", (sys.executable, "-c", BUSY))
    limits = dataclasses.replace(DEFAULT_LIMITS, seconds=0.3)
    request = {"path": str(artwork), "options": dataclasses.asdict(ReadOptions()), "limits": dataclasses.asdict(limits)}
    with child.ReadingProcess(limits) as process:
        running = process._running("artwork")
        assert running.stdin is not None
        child._send(running.stdin, json.dumps(request).encode())
        running.stdin.flush()
        assert running.wait(60) == -signal.SIGXCPU


@pytest.mark.skipif(os.name != "posix", reason="this system has no signals to stop a process with")
def test_a_process_that_dies_of_what_it_read_before_costs_nothing(artwork: Path) -> None:
    # A used process may have little memory left under its cap; the file in hand gets a fresh one before it is blamed.
    with child.ReadingProcess() as reading:
        reading.start()
        with _dying(reading), pytest.raises(DamagedFile, match="made its reader fail"):
            reading.read_file(artwork, ReadOptions())
        first = reading.read_file(artwork, ReadOptions())
        with _dying(reading):
            assert reading.read_file(artwork, ReadOptions()) == first


@contextmanager
def _dying(reading: child.ReadingProcess) -> Iterator[None]:
    """Within, the process that serves now is held still and ends a moment after it has been asked."""
    pid = reading._process.pid
    os.kill(pid, signal.SIGSTOP)
    end = threading.Timer(0.3, os.kill, (pid, signal.SIGKILL))
    end.start()
    yield
    end.join()
