"""Reference designators: what looks like one, which are not assigned yet, and which name no electrical part.

The rule for mechanical items: the letters of the designator (``FID``, ``MH``, ``TP``, ``LOGO``, …) make it one
whatever its package says. Where the letters say nothing (``H1``, ``X1``, ``M3``), the package or value has to
name a hole, a fiducial, a mark, a standoff or the like, or it has to begin with such a word; ``H`` alone, the
letter of hardware in IEEE 315, needs no words where package and value are blank. Designators of electrical
parts (``J``, ``P``, ``R``, …) are mechanical only where the package begins with fiducial, test point or the
like, so that a header ``H1`` and a socket with mounting holes stay parts.
"""

from __future__ import annotations

import re

_REFDES = re.compile(r"[A-Za-z]{1,4}[_\-]?\d{1,5}[A-Za-z]{0,2}(?:[_.\-]\d{1,3})?(?:[_.\-][A-Za-z]{1,3})?")
# letters of IEEE 315 and those that are common practice beside it
_LETTER_CODES = """
    A AE AMP ANT AR AT B BAT BT BR BZ C CB CN CON CONN COM CR CRY CT CX D DA DB DC DD DL DS DZ E EC F FB FET FI
    FID FL FS FU G GND H HDR HS HV IC INT IR J JP JS K KEY L LD LED LS LT M MH MIC MK MOD MOV MP MT N NTC OC OK
    OP OPT OSC P PCB PL PR PS PSU PT PTC PWR Q QF R RA RB RC REG RES RF RL RN RP RR RT RV RX S SB SCR SG SH SK
    SL SP SR SW T TB TC TF TH TP TR TRA TS TV TVS TX U UA UB US USB V VC VD VR VT W WP X XC XF XTAL XU Y Z ZD ZQ
"""
_LETTERS = frozenset(_LETTER_CODES.split())
_UNASSIGNED = re.compile(
    r"[^\d?]*\?+[A-Za-z]?|.*\*+|[~\-–—._]+|[(<\[{]?(?:n/?a|none|null|unassigned|unknown|undefined|unnamed|no[\s_]?name|tbd)[)>\]}]?",
    re.IGNORECASE,
)


def looks_like_refdes(text: str) -> bool:
    """Whether a cell can be a designator: known letters with a number, such as ``R17`` or ``U3E``.

    ``R0603`` is a size rather than a designator.

    >>> looks_like_refdes("c12"), looks_like_refdes("U3E"), looks_like_refdes("Rev2"), looks_like_refdes("R0603")
    (True, True, False, False)
    """
    text = text.strip()
    if _REFDES.fullmatch(text) is None or re.search(r"0(?:1005|201|402|603|805)$", text):
        return False
    letters = re.match(r"[A-Za-z]+", text)
    return letters is not None and letters.group().upper() in _LETTERS


def is_unassigned(refdes: str) -> bool:
    """``U?``, ``REF**``, ``G***`` or nothing: no designator has been given."""
    return not refdes.strip() or _UNASSIGNED.fullmatch(refdes.strip()) is not None


_PACKAGE = re.compile(
    r"(?:.*[_\-:])?[RCLD]?(?:01005|0201|0402|0603|0805|1206|1210|1812|2010|2512)(?:\D.*)?$"
    r"|.*(?:SO[TDJPIC]?[CPW]?\d|SOT|SOD|SOIC|SSOP|QF[NP]|DFN|BGA|DIP|DIL|TO-?\d|SM[ABC]\b|MELF|HC49|HDR|PLCC"
    r"|CAPC|RESC|DO-?\d)",
    re.IGNORECASE,
)


def looks_like_package(text: str) -> bool:
    """Whether a cell can be the name of a package: it holds a chip code or the letters of a family.

    >>> looks_like_package("R_0603_1608Metric"), looks_like_package("10k")
    (True, False)
    """
    return _PACKAGE.match(text.strip()) is not None


_VALUE = re.compile(
    r"[\d.,]+\s*(?:[pnuµμmkKMGR]|meg)?\s*(?:F|H|Ω|R|Ohms?|V|A|W|Hz)?(?:\d+)?(?:[\s/,;].*|\s*\d*%.*)?",
)


def looks_like_value(text: str) -> bool:
    """Whether a cell can be the value of a part: a number with the letters of a unit or its multiple.

    >>> looks_like_value("4k7"), looks_like_value("100nF/50V"), looks_like_value("R0603")
    (True, True, False)
    """
    text = text.strip()
    return _VALUE.fullmatch(text) is not None and re.fullmatch(r"0\d{3,4}", text) is None


_MECHANICAL_LETTERS = re.compile(
    r"(?:FID\w*|FIDUCIAL\w*|FD|FM|FDM|MH|MTG\w*|MTH|NPTH|HOLE\w*|MOUNT\w*|MNT|TP|TPT|TEST\w*|TESTPOINT\w*|LOGO\w*|LBL|LABEL"
    r"|SCREW|STANDOFF|SPACER|MECH\w*|TOOL\w*|MARK\w*|PCB|OSHW|SILK\w*|BARCODE|QR|NT|NETTIE\w*|SJ|SJP|TXT|TEXT|RULER"
    r"|(?:COPPER|GROUND)[\s_]?FILL)[_\-]?\d*[A-Za-z]?",
    re.IGNORECASE,
)
_WORDS = (
    r"fiducial|fidu|fid[_\-\s\d]|fid$|mounting[_\-\s]?hole|mount[_\-\s]?hole|mtg[_\-\s]?hole|mount[_\-\s]?pad"
    r"|tooling[_\-\s]?hole|test[_\-\s]?p(?:oint|ad)|testpin|tpoint|logo|board[_\-\s]?mark|panel[_\-\s]?mark|standoff"
    r"|stand-off|spacer|mouse[_\-\s]?bite|net[_\-\s]?tie|oshw|symbol_|label|qr[_\-\s]?code|barcode|breakaway"
    r"|stencil[_\-\s]?hole"
)
# packages that are no part of the circuit's own, whatever sizes and pitches their names go on with
_MARKS = re.compile(
    r"solder[_\-\s]?(?:jumper|bridge|blob)|jumper[_\-\s]?pad|pad[_\-\s]?jumper|smt[_\-\s]?jumper|sj$|sj[_\-]\d"
    r"|net[_\-\s]?tie|test[_\-\s]?p(?:oint|ad)|fiducial|symbol[_\-]|(?:\w+[_\-])?logo(?:$|[_\-\d])|mouse[_\-\s]?bite"
    r"|oshw|barcode|qr[_\-\s]?code|creative[_\-\s]?commons|kibuzzard|frame[_\-]|title[_\-\s]?block|ruler|copper[_\-\s]?fill",
    re.IGNORECASE,
)
_BEGINS = re.compile(rf"(?:{_WORDS}|hole|npth|mark\b|optical|crosshair|target[_\-\s]?mark)", re.IGNORECASE)
_HOLDS = re.compile(
    rf"(?:{_WORDS}|(?<!through)(?<!through[_\-\s])(?<!thru)(?<!thru[_\-\s])(?<!pin)hole|\bmtg\b|\bscrew(?![_\-\s]?ter)"
    r"|\bM[2345](?:\.5)?\b)",
    re.IGNORECASE,
)
_SOCKET = re.compile(
    r"h(?:ea)?de?r|conn|pin|socket|term|jst|molex|jack|plug|\bUSB|\d\s?x\s?\d|[DS]IP|\d+P\b|P\d|receptacle|screw_ter",
    re.IGNORECASE,
)


def is_mechanical(refdes: str, package: str, value: str = "") -> bool:
    """Whether an item is hardware or a mark rather than an electrical part; the rule is the module's.

    >>> is_mechanical("FID1", ""), is_mechanical("H1", "MountingHole_3.2mm_M3"), is_mechanical("H1", "PinHeader_1x04")
    (True, True, False)
    """
    name = refdes.strip()
    bare = package.strip().rpartition(":")[2]
    if _MECHANICAL_LETTERS.fullmatch(name):
        return True
    letters = (re.match(r"[A-Za-z]*", name) or [""])[0].upper()
    if _MARKS.match(bare):
        return True
    if _BEGINS.match(bare):
        return not _SOCKET.search(bare)
    if letters == "H" and not bare and not value.strip():
        return True
    if letters in ("H", "M", "X", "E", "Z", "HW", "MP", "S", "HS") or letters not in _LETTERS:
        text = f"{bare} {value}"
        return _HOLDS.search(text) is not None and not _SOCKET.search(bare)
    return False
