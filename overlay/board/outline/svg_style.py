"""What of an SVG is to be seen: presentation attributes, inline styles and simple style sheets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from overlay.board.exchange.xml import Element

_WHITE = re.compile(r"white|#fff(f{3})?|rgb\(\s*(255|100%)\s*,\s*(255|100%)\s*,\s*(255|100%)\s*\)")
_ZERO = re.compile(r"0*\.?0+%?")
_USED = ("display", "visibility", "fill", "stroke", "opacity", "fill-opacity", "stroke-opacity")
_INHERITED = ("visibility", "fill", "stroke", "fill-opacity", "stroke-opacity")

Rule = tuple[tuple[int, int, int], str, dict[str, str]]  # specificity, simple selector, declarations


def style_rules(elements: Iterable[Element]) -> list[Rule]:
    """The rules of all style sheets whose selectors are a tag, classes or an id; others are passed over."""
    rules: list[Rule] = []
    for element in elements:
        text = re.sub(r"/\*.*?\*/", "", element.text, flags=re.DOTALL)
        for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
            declarations = _declarations(body)
            for selector in selectors.split(","):
                selector = selector.strip()
                if declarations and re.fullmatch(r"(\*|[\w-]+)?([.#][\w-]+)*", selector) and selector:
                    tag = int(selector[0] not in ".#*")
                    rules.append(((selector.count("#"), selector.count("."), tag), selector, declarations))
    return sorted(rules, key=lambda rule: rule[0])  # the sort is stable: later rules win among equals


def _declarations(text: str) -> dict[str, str]:
    pairs = (item.partition(":") for item in text.split(";"))
    named = {name.strip().lower(): value.replace("!important", "").strip().lower() for name, _, value in pairs}
    return {name: value for name, value in named.items() if name in _USED and value}


def _matches(selector: str, element: Element) -> bool:
    tag, *marks = re.findall(r"^[\w*-]*|[.#][\w-]+", selector)
    if tag not in ("", "*") and tag != element.tag:
        return False
    classes = element.get("class").split()
    return all(mark[1:] == element.get("id") if mark[0] == "#" else mark[1:] in classes for mark in marks)


@dataclass(frozen=True, slots=True)
class Style:
    """The properties that tell whether and how a shape is painted."""

    inherited: Mapping[str, str]
    shown: bool = True  # neither it nor a group round it is taken out of the picture

    def of(self, element: Element, rules: Iterable[Rule]) -> Style:
        """The style of an element within this one."""
        own = {name: element.get(name).lower() for name in _USED if element.get(name)}
        for _, selector, declarations in rules:
            if _matches(selector, element):
                own |= declarations
        own |= _declarations(element.get("style"))
        merged = dict(self.inherited) | {
            name: value for name, value in own.items() if name in _INHERITED and value != "inherit"
        }
        gone = own.get("display") == "none" or _ZERO.fullmatch(own.get("opacity", "1")) is not None
        return Style(merged, self.shown and not gone)

    @property
    def visible(self) -> bool:
        return self.shown and self.inherited.get("visibility", "visible") == "visible"

    @property
    def filled(self) -> bool:
        return self._painted("fill", "black")

    @property
    def stroked(self) -> bool:
        return self._painted("stroke", "none")

    @property
    def white(self) -> bool:
        """Filled in the colour of paper, without a drawn edge."""
        return not self.stroked and _WHITE.fullmatch(self.inherited.get("fill", "black")) is not None

    def _painted(self, name: str, default: str) -> bool:
        clear = _ZERO.fullmatch(self.inherited.get(f"{name}-opacity", "1")) is not None
        return self.inherited.get(name, default) not in ("none", "transparent") and not clear
