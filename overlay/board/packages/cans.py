"""Bodies of aluminium cans and other parts with leads: round cans, discs, blocks, axial parts, lamps."""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.sizes import Named, cans, chips_by_inch, codes, round_body
from overlay.board.packages.words import DIMENSIONS, labelled_mm, sizes_mm

_CAN = re.compile(
    r"(?:^|[_\- ])(?:CP_ELEC|C_ELEC|CAP_ELEC|CAP-ELEC|ELEC|CAPAE|ELCO|ALCAP|CP_SMD|SMD[-_]CAP|UD|AL|ALSMD|ALUM[A-Z]*|"
    r"E?CAP-SMD)(?=[_\-\s]|$)"
)
_POLAR = re.compile(
    r"^(?:CP|CAPP|CPOL|C-?POL|ELCO|ELKO|CAP-TH|ECAP|EC)(?![A-Z])|ELECTRO|ALPOLY|POLAR(?!I)|CPOL|ELKO|ELCAP"
)
_DISC = re.compile(r"(?:^|[_\-\s])(?:DISC|DISK)(?=[_\-\s])")
_LED = re.compile(
    r"(?:^|[_\-\s])(?:LED|CHIPLED|PLCC-?[246](?!\d))(?=[_\-\s\d]|$)|^(?:SMD|PLCC2?)[-_]?(?:5050|2835|3528|3020)|"
    r"(?:^|[_\- ])(?:WS281\d[A-Z]?|APA10\d|SK68\d\d|SK98\d\d|WL-S[A-Z]{3})(?=[_\-\s]|$)|(?:^|[_\- ])RGB(?=[_\- ])"
)
_AXIAL_CODE = re.compile(
    r"(?:DIN|^|AXIAL[-_])(?P<code>0(?:204|207|309|411|414|516|617))(?:/\d+(?P<end>V)?|(?=[_\-\s]|$))"
)
# lead pitch and diameter behind E (E2,5-6), or as two lengths (RADIAL-2.5MM-6.5MM)
_PITCH_AND_DIAMETER = re.compile(
    r"(?:(?:^|[_\- ])(?:CPOL-E?U?)?E(?P<e1>\d(?:\.\d)?)-(?P<e2>\d{1,2}(?:\.\d)?)(?![\d.X])|"
    r"RADIAL-(?P<r1>\d{1,2}(?:\.\d+)?)MM-(?P<r2>\d{1,2}(?:\.\d+)?)MM)"
)
# pitch and sides in tenths of a millimetre (C050-024X044)
_FILM = re.compile(r"^C(?:AP)?(?P<pitch>\d{3})-(?P<wide>\d{3})X(?P<long>\d{3})")
# letter sizes of aluminium cans: side of the base (a widespread maker's letters, from memory)
_BASE_MM = {"A": 3.3, "B": 4.3, "C": 5.3, "D": 6.6, "E": 8.3, "F": 8.3, "G": 10.3, "H": 13.0, "J": 17.0, "K": 19.0}
_LETTERED = re.compile(r"PANASONIC[-_ ](?:SMDCAP[-_ ])?(?P<letter>[A-HJK])(?![A-Z0-9])")
RIM_MM = 0.4
"""Half of what the rim of a round lamp stands out beyond its dome: drawings give the one or the other."""


def named_can(name: str) -> Named | None:
    """An aluminium can for surface mounting: diameter by height, or the square base's side."""
    if (letter := _LETTERED.search(name)) is not None:
        return _on_base(_BASE_MM[letter["letter"]], None, f"aluminium can of size {letter['letter']}")
    if (series := re.search(r"\d{3}CLV-(?P<d>\d\d)(?P<h>\d\d)(?!\d)", name)) is not None:
        return Named(round_body(float(series["d"]), float(series["h"]), DIMENSIONS), kind="electrolytic")
    if (by_height := re.search(r"^CAP.*[-_ ]D(?P<d>\d{1,2}(?:\.\d+)?)X[LH](?P<h>\d{1,2}(?:\.\d+)?)", name)) is not None:
        return Named(round_body(float(by_height["d"]), float(by_height["h"]), DIMENSIONS), kind="electrolytic")
    if _CAN.search(name) is None or re.search(r"(?:^|[_\- ])TH(?=[_\- ])", name):
        diameter = labelled_mm(name, "BD")
        if diameter is None or "CAP" not in name:
            return None
        return Named(round_body(diameter, labelled_mm(name, "H"), DIMENSIONS), kind="electrolytic")
    base = re.search(r"(\d+(?:\.\d+)?)X(\d+(?:\.\d+)?)(?:MM)?[_-]?H(\d+(?:\.\d+)?)", name)
    if base is not None and base[1] == base[2]:
        return _on_base(float(base[1]), float(base[3]), DIMENSIONS)
    side = re.search(r"(?:^|[_\- ])(\d{1,2}(?:\.\d+)?)MM(?:[_\- ]+H(\d{1,2}(?:\.\d+)?)(?:MM)?)?(?=$|[_\- ])", name)
    if side is not None:
        return _on_base(float(side[1]), float(side[2]) if side[2] else None, DIMENSIONS)
    sizes = sizes_mm(name, bare=True)
    if sizes is not None and 2.0 <= sizes[0] <= 50.0 and 2.0 <= sizes[1] <= 100.0:
        return Named(round_body(sizes[0], sizes[1], DIMENSIONS), kind="electrolytic")
    diameter = labelled_mm(name, "D")
    if diameter is None:
        return None
    return Named(round_body(diameter, labelled_mm(name, "H"), DIMENSIONS), kind="electrolytic")


def _on_base(side_mm: float, height_mm: float | None, source: str) -> Named:
    """A can by the side of its square base; its diameter is what is seen from above."""
    nearest = min(cans("smd"), key=lambda can: abs((can.base_mm or 0.0) - side_mm))
    known = abs((nearest.base_mm or 0.0) - side_mm) <= 0.25
    return Named(round_body(nearest.diameter_mm if known else side_mm, height_mm, source), kind="electrolytic")


def named_radial(name: str) -> Named | None:
    """A part with leads on one side: round can, disc, or block."""
    polar = _POLAR.search(name) is not None
    if (film := _FILM.search(name)) is not None:
        sides = int(film["long"]) / 10, int(film["wide"]) / 10
        return _box(max(sides), min(sides), None, "film capacitor")
    if _DISC.search(name):
        length, width = labelled_mm(name, "D"), labelled_mm(name, "W")
        return None if length is None or width is None else _box(length, width, None, _first_kind(name))
    diameter, height = _diameter(name, polar), labelled_mm(name, "H")
    if diameter is not None and not name.startswith("LED"):
        if height is None and polar:
            height = next((can.height_mm for can in cans("radial") if abs(can.diameter_mm - diameter) < 0.26), None)
        kind = "electrolytic" if polar else _first_kind(name)
        return Named(round_body(diameter, height, DIMENSIONS), kind=kind)
    if "RECT" in name or "BOX" in name or "FILM" in name:
        length, width = labelled_mm(name, "L"), labelled_mm(name, "W")
        if length is not None and width is not None:
            return _box(length, width, labelled_mm(name, "H"), "film capacitor" if name[0] == "C" else "")
    return None


def _diameter(name: str, polar: bool) -> float | None:
    """Diameter of an upright round part, by its label, by pitch and diameter, or as the first of diameter × height."""
    diameter = labelled_mm(name, "BD")
    if diameter is None and ("RADIAL" in name or "ROUND" in name or polar or "TOROID" in name):
        diameter = labelled_mm(name, "D")
    if diameter is None and polar and (match := re.search(r"(?:^|[_\- ])D(\d{1,2}(?:\.\d+)?)S\d", name)):
        diameter = float(match[1])
    if diameter is None and (match := _PITCH_AND_DIAMETER.search(name)):
        pitch, diameter = float(match["e1"] or match["r1"]), float(match["e2"] or match["r2"])
        diameter = diameter if pitch < diameter <= 35.0 else None
    if diameter is None and polar and "-TH" not in name[:6] and (sizes := sizes_mm(name, bare=True)) is not None:
        # two lengths of a polar can: its diameter and the longer height
        diameter = sizes[0] if 3.0 <= sizes[0] <= 35.0 and sizes[1] > 0.5 * sizes[0] else None
    return diameter


def named_axial(name: str) -> Named | None:
    """A part with a lead at either end, lying (seen along its side) or on end (round from above)."""
    length, diameter = labelled_mm(name, "L"), labelled_mm(name, "BD") or labelled_mm(name, "D")
    match = _AXIAL_CODE.search(name)
    if match is not None and ("/" in match[0] or "AXIAL" in name or "DIN" in match[0]):
        source = f"axial size {match['code']} (DIN)"
        code_length, code_diameter, _ = codes("axial")[match["code"]]
        length, diameter = length or code_length, diameter or code_diameter
    elif "AXIAL" not in name and (labelled_mm(name, "BD") is None or labelled_mm(name, "W") is not None):
        return None
    else:
        source = DIMENSIONS
    if length is None or diameter is None:
        return None
    if "VERTICAL" in name or (match is not None and match["end"]):
        return Named(round_body(diameter, None, source), kind=_first_kind(name))
    return Named(Body(length, diameter, diameter, source, terminals="none"), kind=_first_kind(name))


def named_led(name: str, *, coded: bool = True) -> Named | None:
    """A lamp by its diameter, its sides, or a size code of lamps (inch codes of chips are read elsewhere)."""
    pattern = re.search(r"LED-THT-P\d{3}D(?P<d>\d{3})H(?P<h>\d{3,4})", name)
    if pattern is not None:
        return _lamp(int(pattern["d"]) / 100, int(pattern["h"]) / 100)
    if _LED.search(name) is None:
        return None
    if "HORIZONTAL" in name or "SIDE" in name or "SEG" in name or "DISPLAY" in name:
        return None  # lies beside its leads: where, the name does not say
    sizes = sizes_mm(name, bare=True)
    if sizes is not None:
        return _box(*sizes, "led")
    diameter = labelled_mm(name, "BD") or labelled_mm(name, "D")
    wide, high = labelled_mm(name, "W"), labelled_mm(name, "H")
    if diameter is not None and wide is not None and high is not None:
        return _box(wide, high, None, "led")  # a dome on a block: its sides are what is seen
    if diameter is None and (match := re.search(r"(?:^|[_\-\s]|LED)(1\.8|3|5|8|10)(?:\.0)?MM(?:$|[_\-\s])", name)):
        diameter = float(match[1])
    if diameter is None and (match := re.fullmatch(r"LED[-_ ]?(3|5|10)(?:[-_ ]?(?:TH|THT|PTH|ROUND|RADIAL).*)?", name)):
        diameter = float(match[1])
    if diameter is not None:
        return _lamp(diameter, labelled_mm(name, "H"))
    for match in re.finditer(r"(?<![A-Z\d])\d{4}(?!\d)|(?<=LED)\d{4}(?!\d)|(?<=SMD)\d{4}(?!\d)", name):
        if match[0] in codes("led"):
            x_mm, y_mm, height_mm = codes("led")[match[0]]
            return Named(Body(x_mm, y_mm, height_mm, f"lamp size code {match[0]}", terminals="none"), kind="led")
        sides = int(match[0][:2]) / 10, int(match[0][2:]) / 10
        if match[0] not in chips_by_inch() and min(sides) >= 0.8 and max(sides) <= 2.6 * min(sides) <= 20.0:
            return Named(Body(*sides, None, f"lamp size code {match[0]} (tenths)", terminals="none"), kind="led")
    return _carrier(name)


def _carrier(name: str) -> Named | None:
    """A lamp in a plastic leaded carrier, or with a driver of its own inside, named without a size."""
    if re.search(r"WS281[2-5]|APA10\d|SK6812(?![-_ ]?MINI|[-_ ]?SIDE)", name):
        return Named(Body(5.0, 5.0, 1.6, "usual lamp of this kind, 5050", estimated=True, terminals="none"), kind="led")
    if re.search(r"SK6812[-_ ]?MINI", name):
        return Named(Body(3.5, 3.5, 1.9, "usual lamp of this kind, 3535", estimated=True, terminals="none"), kind="led")
    if re.search(r"PLCC-?[24](?!\d)", name):
        return Named(Body(3.5, 2.8, 1.9, "PLCC lamp", terminals="none"), kind="led")
    return None


def _lamp(diameter_mm: float, height_mm: float | None) -> Named:
    # usual heights from memory
    height = height_mm or {3.0: 5.3, 5.0: 8.7}.get(diameter_mm)
    return Named(round_body(round(diameter_mm + RIM_MM, 2), height, f"{DIMENSIONS}, half of the rim"), kind="led")


def _box(x_mm: float, y_mm: float, height_mm: float | None, kind: str) -> Named:
    return Named(Body(x_mm, y_mm, height_mm, DIMENSIONS, terminals="none"), kind=kind)


def _first_kind(name: str) -> str:
    letter = re.match(r"[A-Z]+", name)
    return {"R": "resistor", "C": "capacitor", "L": "inductor", "D": "diode", "RV": "resistor", "F": "fuse"}.get(
        letter[0] if letter else "", ""
    )
