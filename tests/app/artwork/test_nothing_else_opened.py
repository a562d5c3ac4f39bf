"""Nothing but the named file is opened. What the files point at is a named pipe: opening it would hang the reader."""

from __future__ import annotations

import dataclasses
import os
from pathlib import Path

import ezdxf
import pikepdf
import pytest
from pikepdf import Dictionary, Name

from app.artwork.limits import DEFAULT_LIMITS
from app.artwork.read import read_drawing
from app.errors import AppError

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
LIMITS = dataclasses.replace(DEFAULT_LIMITS, seconds=10.0)


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    path = tmp_path / "elsewhere.svg"
    os.mkfifo(path)
    return path


def svg(pipe: Path) -> bytes:
    return (
        f'<?xml version="1.0"?><?xml-stylesheet href="{pipe.name}"?>'
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xi="http://www.w3.org/2001/XInclude" width="9mm" height="9mm">'
        f'<style>@import url("{pipe.as_uri()}"); rect{{fill:red}}</style><rect width="5" height="5"/>'
        f'<use href="{pipe.name}#a"/><image href="{pipe.as_uri()}"/><xi:include href="{pipe.name}"/>'
        f'<rect clip-path="url({pipe.name}#c)" fill="url({pipe.as_uri()}#g)" width="1" height="1"/></svg>'
    ).encode()


def dxf(pipe: Path) -> bytes:
    document = ezdxf.new("R2010")
    space = document.modelspace()
    space.add_circle((0, 0), 5)
    document.add_xref_def(str(pipe), "elsewhere")
    space.add_blockref("elsewhere", (0, 0))
    image = document.add_image_def(str(pipe), size_in_pixel=(10, 10))
    space.add_image(image, (0, 0), (1, 1))
    path = pipe.with_suffix(".dxf")
    document.saveas(path)
    return path.read_bytes()


def pdf(pipe: Path) -> bytes:
    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 100))
    outside = document.make_stream(b"", F=Dictionary(Type=Name.Filespec, F=str(pipe)))
    outside.Type, outside.Subtype = Name.XObject, Name.Form
    page = document.pages[0].obj
    page.Resources = Dictionary(XObject=Dictionary(X=outside))
    page.Contents = document.make_stream(b"0 0 10 10 re f /X Do")
    path = pipe.with_suffix(".pdf")
    document.save(path)
    return path.read_bytes()


@pytest.mark.parametrize("make", [svg, dxf, pdf], ids=["svg", "dxf", "pdf"])
def test_references_are_told_and_not_followed(pipe: Path, make) -> None:
    path = pipe.with_name("artwork")
    path.write_bytes(make(pipe))
    drawing = read_drawing(path, limits=LIMITS)
    assert drawing.shapes


def test_entities_that_point_outside_are_refused(pipe: Path) -> None:
    path = pipe.with_name("artwork.svg")
    for entity in (f'<!ENTITY a SYSTEM "{pipe.as_uri()}">', f'<!ENTITY % a SYSTEM "{pipe.name}"> %a;'):
        path.write_text(f'<!DOCTYPE svg [{entity}]><svg xmlns="http://www.w3.org/2000/svg"><text>&a;</text></svg>')
        with pytest.raises(AppError, match="outside itself, which is never opened"):
            read_drawing(path, limits=LIMITS)
    path.write_text(
        f'<!DOCTYPE svg SYSTEM "{pipe.as_uri()}"><svg xmlns="http://www.w3.org/2000/svg"><rect width="1"/></svg>'
    )
    with pytest.raises(AppError, match="no shape"):
        read_drawing(path, limits=LIMITS)
