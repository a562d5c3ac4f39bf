"""Files drawn by others, against independent renderers: resvg for SVG, pdfium for PDF, ezdxf's drawing add-on for DXF.

Filled area and extents agree within 0.5 %; of a picture, extents within two pixels as well.
"""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import numpy as np
import pypdfium2
import pytest
import shapely
from ezdxf import recover
from ezdxf.addons.drawing import Frontend, RenderContext
from ezdxf.addons.drawing.config import Configuration, HatchPolicy, TextPolicy
from ezdxf.addons.drawing.recorder import PathRecord, PointsRecord, Recorder
from PIL import Image

from app.artwork.drawing import Drawing
from app.artwork.notes import Code
from app.artwork.read import read_here
from geometry.contour import Contour
from geometry.flatten import flatten_contour, flatten_region
from geometry.regions import regions_from_contours
from geometry.units import MM_PER

OUTSIDE = Path(__file__).parent / "outside"
WITHIN = 0.005
PIXELS = 1200  # along the longer side of a picture


def files(kind: str) -> list[Path]:
    found = sorted((OUTSIDE / kind).glob(f"*.{kind}"))
    assert len(found) >= 10
    return found


def filled(drawing: Drawing) -> shapely.Geometry:
    """Area of everything closed, mm, with overlapping shapes counted once."""
    polygons = []
    for shape in drawing.shapes:
        closed = tuple(contour for contour in shape.contours if contour.is_closed)
        regions, _findings = regions_from_contours(closed, shape.rule)
        for region in regions:
            outline = flatten_region(region, 1e-3)
            polygons.append(shapely.Polygon(outline.outer, outline.holes))
    return shapely.union_all(polygons)


def compare(drawing: Drawing, alpha: np.ndarray, mm_per_pixel: float) -> None:
    # A renderer shows nothing outside the page.
    ours = shapely.intersection(filled(drawing), shapely.box(0, 0, *(np.array(alpha.shape[::-1]) * mm_per_pixel)))
    area = float(alpha.sum()) * mm_per_pixel**2
    assert ours.area == pytest.approx(area, rel=WITHIN)
    rows, columns = np.nonzero(alpha > 0.5)
    extents = (np.ptp(columns) + 1) * mm_per_pixel, (np.ptp(rows) + 1) * mm_per_pixel
    left, bottom, right, top = ours.bounds
    for mine, theirs in zip((right - left, top - bottom), extents, strict=True):
        assert mine == pytest.approx(theirs, rel=WITHIN, abs=2 * mm_per_pixel)


@pytest.mark.parametrize("path", files("svg"), ids=lambda path: path.stem)
def test_svg_against_resvg(path: Path) -> None:
    resvg = pytest.importorskip("resvg_py", reason="the SVG renderer is not installed")
    drawing = read_here(path)
    picture = Image.open(
        io.BytesIO(bytes(resvg.svg_to_bytes(svg_path=str(path), width=PIXELS, skip_system_fonts=True)))
    )
    alpha = np.asarray(picture.convert("RGBA"))[:, :, 3] / 255.0
    page_mm = 16 * 25.4 / 96  # all of them are 16 px wide
    compare(drawing, alpha, page_mm / picture.width)


@pytest.mark.parametrize("path", files("pdf"), ids=lambda path: path.stem)
def test_pdf_against_pdfium(path: Path) -> None:
    drawing = read_here(path)
    document = pypdfium2.PdfDocument(str(path))
    page = document[0]
    zoom = PIXELS / max(page.get_size())
    bitmap = page.render(scale=zoom, fill_color=(0, 0, 0, 0))
    alpha = bitmap.to_numpy()[:, :, 3] / 255.0
    compare(drawing, alpha, 25.4 / 72.0 / zoom)
    for part in (bitmap, page, document):
        part.close()


@pytest.mark.parametrize("path", files("dxf"), ids=lambda path: path.stem)
def test_dxf_against_the_drawing_add_on(path: Path) -> None:
    drawing = read_here(path)
    theirs = recorded(path)
    ours = [line(contour) for shape in drawing.shapes for contour in shape.contours]
    scale = MM_PER[drawing.units] if drawing.units else 1.0
    ours_all, theirs_all = shapely.union_all(ours), shapely.union_all(theirs)
    extents = np.array(ours_all.bounds) / scale
    assert extents == pytest.approx(np.array(theirs_all.bounds), rel=WITHIN, abs=WITHIN * np.ptp(extents))
    # Area: everything that lines enclose, found by the same polygonizer on both sides.
    assert enclosed(ours_all) / scale**2 == pytest.approx(enclosed(theirs_all), rel=WITHIN)
    # What is drawn twice, or nothing but a point, counts on one side only: the union of lines is compared.
    assert ours_all.length / scale == pytest.approx(theirs_all.length, rel=WITHIN)


def recorded(path: Path) -> list[shapely.Geometry]:
    try:
        document = ezdxf.readfile(path)
    except (ezdxf.DXFError, ValueError):
        document, _auditor = recover.readfile(path)
    recorder = Recorder()
    config = Configuration(text_policy=TextPolicy.IGNORE, hatch_policy=HatchPolicy.IGNORE, max_flattening_distance=1e-4)
    Frontend(RenderContext(document), recorder, config=config).draw_layout(document.modelspace())
    lines: list[shapely.Geometry] = []
    for record, _properties in recorder.player().recordings():
        if isinstance(record, PathRecord):
            points = [(point.x, point.y) for point in record.path.flattening(1e-4)]
        elif isinstance(record, PointsRecord):
            points = [(point.x, point.y) for point in record.points.vertices()]
        else:
            vertices = iter(record.lines.vertices())
            pairs = [((a.x, a.y), (b.x, b.y)) for a, b in zip(vertices, vertices, strict=True)]
            lines += [shapely.LineString(pair) for pair in pairs if pair[0] != pair[1]]
            continue
        if len(set(points)) > 1:
            lines.append(shapely.LineString(points))
    return lines


def line(contour: Contour) -> shapely.Geometry:
    ring = flatten_contour(contour, 1e-3)
    return shapely.LineString(np.vstack((ring, ring[:1])) if contour.is_closed else ring)


def enclosed(lines: shapely.Geometry) -> float:
    """Area of the faces that lines bound; ends that miss each other by less than the join gap of the reader meet."""
    grid = 2e-5 * max(np.ptp(np.array(lines.bounds).reshape(2, 2), axis=0))
    snapped = shapely.union_all(shapely.get_parts(lines), grid_size=grid)
    return float(shapely.union_all(shapely.polygonize(shapely.get_parts(snapped))).area)


def test_what_reaches_past_the_page_is_told() -> None:
    """Drawn from x = -2.9 to 74.9 pt on a page of 72 pt, as its content says."""
    drawing = read_here(OUTSIDE / "pdf" / "qt4_editor_options.pdf")
    assert Code.OFF_PAGE in {finding.code for finding in drawing.findings}
    left, _, right, _ = filled(drawing).bounds
    assert (left, right) == pytest.approx((-2.859375 * 25.4 / 72, 74.851875 * 25.4 / 72))
