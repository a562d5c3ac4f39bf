"""The report as a reader sees it: pages, words and ink, through pdfium."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import datetime

import pypdfium2 as pdfium
import pytest

from app.job.cutting import Cutting, Page
from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheets
from app.output.report import write_report
from app.output.table_files import write_csv
from app.output.tables import findings_table
from app.output.words import CAUTION
from geometry.findings import Finding, Severity
from tests.app.output.plans import many_plan, sign_plan

WHEN = datetime(2026, 3, 5, 14, 5)


def pages(plan, tmp_path, **options):
    path = tmp_path / "report.pdf"
    write_report(plan, cut_sheets(plan), path, when=WHEN, **options)
    document = pdfium.PdfDocument(path)
    try:
        texts, sizes = [], []
        for page in document:
            texts.append(" ".join(page.get_textpage().get_text_bounded().split()))
            sizes.append(page.get_size())
        return texts, sizes
    finally:
        document.close()


@pytest.fixture(scope="module")
def sign(tmp_path_factory):
    return pages(sign_plan(), tmp_path_factory.mktemp("report"))


def test_the_lead_reads_job_date_figures_and_their_definitions_on_one_page(sign):
    first = sign[0][0]
    assert first.startswith("Lamp house canopy")
    assert "5 March 2026, 14:05" in first
    assert "2 sheets for 312.50 USD, 12 of 13 parts placed" in first
    for name, meaning in {
        "net yield": "part area, holes removed / area of the sheets used",
        "credited yield": "(part area, holes removed + offcuts kept)",
        "waste share": "1 - net yield",
        "waste factor": "area of the sheets used / part area - 1",
        "fewest possible": "no plan with these parts and this stock can use fewer sheets",
        "scrap weight": "weight of what is neither part nor kept offcut",
    }.items():
        assert name in first
        assert meaning in first
    assert "Proven fewest: the parts need more than no sheet." in first
    assert "98.50" in first
    assert "214.00" in first


def test_yields_are_those_of_the_plan(sign):
    for figures in sign_plan().summaries:
        assert f"{figures.net_yield:.1%}" in sign[0][0]
        assert f"{figures.credited_yield:.1%}" in sign[0][0]
        assert f"{1 / figures.net_yield - 1:.1%}" in sign[0][0]


def test_unplaced_parts_and_findings_stand_on_the_first_page(sign):
    first = sign[0][0]
    assert "1 PART NOT PLACED" in first
    assert "larger than any sheet of its material: 130 x 90 in" in first
    assert first.index("NOT PLACED") < first.index("Materials")
    assert first.index("NOT DONE") < first.index("LOOK AT")
    assert "widen it or light it from behind" in first


def test_every_sheet_has_a_page_with_what_the_operator_needs(sign):
    plan = sign_plan()
    for number, planned in enumerate(plan.sheets, start=1):
        page = sign[0][number]
        assert page.startswith(f"Sheet {number} of 2")
        for words in (planned.file, planned.material.name, planned.cutter.name, "lower left corner", "inches"):
            assert words in page
        for placed in planned.placed:
            assert f"{placed.part.id} copy {placed.placement.copy + 1}" in page
        assert f"offcut S{number:02d}-A" in page
        assert CAUTION in page
    assert '76" × 20 1/2"' in sign[0][1]
    assert '96"' in sign[0][1]


def test_the_caution_stands_on_the_first_page_too(sign):
    assert CAUTION in sign[0][0]


def test_parts_by_letter_buy_list_settings_and_findings_follow(sign):
    rest = " ".join(sign[0][3:])
    assert "Parts by letter" in rest
    assert '24" × 24" 609.6 × 609.6' in rest
    assert "All sheets together: 312.50 USD" in rest
    assert "retainer flange" in rest
    assert "common practice" in rest
    assert "a gap of 0.02 mm was closed" in rest
    assert "Put right." in rest
    assert "seed 7, 120 rounds" in rest


def test_pages_are_numbered_to_the_last(sign):
    texts = sign[0]
    # Overview, two sheets, parts by letter; a page for the purchaser, two for the settings, one for the findings.
    assert len(texts) == 8
    for number, text in enumerate(texts, start=1):
        assert text.endswith(f"page {number} of {len(texts)}")


def test_inches_print_on_letter_and_millimetres_on_a4(tmp_path, sign):
    # ANSI Y14.1: Letter 8.5 x 11 in; ISO 216: A4 210 x 297 mm.
    assert {tuple(sorted(size)) for size in sign[1]} == {(612.0, 792.0)}
    _, sizes = pages(sign_plan(DisplayUnits.MILLIMETRES), tmp_path)
    for size in sizes:
        assert sorted(size) == pytest.approx([210 / 25.4 * 72, 297 / 25.4 * 72], abs=0.1)
    _, sizes = pages(sign_plan(), tmp_path, page_size=(595.0, 842.0))
    assert {tuple(sorted(size)) for size in sizes} == {(595.0, 842.0)}


def test_sixty_parts_on_one_sheet_all_have_a_number_and_a_line_in_the_list(tmp_path):
    texts, _ = pages(many_plan(60), tmp_path)
    sheet_text = " ".join(text for text in texts if text.startswith("Sheet 1"))
    numbers = set(sheet_text.split())
    assert all(str(number) in numbers for number in range(1, 61))
    plan = many_plan(60)
    assert all(f"{part.id} copy 1" in sheet_text for part in plan.parts)


def test_a_plan_with_nothing_to_say_says_so(tmp_path):
    texts, _ = pages(many_plan(3), tmp_path)
    assert "Every part is placed." in texts[0]
    assert "Nothing was found that needs a look." in texts[0]
    assert not any("Findings" in text for text in texts)


def test_a_plan_with_no_sheet_at_all_still_prints(tmp_path):
    plan = replace(many_plan(2), sheets=(), summaries=())
    texts, _ = pages(plan, tmp_path)
    assert "0 sheets, 0 of 0 parts placed" in texts[0]
    assert "not placed" in " ".join(texts)


def test_names_that_are_long_foreign_or_look_like_markup_are_printed_whole(tmp_path):
    plan = sign_plan()
    long = "the very long name of a shop front " * 4
    job = replace(plan.job, name=f"<b>{long}</b> & sons 字")
    lettering = tuple(
        replace(one, letters=tuple(replace(letter, name="字") for letter in one.letters)) for one in plan.lettering
    )
    texts, _ = pages(replace(plan, job=job, lettering=lettering), tmp_path)
    assert f"<b>{long.strip()} </b> & sons [cjk unified ideograph-5b57]" in texts[0]
    assert "[cjk unified ideograph-5b57] (line1-01)" in " ".join(texts)


def test_hundreds_of_findings_are_told_by_kind_and_none_is_lost(tmp_path):
    findings = tuple(
        Finding(
            "thin", Severity.WARNING, f"letter {n}: stroke number {n} is thin; widen it", (1.0, 2.0), subject=f"l-{n}"
        )
        for n in range(250)
    )
    gone = tuple(Finding("gone", Severity.ERROR, f"letter {n} was not made", subject=f"l-{n}") for n in range(2))
    plan = replace(sign_plan(), findings=findings + gone)
    texts, _ = pages(plan, tmp_path)
    assert 'Letter 0: stroke number 0 is thin; widen it (at 0.039", 0.079") (and 249 more like it).' in texts[0]
    assert all(f"Letter {n} was not made" in texts[0] for n in range(2))
    whole = " ".join(texts)
    assert all(f"l-{n}" in whole for n in range(250))
    assert len(texts) < 10
    write_csv(findings_table(plan), tmp_path / "findings.csv")
    with (tmp_path / "findings.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["what, and the way out"] for row in rows] == [finding.message for finding in findings + gone]
    assert rows[0]["at x mm"] == "1.000"
    assert rows[-1]["severity"] == "error"


def test_nothing_is_told_by_colour(tmp_path):
    plan = sign_plan()
    path = tmp_path / "r.pdf"
    write_report(plan, cut_sheets(plan), path, when=WHEN)
    document = pdfium.PdfDocument(path)
    try:
        for page in document:
            image = page.render(scale=1.0).to_numpy().astype(int)
            assert abs(image[..., 0] - image[..., 1]).max() == 0
            assert abs(image[..., 1] - image[..., 2]).max() == 0
    finally:
        document.close()


def test_the_drawing_shows_material_hole_and_bare_sheet(tmp_path):
    """Pixels where they must be: grey in the D's back, white in its counter and on bare sheet."""
    from reportlab.pdfgen.canvas import Canvas

    from app.output.canvas import paint
    from app.output.drawing import draw_sheet
    from app.output.typeface import BOLD, text_width

    cut = cut_sheets(sign_plan())[1]
    path = tmp_path / "d.pdf"
    canvas = Canvas(str(path), pagesize=(600, 500))
    drawing = draw_sheet(cut, 600, 500, units="mm", measure=lambda text, size: text_width(text, size, face=BOLD))
    paint(canvas, drawing, 0, 0)
    canvas.save()
    document = pdfium.PdfDocument(path)
    image = document[0].render(scale=2.0).to_numpy()[..., 0]
    document.close()

    def at(x_mm, y_mm):
        # The sheet stands 26 points from the left and from below.
        return image[int((500 - 26 - y_mm * drawing.scale) * 2), int((26 + x_mm * drawing.scale) * 2)]

    assert 200 < at(20 + 60, 20 + 400) < 240  # the D's back
    assert at(20 + 300, 20 + 300) == 255  # its counter
    assert at(1250, 1200) == 255  # bare sheet


def test_the_operators_page_says_how_to_cut_what_to_hold_and_what_to_watch(tmp_path):
    texts, _ = pages(sign_plan(), tmp_path)
    first = next(text for text in texts if "Sheet 1 of 2" in text)
    # trade.md 3.2: climb with a clockwise spindle (M3) is G41.
    assert "Spindle clockwise (M3), climb: G41, clockwise outside" in first
    # trade.md 3.1: the feed is a calculated note, never the machine's setting.
    assert "A calculated note, not a setting" in first
    assert 'tabs 1/4" wide' in first.replace("Tabs", "tabs")
    assert "drop of" in first
    assert "Uncut where the cutter is too large" in first
    assert "offcut S01-A" in first


def test_the_first_page_gives_the_gap_to_the_bound_and_the_time(tmp_path):
    plan = sign_plan()
    loose = replace(plan, summaries=(replace(plan.summaries[0], sheet_count=3, least_sheets=2), plan.summaries[1]))
    texts, _ = pages(loose, tmp_path)
    assert "3 used, fewest possible 2: a gap of 1 sheet, 50%" in texts[0]
    assert "no gap, no plan can use fewer" in texts[0]
    assert "at the machine, loading and sweeping not counted" in texts[0]


def test_the_paper_can_be_chosen(tmp_path):
    plan = sign_plan()
    chosen = replace(plan, job=replace(plan.job, cutting=Cutting(page=Page.A4)))
    _, sizes = pages(chosen, tmp_path)
    for size in sizes:
        assert sorted(size) == pytest.approx([210 / 25.4 * 72, 297 / 25.4 * 72], abs=0.1)
