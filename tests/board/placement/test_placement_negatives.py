"""Files that hold numbers beside names and are no placement: each is refused, whatever the job states."""

from pathlib import Path

import pytest

from overlay.board.placement.read import read_placement

OTHERS = {
    "a purchasing list": 'Item,Qty,Reference,Value,Footprint\n1,2,"R1,R2",10k,R0603\n2,1,C1,100n,C0603\n',
    "prices": "Part,Qty,Unit price,Total,Stock\nR1,2,0.01,0.02,1000\nC1,3,0.05,0.15,500\nU1,1,1.20,1.20,90\n",
    "a drill file": "M48\nMETRIC,TZ\nT1C0.300\n%\nT1\nX12.5Y3.4\nX14.5Y3.4\nM30\n",
    "a test netlist": "P  UNITS CUST 0\n327GND   U1  -1  D0000PA01X+012500Y+003400X0600Y0600R000S2\n999\n",
    "a solid": "v 1.0 2.0 3.0\nv 2.0 3.0 4.0\nv 5.0 6.0 90.0\nf 1 2 3\n",
    "pins of one part": "Pin,Name,Bank,X,Y\nA1,GND,0,0.5,0.5\nA2,VCC,0,1.0,0.5\nB1,IO0,1,0.5,1.0\n",
    "pins of all parts": "RefDes,Pin,X,Y,Rotation,Net\nR1,1,12.5,3.4,90,GND\nR1,2,13.5,3.4,90,VCC\n"
    "C1,1,14.5,3.4,0,GND\nC1,2,15.5,3.4,0,VCC\n",
    "drills": "Tool  Diameter  Count  Plated\nT1    0.300     120    yes\nT2    0.800     14     yes\n",
    "temperatures": "time_s,U1,U2,U3\n0,23.1,23.2,23.0\n10,25.1,26.2,24.0\n20,27.1,28.2,25.0\n",
    "moves of a machine": "G21\nG90\nG0 X1.0 Y2.0 F1000\nG1 X2.0 Y3.0 F200\nG1 X4.0 Y3.0 F200\n",
    "test points": "TP1 NET_A 12.5 3.4 1.0\nTP2 NET_B 14.5 3.4 1.0\nTP3 NET_C 16.5 3.4 1.0\n",
    "vias": "VIA1 12.5 3.4 0.3\nVIA2 14.5 3.4 0.3\nVIA3 16.5 3.4 0.3\n",
    "a board file": '(board (version 2)\n  (part "Resistor" (layer "F.Cu")\n    (at 12.5 3.4 90)\n  )\n)\n',
    "a program": "R1 = (12.5, 3.4, 90)\nC1 = (14.5, 3.4, 0)\nU1 = (16.5, 3.4, 180)\nfor p in (R1, C1): print(p)\n",
    "a circuit": "R1 1 2 10k\nC1 2 0 100n\nV1 1 0 DC 5\nR2 3 4 22\n",
    "prose": "# Amplifier\nThe board has 12 resistors, 3.4 mm apart, 90 degrees.\nR1 is 10k, U1 3.3 V 500 mA.\n",
    "feeders": "Feeder,Part,X,Y,Rot,Height\nF1,10k,12.5,3.4,90,0.5\nF2,100n,14.5,3.4,90,0.8\nF3,22u,16.5,3.4,90,1.7\n",
    "feeders without a heading": "stack,0,1,12.3,44.5,90,0603,10k\nstack,0,2,32.3,44.5,90,0603,100n\n",
    "a frame": "23.1,23.2,23.3\n23.2,24.0,25.0\n",
    "steps of a panel": "Board,X offset,Y offset,Rotation\nB1,0,0,0\nB2,50,0,0\nB3,100,0,0\n",
}


@pytest.mark.parametrize("text", OTHERS.values(), ids=OTHERS.keys())
def test_another_file_is_refused(text: str, tmp_path: Path) -> None:
    (tmp_path / "file.csv").write_text(text)
    _, problems = read_placement(tmp_path / "file.csv", "file.csv", units="mm", side="top")
    assert any(problem.severity == "error" for problem in problems)
