"""The annotated component layer of the Gerber specification.

Source: Ucamco, The Gerber Layer Format Specification, section 6.9, "Assembly Data Set": resistor R301 is flashed at
(218.25, -73.00) mm with a rotation of -90°, its pin 1 at (218.25, -72.045).
"""

import math
from pathlib import Path

from overlay.board.placement.read import read_placement

# the facts of the example, set in commands of our own
LAYER = """\
%TF.FileFunction,Component,L1,Top*%
%FSLAX46Y46*%
%MOMM*%
%TA.AperFunction,ComponentMain*%
%ADD10C,0.300000*%
%TA.AperFunction,ComponentOutline,Courtyard*%
%ADD11C,0.100000*%
%TA.AperFunction,ComponentPin*%
%ADD12P,0.360000X4X0.000000*%
%TD*%
D10*
%TO.C,R301*%
%TO.CFtp,R_0805_2012Metric*%
%TO.CVal,4K7*%
%TO.CMnt,SMD*%
%TO.CRot,-90*%
X218250000Y-73000000D03*
D11*
X219250000Y-74690000D02*
X219250000Y-71310000D01*
X217250000Y-71310000D01*
D12*
%TO.P,R301,1*%
X218250000Y-72045000D03*
%TD*%
M02*
"""


def test_the_resistor_of_the_example_is_read(tmp_path: Path) -> None:
    path = tmp_path / "component.gbr"
    path.write_text(LAYER)
    placement, problems = read_placement(path, "component.gbr")
    assert not problems
    assert placement is not None
    assert placement.units == "mm"
    (part,) = placement.components
    assert (part.refdes, part.center_mm, part.rotation_deg, part.side) == ("R301", (218.25, -73.0), 270.0, "top")
    assert (part.package, part.value, part.line) == ("R_0805_2012Metric", "4K7", 17)


def test_pin_1_lies_where_the_rotation_puts_it(tmp_path: Path) -> None:
    path = tmp_path / "component.gbr"
    path.write_text(LAYER)
    placement, _ = read_placement(path, "component.gbr")
    assert placement is not None
    (part,) = placement.components
    turn = math.radians(part.rotation_deg)
    pin_1_at_zero = -0.955  # on the left, by half the distance of the two pins
    x = part.center_mm[0] + pin_1_at_zero * math.cos(turn)
    y = part.center_mm[1] + pin_1_at_zero * math.sin(turn)
    assert (round(x, 3), round(y, 3)) == (218.25, -72.045)
