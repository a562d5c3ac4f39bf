"""The one door: kinds by content, and bad files that end in one sentence, quickly."""

from __future__ import annotations

import gzip
import os
import time
from pathlib import Path

import ezdxf
import pytest

from app.artwork.limits import Limits
from app.artwork.options import ReadOptions
from app.artwork.read import kind_of, read_here
from app.errors import AppError, DamagedFile, ReadError, UnsupportedFile

SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SVG = f'<svg {SPACES} width="9mm" height="9mm">{{}}</svg>'
GOOD_SVG = SVG.format('<rect width="5" height="5"/><path d="M0 0H9V9z"/>').encode()


def good_dxf() -> bytes:
    document = ezdxf.new()
    document.modelspace().add_circle((50, 0), 5)
    document.modelspace().add_lwpolyline([(0, 0), (10, 0), (10, 10)], close=True)
    from io import StringIO

    stream = StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def dxf(entities: str) -> bytes:
    """A bare R12 file with these entities."""
    return f"0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n".encode()


LAUGHS = (
    '<!DOCTYPE svg [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
    + ']><svg xmlns="http://www.w3.org/2000/svg"><text>&j;</text></svg>'
)
QUADRATIC = (
    f'<!DOCTYPE svg [<!ENTITY a "{"x" * 50000}">]>'
    f'<svg xmlns="http://www.w3.org/2000/svg"><text>{"&a;" * 50000}</text></svg>'
)
OUTSIDE = '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///secret.txt">]><svg xmlns="http://www.w3.org/2000/svg"><text>&a;</text></svg>'
USE_BOMB = SVG.format(
    "<defs><rect id='a0' width='1' height='1'/>"
    + "".join(f"<g id='a{n}'>" + f"<use href='#a{n - 1}'/>" * 10 + "</g>" for n in range(1, 9))
    + "</defs><use href='#a8'/>"
)

HOSTILE: dict[str, bytes] = {
    "entity laughs": LAUGHS.encode(),
    "entity quadratic": QUADRATIC.encode(),
    "entity outside": OUTSIDE.encode(),
    "entity outside utf-16": OUTSIDE.encode("utf-16"),
    "use of itself": SVG.format('<g id="a"><rect width="1" height="1"/><use xlink:href="#a"/></g>').encode(),
    "use of each other": SVG.format('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>').encode(),
    "use bomb": USE_BOMB.encode(),
    "use chain": SVG.format(
        "".join(f"<g id='a{n}'><use href='#a{n + 1}'/></g>" for n in range(5000))
        + "<rect id='a5000' width='1' height='1'/>"
    ).encode(),
    "deep groups": SVG.format("<g>" * 10_000 + '<rect width="1" height="1"/>' + "</g>" * 10_000).encode(),
    "svg of nothing": SVG.format("").encode(),
    "svg of nan": SVG.format('<rect width="nan" height="5"/><circle r="inf"/>').encode(),
    "svg far out": SVG.format('<rect width="1e300" height="1e300"/>').encode(),
    "svg arc of 1e-300": SVG.format('<path d="M0 0A1e-300 1e-300 0 0 1 1e300 1e300"/>').encode(),
    "svg zero page": b'<svg xmlns="http://www.w3.org/2000/svg" width="0" height="0"><rect width="1" height="1"/></svg>',
    "packed blanks": gzip.compress(b" " * (300 << 20), 1),
    "packed and cut": gzip.compress(GOOD_SVG)[:-20],
    "packed noise": b"\x1f\x8b" + bytes(range(256)),
    "xml but no svg": b"<?xml version='1.0'?><html/>",
    "not utf-8": SVG.format("<text>\xff\xfe</text>").encode("latin-1"),
    "empty": b"",
    "one byte": b"0",
    "noise": os.urandom(4096).replace(b"0", b"1"),
    "zeros": bytes(4096),
    "fifty megabytes without newline": b"0" * (50 << 20),
    "png": b"\x89PNG\r\n\x1a\n" + bytes(100),
    "dwg": b"AC1027" + bytes(100),
    "zip": b"PK\x03\x04" + bytes(100),
    "plain text": b"please cut these letters\n",
    "dxf of nothing": dxf(""),
    "dxf of nan": dxf("0\nCIRCLE\n8\n0\n10\nnan\n20\n0\n40\n5\n"),
    "dxf of infinity": dxf("0\nCIRCLE\n8\n0\n10\n1e999\n20\n0\n40\n5\n"),
    "dxf of 1e300": dxf(
        "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1e300\n0\nLINE\n8\n0\n10\n0\n20\n0\n11\n1e300\n21\n1e300\n"
    ),
    "dxf zero radius": dxf("0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n0\n"),
    "dxf text only": dxf("0\nTEXT\n8\n0\n10\n0\n20\n0\n40\n5\n1\nSIGN\n"),
    "binary dxf head only": b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(range(50)),
}


@pytest.mark.parametrize("kind", sorted(HOSTILE))
@pytest.mark.parametrize("extension", ["svg", "dxf"])
def test_hostile_files_end_in_one_sentence_quickly(tmp_path: Path, kind: str, extension: str) -> None:
    path = tmp_path / f"artwork.{extension}"
    path.write_bytes(HOSTILE[kind])
    started = time.process_time()
    with pytest.raises(AppError) as caught:
        read_here(path)
    seconds = time.process_time() - started
    message = str(caught.value)
    assert "artwork" in message
    assert "\n" not in message
    assert len(message) < 400
    assert seconds < 5.0, f"{seconds:.1f} s"


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 0.999])
@pytest.mark.parametrize("make", [good_dxf, lambda: GOOD_SVG], ids=["dxf", "svg"])
def test_truncated_files_give_an_error_or_say_they_were_recovered(tmp_path: Path, make, share: float) -> None:
    data = make()
    path = tmp_path / "cut.file"
    path.write_bytes(data[: int(len(data) * share)])
    said: list[str] = []
    try:
        said = [finding.message for finding in read_here(path).findings if finding.severity == "error"]
    except AppError as error:
        said = [str(error)] if "cut.file" in str(error) else []
    assert said


def test_kind_is_told_by_content_not_by_name(tmp_path: Path) -> None:
    (tmp_path / "really.dxf").write_bytes(GOOD_SVG)
    (tmp_path / "really.svg").write_bytes(good_dxf())
    assert len(read_here(tmp_path / "really.dxf").shapes) == 2
    assert len(read_here(tmp_path / "really.svg").shapes) == 2
    assert kind_of(b"999\ncomment\n  0\r\nSECTION\r\n") == "dxf"
    assert kind_of(b"\xef\xbb\xbf  <?xml version='1.0'?><svg/>") == "svg"
    assert kind_of(b"0.5, 1.2\n") == ""


def test_missing_folder_and_size(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="does not exist"):
        read_here(tmp_path / "none.svg")
    with pytest.raises(ReadError, match="is a folder"):
        read_here(tmp_path)
    path = tmp_path / "large.svg"
    path.write_bytes(GOOD_SVG)
    with pytest.raises(ReadError, match="more than the limit"):
        read_here(path, limits=Limits(file_bytes=10))
    with pytest.raises(ReadError, match=r"cannot be opened|does not exist"):
        read_here(tmp_path / "nul\0l.svg")
    with pytest.raises(ReadError, match="'furlong' is no unit"):
        read_here(path, options=ReadOptions(units="furlong"))


def test_png_is_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "logo.svg"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(50))
    with pytest.raises(UnsupportedFile, match="PNG picture"):
        read_here(path)


def test_errors_name_the_way_out(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(GOOD_SVG[:-10])
    with pytest.raises(DamagedFile, match="save it again"):
        read_here(path)


def test_embedded_pictures_do_not_count_against_the_parser(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    picture = '<image href="data:image/png;base64,' + "iVBORw0KGgo" * 1_500_000 + '"/><rect width="1" height="1"/>'
    path.write_text(SVG.format(picture))
    drawing = read_here(path)
    assert len(drawing.shapes) == 1
    assert any("1 image" in finding.message for finding in drawing.findings)
