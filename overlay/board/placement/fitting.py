"""Parts that the design has and the board does not carry: marks in a column of their own, words in any text."""

from __future__ import annotations

import re
from collections.abc import Iterable

# marks that mean nothing else wherever they stand as a word of their own (common practice) …
_ANYWHERE = re.compile(
    r"(?<![A-Za-z0-9])(?:DNP|DNF|DNM|DNI|NOPOP|NO[\s_-]POP|NOSTUFF|NO[\s_-]STUFF|NOFIT|NOLOAD"
    r"|UNPOPULATED|UNPLACED|UNFITTED|UNMOUNTED|UNSTUFFED)(?![A-Za-z0-9])"
    r"|(?:do[\s_-]+not|don['’]?t)[\s_-]+(?:populate|place|fit|mount|install|stuff|insert|load|solder|assemble)"
    r"|(?<![A-Za-z])not[\s_-]+(?:populated|placed|fitted|mounted|installed|stuffed|inserted|loaded|assembled|used)"
    r"|(?:non|un)[\s_-]?(?:mont[ée]|best[üu]ckt)|nicht[\s_-]+(?:best[üu]ck(?:t|en)|montier(?:t|en)|gesetzt)|unbest[üu]ckt"
    r"|no[\s_]montar|non[\s_]montare|ne[\s_]pas[\s_]monter|не\s+(?:устанавливать|ставить|монтировать)|未贴|不贴|不焊|空贴|未実装",
    re.IGNORECASE,
)
# … and those that only the whole cell, or what stands in brackets or behind a stroke, makes one: 10 nF, pin NC
_WHOLE = re.compile(r"(?:\d\S*\s*[(\[/,;]\s*)?(?:N\.?C\.?|N/C|N\.?M\.?|N\.?P\.?|N\.?F\.?|n\.\s?b\.|nb)\s*[)\]]?")
# headings of such columns, as `headings.key_of` writes them: those whose yes means that the part is there, and those
# whose yes means that it is not. "Place", "Mount" and "Skip" are none: they tell who places it, or how.
_FITTED = "populate populated fitted fit mounted stuff stuffed topopulate tofit fitting bestuckt monte"
_UNFITTED = """
    dnp dnf dnm dni donotpopulate donotplace donotfit donotmount donotinstall donotstuff nopop nostuff notfitted
    notmounted notpopulated unpopulated unfitted nichtbestuckt
"""
FITTED_HEADINGS, UNFITTED_HEADINGS = frozenset(_FITTED.split()), frozenset(_UNFITTED.split())
_YES_WORDS = "y yes true 1 x ja oui si sí да on fitted populated mounted placed installed assembled 是 ✓"
_NO_WORDS = "n no false 0 - nein non нет off none unfitted unpopulated unmounted 否"
_YES, _NO = frozenset(_YES_WORDS.split()), frozenset(_NO_WORDS.split())


def says_unfitted(texts: Iterable[str]) -> bool:
    """Whether a value, a package or a remark says that the part is not there.

    >>> says_unfitted(["10k (DNP)"]), says_unfitted(["N.C."]), says_unfitted(["10 nF"]), says_unfitted(["SPST-NC"])
    (True, True, False, False)
    """
    return any(_ANYWHERE.search(text) or _WHOLE.fullmatch(text.strip()) for text in texts if text)


def flag_says_fitted(heading_key: str, cell: str) -> bool | None:
    """What a cell under such a heading says; None where it is blank or another column's.

    >>> flag_says_fitted("dnp", "yes"), flag_says_fitted("fitted", "No"), flag_says_fitted("fitted", "")
    (False, False, None)
    """
    word = re.sub(r"[\s_]+", "", cell.casefold())
    if not word:
        return None
    if word in UNFITTED_HEADINGS:  # "DNP" as a mark under any of them
        return False
    told = True if word in _YES else False if word in _NO else None
    if told is None or heading_key not in FITTED_HEADINGS | UNFITTED_HEADINGS:
        return None
    return told if heading_key in FITTED_HEADINGS else not told
