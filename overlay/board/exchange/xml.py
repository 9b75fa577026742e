"""XML as a plain tree whose elements remember their line; entity tricks are refused."""

from __future__ import annotations

import io
import xml.sax
import xml.sax.handler
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import Any

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


class _TooDeepError(Exception):
    pass


class _Builder(xml.sax.handler.ContentHandler):
    def __init__(self, passed_over: Collection[str]) -> None:
        super().__init__()
        self.passed_over = passed_over
        self.outside = 0  # depth below an element that is passed over
        self.root: Element | None = None
        self.open: list[Element] = []
        self.locator: Any = None

    def setDocumentLocator(self, locator: Any) -> None:  # noqa: N802, the interface's name
        self.locator = locator

    def startElement(self, name: str, attrs: Any) -> None:  # noqa: N802
        if self.outside or (self.passed_over and name.rpartition(":")[2] in self.passed_over):
            self.outside += 1
            return
        if len(self.open) >= _DEEPEST:
            raise _TooDeepError
        attributes: dict[str, str] = {}
        for key, value in attrs.items():
            if ":" in key:
                attributes.setdefault(key.rpartition(":")[2], value)
            else:
                attributes[key] = value
        element = Element(name.rpartition(":")[2], attributes, int(self.locator.getLineNumber() or 1))
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.root = element
        self.open.append(element)

    def endElement(self, name: str) -> None:  # noqa: N802
        if self.outside:
            self.outside -= 1
        else:
            self.open.pop()

    def characters(self, content: str) -> None:
        if self.open and self.open[-1].tag == "style":
            self.open[-1].text += content


def read_xml(data: bytes, file: str, passed_over: Collection[str] = ()) -> Element:
    """The document's root element, without the elements (and all within) whose tags are passed over.

    A document type that merely names a public definition is passed over and never fetched.

    Raises
    ------
    InputError
        For what is not well-formed, declares entities, or nests deeper than 150 elements.
    """
    from defusedxml import sax
    from defusedxml.common import DefusedXmlException

    builder = _Builder(passed_over)
    parser = sax.make_parser()
    parser.forbid_dtd = False
    parser.forbid_entities = True
    parser.forbid_external = False  # nothing is fetched: see the next two lines
    parser.setFeature(xml.sax.handler.feature_external_ges, False)
    parser.setFeature(xml.sax.handler.feature_external_pes, False)
    parser.setContentHandler(builder)
    try:
        parser.parse(io.BytesIO(data.lstrip() if data[:1].isspace() else data))
    except xml.sax.SAXParseException as error:
        what = f"is not well-formed XML ({error.getMessage()})"
        raise input_error(file, error.getLineNumber(), what, "export it again") from None
    except DefusedXmlException:
        what = "declares XML entities, which are not read"
        raise input_error(file, None, what, "save it as plain SVG or XML, without a document type") from None
    except _TooDeepError:
        raise input_error(file, None, "nests its elements too deep", "export it again") from None
    except (ValueError, LookupError, RecursionError) as error:
        raise input_error(file, None, f"cannot be read as XML ({error})", "save it in UTF-8") from None
    if builder.root is None:
        raise input_error(file, None, "holds no XML element", "export it again")
    return builder.root
