"""CSS of an SVG file: which properties each element ends up with (attribute < rule < style < !important)."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import cssselect2
import tinycss2

# The properties that decide what is cut.
PROPERTIES = frozenset(
    {
        "clip-path",
        "color",
        "display",
        "fill",
        "fill-opacity",
        "fill-rule",
        "filter",
        "font-size",
        "marker",
        "marker-end",
        "marker-mid",
        "marker-start",
        "mask",
        "opacity",
        "overflow",
        "stroke",
        "stroke-dasharray",
        "stroke-linecap",
        "stroke-linejoin",
        "stroke-miterlimit",
        "stroke-opacity",
        "stroke-width",
        "transform",
        "transform-box",
        "transform-origin",
        "visibility",
    }
)
INHERITED = frozenset(
    PROPERTIES
    - {
        "clip-path",
        "display",
        "filter",
        "mask",
        "opacity",
        "overflow",
        "transform",
        "transform-box",
        "transform-origin",
    }
)
MARKERS = ("marker", "marker-end", "marker-mid", "marker-start")
DEFAULTS = {
    "color": "black",
    "fill": "black",
    "fill-opacity": "1",
    "fill-rule": "nonzero",
    "font-size": "16",
    **dict.fromkeys(("marker", "marker-end", "marker-mid", "marker-start"), "none"),
    "stroke": "none",
    "stroke-dasharray": "none",
    "stroke-linecap": "butt",
    "stroke-linejoin": "miter",
    "stroke-miterlimit": "4",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "visibility": "visible",
}
_MEDIA_READ = {"", "all", "screen", "print"}

Declared = tuple[tuple[str, str, bool], ...]  # name, value, important


class StyleSheets:
    """The style sheets inside one SVG file.

    Style sheets in other files (``@import``) are counted in `outside` and not opened.
    """

    def __init__(self, root: Any, sheets: Iterable[str]) -> None:
        self.outside = 0
        self._matcher = cssselect2.Matcher()
        self._wrappers: dict[Any, Any] = {}
        has_rules = False
        order = 0
        for sheet in sheets:
            for selector, declared in self._rules(sheet):
                self._matcher.add_selector(selector, (order, declared))
                has_rules = True
                order += 1
        if has_rules:
            wrapper = cssselect2.ElementWrapper.from_xml_root(root)
            self._wrappers = {item.etree_element: item for item in wrapper.iter_subtree()}

    def _rules(self, sheet: str) -> Iterable[tuple[Any, Declared]]:
        yield from self._read(tinycss2.parse_stylesheet(sheet, skip_comments=True, skip_whitespace=True))

    def _read(self, rules: Iterable[Any]) -> Iterable[tuple[Any, Declared]]:
        for rule in rules:
            if rule.type == "at-rule":
                keyword = rule.lower_at_keyword
                if keyword == "import":
                    self.outside += 1
                elif keyword == "media" and rule.content is not None:
                    media = {part.strip().lower() for part in tinycss2.serialize(rule.prelude).split(",")}
                    if media & _MEDIA_READ:
                        yield from self._read(tinycss2.parse_rule_list(rule.content, True, True))
            elif rule.type == "qualified-rule":
                declared = _declarations(rule.content)
                if not declared:
                    continue
                try:
                    selectors = cssselect2.compile_selector_list(rule.prelude)
                except cssselect2.SelectorError:
                    continue  # a selector no browser need know: CSS drops the rule
                for selector in selectors:
                    if selector.pseudo_element is None:
                        yield selector, declared

    def properties(self, element: Any) -> dict[str, str]:
        """The element's own properties, without inheritance; values in lower case except references."""
        values = {name: element.get(name).strip() for name in PROPERTIES & set(element.keys()) if name != "transform"}
        important: dict[str, str] = {}
        wrapper = self._wrappers.get(element)
        if wrapper is not None:
            matches = self._matcher.match(wrapper)  # in order of specificity, then of the sheet
            for _specificity, _order, _pseudo, (_number, declared) in matches:
                _apply(declared, values, important)
        style = element.get("style")
        if style:
            _apply(_style_attribute(style), values, important)
        values.update(important)
        return {name: value if "(" in value else value.lower() for name, value in values.items()}


def _apply(declared: Declared, values: dict[str, str], important: dict[str, str]) -> None:
    for name, value, is_important in declared:
        (important if is_important else values)[name] = value


@lru_cache(maxsize=4096)
def _style_attribute(style: str) -> Declared:
    return _declarations(tinycss2.parse_component_value_list(style))


def _declarations(content: Iterable[Any]) -> Declared:
    return tuple(
        (item.lower_name, tinycss2.serialize(item.value).strip(), item.important)
        for item in tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True)
        if item.type == "declaration" and item.lower_name in PROPERTIES
    )


def inherit(parent: dict[str, str], own: dict[str, str]) -> dict[str, str]:
    """Computed properties of an element: its own, and what it inherits from `parent`."""
    values = {name: parent[name] for name in INHERITED}
    for name, value in own.items():
        if value == "inherit":
            if name in parent:
                values[name] = parent[name]
        elif value in ("initial", "unset", "revert"):
            if value == "initial" or name not in INHERITED:
                values.pop(name, None)
                if name in DEFAULTS:
                    values[name] = DEFAULTS[name]
        else:
            values[name] = value
    return values
