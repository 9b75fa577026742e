"""The pieces that package names are put together from: words, and dimensions in millimetres."""

from __future__ import annotations

import re

DIMENSIONS = "dimensions in the package name"
Sizes = tuple[float, float, float | None]  # along x, along y, height, in mm

_SEPARATORS = re.compile(r"[_\s()\[\],;]+")
# two or three numbers with "by" between them, standing free: digits glued to a letter (EP3.45x3.45, Pad1.0x0.9,
# Layout16x16, P1.27) mean something else
_SIZES = re.compile(
    r"(?:(?<=[_\-\s(])|^|(?<=QFN)|(?<=DFN)|(?<=SON)|(?<=IND)|(?<=LGA)|(?<=BODY)|(?<=CSP)|(?<=ML)|"
    r"(?<=_B))(?P<one>\d{1,3}(?:\.\d+)?)(?:MM)?\s?X\s?"
    r"(?P<two>\d{1,3}(?:\.\d+)?)(?:(?:MM)?\s?X\s?(?P<three>(?!0\d)\d{1,3}(?:\.\d+)?(?![\d.]*P)))?\s?(?P<mm>MM)?(?![\d.]|[A-Z]{2})"
    r"(?:[_-]?H(?P<height>\d{1,2}(?:\.\d+)?)(?:MM)?(?![\d.A-Z]))?"
)
_NOT_OF_THE_BODY = re.compile(r"[-_ ]?(?:DAP|STENCIL|E?PADS?(?![A-Z\d])|ARRAY|MATRIX|BALLS)")
# an underscore for the decimal point, told by a later side of the same size: 9_8X11_8X5_9MM
_UNDERSCORED = re.compile(r"\dX\d{1,2}_(?:\d|[1-9]\d)(?=X\d|MM)")
# sides with their letters in one run: L3.5W3.5H1.5, L14.2*W11.0*H9.0MM
_LABELLED = re.compile(
    r"(?<![A-Z])L(?P<l>\d{1,3}(?:\.\d+)?)(?:MM)?X?W(?P<w>\d{1,3}(?:\.\d+)?)(?:MM)?(?:X?H(?P<h>\d{1,3}(?:\.\d+)?))?"
)
_NOT_A_BODY = re.compile(r"(?:^|[_\-\s(])(?:EP|EPAD|PADS?|HOLES?|DRILL|SLOT|VIAS?|LAYOUT|MASK|PASTE|PITCH|TP)[_\-\s]?$")


def normal(package: str) -> str:
    """A package name in capitals, without the library before a colon, with points and ``X``.

    >>> normal(" Inductor_SMD:L_12×12mm_H8mm ")
    'L_12X12MM_H8MM'
    """
    name = package.strip().upper().rsplit(":", 1)[-1].strip()
    name = name.replace("×", "X").replace("*", "X").replace("–", "-").replace("µ", "U").replace("Μ", "U")
    name = re.sub(r"(?<=\d),(?=\d)", ".", name)
    # a letter for the decimal point, as in 2P15X1P4 and 1D25; likewise 24X24X2_8MM
    name = re.sub(r"(?<![\dA-Z.])(\d{1,2})(?:[PD](?=\d{1,2}X\d)|D(?=\d{1,2}(?:$|_)))", r"\1.", name)
    name = re.sub(r"(?<=X)(\d{1,2})[PD](\d{1,2})(?![\dA-Z])", r"\1.\2", name)
    if _UNDERSCORED.search(name) is not None:
        name = re.sub(r"(?<=X)(\d{1,2})_(\d|[1-9]\d)(?=X\d|MM)", r"\1.\2", name)
        name = re.sub(r"(?<![\dA-Z.])(\d{1,2})_(\d|[1-9]\d)(?=X\d)", r"\1.\2", name)
    name = re.sub(r"(?<![A-Z])(T?SOT|SOD|SC|TO|DO)[_ ](?=\d)", r"\1-", name)
    return re.sub(r"^(\d{1,2})[-_ ](T?SOT-?23|SC-?70)(?![\d-])", r"\2-\1", name)  # pins in front


def words(name: str) -> list[str]:
    """The words of a normal name, dashes kept inside them."""
    return [word for word in _SEPARATORS.split(name) if word]


def key(word: str) -> str:
    """A word without dashes and points, as the tables spell names."""
    return re.sub(r"[-./]", "", word)


def sizes_mm(name: str, *, bare: bool) -> Sizes | None:
    """The first ``WxL`` or ``WxLxH`` of a normal name in millimetres, with a height from ``xH`` or ``_H``.

    Parameters
    ----------
    bare
        Also take numbers that no ``mm`` follows. Rows by columns of pins (``1x04``, ``2x5``) are never taken.

    Returns
    -------
    None where there is none, or where it is the size of something else than the body (a pad, a hole, a layout).
    """
    if (labelled := _LABELLED.search(name)) is not None:
        height = labelled["h"] and float(labelled["h"])
        return float(labelled["l"]), float(labelled["w"]), height or None
    for match in _SIZES.finditer(name):
        if _NOT_A_BODY.search(name[: match.start()]) or _NOT_OF_THE_BODY.match(name[match.end() :]):
            continue
        one, two = match["one"], match["two"]
        if match["mm"] is None:
            rows = one in ("1", "2", "3", "01", "02") and "." not in two and not bare
            if not bare or rows or one.startswith("0") != one.startswith("0.") or re.fullmatch(r"0\d+", two):
                continue
        if match["mm"] is None and "." not in one + two and min(float(one), float(two)) >= 60.0:
            continue  # hundredths of a land-pattern name, or thousandths of an inch
        height = match["three"] or match["height"]
        sides = float(one), float(two)
        if not all(0.2 <= side <= 200.0 for side in sides):
            continue
        return *sides, None if height is None or not 0.1 <= float(height) <= 100.0 else float(height)
    return None


def body_sizes(name: str, *, bare: bool, pair: bool, upright: bool) -> Sizes | None:
    """A package's body along x and y: ``XxY``, labels ``L… W…`` (L lies along upright rows), or four digits of tenths.

    Parameters
    ----------
    bare
        As in `sizes_mm`.
    pair
        Also take four digits of tenths behind a no-lead family (``DFN1006``), or pins and two sides (``QFN64_9_9``).
    upright
        The package has two rows that stand upright at level A.
    """
    sizes = sizes_mm(name, bare=bare)
    if sizes is not None:
        return sizes
    long, wide = labelled_mm(name, "L"), labelled_mm(name, "W")
    if long is not None and wide is not None:
        return (wide, long, labelled_mm(name, "H")) if upright else (long, wide, labelled_mm(name, "H"))
    if not pair:
        return None
    if match := re.search(r"(?:DFN|SON|QFN|DSN)-?(\d\d)(\d\d)(?:[A-Z]{0,3}(?:$|[-_ ]))", name):
        one, two = int(match[1]) / 10, int(match[2]) / 10
        if min(one, two) >= 0.4 and max(one, two) <= 3.0 * min(one, two):
            return one, two, None
    if match := re.search(r"(?:QFN|SON|DFN)\d{1,2}_(\d{1,2})_(\d{1,2})(?=_|$)", name):
        return float(match[1]), float(match[2]), None
    return None


def rows_upright(one: float, two: float, widths_mm: tuple[float, ...]) -> tuple[float, float]:
    """Sides across and along the rows: a name that puts the family's width second is turned round."""
    first = any(abs(one - width) <= 0.15 for width in widths_mm)
    second = any(abs(two - width) <= 0.15 for width in widths_mm)
    return (two, one) if second and not first else (one, two)


def labelled_mm(name: str, label: str) -> float | None:
    """A number behind a letter of its own (``D8.0mm``, ``L7.2``, ``BD6.3``), None where there is none.

    >>> labelled_mm("CP_RADIAL_D8.0MM_P3.50MM", "D")
    8.0
    """
    match = re.search(rf"(?:^|[_\-\s]){label}(\d{{1,3}}(?:\.\d+)?)(?:MM)?(?![\d.A-WYZ])", name)
    if match is None:
        return None
    value = float(match[1])
    return value if 0.2 <= value <= 200.0 else None
