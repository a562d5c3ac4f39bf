"""Layers of a PDF: optional content groups and what the file shows of them (ISO 32000-1, 8.11)."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import pikepdf


@dataclass(frozen=True, slots=True)
class Unread:
    """A layer that is not read; its name is empty for content in no layer when layers were chosen."""

    name: str


Layer = str | Unread


class Layers:
    """Names of the layers, and which are read.

    Parameters
    ----------
    root : pikepdf.Dictionary
        The document's catalogue.
    wanted : tuple of str or None
        Layers to read whatever the file shows; None means those it shows.

    Fields
    ------
    skipped : Counter
        Objects left out, by the name of their layer; counted by whoever leaves them out.
    """

    def __init__(self, root: Any, wanted: tuple[str, ...] | None) -> None:
        self.names: list[str] = []
        self.skipped: Counter[str] = Counter()
        self._wanted = wanted
        self.outermost: Layer = "" if wanted is None else Unread("")  # of content in no layer
        self._by_object: dict[Any, str] = {}
        self._hidden: set[Any] = set()
        properties = root.get("/OCProperties")
        if not isinstance(properties, pikepdf.Dictionary):
            return
        for group in _items(properties.get("/OCGs")):
            if isinstance(group, pikepdf.Dictionary):
                name = str(group.get("/Name", "")) or f"layer {len(self.names) + 1}"
                self._by_object[group.objgen] = name
                if name not in self.names:
                    self.names.append(name)
        default = properties.get("/D")
        if isinstance(default, pikepdf.Dictionary):
            if str(default.get("/BaseState", "/ON")) == "/OFF":
                shown = {group.objgen for group in _items(default.get("/ON"))}
                self._hidden = set(self._by_object) - shown
            self._hidden |= {group.objgen for group in _items(default.get("/OFF"))}

    def of(self, group: Any, outer: Layer) -> Layer:
        """Layer of content marked with a group, inside content of layer `outer`."""
        if isinstance(outer, Unread) and self._wanted is None:
            return outer
        groups = [group]
        if isinstance(group, pikepdf.Dictionary) and str(group.get("/Type")) == "/OCMD":
            groups = _items(group.get("/OCGs"))
        known = [one for one in groups if isinstance(one, pikepdf.Dictionary) and one.objgen in self._by_object]
        if not known:
            return outer
        for one in known:
            name = self._by_object[one.objgen]
            if name in self._wanted if self._wanted is not None else one.objgen not in self._hidden:
                return name
        return Unread(self._by_object[known[0].objgen])


def _items(value: Any) -> list[Any]:
    if isinstance(value, pikepdf.Array):
        return list(value)
    return [] if value is None else [value]
