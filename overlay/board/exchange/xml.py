"""XML as a plain tree whose elements remember their line; entity tricks are refused."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from overlay.errors import input_error

_DEEPEST = 150  # elements within each other: drawings nest some twenty, a hostile file thousands


@dataclass(slots=True)
class Element:
    """One element: names without their namespace prefix, and its line."""

    tag: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""

    def get(self, name: str, default: str = "") -> str:
        return self.attributes.get(name, default).strip()

    def walk(self) -> Iterator[Element]:
        """The element and all within it."""
        yield self
        for child in self.children:
            yield from child.walk()


class _RefusedError(Exception):
    """What is wrong, and what to do."""


class _Builder:
    """The tree as the parser tells of it."""

    def __init__(self, passed_over: Collection[str]) -> None:
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._begin
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text
        # refused where they are declared, before any is put in; what lies outside of the document is never asked for
        self.parser.EntityDeclHandler = self.parser.UnparsedEntityDeclHandler = _refuse_entity
        self.root: Element | None = None
        self._passed_over = passed_over
        self._outside = 0  # depth below an element that is passed over
        self._open: list[Element] = []

    def _begin(self, name: str, attributes: dict[str, str]) -> None:
        if self._outside or (self._passed_over and name.rpartition(":")[2] in self._passed_over):
            self._outside += 1
            return
        if len(self._open) >= _DEEPEST:
            raise _RefusedError("nests its elements too deep", "export it again")
        own: dict[str, str] = {}
        for key, value in attributes.items():
            if ":" in key:
                own.setdefault(key.rpartition(":")[2], value)
            else:
                own[key] = value
        element = Element(name.rpartition(":")[2], own, self.parser.CurrentLineNumber)
        if self._open:
            self._open[-1].children.append(element)
        else:
            self.root = element
        self._open.append(element)

    def _end(self, _name: str) -> None:
        if self._outside:
            self._outside -= 1
        else:
            self._open.pop()

    def _text(self, content: str) -> None:
        if self._open and self._open[-1].tag == "style":
            self._open[-1].text += content


def _refuse_entity(*_declaration: object) -> None:
    raise _RefusedError(
        "declares XML entities, which are not read", "save it as plain SVG or XML, without a document type"
    )


def read_xml(data: bytes, file: str, passed_over: Collection[str] = ()) -> Element:
    """The document's root element, without the elements (and all within) whose tags are passed over.

    A document type that merely names a public definition is passed over and never fetched.

    Raises
    ------
    InputError
        For what is not well-formed, declares entities, or nests deeper than 150 elements.
    """
    builder = _Builder(passed_over)
    try:
        builder.parser.Parse(data.lstrip() if data[:1].isspace() else data, True)
    except expat.ExpatError as error:
        what = f"is not well-formed XML ({expat.ErrorString(error.code)})"
        raise input_error(file, error.lineno, what, "export it again") from None
    except _RefusedError as error:
        raise input_error(file, None, *error.args) from None
    except (ValueError, LookupError) as error:
        raise input_error(file, None, f"cannot be read as XML ({error})", "save it in UTF-8") from None
    if builder.root is None:
        raise input_error(file, None, "holds no XML element", "export it again")
    return builder.root
