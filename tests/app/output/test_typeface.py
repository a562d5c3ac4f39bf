"""Nothing prints as an empty box."""

from __future__ import annotations

import pytest

from app.output.typeface import BOLD, fitted, printable, text_width


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("R face 24 × 12 ½ é ß ł", "R face 24 × 12 ½ é ß ł"),
        ("字", "[cjk unified ideograph-5b57]"),
        ("Ж face", "[cyrillic capital letter zhe] face"),
        ("ЖУК", "[U+0416 U+0423 U+041A]"),
        ("two\nlines\tand\x00a nul", "two lines and a nul"),
        ("half \ud800 sign", "half ? sign"),
        ("", ""),
    ],
)
def test_what_the_face_lacks_is_described(text, printed):
    # Names and numbers as in the Unicode character database.
    assert printable(text) == printed


def test_long_words_are_made_to_fit():
    text, size = fitted("a rather long name of a part", 60.0, 9.0, face=BOLD, smallest=6.0)
    head, tail = text.split("…")
    assert "a rather long name of a part".startswith(head)
    assert "a rather long name of a part".endswith(tail)
    assert min(len(head), len(tail)) >= 2
    assert size == 6.0
    assert text_width(text, size, face=BOLD) <= 60.0
    assert fitted("short", 60.0, 9.0) == ("short", 9.0)
