"""Which side of the board: layer names, flags, statements in prose, and file names."""

from __future__ import annotations

import re
from pathlib import PurePath
from typing import Literal

from overlay.board.model import Side

_TOP = (
    "t top tops toplayer componentlayer topside front frontside f f.cu fcu "
    "primary primaryside componentside compside component comp cs topcopper "
    "coppertop topassembly assemblytop smttop topsmt topmount oben oberseite "
    "dessus superior arriba sopra 顶层 顶面 顶 正面 正 上 上面 表 表面 部品面 顶层面 t面 верх "
    "верхняя верхний bestückungsseite bauteilseite vorderseite haut cima frente recto obverse góra gora górna boven "
    "bovenzijde horní horná ovansida ovan forside fremside yläpuoli felső üst 윗면 앞면"
)
_BOTTOM = (
    "b bot bottom bottoms bottomlayer botlayer bottomside botside back "
    "backside b.cu bcu secondary secondaryside solderside solderlayer solder "
    "ss bottomcopper copperbottom bottomassembly assemblybottom smtbottom "
    "bottomsmt bottommount unten unterseite dessous inferior abajo sotto 底层 "
    "底面 底 反面 背面 反 背 下 下面 裏 裏面 はんだ面 半田面 ハンダ面 b面 низ нижняя нижний m mirror "
    "mirrored lötseite rückseite bas baixo verso reverse rear rearside dół dol dolna onder onderzijde spodní spodná "
    "undersida under bagside bakside alapuoli alsó alt 아랫면 뒷면"
)
_NAMED: tuple[tuple[Side, str], ...] = (("top", _TOP), ("bottom", _BOTTOM))
_SIDE_OF: dict[str, Side] = {word: side for side, words in _NAMED for word in words.split()}
# words that name a side inside a longer layer name, such as SMT_TOP or "Layer 1 Top"
_TOP_INSIDE = {"top", "front", "oben", "верх", "primary"}
_BOTTOM_INSIDE = {"bottom", "bot", "back", "unten", "низ", "secondary"}
_YES = {"y", "yes", "true", "1", "m", "mirror", "mirrored", "x", "ja", "oui", "si", "on", "是", "bottom", "b", "bot"}
_NO = {"n", "no", "false", "0", "none", "nein", "non", "off", "-", "否", "top", "t", "not mirrored", "unmirrored"}


def side_of_word(text: str) -> Side | None:
    """The side a cell of a side column names; None where it names none or two.

    >>> side_of_word("TopLayer"), side_of_word("B.Cu"), side_of_word("Solder Side"), side_of_word("inner")
    ('top', 'bottom', 'bottom', None)
    """
    word = re.sub(r"[\s_\-\"'()\[\]]+", "", text.strip().casefold())
    if word in _SIDE_OF:
        return _SIDE_OF[word]
    words = set(re.split(r"[^\w]+|_|\d+", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text).casefold()))
    words |= {part for word in words for part in re.split(r"(?=layer|side)", word)}
    top, bottom = bool(words & _TOP_INSIDE), bool(words & _BOTTOM_INSIDE)
    if top == bottom:
        return None
    return "top" if top else "bottom"


def flag(text: str) -> bool | None:
    """Yes or no; blank is None, and so is anything else: ask ``is_flag`` first."""
    word = text.strip().casefold()
    return True if word in _YES else False if word in _NO else None


def is_flag(text: str) -> bool:
    """Whether a cell of a flag column can be understood (blank counts as no)."""
    return not text.strip() or flag(text) is not None


Stated = Literal["top", "bottom", "both"]

_KEYED = re.compile(
    r"^(?:(?:board|pcb|mount(?:ing)?|placement|assembly|component|part)s?[\s_\-]*)?(?:side|layer|face|seite|面|层)s?"
    r"(?:\s*\([^)]*\))?\s*[:=,\t]+\s*(?P<word>.+)$",
    re.IGNORECASE,
)
_BOTH = re.compile(r"^(all|both|any|---?|top\s*(?:\+|&|and|/|,)\s*bot(?:tom)?|front\s*(?:\+|&|and|/)\s*back)\b", re.I)
_TITLES = """
    top bottom bot side sides layer component components comp parts part placement placements list file position
    positions smd smt tht assembly data centroid centroids xy report pick and place pnp of for the board front
    back solder section mounted elements on pcb surface mount devices primary secondary reference
"""
_TITLE_WORDS = frozenset(_TITLES.split())


def stated_side(line: str) -> Stated | None:
    """The side a line of prose states for the rows that follow; None where it states none.

    Only a keyed statement (``## Side : top``) or a title made of nothing but such words counts:
    ``Origin: bottom left`` or a path that holds *top* say nothing.

    >>> stated_side("## Side : top"), stated_side("BOTTOM SIDE COMPONENTS"), stated_side("seen from the top view")
    ('top', 'bottom', None)
    """
    text = line.strip().strip("#*;%/'\"|!=-<>[]():,_\t ").strip()
    text = re.sub(r"[\"']", "", text)
    if not text or len(text) > 120:
        return None
    keyed = _KEYED.match(text)
    if keyed is not None:
        word = keyed.group("word").strip(" \t,;.|!")
        if _BOTH.match(word):
            return "both"
        return side_of_word(word)
    words = [word for word in re.split(r"[^\w.]+", text.casefold()) if word]
    if len(words) > 8 or not all(word in _TITLE_WORDS or word in _SIDE_OF for word in words):
        if any(char > "\u3000" for char in text) and len(text) < 12:
            return side_of_word(text)
        return None
    if len(words) == 1 and len(words[0]) < 3 and not any(char > "\u3000" for char in text):
        return None  # a lone letter is no title
    if re.search(r"\b(top|bottom) board\b", text, re.IGNORECASE) and "side" not in words:
        return None  # the upper one of two boards
    return _side_of_words(text, words)


def _side_of_words(text: str, words: list[str]) -> Stated | None:
    top = bool({"top", "front", "primary"} & set(words)) or "component side" in " ".join(words)
    bottom = bool({"bottom", "bot", "back", "secondary"} & set(words)) or "solder side" in " ".join(words)
    if top and bottom:
        return "both"
    if top or bottom:
        return "top" if top else "bottom"
    return side_of_word(text) if len(words) == 1 and len(text) > 3 and text.casefold() != "component" else None


_NOT_SIDE_AFTER = {"panel", "plane", "plate", "end", "cover", "lid", "deck", "hat", "light", "up", "door", "drive"}
_REVISION_WORDS = {"rev", "revision", "r", "v", "ver", "version", "issue"}
_PLACEMENT_WORDS = {"pos", "pnp", "xy", "xyrs", "centroid", "place", "placement", "pick", "cpl", "mount", "positions"}


def side_of_name(file: str) -> Side | None:
    """The side a file's name tells: ``board-top-pos.csv``, ``xyz_bottom.txt``, ``amp_F.pos``, ``amp.mnb``.

    >>> side_of_name("amp-bottom-pos.csv"), side_of_name("amp_F.pos"), side_of_name("amp_rev_B.csv")
    ('bottom', 'top', None)
    """
    path = PurePath(file.replace("\\", "/"))
    suffix = path.suffix.casefold().lstrip(".")
    stem = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z])(?=\d)|(?<=\d)(?=[A-Za-z])", " ", path.stem)
    words = [word for word in re.split(r"[^A-Za-z0-9\u3000-\u9fff]+", stem.casefold()) if word]
    found: set[Side] = set()
    for word, after in zip(words, [*words[1:], ""], strict=True):
        word = re.sub(r"(side|layer|pos)$", "", word)
        if word in ("top", "front", "顶层", "顶面") and after not in _NOT_SIDE_AFTER:
            found.add("top")
        if word in ("bottom", "bot", "back", "底层", "底面") and after not in _NOT_SIDE_AFTER:
            found.add("bottom")
    if suffix in ("mnt", "top"):
        found.add("top")
    if suffix in ("mnb", "bot"):
        found.add("bottom")
    lettered: dict[str, Side] = {"f": "top", "t": "top", "b": "bottom"}
    if not found and words:
        # one letter may as well be a revision: it counts only where the name says that this is a placement file
        before_last, before, last = (["", "", *words])[-3:]
        if last in lettered and (suffix in ("pos", "xy", "pnp") or before in _PLACEMENT_WORDS):
            found |= {lettered[last]} if before not in _REVISION_WORDS else set()
        elif before in lettered and last in _PLACEMENT_WORDS:
            found |= {lettered[before]} if before_last not in _REVISION_WORDS else set()
    return found.pop() if len(found) == 1 else None


_LEGEND = re.compile(r"(?<![\w.])([A-Za-z0-9]{1,3})\s*[=:]\s*(top|bottom|bot|front|back)(?![a-z])", re.IGNORECASE)


def legend(text: str) -> dict[str, Side]:
    """What a line explains of its side marks: ``1 = top, 2 = bottom``."""
    found: dict[str, Side] = {}
    for mark, word in _LEGEND.findall(text):
        side = side_of_word(word)
        if side is not None:
            found[mark.casefold()] = side
    return found if len(set(found.values())) == 2 else {}
