"""Hostile files, one by one, in the reading process: one sentence or a drawing, in bounded time and memory.

The list is that of what customers' and attackers' files have been seen to do; each kind stands for every format it
can take. All are read by one process with tight limits, which must be alive and well after each of them.
"""

from __future__ import annotations

import dataclasses
import functools
import gzip
import io
import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

import pikepdf
import psutil
import pytest
import reportlab
from fontTools.ttLib import TTFont
from pikepdf import Array, Dictionary, Name

from app.artwork.child import ReadingProcess
from app.artwork.drawing import Drawing
from app.artwork.limits import DEFAULT_LIMITS
from app.artwork.options import DEFAULT_OPTIONS
from app.artwork.read import read_here
from app.errors import AppError, ReadError
from app.job.document import Text

LIMITS = dataclasses.replace(
    DEFAULT_LIMITS, seconds=60.0, memory_bytes=600 << 20, file_bytes=60 << 20, segments=200_000
)
MOST_SECONDS = 15.0  # computed by the reading process: other work on the machine must not fail the test
VERA = Path(reportlab.__file__).parent / "fonts" / "VeraBd.ttf"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">{}</svg>'
DXF = "0\nSECTION\n2\n{}\n{}0\nENDSEC\n0\nEOF\n"


def svg(body: str) -> bytes:
    return SVG.format(body).encode()


def dxf(entities: str, blocks: str = "") -> bytes:
    before = f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n" if blocks else ""
    return (before + DXF.format("ENTITIES", entities)).encode()


def block(name: str, inside: str) -> str:
    return f"0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n{inside}0\nENDBLK\n8\n0\n"


def insert(name: str) -> str:
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n"


def pdf(content: bytes, build: Callable[[pikepdf.Pdf, pikepdf.Object], None] | None = None, **save: object) -> bytes:
    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 100))
    page = document.pages[0].obj
    page.Contents = document.make_stream(content)
    if build is not None:
        build(document, page)
    stream = io.BytesIO()
    document.save(stream, **save)
    return stream.getvalue()


def form(document: pikepdf.Pdf, content: bytes, **inside: pikepdf.Object) -> pikepdf.Object:
    made = document.make_stream(content, Type=Name.XObject, Subtype=Name.Form, BBox=Array([0, 0, 200, 100]))
    made.Resources = Dictionary(XObject=Dictionary(**inside))
    return document.make_indirect(made)


def self_naming_form(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
    one = form(document, b"/B Do")
    two = form(document, b"/A Do", A=one)
    one.Resources.XObject = Dictionary(B=two)
    page.Resources = Dictionary(XObject=Dictionary(A=one))


def form_chain(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
    inner = form(document, b"0 0 9 9 re f")
    for _ in range(2_000):
        inner = form(document, b"/A Do", A=inner)
    page.Resources = Dictionary(XObject=Dictionary(A=inner))


def form_bomb(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
    inner = form(document, b"0 0 9 9 re f")
    for _ in range(8):
        inner = form(document, b"/A Do " * 10, A=inner)
    page.Resources = Dictionary(XObject=Dictionary(A=inner))


@functools.cache
def packed_blanks(times: int) -> bytes:
    """100 MB of blanks, packed once or more often."""
    data = b" " * (100 << 20)
    for _ in range(times):
        data = zlib.compress(data, 1)
    return data


def packed(document: pikepdf.Pdf, times: int = 1) -> pikepdf.Object:
    """Packed blanks as a form."""
    made = document.make_stream(b"")
    made.write(packed_blanks(times), filter=Array([Name.FlateDecode] * times), type_check=False)
    made.Type, made.Subtype, made.BBox = Name.XObject, Name.Form, Array([0, 0, 200, 100])
    return made


def packed_form(times: int) -> Callable[[pikepdf.Pdf, pikepdf.Object], None]:
    def build(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
        page.Resources = Dictionary(XObject=Dictionary(A=packed(document, times)))

    return build


def packed_content(times: int) -> Callable[[pikepdf.Pdf, pikepdf.Object], None]:
    def build(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
        page.Contents = packed(document, times)

    return build


def packed_font(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
    descriptor = Dictionary(Type=Name.FontDescriptor, Flags=4, FontFile2=packed(document))
    font = Dictionary(Type=Name.Font, Subtype=Name.TrueType, FontDescriptor=descriptor, ToUnicode=packed(document))
    page.Resources = Dictionary(Font=Dictionary(F=font))


def looping_pages(document: pikepdf.Pdf, page: pikepdf.Object) -> None:
    document.Root.Pages.Kids = Array([document.Root.Pages])


def locked(**passwords: str) -> bytes:
    return pdf(b"0 0 9 9 re f", encryption=pikepdf.Encryption(**passwords))


def woff_bomb() -> bytes:
    """A web font whose one table says it unpacks to 3 GB."""
    data = zlib.compress(b" " * 1000)
    head = struct.pack(">4sIIHHIHHIIIII", b"wOFF", 0x10000, 64 + len(data), 1, 0, 3_000_000_000, 1, 0, 0, 0, 0, 0, 0)
    return head + struct.pack(">4sIIII", b"glyf", 64, len(data), 3_000_000_000, 0) + data


def self_naming_glyph() -> bytes:
    """A font whose A is made of itself."""
    from fontTools.ttLib.tables._g_l_y_f import Glyph, GlyphComponent

    font = TTFont(VERA)
    part = GlyphComponent()
    part.glyphName, part.x, part.y, part.flags = font.getBestCmap()[ord("A")], 0, 0, 0x4
    glyph = Glyph()
    glyph.numberOfContours, glyph.components = -1, [part]
    glyph.xMin = glyph.yMin = glyph.xMax = glyph.yMax = 0
    font["glyf"][part.glyphName] = glyph
    font.recalcBBoxes = False
    stream = io.BytesIO()
    font.save(stream)
    return stream.getvalue()


LAUGHS = (
    '<!DOCTYPE svg [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
    + ']><svg xmlns="http://www.w3.org/2000/svg"><text>&j;</text></svg>'
)
QUADRATIC = f'<!DOCTYPE svg [<!ENTITY a "{"x" * 50_000}">]>' + SVG.format(f"<text>{'&a;' * 50_000}</text>")
CIRCLE = "0\nCIRCLE\n8\n0\n10\n{0}\n20\n0\n40\n{0}\n"
LINE = "0\nLINE\n8\n0\n10\n{0}\n20\n0\n11\n{0}\n21\n5\n"

FILES: dict[str, Callable[[], bytes]] = {
    "entities that laugh": LAUGHS.encode,
    "entities that grow with the square": QUADRATIC.encode,
    "entity from another file": lambda: (
        b'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///secret">]>' + svg("<text>&a;</text>")
    ),
    "use of itself": lambda: svg('<g id="a"><use href="#a"/></g>'),
    "use of each other": lambda: svg('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'),
    "clip path of itself": lambda: svg(
        '<clipPath id="a" clip-path="url(#a)"><use href="#a"/></clipPath>'
        '<rect width="5" height="5" clip-path="url(#a)"/>'
    ),
    "use bomb": lambda: svg(
        '<defs><rect id="a0" width="1" height="1"/>'
        + "".join(f'<g id="a{n}">' + f'<use href="#a{n - 1}"/>' * 10 + "</g>" for n in range(1, 9))
        + '</defs><use href="#a8"/>'
    ),
    "block of itself": lambda: dxf(insert("a"), block("a", insert("a"))),
    "blocks of each other": lambda: dxf(insert("a"), block("a", insert("b")) + block("b", insert("a"))),
    "block bomb": lambda: dxf(
        insert("a8"),
        block("a0", CIRCLE.format(5)) + "".join(block(f"a{n}", insert(f"a{n - 1}") * 10) for n in range(1, 9)),
    ),
    "array bomb": lambda: dxf(insert("a") + "70\n30000\n71\n30000\n44\n1\n45\n1\n", block("a", CIRCLE.format(5))),
    "form of itself": lambda: pdf(b"/A Do", self_naming_form),
    "form bomb": lambda: pdf(b"/A Do", form_bomb),
    "page tree of itself": lambda: pdf(b"", looping_pages),
    "groups 10,000 deep": lambda: svg("<g>" * 10_000 + '<rect width="1" height="1"/>' + "</g>" * 10_000),
    "uses 10,000 deep": lambda: svg(
        "".join(f'<g id="a{n}"><use href="#a{n + 1}"/></g>' for n in range(10_000))
        + '<rect id="a10000" width="1" height="1"/>'
    ),
    "blocks 10,000 deep": lambda: dxf(
        insert("a0"), "".join(block(f"a{n}", insert(f"a{n + 1}")) for n in range(10_000)) + block("a10000", "")
    ),
    "forms 2,000 deep": lambda: pdf(b"/A Do", form_chain),
    "drawing states 10,000 deep": lambda: pdf(b"q " * 10_000 + b"0 0 9 9 re f"),
    "lists 10,000 deep": lambda: pdf(b"[" * 10_000 + b"]" * 10_000 + b" 0 d 0 0 9 9 re f"),
    "svg of nan": lambda: svg('<rect width="nan" height="5"/><circle r="inf"/>'),
    "svg of 1e300": lambda: svg(
        '<rect width="1e300" height="1e300"/><g transform="scale(1e300)"><circle r="1e300"/></g>'
        '<path d="M0 0A1e-300 1e-300 0 0 1 1e300 1e300"/>'
    ),
    "dxf of nan": lambda: dxf(CIRCLE.format("nan") + LINE.format("-nan(ind)")),
    "dxf of infinity": lambda: dxf(CIRCLE.format("inf") + LINE.format("1e999")),
    "dxf of 1e300": lambda: dxf(CIRCLE.format("1e300") + LINE.format("-1e300")),
    "pdf of 1e300": lambda: pdf(
        b"%s 0 0 1 0 0 cm 0 0 9 9 re f" % (b"9" * 300) + b" nan inf 9 9 re f 0 0 m 1e300 5 l 9 9 l f"
    ),
    "svg of a million elements": lambda: svg('<rect width="1" height="1"/>' * 1_000_000),
    "svg path of a million pieces": lambda: svg('<path d="M0 0' + "l1 1-1 0" * 1_000_000 + '"/>'),
    "dxf of a million lines": lambda: dxf("0\nLINE\n8\n0\n10\n0\n20\n0\n11\n9\n21\n9\n" * 1_000_000),
    "dxf polyline of a million vertices": lambda: dxf(
        "0\nLWPOLYLINE\n8\n0\n90\n1000000\n70\n1\n" + "10\n0\n20\n0\n10\n1\n20\n1\n" * 500_000
    ),
    "pdf of a million pieces": lambda: pdf(b"0 0 m " + b"9 9 l 5 0 l " * 500_000 + b"f"),
    "pdf of a million paths": lambda: pdf(b"0 0 9 9 re f " * 1_000_000),
    "packed svg bomb": lambda: gzip.compress(b" " * (100 << 20), 1),
    "packed page": lambda: pdf(b"", packed_content(1), compress_streams=False),
    "page packed twice": lambda: pdf(b"", packed_content(2), compress_streams=False),
    "packed form": lambda: pdf(b"/A Do", packed_form(1), compress_streams=False),
    "form packed twice": lambda: pdf(b"/A Do", packed_form(2), compress_streams=False),
    "packed font": lambda: pdf(b"BT /F 9 Tf (A) Tj ET", packed_font, compress_streams=False),
    "password": lambda: locked(user="secret", owner="secret"),
    "empty": bytes,
    "one byte": lambda: b"0",
    "zeros": lambda: bytes(4096),
    "one line of fifty megabytes": lambda: b"0" * (50 << 20),
    "svg head only": lambda: b"<svg",
    "dxf head only": lambda: b"0\nSECTION\n",
    "pdf head only": lambda: b"%PDF-1.7\n",
    "binary dxf head only": lambda: b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(range(50)),
}
# What is not refused but read, since nothing is wrong with the rest of it.
READ = {"clip path of itself", "pdf of 1e300"}


@pytest.fixture(scope="module")
def process() -> Iterator[ReadingProcess]:
    with ReadingProcess(LIMITS) as one:
        yield one


def computed() -> float:
    """Seconds that this process and the ones it started have computed, running ones and those that have ended."""
    own = psutil.Process().cpu_times()
    running = [child.cpu_times() for child in psutil.Process().children()]
    ended = getattr(own, "children_user", 0.0) + getattr(own, "children_system", 0.0)
    return ended + sum(one.user + one.system for one in (own, *running))


def attempt(read: Callable[[], Drawing]) -> tuple[Drawing | None, str, float]:
    """The drawing or the sentence that was said, and the seconds it took to compute."""
    started = computed()
    try:
        return read(), "", computed() - started
    except AppError as error:
        return None, str(error), computed() - started


@pytest.mark.parametrize("kind", FILES)
def test_hostile_artwork(tmp_path: Path, process: ReadingProcess, kind: str) -> None:
    path = tmp_path / "artwork.svg"  # for most of them the wrong extension as well
    path.write_bytes(FILES[kind]())
    drawing, said, seconds = attempt(lambda: process.read_file(path, DEFAULT_OPTIONS))
    assert seconds < MOST_SECONDS
    if drawing is None:
        assert "artwork" in said
        assert "\n" not in said
        assert len(said) < 400
        assert "made its reader fail" not in said
    assert (drawing is not None) == (kind in READ), said


FONTS: dict[str, Callable[[], bytes]] = {
    "empty": bytes,
    "head only": lambda: b"\0\1\0\0",
    "half": lambda: VERA.read_bytes()[:30_000],
    "web font that swells": woff_bomb,
    "glyph made of itself": self_naming_glyph,
    "zeros after the directory": lambda: VERA.read_bytes()[:300] + bytes(60_000),
}


@pytest.mark.parametrize("kind", FONTS)
def test_hostile_fonts(tmp_path: Path, process: ReadingProcess, kind: str) -> None:
    path = tmp_path / "artwork.ttf"
    path.write_bytes(FONTS[kind]())
    drawing, said, seconds = attempt(lambda: process.set_words(Text("AB", str(path)), path))
    assert seconds < MOST_SECONDS
    assert drawing is None
    assert "artwork" in said
    assert "\n" not in said


def test_a_million_characters(process: ReadingProcess) -> None:
    with pytest.raises(ReadError, match=r"1,000,000 characters, more than the limit of 5,000"):
        process.set_words(Text("A" * 1_000_000, str(VERA)), VERA)


def test_the_process_is_alive_and_well_after_all_that(tmp_path: Path, process: ReadingProcess) -> None:
    path = tmp_path / "artwork.svg"
    path.write_bytes(svg('<rect width="5" height="5"/>'))
    assert len(process.read_file(path, DEFAULT_OPTIONS).shapes) == 1
    assert len(process.set_words(Text("AB", str(VERA)), VERA).shapes) == 2


def test_a_pdf_locked_against_changes_only_is_read(tmp_path: Path) -> None:
    path = tmp_path / "artwork.pdf"
    path.write_bytes(locked(owner="secret", user=""))
    assert len(read_here(path).shapes) == 1


@pytest.mark.parametrize(
    ("extension", "data"),
    [
        ("svg", svg('<g transform="rotate(5)"><path d="M0 0C1 2 3 4 5 6A3 4 5 0 1 7 8z"/></g>')),
        ("dxf", dxf(CIRCLE.format(5) + LINE.format(7) + insert("a"), block("a", CIRCLE.format(3)))),
        ("pdf", pdf(b"q 1 0 0 1 5 5 cm 0 0 m 9 0 l 9 9 l h f Q")),
    ],
    ids=["svg", "dxf", "pdf"],
)
def test_cut_off_at_every_byte(tmp_path: Path, extension: str, data: bytes) -> None:
    """Every prefix ends in one sentence or in a drawing whose findings say that it was damaged."""
    path = tmp_path / f"artwork.{extension}"
    path.write_bytes(data)
    whole = read_here(path)
    for keep in range(len(data)):
        path.write_bytes(data[:keep])
        drawing, said, seconds = attempt(lambda: read_here(path))
        assert seconds < 5.0
        if drawing is None:
            assert "artwork" in said
            assert "\n" not in said
        elif drawing.shapes != whole.shapes:
            assert any(finding.severity == "error" for finding in drawing.findings), keep
