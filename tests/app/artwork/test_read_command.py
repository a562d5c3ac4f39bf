"""`letterbed read` with all its choices, and the same choices in a job."""

from __future__ import annotations

import dataclasses
import io
import json
from pathlib import Path

import ezdxf
import pikepdf
import pytest
import reportlab
from reportlab.pdfgen.canvas import Canvas

from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.cli import main
from app.job.document import Artwork, Scale, ScaleBy, Text
from app.planning.prepare import draw
from tests.app.artwork.test_fonts import variable_font

VERA_FOLDER = Path(reportlab.__file__).parent / "fonts"
PAGE = '<svg xmlns="http://www.w3.org/2000/svg" {} viewBox="0 0 200 100">{}</svg>'
TWO_BARS = '<rect x="10" y="20" width="20" height="60"/><rect x="20" y="30" width="150" height="10"/>'


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    status = main(["read", *map(str, arguments)])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def reading(capsys: pytest.CaptureFixture[str], *arguments: object) -> dict:
    status, printed, said = run(capsys, *arguments, "--json")
    assert status == 0, said
    return json.loads(printed)


@pytest.fixture
def bars(tmp_path: Path) -> Path:
    path = tmp_path / "bars.svg"
    path.write_text(PAGE.format('width="200mm" height="100mm"', TWO_BARS))
    return path


def test_overlapping_shapes_are_joined_on_request(capsys, bars: Path) -> None:
    assert len(reading(capsys, bars)["letters"]) == 2
    assert len(reading(capsys, bars, "--join-overlaps")["letters"]) == 1


def test_strokes_are_outlined_on_request(capsys, tmp_path: Path) -> None:
    path = tmp_path / "line.svg"
    line = '<path d="M20 50H120" fill="none" stroke="black" stroke-width="8"/>'
    path.write_text(PAGE.format('width="200mm" height="100mm"', line))
    status, _, said = run(capsys, path)
    assert (status, "no closed shape" in said) == (2, True)
    found = reading(capsys, path, "--outline-strokes")
    assert (found["width"], found["height"]) == pytest.approx((100, 8))


def test_a_known_dimension_sets_the_size(capsys, bars: Path) -> None:
    """The bars are 160 mm wide as drawn; 0 to 40 on paper is to be 10 in."""
    found = reading(capsys, bars, "--dimension", "0,0 40,0 10in")
    assert found["width"] == pytest.approx(160 / 40 * 254)
    status, _, said = run(capsys, bars, "--dimension", "0,0 10in")
    assert status == 2
    assert "is not two points and a length" in said
    status, _, said = run(capsys, bars, "--dimension", "3,3 3,3 10in")
    assert status == 2
    assert "in the same place" in said


def test_a_known_dimension_counts_in_the_unit_of_the_file(tmp_path: Path) -> None:
    """A circle of 24 in whose diameter, 24 in the file's own numbers, is to be 48 in."""
    from app.artwork.letters import letter_drawing

    document = ezdxf.new()
    document.header["$INSUNITS"] = 1
    document.modelspace().add_circle((0, 0), 12)
    document.saveas(tmp_path / "dot.dxf")
    scale = Scale(ScaleBy.KNOWN_DIMENSION, 48 * 25.4, (-12.0, 0.0), (12.0, 0.0))
    artwork = Artwork("dot", "Dot", "", file="dot.dxf", scale=scale)
    lettering = letter_drawing(draw(artwork, folder=str(tmp_path)), artwork)
    assert lettering.width == pytest.approx(48 * 25.4)


def test_a_known_dimension_of_a_pdf_is_in_points(tmp_path: Path) -> None:
    """50 user units of a page with a unit of 2 points are 100 points; the page is cut and turned besides."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(300, 200))
    page = pdf.pages[0].obj
    page.UserUnit, page.Rotate, page.CropBox = 2, 90, pikepdf.Array([10, 10, 200, 100])
    page.Contents = pdf.make_stream(b"20 20 50 25 re f")
    pdf.save(tmp_path / "a.pdf")
    art = Artwork("a", "A", "", file="a.pdf", scale=Scale(ScaleBy.KNOWN_DIMENSION, 457.2, (0.0, 0.0), (100.0, 0.0)))
    lettering = letter_drawing(draw(art, folder=str(tmp_path)), art)
    assert (lettering.height, lettering.width) == pytest.approx((457.2, 228.6))


def test_the_page_is_chosen(capsys, tmp_path: Path, bars: Path) -> None:
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(200, 200))
    for side in (30, 60):
        canvas.rect(10, 10, side, side, fill=1)
        canvas.showPage()
    canvas.save()
    path = tmp_path / "two.pdf"
    path.write_bytes(stream.getvalue())
    assert reading(capsys, path)["width"] == pytest.approx(30 * 25.4 / 72)
    assert reading(capsys, path, "--page", 2)["width"] == pytest.approx(60 * 25.4 / 72)
    for page, words in ((3, "no page 3; its pages are 1 to 2"), (0, "no page 0")):
        status, _, said = run(capsys, path, "--page", page)
        assert (status, words in said) == (2, True)
    status, _, said = run(capsys, bars, "--page", 2)
    assert (status, "has one page only" in said) == (2, True)


def test_axes_of_a_variable_font(capsys, tmp_path: Path) -> None:
    path = tmp_path / "variable.ttf"
    path.write_bytes(variable_font())
    plain = reading(capsys, path, "--words", "I", "--height", "7in")
    heavy = reading(capsys, path, "--words", "I", "--height", "7in", "--axis", "wght=900")
    assert (plain["width_in"], heavy["width_in"]) == pytest.approx((1.0, 3.0))
    assert (plain["units_in_file"], plain["unit_choices"]) == (None, [])  # words have no size to choose a unit for
    for axis, words in (("wght", "is not a tag and a number"), ("wdth=7", "its axes are: wght")):
        status, _, said = run(capsys, path, "--words", "I", "--height", "7in", "--axis", axis)
        assert (status, words in said) == (2, True)


def test_fonts_of_a_dxf_and_the_gap_to_join(capsys, tmp_path: Path) -> None:
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    document.modelspace().add_text("HI", height=50, dxfattribs={"style": "sign"})
    document.modelspace().add_lwpolyline([(200, 0), (300, 0), (300, 50), (200.6, 0)])
    path = tmp_path / "sign.dxf"
    document.saveas(path)
    found = reading(capsys, path, "--font-folder", VERA_FOLDER, "--join-gap", "1mm")
    assert {letter["name"] for letter in found["letters"]} == {"H", "I", "3"}
    status, _, said = run(capsys, path)
    assert (status, "open" in said) == (2, True)


def test_a_picture_is_written(capsys, tmp_path: Path, bars: Path) -> None:
    from app.artwork.read import read_here

    picture = tmp_path / "picture.svg"
    status, _, _ = run(capsys, bars, "--picture", picture)
    assert status == 0
    assert len(read_here(picture).shapes) >= 2
    assert "lie over each other" in picture.read_text()
    assert not list(tmp_path.glob("*.part"))
    status, _, said = run(capsys, bars, "--picture", tmp_path / "nowhere" / "picture.svg")
    assert (status, "cannot be written" in said) == (2, True)


def test_sizes_by_unit_where_the_file_states_none(capsys, tmp_path: Path) -> None:
    path = tmp_path / "bars.svg"
    path.write_text(PAGE.format("", TWO_BARS))
    status, _, said = run(capsys, path)
    assert (status, 'in: 160" (4064 mm)' in said) == (2, True)
    found = reading(capsys, path, "--overall-width", "16in")
    assert {one["unit"]: one["width"] for one in found["unit_choices"]} == pytest.approx(
        {"in": 4064, "mm": 160, "cm": 1600, "ft": 48768, "px": 160 / 96 * 25.4, "pt": 160 / 72 * 25.4}
    )
    _, printed, _ = run(capsys, path, "--overall-width", "16in")
    assert 'in  160" (4064 mm) x 60" (1524 mm)' in printed
    assert "as drawn: 8 lines, 0 arcs, 0 curves; for cutting: 8 lines, 0 arcs, 0 curves" in printed


def test_limits_are_settings(capsys, bars: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    status, _, said = run(capsys, bars, "--read-seconds", "0.1")
    assert (status, "took longer than 0.1 s" in said) == (2, True)
    monkeypatch.setenv("LETTERBED_READ_OBJECTS", "1")
    status, _, said = run(capsys, bars)
    assert (status, "more than 1 object once" in said) == (2, True)
    monkeypatch.setenv("LETTERBED_READ_OBJECTS", "many")
    status, _, said = run(capsys, bars)
    assert (status, "LETTERBED_READ_OBJECTS of 'many' cannot be used; give 1 to 1e+09" in said) == (2, True)
    monkeypatch.delenv("LETTERBED_READ_OBJECTS")
    status, _, said = run(capsys, bars, "--read-memory-mb", "1")
    assert (status, "LETTERBED_READ_MEMORY_MB" in said) == (2, True)


def test_a_job_reads_with_its_choices(bars: Path) -> None:
    artwork = Artwork("a", "A", "", file="bars.svg", join_overlaps=True, outline_strokes=True)
    assert len(draw(artwork, folder=str(bars.parent)).shapes) == 1
    words = Artwork("a", "A", "", text=Text("HI", "VeraBd.ttf"))
    assert len(draw(words, folder=str(VERA_FOLDER)).shapes) == 2


def test_words_that_overlap_are_told_once_with_a_way_out_and_made_one_on_request(capsys, tmp_path: Path) -> None:
    """Oblique letters set tight, by tracking in a job."""
    art = Artwork("sign", "Sign", "b", text=Text("MEN", str(VERA_FOLDER / "VeraBI.ttf"), tracking=-250.0))
    art = dataclasses.replace(art, scale=Scale(ScaleBy.CAPITAL_HEIGHT, 457.2))
    lettering = letter_drawing(draw(art, folder=""), art)
    told = [one.message for one in lettering.findings if one.code == Code.LETTERS_OVERLAP]
    (said,) = told
    assert "3 letters lie over each other in 2 places: 'M' (sign-01), 'E' (sign-02), 'N' (sign-03); space" in said
    assert "tracking" in said
    assert "join overlaps" in said
    assert "counter" not in said
    art = dataclasses.replace(art, join_overlaps=True)
    joined = letter_drawing(draw(art, folder=""), art)
    assert [letter.name for letter in joined.letters] == ["MEN"]
    assert Code.LETTERS_OVERLAP not in {one.code for one in joined.findings}
    assert joined.width == pytest.approx(lettering.width)


@pytest.mark.parametrize(
    "option", [["--units", "mm"], ["--layer", "A"], ["--page", "2"], ["--outline-strokes"], ["--join-gap", "1mm"]]
)
def test_choices_of_files_are_refused_for_words(capsys, option: list[str]) -> None:
    status, _, said = run(capsys, VERA_FOLDER / "Vera.ttf", "--words", "A", "--height", "3in", *option)
    assert status == 2
    assert f"{option[0]} belongs to files" in said


def test_a_size_below_nothing_is_refused_as_it_was_written(capsys, bars: Path) -> None:
    status, _, said = run(capsys, bars, "--height=-3in")
    assert (status, "--height: -3in is not possible" in said) == (2, True)


def test_one_letter_is_not_1_letters_and_places_are_told(capsys, tmp_path: Path) -> None:
    path = tmp_path / "open.svg"
    lines = '<rect width="50" height="50"/><path d="M100 0H150V50H100V0.7" fill="none" stroke="black"/>'
    path.write_text(PAGE.format('width="200mm" height="100mm"', lines))
    _, printed, _ = run(capsys, path)
    assert "1 letter, " in printed
    # Half of the gap below the top of the square, 100 - 0 mm from its left: its frame begins at its lower left.
    assert '[3 15/16" (100 mm) across, 1.955" (49.65 mm) up]' in printed
    _, printed, _ = run(capsys, VERA_FOLDER / "Vera.ttf", "--words", "A", "--height", "3in")
    assert "multiplied" not in printed
    assert "unit in the file" not in printed


def test_artwork_given_as_a_job_is_told_as_artwork(capsys, bars: Path, tmp_path: Path) -> None:
    for path in (bars, VERA_FOLDER / "Vera.ttf"):
        assert main(["plan", str(path), "--out", str(tmp_path / "out")]) == 2
        assert f"{path.name} is artwork, not a job: use letterbed read" in capsys.readouterr().err


def test_a_tiny_size_is_guessed_from_the_numbers_of_the_file(capsys, tmp_path: Path) -> None:
    """2 pt high is 0.7 mm; its number in inches is 2 in, not 0.7 in."""
    path = tmp_path / "tiny.svg"
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg"><rect width="2" height="2"/></svg>')
    _, printed, _ = run(capsys, path, "--units", "pt")
    assert 'in inches it would be 2" (50.8 mm)' in printed


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.svg", b'<svg xmlns="http://www.w3.org/2000/svg" width="200mm" <path'),
        ("b.svg", b"<svg><g></svg>"),
        ("c.svg", b'<svg a="1" a="2"/>'),
        ("a.pdf", b"%PDF-1.4\n1 0 obj\n<</Type/Catalog"),
        ("a.dxf", b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\n0"),
        ("a.ttf", (VERA_FOLDER / "Vera.ttf").read_bytes()[:20_000]),
    ],
)
def test_no_words_of_a_library_in_what_is_said(capsys, tmp_path: Path, name: str, data: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    words = ["--words", "A", "--height", "3in"] if name.endswith("ttf") else []
    status, printed, said = run(capsys, path, *words)
    assert (status, printed) == (2, "")
    assert said.count("\n") == 1
    for leak in ("BytesIO", "0x", "Error", "construct", "parsing", "attributes", "TTLib", "struct", "stream"):
        assert leak not in said.replace("structure", "")


def test_a_stroke_seen_askew_is_outlined_as_it_is_painted(capsys, tmp_path: Path) -> None:
    """A line along y of width 4, stretched 3 : 1, paints a bar 12 wide (SVG 2, 13.5: widths are in user space)."""
    path = tmp_path / "askew.svg"
    line = '<path transform="scale(3 1)" d="M20 10V60" fill="none" stroke="black" stroke-width="4"/>'
    path.write_text(PAGE.format('width="200mm" height="100mm"', line))
    found = reading(capsys, path, "--outline-strokes")
    assert (found["width"], found["height"]) == pytest.approx((12, 50))
    assert "stroke-as-line" not in {one["code"] for one in found["findings"]}


def test_a_dashed_stroke_that_cannot_be_outlined_says_so(capsys, tmp_path: Path) -> None:
    path = tmp_path / "dashed.svg"
    shapes = (
        '<rect width="9" height="9"/><rect x="20" width="9" height="9" fill="none" stroke="red" stroke-dasharray="2"/>'
    )
    path.write_text(PAGE.format('width="200mm" height="100mm"', shapes))
    found = reading(capsys, path, "--outline-strokes")
    (told,) = [one for one in found["findings"] if one["code"] == "stroke-not-outlined"]
    assert "dashed" in told["message"]


def test_artwork_with_open_lines_alone_names_gap_and_way_out(capsys, tmp_path: Path) -> None:
    path = tmp_path / "open.svg"
    path.write_text(
        PAGE.format('width="200mm" height="100mm"', '<path d="M0 0H50V50H0V0.7" fill="none" stroke="black"/>')
    )
    status, _, said = run(capsys, path)
    assert status == 2
    assert "(0.7 mm) as drawn" in said
    assert "--join-gap 0.8mm" in said
    assert reading(capsys, path, "--join-gap", "0.8mm")["letters"]
