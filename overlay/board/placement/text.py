"""From the bytes of a placement file to lines: encodings, line ends, sheets of a workbook, tables of a page."""

from __future__ import annotations

import html.parser
import re
from dataclasses import dataclass

from overlay.board.placement.headings import column_of
from overlay.errors import input_error
from overlay.workbooks import workbook_sheets


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the file, counting from 1; ``cells`` where the container has told them already."""

    number: int
    text: str
    cells: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """The lines of a text file, or of one sheet of a workbook."""

    lines: tuple[Line, ...]
    name: str = ""


_BOMS = (
    (b"\xef\xbb\xbf", "utf-8"),
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)
# tried in this order where a file is not UTF-8; the words of its heading decide
_OLD_ENCODINGS = ("gb18030", "shift_jis", "cp1251", "big5", "cp1252")


def decode(data: bytes, file: str) -> tuple[str, str]:
    """The text with ``\\n`` as line end, and the encoding it was read in.

    Without a byte order mark: UTF-16 where every other byte is NUL, then UTF-8, then the old encoding
    whose reading gives the most known headings.

    Raises
    ------
    InputError
        Where the bytes are no text in any of these.
    """
    text, encoding = _decoded(data)
    if text is None or "\0" in text.rstrip("\0\x1a"):
        raise input_error(file, None, "is not text", "give the placement as text, CSV or XLSX")
    text = text.rstrip("\0\x1a").replace("\ufeff", "")
    text = re.sub(r"\r\r\n|\r\n|\r|\x85|\u2028|\u2029", "\n", text)
    return text.replace("\f", " ").replace("\v", " "), encoding


def _decoded(data: bytes) -> tuple[str | None, str]:
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            body = data[len(mark) :]
            if encoding.startswith("utf-16") and len(body) % 2:
                body = body[:-1]  # a lone byte at the end, often a line feed added by a transfer
            try:
                return body.decode(encoding), encoding
            except UnicodeDecodeError:
                return (None if encoding != "utf-8" else _old(body)[0]), encoding
    head = data[:4000]
    if b"\0" in head and len(head) >= 4:
        even, odd = head[0::2].count(0), head[1::2].count(0)
        if odd > 0.6 * len(head[1::2]) and even * 8 < odd:
            return _strict(data[: len(data) // 2 * 2], "utf-16-le"), "utf-16-le"
        if even > 0.6 * len(head[0::2]) and odd * 8 < even:
            return _strict(data[: len(data) // 2 * 2], "utf-16-be"), "utf-16-be"
    text = _strict(data, "utf-8")
    return (text, "utf-8") if text is not None else _old(data)


def _strict(data: bytes, encoding: str) -> str | None:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError:
        return None


def _old(data: bytes) -> tuple[str, str]:
    best, best_words, best_encoding = None, 0, ""
    for encoding in _OLD_ENCODINGS:
        text = _strict(data, encoding)
        words = 0 if text is None else _known_foreign_words(text)
        if words > best_words:
            best, best_words, best_encoding = text, words, encoding
    if best is not None:
        return best, best_encoding
    # no known word: bytes ≥ 0xA1 in pairs throughout are Chinese text, anything else is Western
    runs = re.findall(rb"[\x80-\xff]+", data)
    if len(runs) > 1 and all(len(run) % 2 == 0 and min(run) >= 0xA1 for run in runs):
        text = _strict(data, "gb2312")
        if text is not None:
            return text, "gb18030"
    text = _strict(data, "cp1252")
    return (text, "cp1252") if text is not None else (data.decode("latin-1"), "latin-1")


def _known_foreign_words(text: str) -> int:
    cells = re.split(r"[,;|!\t\n\r]+|  +", text[:20_000])
    foreign = {cell for cell in cells if 0 < len(cell) < 40 and not cell.isascii()}
    # a heading that is known without its foreign letters, such as "Rot (°)", is no evidence
    return sum(column_of(cell).known and not column_of(_ascii(cell)).known for cell in foreign)


def _ascii(text: str) -> str:
    return "".join(char if char.isascii() else " " for char in text)


_LONGEST = 20_000  # characters of a line; no row of a table is longer


def lines_of(text: str) -> tuple[Line, ...]:
    """Numbered lines of a text; those too long for a row are left blank.

    Where every line is one quoted cell (a table saved once too often), the quotes are taken off.
    """
    lines = [line if len(line) <= _LONGEST else "" for line in text.split("\n")]
    filled = [line.strip() for line in lines if line.strip()]
    if len(filled) > 1 and all(_WHOLE.fullmatch(line) for line in filled):
        lines = [line.strip()[1:-1].replace('""', '"') for line in lines]
    return tuple(Line(number, line) for number, line in enumerate(lines, start=1))


# a quoted line in which no quote stands beside a delimiter
_WHOLE = re.compile(r'"(?:[^"]|""|(?<![,;\t|])"(?![,;\t|]))*[,;\t|](?:[^"]|"")*"')


def sheets_of_workbook(data: bytes, file: str) -> tuple[Sheet, ...]:
    """Every sheet of a workbook that holds anything."""
    sheets = []
    for name, rows in workbook_sheets(data, file):
        lines = tuple(
            Line(number, " ".join(cell for cell in cells if cell), tuple(cells))
            for number, cells in enumerate(rows, start=1)
        )
        if any(line.text for line in lines):
            sheets.append(Sheet(lines, name))
    return tuple(sheets)


class _Tables(html.parser.HTMLParser):
    """Rows of all tables of a page, in order, with prose between them as lines of their own."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.lines: list[Line] = []
        self.cells: list[str] | None = None
        self.text: list[str] = []
        self.start = 1
        self.open = {"table": 0, "html": 0}  # elements that a whole page closes

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in self.open:
            self.open[tag] += 1
        if tag == "tr":
            self.end_row()
            self.cells, self.start = [], self.getpos()[0]
        elif tag in ("td", "th"):
            self.text = []
        elif tag in ("br", "p", "div", "table", "h1", "h2", "h3", "li"):
            self.end_prose()

    def handle_endtag(self, tag: str) -> None:
        if tag in self.open:
            self.open[tag] -= 1
        if tag in ("td", "th") and self.cells is not None:
            self.cells.append(" ".join("".join(self.text).split()))
            self.text = []
        elif tag in ("tr", "table"):
            self.end_row()
        elif tag in ("p", "div", "h1", "h2", "h3", "title", "li"):
            self.end_prose()

    def handle_data(self, data: str) -> None:
        if self.cells is None and not self.text:
            self.start = self.getpos()[0]
        self.text.append(data)

    def end_row(self) -> None:
        if self.cells:
            self.lines.append(Line(self.start, " ".join(self.cells), tuple(self.cells)))
        self.cells, self.text = None, []

    def end_prose(self) -> None:
        if self.cells is None:
            text = " ".join("".join(self.text).split())
            if text:
                self.lines.append(Line(self.start, text, (text,)))
            self.text = []


def page_sheets(text: str, file: str) -> tuple[Sheet, ...]:
    """The tables of an HTML report as one sheet.

    Raises
    ------
    InputError
        Where a table, or the page, is never closed: what comes after may be missing.
    """
    tables = _Tables()
    tables.feed(text)
    tables.close()
    for tag, count in tables.open.items():
        if count > 0:
            last = text.rstrip().count("\n") + 1
            raise input_error(file, last, f"ends without </{tag}> and is cut off", "copy or export it again")
    tables.end_row()
    return (Sheet(tuple(tables.lines)),)


def shown(text: str) -> str:
    """A line for messages: without runs of blanks, quoted, not too long."""
    text = " ".join(text.split())
    return repr(text if len(text) <= 60 else text[:57] + "…")
