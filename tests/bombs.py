"""Small files that ask for much, written anew each time: `python -m tests.bombs FOLDER` makes a job of each.

Each is at most 5 MB and must be answered or refused within `SECONDS` of processor time and `MEMORY_BYTES`.
"""

from __future__ import annotations

import gzip
import io
import struct
import sys
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

SECONDS = 2.0
MEMORY_BYTES = 1_000_000_000

PLACEMENT = (
    b"Designator,Value,Package,Mid X (mm),Mid Y (mm),Rotation,Side\nR1,10k,R0805,10,10,0,top\nU1,x,SOIC-8,20,20,0,top\n"
)
_JOB = 'format = 1\n[board]\nplacement = "{placement}"\noutline = {outline}\nparts = {parts}\n{more}'
_CAPTURE = '[[capture]]\nname = "a"\nframe = "{frame}"\nambient_c = 22.0\n'


def svg(body: str, style: str = "") -> bytes:
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    return f"{head}{style}{body}</svg>".encode()


def workbook(sheet: bytes, *, name: str = "xl/worksheets/sheet1.xml") -> bytes:
    """An XLSX with that sheet and nothing more."""
    types = (
        b'<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        b'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        b'<Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType='
        b'"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>'
    )
    office = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    relations = (
        b'<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    )
    one = (
        relations
        + b'<Relationship Id="r1" Type="'
        + office
        + b'/officeDocument" Target="xl/workbook.xml"/></Relationships>'
    )
    two = (
        relations
        + b'<Relationship Id="r1" Type="'
        + office
        + b'/worksheet" Target="worksheets/sheet1.xml"/></Relationships>'
    )
    book = (
        b'<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="'
        + office
        + b'"><sheets><sheet name="s" sheetId="1" r:id="r1"/></sheets></workbook>'
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", types)
        archive.writestr("_rels/.rels", one)
        archive.writestr("xl/workbook.xml", book)
        archive.writestr("xl/_rels/workbook.xml.rels", two)
        archive.writestr(name, sheet)
    return stream.getvalue()


def sheet(rows: bytes) -> bytes:
    head = (
        b'<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    return head + rows + b"</sheetData></worksheet>"


def inline(place: str, text: str) -> bytes:
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>'.encode()


def tiff(
    rows: int, cols: int, strip: bytes, *, compression: int = 1, pages: int = 1, counts: int | None = None
) -> bytes:
    """Little-endian grey TIFF of 16 bits; every page points to the one strip."""
    tags = [
        (256, 4, 1, cols),
        (257, 4, 1, rows),
        (258, 3, 1, 16),
        (259, 3, 1, compression),
        (262, 3, 1, 1),
        (273, 4, 1, 8),
        (277, 3, 1, 1),
        (278, 4, 1, rows),
        (279, 4, 1, counts or len(strip)),
    ]
    out = struct.pack("<2sHI", b"II", 42, 8 + len(strip)) + strip
    for page in range(pages):
        entries = b"".join(struct.pack("<HHII", *tag) for tag in tags)
        following = 0 if page == pages - 1 else len(out) + 2 + len(entries) + 4
        out += struct.pack("<H", len(tags)) + entries + struct.pack("<I", following)
    return out


def png(rows: int, cols: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    packer, packed = zlib.compressobj(9), b""
    for _ in range(rows):
        packed += packer.compress(b"\0" * (1 + 2 * cols))
    header = struct.pack(">IIBBBBB", cols, rows, 16, 0, 0, 0, 0)
    packed += packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


def dxf(entities: str, blocks: str = "") -> bytes:
    pairs = f"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n{blocks}"
    return f"{pairs}0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n".encode()


def _block(name: str, inside: str) -> str:
    return f"0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n{inside}0\nENDBLK\n8\n0\n"


def _insert(name: str, columns: int = 1, rows: int = 1) -> str:
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n70\n{columns}\n71\n{rows}\n44\n1\n45\n1\n"


_LINE = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n9\n21\n9\n"


def _nested_blocks() -> bytes:
    blocks = _block("B0", _LINE)
    for depth in range(1, 18):
        blocks += _block(f"B{depth}", _insert(f"B{depth - 1}") * 10)
    return dxf(_insert("B17"), f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n")


def _gerber(body: str) -> bytes:
    return f"%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\n{body}M02*\n".encode()


def _zipped(unpacked: int) -> bytes:
    return workbook(sheet(b" " * unpacked))


_CIRCLES = "".join(f'<circle cx="{i % 60}" cy="{i // 60}" r="9" fill="none" stroke="black"/>' for i in range(3000))
_ZIGZAG = "M0 0" + "".join(f"L{i % 97} {(i * 31) % 79}" for i in range(60_000)) + "Z"
_SELECTORS = "<style>" + "".join(f".a{i} {{stroke:red}}" for i in range(4000)) + "</style>"
_ROWS = b"".join(b'<row r="%d">%s</row>' % (i, inline(f"A{i}", "R1")) for i in range(1, 60_001))

# what of a job each bomb takes the place of, and how it is made
BOMBS: dict[str, tuple[str, Callable[[], bytes]]] = {
    "blank_in_the_last_cell.xlsx": (
        "parts",
        lambda: workbook(
            sheet(inline("A1", "refdes") + b"<row/>" + b'<row r="1048576">' + inline("XFD1048576", " ") + b"</row>")
        ),
    ),
    "blank_in_the_last_cell_of_a_placement.xlsx": (
        "placement",
        lambda: workbook(
            sheet(
                b'<row r="1">'
                + inline("A1", "Ref")
                + b'</row><row r="1048576">'
                + inline("XFD1048576", " ")
                + b"</row>"
            )
        ),
    ),
    "many_short_rows.xlsx": ("placement", lambda: workbook(sheet(_ROWS))),
    "unpacks_to_gigabytes.xlsx": ("parts", lambda: _zipped(1_500_000_000)),
    "unpacks_to_gigabytes_for_a_placement.xlsx": ("placement", lambda: _zipped(1_500_000_000)),
    "truncated.xlsx": ("parts", lambda: workbook(sheet(_ROWS))[:50_000]),
    "zip_of_rubbish.xlsx": ("parts", lambda: workbook(b"\xff" * 1_000_000)),
    "nested_elements.xlsx": ("parts", lambda: workbook(b"<a>" * 1_000_000)),
    "deflated_strip.tiff": ("frame", lambda: tiff(480, 640, zlib.compress(b"\0" * 1_500_000_000, 9), compression=8)),
    "enormous.tiff": ("frame", lambda: tiff(8000, 8000, zlib.compress(b"\0" * 128_000_000, 9), compression=8)),
    "lying_size.tiff": ("frame", lambda: tiff(65535, 65535, b"\0" * 100)),
    "many_pages.tiff": (
        "frame",
        lambda: tiff(480, 640, zlib.compress(b"\0" * 614_400, 9), compression=8, pages=30_000),
    ),
    "pages_of_one_strip.tiff": (
        "frame",
        lambda: tiff(480, 640, zlib.compress(b"\x10\x0e" * 307_200, 9), compression=8, pages=200),
    ),
    "pages_in_a_circle.tiff": ("frame", lambda: (lambda data: data[:-4] + data[4:8])(tiff(48, 64, b"\0" * 6144))),
    "largest.png": ("frame", lambda: png(8000, 8000)),
    "lying_size.png": ("frame", lambda: png(8, 100_000)),
    "lying_header.npy": (
        "frame",
        lambda: (
            b"\x93NUMPY\x01\0v\0"
            + b"{'descr': '<f8', 'fortran_order': False, 'shape': (99999999, 99999999), }".ljust(117)
            + b"\n"
        ),
    ),
    "deep_header.npy": ("frame", lambda: b"\x93NUMPY\x02\0" + struct.pack("<I", 200_000) + b"(" * 200_000),
    "one_long_line.csv": ("frame", lambda: b"1," * 2_000_000),
    "many_short_lines.csv": ("frame", lambda: b"1\n" * 2_000_000),
    "quotes.csv": ("frame", lambda: b'"' * 1_000_000 + b"\n1,2\n"),
    "packed_many_times.svgz": ("outline", lambda: gzip.compress(svg("<!--" + " " * 150_000_000 + "-->"))),
    "packed_paths.svgz": (
        "outline",
        lambda: gzip.compress(svg("".join(f'<path d="M{i} 0L{i} 9" stroke="black"/>' for i in range(60_000)))),
    ),
    "circles.svg": ("outline", lambda: svg(_CIRCLES)),
    "long_path.svg": ("outline", lambda: svg(f'<path d="{_ZIGZAG}" fill="none" stroke="black"/>')),
    "selectors.svg": ("outline", lambda: svg("<path class='x' d='M0 0H9V9Z'/>" * 4000, _SELECTORS)),
    "uses_of_uses.svg": (
        "outline",
        lambda: svg(
            "<g id='a0'><path d='M0 0H9V9Z'/></g>"
            + "".join(f"<g id='a{i}'>{f'<use href=%#a{i - 1}%/>'.replace('%', chr(34)) * 10}</g>" for i in range(1, 14))
        ),
    ),
    "nested_groups.svg": ("outline", lambda: svg("<g>" * 100_000 + "</g>" * 100_000)),
    "entities.svg": (
        "outline",
        lambda: (
            b'<!DOCTYPE s [<!ENTITY a "aaaaaaaaaa">'
            + b"".join(b'<!ENTITY %c "%s">' % (98 + i, b"&%c;" % (97 + i) * 10) for i in range(9))
            + b"]><svg>&j;</svg>"
        ),
    ),
    "many_numbers.svg": ("outline", lambda: svg(f'<path d="M0 0L{"1 " * 1_500_000}"/>')),
    "array_of_blocks.dxf": (
        "outline",
        lambda: dxf(_insert("B0", 30_000, 30_000), f"0\nSECTION\n2\nBLOCKS\n{_block('B0', _LINE)}0\nENDSEC\n"),
    ),
    "blocks_of_blocks.dxf": ("outline", _nested_blocks),
    "many_lines.dxf": ("outline", lambda: dxf(_LINE * 70_000)),
    "step_and_repeat.gbr": (
        "outline",
        lambda: _gerber("%SRX30000Y30000I1J1*%\nX0Y0D02*\nX9000000Y9000000D01*\n%SR*%\n"),
    ),
    "many_draws.gbr": (
        "outline",
        lambda: _gerber("".join(f"X{i * 7919 % 99}000000Y{i * 104729 % 97}000000D01*\n" for i in range(150_000))),
    ),
    "ranges.csv": ("parts", lambda: b"refdes,limit_c\nR1-R99999999,100\n"),
    "many_ranges.csv": (
        "parts",
        lambda: (
            b"refdes,limit_c\n" + b"".join(b"R%d-R%d,100\n" % (i * 10_000, i * 10_000 + 9_999) for i in range(3000))
        ),
    ),
    "wide.csv": ("placement", lambda: b"a," * 1_000_000 + b"\n" + b"1," * 1_000_000),
    "long.csv": (
        "placement",
        lambda: PLACEMENT + b"".join(b"R%d,1k,R0805,%d,%d,0,top\n" % (i, i % 300, i // 300) for i in range(3, 150_000)),
    ),
    "blanks.txt": ("placement", lambda: b"Ref X Y\n" + b" " * 4_000_000),
    "nested_tables.html": ("placement", lambda: b"<html>" + b"<table><tr><td>" * 200_000),
    "dotted_keys.toml": ("job", lambda: b".".join([b"a"] * 200_000) + b" = 1\n"),
    "many_tables.toml": ("job", lambda: b"format = 1\n" + b"".join(b"[a%d]\n" % i for i in range(200_000))),
    "long_number.toml": ("job", lambda: b"format = " + b"1" * 1_000_000),
    "deep_arrays.toml": ("job", lambda: b"format = " + b"[" * 100_000),
    "many_points.csv": (
        "points",
        lambda: (
            b"pixel_x,pixel_y,board_x_mm,board_y_mm\n"
            + b"".join(b"%d,%d,%d,%d\n" % (i % 64, i % 48, i % 90, i % 70) for i in range(200_000))
        ),
    ),
}


def make_bomb(name: str, folder: Path) -> Path:
    """Write the job that holds one bomb; the rest of it is whole."""
    kind, make = BOMBS[name]
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "placement.csv").write_bytes(PLACEMENT)
    data = make()
    if kind == "job":
        (folder / "job.toml").write_bytes(data)
        return folder
    (folder / name).write_bytes(data)
    named = {part: f'"{name}"' if kind == part else '"none"' for part in ("outline", "parts")}
    more = ""
    if kind == "frame":
        more = _CAPTURE.format(frame=name) + 'control_points = "points.csv"\n'
        (folder / "points.csv").write_text(
            "pixel_x,pixel_y,board_x_mm,board_y_mm\n1,1,0,20\n60,1,20,20\n60,40,20,0\n1,40,0,0\n"
        )
    if kind == "points":
        (folder / "frame.csv").write_text("\n".join(",".join(["30.0"] * 64) for _ in range(48)))
        more = _CAPTURE.format(frame="frame.csv") + f'control_points = "{name}"\n'
    text = _JOB.format(placement=name if kind == "placement" else "placement.csv", more=more, **named)
    (folder / "job.toml").write_text("\n".join(line for line in text.split("\n") if not line.endswith('"none"')))
    return folder


if __name__ == "__main__":
    for one in BOMBS:
        make_bomb(one, Path(sys.argv[1]) / one)
