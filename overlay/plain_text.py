"""Text from files made safe to show: nothing in it moves a cursor, turns a line round or runs as a formula."""

from __future__ import annotations

import re

# Control characters but for line ends and tabs, marks that turn the direction of writing (Unicode Annex 9), and the
# halves of pairs by which file names that are no UTF-8 are carried.
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]")


def visible(text: str) -> str:
    r"""The text with what a reader would not see shown by its number.

    >>> visible("R1\x1b[31m")
    'R1[U+001B][31m'
    """
    if text.isprintable():  # the plain case, told in a fraction of the time
        return text
    return _UNSEEN.sub(lambda found: f"[U+{ord(found[0]):04X}]", text)


def visible_json(text: str) -> str:
    """The same for JSON, whose own escapes keep the value as it is."""
    return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
