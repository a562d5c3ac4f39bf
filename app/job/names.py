"""Naming things in messages: the nearest known name to a mistyped one."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


def unknown(name: str, known: Iterable[str], *, what: str, listed: bool = True) -> str:
    """Words about a name that is not known: "'widht' is not a known key; did you mean 'width'?".

    Parameters
    ----------
    name : str
        What was written.
    known : iterable of str
        What could have been; listed when nothing is near.
    what : str
        The sort of name with its article: "a known key", "a kind of build".
    listed : bool
        Whether to list what is known when nothing is near.
    """
    known = list(known)
    near = get_close_matches(name, known, n=1, cutoff=0.6)
    if near:
        return f"'{name}' is not {what}; did you mean '{near[0]}'?"
    if not listed:
        return f"'{name}' is not {what}"
    if not known:
        return f"'{name}' is not {what}; there is none"
    return f"'{name}' is not {what}; there are: {', '.join(known)}"
