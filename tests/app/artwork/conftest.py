"""Fixtures of several test modules of this room."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.app.artwork.dxf_sheet import Sheet


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    return Sheet(tmp_path)
