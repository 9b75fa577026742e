"""The pieces that package names are put together from: words, and dimensions in millimetres."""

from __future__ import annotations

import re

_SEPARATORS = re.compile(r"[_\s()\[\],;]+")
# two or three numbers with "by" between them, standing free: digits glued to a letter (EP3.45x3.45, Pad1.0x0.9,
# Layout16x16, P1.27) mean something else
_SIZES = re.compile(
    r"(?:(?<=[_\-\s(])|^|(?<=QFN)|(?<=DFN)|(?<=SON)|(?<=IND)|(?<=LGA))(?P<one>\d{1,3}(?:\.\d+)?)(?:MM)?\s?X\s?"
    r"(?P<two>\d{1,3}(?:\.\d+)?)(?:(?:MM)?\s?X\s?(?P<three>\d{1,3}(?:\.\d+)?))?\s?(?P<mm>MM)?(?![\d.A-Z])"
    r"(?:[_-]?H(?P<height>\d{1,2}(?:\.\d+)?)(?:MM)?(?![\d.A-Z]))?"
)
_NOT_A_BODY = re.compile(r"(?:^|[_\-\s(])(?:EP|EPAD|PADS?|HOLES?|DRILL|SLOT|VIAS?|LAYOUT|MASK|PASTE|PITCH|TP)[_\-\s]?$")


def normal(package: str) -> str:
    """A package name in capitals, without the library before a colon, with points and ``X``.

    >>> normal(" Inductor_SMD:L_12×12mm_H8mm ")
    'L_12X12MM_H8MM'
    """
    name = package.strip().upper().rsplit(":", 1)[-1].strip()
    name = name.replace("×", "X").replace("*", "X").replace("–", "-").replace("µ", "U").replace("Μ", "U")
    return re.sub(r"(?<=\d),(?=\d)", ".", name)


def words(name: str) -> list[str]:
    """The words of a normal name, dashes kept inside them."""
    return [word for word in _SEPARATORS.split(name) if word]


def key(word: str) -> str:
    """A word without dashes and points, as the tables spell names."""
    return re.sub(r"[-./]", "", word)


def sizes_mm(name: str, *, bare: bool) -> tuple[float, float, float | None] | None:
    """The first ``WxL`` or ``WxLxH`` of a normal name in millimetres, with a height from ``xH`` or ``_H``.

    Parameters
    ----------
    bare
        Also take numbers that no ``mm`` follows. Rows by columns of pins (``1x04``, ``2x5``) are never taken.

    Returns
    -------
    None where there is none, or where it is the size of something else than the body (a pad, a hole, a layout).
    """
    for match in _SIZES.finditer(name):
        if _NOT_A_BODY.search(name[: match.start()]):
            continue
        one, two = match["one"], match["two"]
        if match["mm"] is None:
            rows = one in ("1", "2", "3", "01", "02") and "." not in two and not bare
            if not bare or rows or one.startswith("0") != one.startswith("0.") or re.fullmatch(r"0\d+", two):
                continue
        height = match["three"] or match["height"]
        sides = float(one), float(two)
        if not all(0.2 <= side <= 200.0 for side in sides):
            continue
        return *sides, None if height is None or not 0.1 <= float(height) <= 100.0 else float(height)
    return None


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
