"""What the heading of a placement column means: synonyms, coordinate pairs, units."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from overlay.board.placement.units import Unit, heading_unit

Role = Literal[
    "refdes", "refdes?", "x", "y", "xy", "rotation", "side", "mirror", "topflag", "package", "value", "part", "other"
]
# how well a pair of coordinates stands for the part: its centre, where it was put, its reference origin, its pin 1
Kind = Literal["centre", "pos", "ref", "pad"]
KINDS: tuple[Kind, ...] = ("centre", "pos", "ref")


@dataclass(frozen=True, slots=True)
class Column:
    """One heading as understood. ``roles`` are what it can mean, each with a rank (0 is the best)."""

    name: str
    roles: tuple[tuple[Role, int], ...] = ()
    kind: Kind = "pos"
    unit: Unit | None = None
    clockwise: bool = False
    radians: bool = False

    def rank(self, role: Role) -> int | None:
        """Rank of a role, None where the heading does not mean that."""
        return next((rank for own, rank in self.roles if own == role), None)

    @property
    def known(self) -> bool:
        return bool(self.roles)


def unaccented(text: str) -> str:
    """Text without case, and without the accents of Latin letters.

    >>> unaccented("Boîtier"), unaccented("Сторона"), unaccented("パッケージ")
    ('boitier', 'сторона', 'パッケージ')
    """
    kept = []
    for char in text.casefold().replace("ł", "l").replace("ø", "o"):
        parts = unicodedata.normalize("NFD", char)
        kept.append(parts[0] if parts[0].isascii() else char)
    return "".join(kept)


def _ranked(role: Role, *tiers: str) -> dict[str, tuple[Role, int]]:
    return {unaccented(word): (role, rank) for rank, words in enumerate(tiers) for word in words.split()}


# Keys are headings without case, blanks, marks and units.
_TABLES: tuple[dict[str, tuple[Role, int]], ...] = (
    _ranked(
        "refdes",
        "designator refdes refdesignator referencedesignator referencedesignators refdesig designators 位号 元件位号"
        " 元器件位号 器件位号 标号 元件标号 位置号",
        "ref refs reference references referenceid refid refname referencename componentdesignator partdesignator "
        "desig compref componentreference componentref partreference partref circuitreference circuitref cctref "
        "partid componentid repère repere bezeichner bauteilbezeichnung bauteilname referenz referencia "
        "riferimento позиционноеобозначение позобозначение обозначение поз リファレンス 回路番号 回路記号 部品記号 "
        "参照番号 symbolref designador identificador referentie referens referanse viite oznaczenie označení "
        "označenie jelölés referans reperes positionsbezeichnung positionsnummer referenzbezeichner posnr refdesi "
        "bezugszeichen desygnator 부품번호 참조번호 지정자 deviceid partlabel refnum refno compid",
    ),
    _ranked(
        "refdes?",
        "part parts component components comp name compname componentname partname item id symbol element bauteil"
        " bauelement instance inst location position 名称 元件 元件名 部品 部品名 device",
    ),
    _ranked(
        "rotation",
        "rotation rot rotate rotated rotationangle rotangle angle orientation orient orientationangle symrotate "
        "symrotation comprotation componentrotation partrotation placementrotation placementangle partangle "
        "drehung winkel drehwinkel rotationswinkel angulo ángulo angolo rotacion rotación rotazione orientación "
        "旋转 旋转角度 旋转角 角度 方向 回転 回転角 回転角度 угол поворот уголповорота ориентация rotação rotacao "
        "orientação obrót kąt rotatie draaiing hoek natočení úhel otočení vinkel rotasjon kulma kierto forgatás "
        "szög dönüş açı 회전 각도 rotz zrot zrotation rotationz rz rotationdegrees rotationdeg rotdeg rotdegrees "
        "angledeg angledegrees rotationdegree anglerotation",
        "theta phi deg degrees degree r a",
    ),
    _ranked(
        "side",
        "layer side tb topbottom topbot bottomtop toporbottom mountside mountingside boardside pcbside "
        "placementside placementlayer placelayer assemblyside componentside partside sideofboard boardlayer "
        "layername mountlayer mountinglayer compside complayer componentlayer symlayer layerside sidetb layertb "
        "sidelayer frontback fb placeside soldersidecomponentside 层 图层 板层 面 板面 所在层 层面 正反面 贴装面 "
        "实装面 実装面 面別 層 レイヤ レイヤー seite lage bestückungsseite bestückseite ebene cara capa lato côté "
        "couche сторона слой mountedon lado strona warstwa zijde laag strana vrstva sida lager puoli oldal réteg "
        "yüz katman 면 레이어 bestückungslage faccia camada sidename boardface mountface",
        "face surface lay bs",
    ),
    _ranked(
        "mirror",
        "mirror mirrored symmirror compmirror mirr flip flipped bottom isbottom onbottom bottomside gespiegelt miroir"
        " 镜像 反转 mirrorflag",
        "m",
    ),
    _ranked("topflag", "top istop ontop topside"),
    _ranked(
        "package",
        "footprint pcbfootprint pcbsymbol componentpackage libraryfootprint packagecase casepackage compfootprint "
        "landpattern footprintname componentfootprint partfootprint footprints",
        "pcbdecal partdecal decal pattern patternname landpatternname",
        "package pkg packagename packagetype packageref packages packagefootprint footprintpackage 封装 封装名称 "
        "元件封装 封装形式 корпус посадочноеместо パッケージ フットプリント gehäuse gehaeuse bauform empreinte "
        "boîtier boitier encapsulado huella contenitore encapsulamento obudowa behuizing pouzdro kapsel kapsling "
        "kotelo tok kılıf 패키지 풋프린트 padstackname landname footprintref fp packagefootprintname",
        "symname symbolname symbol comppackage cell cellname geometry geometryname case casesize casecode shape"
        " shapename module modulename 形状",
        "outline packagesize",
    ),
    _ranked(
        "value",
        "value val partvalue compvalue componentvalue wert valeur valor valore 值 元件值 参数 参数值 定数 値 "
        "номинал waarde wartość hodnota värde verdi arvo érték değer 값",
        "comment comments 注释 规格 kommentar commentaire comentario",
        "nominal rating",
        "description desc partdescription componentdescription compdescription 描述 beschreibung remarks 备注",
    ),
    _ranked(
        "part",
        "mpn manufacturerpartnumber manufacturerpart manufacturerpartno mfrpartnumber mfrpart mfrpartno mfrpn mfgpn"
        " mfgpartnumber mfgpart mfgpartno manufpn manufpartnumber manpn mfpn manufacturerpn manufacturerpartnum mpn1",
        "partnumber partno partnr pn partnum partnumbers 料号 物料编码 型号 品番 部品番号 物料号",
        "stockcode stocknumber stockno ordercode ordernumber orderno sku internalpn itemnumber itemno articlenumber"
        " articleno artikelnummer materialnumber companypn companypartnumber inhousepn ipn internalpartnumber",
        "supplierpart supplierpartnumber supplierpartno lcscpart lcscpartnumber lcsc jlcpcbpart digikeypartnumber"
        " vendorpartnumber distributorpartnumber",
        "parttype devicetype compdevicetype componenttype comptype",
        "device devicename deviceset",
        "part partname partdesc",
        "component componentname comp name",
        "libref libraryref libraryreference libname",
    ),
    _ranked(
        "xy", "position location coordinates coordinate coords xy xyposition positionxy locationxy center centroid"
    ),
)

# headings whose cells may look like designators and name something else: F1 is a feeder, T2 a tool, A7 a pin
_PIN_WORDS = "pin pinno pinnumber pinname pad padno padnumber padname net netname"
_OTHER_WORDS = (
    "feeder feederid feederno feedernumber stack stackno slot nozzle nozzlenum head tool toolno bank block page"
)
PIN_HEADINGS = frozenset(_PIN_WORDS.split())
NO_DESIGNATORS = PIN_HEADINGS | frozenset(_OTHER_WORDS.split())

# words around the axis of a coordinate heading, by what they say of the place
_KIND_WORDS: dict[Kind | None, str] = {
    "centre": (
        "mid midpoint middle center centre centroid ctr cntr cen centers geometric geometrical body mitte "
        "centrum mittelpunkt 中心 中心点 几何中心 центр centro"
    ),
    "pad": "pad pad1 padone pin pin1 pinone firstpin firstpad 1stpin 焊盘 引脚",
    "ref": "ref reference origin refpoint referencepoint insertion anchor 参考 参考点 原点",
    None: (
        "pos position loc location coord coords coordinate coordinates cord co place placement placed part comp "
        "delt component sym symbol abs absolute board pcb axis at mount mounting point cad of posição posicao "
        "pozycja współrzędna wspolrzedna positie coördinaat poloha souřadnice poz koordinat coords koordinaatti "
        "좌표 koordinate koordinaten koord coordenada coordonnée coordonnees coordinata posicion posición "
        "posizione 坐标 座標 位置 座標値 坐标值 координата коорд 方向坐标"
    ),
}
_COORDINATE_WORDS = {unaccented(word): kind for kind, words in _KIND_WORDS.items() for word in words.split()}
_WORDS = "|".join(sorted((re.escape(word) for word in _COORDINATE_WORDS), key=len, reverse=True))
_COORDINATE = re.compile(rf"(?P<before>(?:{_WORDS})*)(?P<axis>[xy])(?P<after>(?:{_WORDS})*)")
_CYRILLIC = str.maketrans({"х": "x", "у": "y"})
_COORDINATE_NAMES = {"横坐标": "x", "纵坐标": "y", "abscissa": "x", "ordinate": "y"}
_ANGLE_UNIT = re.compile(
    r"[(\[{（]\s*(deg(?:rees?)?\.?|°|º|rad(?:ians?)?|ccw|cw|counter-?\s?clockwise|anti-?\s?clockwise|clockwise|度)"
    r"(?:[\s,/]+(deg(?:rees?)?\.?|°|ccw|cw|counter-?\s?clockwise|clockwise))?\s*[)\]}）]",
    re.IGNORECASE,
)


@lru_cache(maxsize=20_000)  # asked for every row again
def key_of(text: str) -> str:
    """A heading without case, accents, blanks and marks."""
    return re.sub(r"[\W_]+", "", unaccented(text))


@lru_cache(maxsize=20_000)
def column_of(heading: str) -> Column:
    """What one heading means; a column without roles where it is not known.

    >>> column_of("Center-X(mil)").kind, column_of("PosX").rank("x"), column_of("X-Size").known
    ('centre', 0, False)
    """
    name = " ".join(heading.strip().strip('"').split())
    if not name or len(name) > 60:
        return Column(name)
    text, unit = heading_unit(name.lstrip("#*;").strip())
    turns = _ANGLE_UNIT.search(text)
    said = turns.group(0).casefold() if turns else ""
    bare = _ANGLE_UNIT.sub("", text)
    for candidate in dict.fromkeys((key_of(text), key_of(bare), key_of(re.sub(r"[(\[（].*?[)\]）]", "", bare)))):
        coordinate = _coordinate(candidate)
        if coordinate is not None:
            axis, kind = coordinate
            return Column(name, ((axis, 0),), kind, unit)
        roles = tuple(table[candidate] for table in _TABLES if candidate in table)
        if roles:
            clockwise = re.search(r"(?<!c)cw|(?<!counter)(?<!counter-)(?<!anti)(?<!anti-)clockwise", said) is not None
            return Column(name, roles, unit=unit, clockwise=clockwise, radians="rad" in said)
    if "/" in name:  # two names for one column of text
        for part in name.split("/"):
            roles = column_of(part).roles
            if roles and {role for role, _ in roles} <= {"part", "value", "package"}:
                return Column(name, roles)
    return Column(name)


def _coordinate(key: str) -> tuple[Literal["x", "y"], Kind] | None:
    if key in ("х", "у"):
        key = key.translate(_CYRILLIC)
    axis: Literal["x", "y"]
    if key in _COORDINATE_NAMES:
        return ("x" if _COORDINATE_NAMES[key] == "x" else "y"), "pos"
    match = _COORDINATE.fullmatch(key) or _COORDINATE.fullmatch(key.translate(_CYRILLIC))
    if match is None:
        return None
    axis = "x" if match.group("axis") == "x" else "y"
    words = set(re.findall(_WORDS, match.group("before")) + re.findall(_WORDS, match.group("after")))
    kinds = {_COORDINATE_WORDS[word] for word in words}
    told = kinds - {None}
    if len(told) > 1:
        return None  # "Reference Mid X" is two headings
    return axis, told.pop() or "pos" if told else "pos"


def heading_score(columns: tuple[Column, ...] | list[Column]) -> int:
    """How many different things of a placement these headings name; 0 where no placement can stand below them."""
    roles = [{role for role, _ in column.roles} for column in columns]
    x, y = any("x" in some for some in roles), any("y" in some for some in roles)
    known = sum(bool(some) for some in roles)
    named = any(some & {"refdes", "refdes?"} for some in roles)
    if x and y:
        return known if named or known >= 3 else 0
    pair = [column for column in columns if column.rank("xy") is not None]
    others = [column for column in columns if column.rank("xy") is None]
    turned = any(column.rank("rotation") == 0 for column in others)
    if pair and turned and any({"refdes", "refdes?"} & {role for role, _ in column.roles} for column in others):
        return known
    return 0
