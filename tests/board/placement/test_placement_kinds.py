"""Kinds of placement lists beyond plain tables: words of many languages, odd names, tables of machines; all invented."""

# ruff: noqa: E501, W291 -- lines are as long, and end as, exporters make them

from dataclasses import dataclass
from pathlib import Path

import pytest

from overlay.board.model import Side
from overlay.board.placement.read import read_placement


@dataclass(frozen=True)
class Kind:
    """A file, and what a careful reader finds in it: parts and lines left out, or the question it leaves open."""

    name: str
    text: str
    parts: list[tuple[str, float, float, float, str, str]] | str
    left_out: int = 0
    file: str = "board.csv"
    units: str | None = None
    side: Side | None = None
    encoding: str = "utf-8"


READ = [
    Kind(
        "fields prose",
        """\
SOME PICK AND PLACE FILE
========================

Component positions for amp.prj

Fields: Part ID, Value, Package, Layer, Rotation, X, Y
Units: Rotation - degrees, X, Y - thou
Notes: The X, Y value is the centre of package as drawn.

"C1","100n","CAP10",TOP,0,-2000,3550
"U1","LM,358","SO8",BOTTOM,90,100,200
""",
        [("C1", -50.8, 90.17, 0.0, "top", "CAP10"), ("U1", 2.54, 5.08, 90.0, "bottom", "SO8")],
        0,
    ),
    Kind(
        "odd names blank",
        """\
H$1 1.5 2.25 0 MOUNT
U$4 12.31 9.02 90 LOGO_X
X1-2 33.12 11.70 270 HDR2
PWR_LED 8.12 4.77 180 green LED0603
AMP/L 22.02 31.55 0 10k R0603
#1 12.0 3.81 90 10k R0603
Q1A 17.4 5.12 45 BC847 SOT23
""",
        [
            ("H$1", 1.5, 2.25, 0.0, "top", "MOUNT"),
            ("U$4", 12.31, 9.02, 90.0, "top", "LOGO_X"),
            ("X1-2", 33.12, 11.7, 270.0, "top", "HDR2"),
            ("PWR_LED", 8.12, 4.77, 180.0, "top", "LED0603"),
            ("AMP/L", 22.02, 31.55, 0.0, "top", "R0603"),
            ("#1", 12.0, 3.81, 90.0, "top", "R0603"),
            ("Q1A", 17.4, 5.12, 45.0, "top", "SOT23"),
        ],
        0,
        file="amp.mnt",
        units="mm",
    ),
    Kind(
        "words only headless",
        """\
MOTOR 10.50 12.75 90 CONN_2
SENSOR 20.50 12.75 0 CONN_3
BATTERY 30.50 2.10 180 JST_2
RESET 1.25 7.75 270 SW_6MM
""",
        [
            ("MOTOR", 10.5, 12.75, 90.0, "top", "CONN_2"),
            ("SENSOR", 20.5, 12.75, 0.0, "top", "CONN_3"),
            ("BATTERY", 30.5, 2.1, 180.0, "top", "JST_2"),
            ("RESET", 1.25, 7.75, 270.0, "top", "SW_6MM"),
        ],
        0,
        file="x_top.txt",
        units="mm",
    ),
    Kind(
        "quoted doubled rows",
        '''\
"Designator,""Comment"",""Layer"",""Footprint"",""Center-X(mm)"",""Center-Y(mm)"",""Rotation"""
"R1,""10k, 1%"",""TopLayer"",""R0603"",""10.0"",""2.0"",""90"""
"U1,""A 0.1"""" thing"",""BottomLayer"",""SO8"",""11.0"",""2.0"",""0"""
''',
        [("R1", 10.0, 2.0, 90.0, "top", "R0603"), ("U1", 11.0, 2.0, 0.0, "bottom", "SO8")],
        0,
    ),
    Kind(
        "triple quoted",
        '''\
"""Designator""","""Mid X""","""Mid Y""","""Layer""","""Rotation"""
"""R1""","""10.0mm""","""2.0mm""","""T""","""90"""
"""R2""","""12.0mm""","""2.0mm""","""B""","""0"""
''',
        [("R1", 10.0, 2.0, 90.0, "top", ""), ("R2", 12.0, 2.0, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "semicolon comment preamble",
        """\
;Placement
;Project = amp
;Coordinates in mm, centre of component
;No,Value,Package,X,Y,Rotation,Side,Name
1,10k,0603,4.1,5.2,90,Top,R1
2,100n,0603,6.1,5.2,0,Bottom,C1
3,,,6.4,9.2,0,Bottom,Fill 7
""",
        [
            ("R1", 4.1, 5.2, 90.0, "top", "0603"),
            ("C1", 6.1, 5.2, 0.0, "bottom", "0603"),
            ("Fill 7", 6.4, 9.2, 0.0, "bottom", ""),
        ],
        0,
    ),
    Kind(
        "values as names",
        """\
Part,X(mm),Y(mm),Angle,Side
2N3904,1,2,0,top
2N3904,11,2,0,top
LM7805,21,2,0,top
C1,31,2,0,top
C2,31,5,0,top
C3,31,8,0,top
""",
        [
            ("2N3904 (line 2)", 1.0, 2.0, 0.0, "top", ""),
            ("2N3904 (line 3)", 11.0, 2.0, 0.0, "top", ""),
            ("LM7805", 21.0, 2.0, 0.0, "top", ""),
            ("C1", 31.0, 2.0, 0.0, "top", ""),
            ("C2", 31.0, 5.0, 0.0, "top", ""),
            ("C3", 31.0, 8.0, 0.0, "top", ""),
        ],
        1,
    ),
    Kind(
        "placeholders",
        """\
Ref,Val,Package,PosX,PosY,Rot,Side
"R1","10k","R_0603",1.0,2.0,0,top
"REF**","hole","MountingHole",3.0,2.0,0,top
"(unknown)","x","y",4.0,2.0,0,top
"R2","10k","R_0603",5.0,2.0,0,top
""",
        [("R1", 1.0, 2.0, 0.0, "top", "R_0603"), ("R2", 5.0, 2.0, 0.0, "top", "R_0603")],
        2,
        units="mm",
    ),
    Kind(
        "case twins",
        """\
Ref,X(mm),Y(mm),Rot,Side
r1,1,2,0,top
R1,3,2,0,top
R2,3,5,0,top
""",
        [("r1", 1.0, 2.0, 0.0, "top", ""), ("R1", 3.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 5.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "feeder table first",
        """\
Feeder,Part,Package,Height
1,10k,R0603,0.5
2,100n,C0603,0.8

Designator,Comment,Footprint,Mid X(mm),Mid Y(mm),Rotation,Layer,Head,FeederNo,Mode,Skip
R1,10k,R0603,1.5,2.5,90,Top,1,1,1,No
C1,100n,C0603,3.5,2.5,0,Top,2,2,1,No
""",
        [("R1", 1.5, 2.5, 90.0, "top", "R0603"), ("C1", 3.5, 2.5, 0.0, "top", "C0603")],
        0,
    ),
    Kind(
        "row longer than heading",
        """\
Designator,Mid X,Mid Y,Layer,Rotation
R1,1.0mm,2.0mm,T,90,smd
R2,4.0mm,2.0mm,B,0,smd
""",
        [("R1", 1.0, 2.0, 90.0, "top", ""), ("R2", 4.0, 2.0, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "row longer than heading 2",
        """\
Designator,Footprint,Mid X,Mid Y,Layer,Rotation,Comment
R1,R0603,1.0mm,2.0mm,T,90,10k,extra
R2,R0603,4.0mm,2.0mm,B,0,22k,
""",
        [("R1", 1.0, 2.0, 90.0, "top", "R0603"), ("R2", 4.0, 2.0, 0.0, "bottom", "R0603")],
        0,
    ),
    Kind(
        "nozzles, stacks and explanation",
        """\
Designator,NozzleNum,StackNum,Mid X,Mid Y,Rotation,Height,Speed,Vision,Pressure,Explanation
Mark,0,0,1.00,2.00,0,0,0,None,False,Mark
C1,1,3,12.50,8.25,90,0.5,100,Quick,True,100n 0603
C2,2,3,14.50,8.25,0,0.5,100,Quick,True,100n 0603
""",
        [("Mark", 1.0, 2.0, 0.0, "top", ""), ("C1", 12.5, 8.25, 90.0, "top", ""), ("C2", 14.5, 8.25, 0.0, "top", "")],
        0,
        units="mm",
        side="top",
    ),
    Kind(
        "german",
        """\
Bauteil;Wert;Gehäuse;X [mm];Y [mm];Winkel;Seite
R1;10k;0603;1,5;2,25;90;Bestückungsseite
C1;100n;0603;3,5;2,25;0;Lötseite
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
        encoding="cp1252",
    ),
    Kind(
        "french",
        """\
Repère;Valeur;Boîtier;X (mm);Y (mm);Rotation;Face
R1;10k;0603;1,5;2,25;90;Dessus
C1;100n;0603;3,5;2,25;0;Dessous
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
        encoding="cp1252",
    ),
    Kind(
        "italian",
        """\
Riferimento;Valore;Contenitore;Posizione X (mm);Posizione Y (mm);Rotazione;Lato
R1;10k;0603;1,5;2,25;90;Sopra
C1;100n;0603;3,5;2,25;0;Sotto
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "spanish",
        """\
Referencia;Valor;Encapsulado;Coordenada X (mm);Coordenada Y (mm);Ángulo;Cara
R1;10k;0603;1,5;2,25;90;Superior
C1;100n;0603;3,5;2,25;0;Inferior
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "portuguese",
        """\
Designador;Valor;Encapsulamento;Posição X (mm);Posição Y (mm);Rotação;Lado
R1;10k;0603;1,5;2,25;90;Superior
C1;100n;0603;3,5;2,25;0;Inferior
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "polish",
        """\
Oznaczenie;Wartość;Obudowa;X [mm];Y [mm];Obrót;Strona
R1;10k;0603;1,5;2,25;90;Góra
C1;100n;0603;3,5;2,25;0;Dół
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "dutch",
        """\
Referentie;Waarde;Behuizing;X (mm);Y (mm);Rotatie;Zijde
R1;10k;0603;1,5;2,25;90;Boven
C1;100n;0603;3,5;2,25;0;Onder
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "czech",
        """\
Označení;Hodnota;Pouzdro;X [mm];Y [mm];Natočení;Strana
R1;10k;0603;1,5;2,25;90;Horní
C1;100n;0603;3,5;2,25;0;Spodní
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "swedish",
        """\
Referens;Värde;Kapsel;X (mm);Y (mm);Rotation;Sida
R1;10k;0603;1,5;2,25;90;Ovansida
C1;100n;0603;3,5;2,25;0;Undersida
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "russian",
        """\
Обозначение;Номинал;Корпус;X, мм;Y, мм;Угол;Сторона
R1;10k;0603;1,5;2,25;90;Верх
C1;100n;0603;3,5;2,25;0;Низ
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
        encoding="cp1251",
    ),
    Kind(
        "korean",
        """\
부품번호,값,패키지,X좌표(mm),Y좌표(mm),회전,면
R1,10k,0603,1.5,2.25,90,TOP
C1,100n,0603,3.5,2.25,0,BOTTOM
""",
        [("R1", 1.5, 2.25, 90.0, "top", "0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "two tables with side titles",
        """\
TOP SIDE
RefDes,X(mm),Y(mm),Rot,Package
R1,1,2,0,R0603
R2,3,2,0,R0603

BOTTOM SIDE
RefDes,X(mm),Y(mm),Rot,Package
C1,1,2,0,C0603
""",
        [
            ("R1", 1.0, 2.0, 0.0, "top", "R0603"),
            ("R2", 3.0, 2.0, 0.0, "top", "R0603"),
            ("C1", 1.0, 2.0, 0.0, "bottom", "C0603"),
        ],
        0,
    ),
    Kind(
        "side rows in table",
        """\
RefDes,X(mm),Y(mm),Rot,Package
Top,,,,
R1,1,2,0,R0603
R2,3,2,0,R0603
Bottom,,,,
C1,1,2,0,C0603
""",
        [
            ("R1", 1.0, 2.0, 0.0, "top", "R0603"),
            ("R2", 3.0, 2.0, 0.0, "top", "R0603"),
            ("C1", 1.0, 2.0, 0.0, "bottom", "C0603"),
        ],
        0,
    ),
    Kind(
        "smd and tht sections",
        """\
SMD components
RefDes;X [mm];Y [mm];Rot;Side
R1;1.5;2.5;0;Top

THT components
RefDes;X [mm];Y [mm];Rot;Side
J1;10.5;2.5;0;Top
""",
        [("R1", 1.5, 2.5, 0.0, "top", ""), ("J1", 10.5, 2.5, 0.0, "top", "")],
        0,
    ),
    Kind(
        "totals",
        """\
RefDes,X(mm),Y(mm),Rot,Side
R1,1,2,0,top
R2,3,2,0,top
Total components: 2,,,,
,,,,
Printed 12.03.2024 14:55,,,,
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "thousands sep",
        """\
RefDes,X (um),Y (um),Rot,Side
R1,"12,345","2,000",0,top
R2,"112,345.5","22,000",0,top
""",
        [("R1", 12.345, 2.0, 0.0, "top", ""), ("R2", 112.3455, 22.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "qty column first",
        """\
Item,Qty,RefDes,Value,Footprint,X (mm),Y (mm),Rotation,Side
1,1,R1,10k,0603,1.0,2.0,0,Top
2,1,C1,1u,0603,3.0,2.0,0,Bottom
""",
        [("R1", 1.0, 2.0, 0.0, "top", "0603"), ("C1", 3.0, 2.0, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "body center and origin",
        """\
Designator,Footprint,Body Center X,Body Center Y,Origin X,Origin Y,Pin 1 X,Pin 1 Y,Rotation,Layer,Units
R1,R0603,1.0,2.0,1.1,2.0,0.5,2.0,0,Top,mm
U1,SO8,11.0,2.0,9.1,2.0,8.5,2.0,90,Bottom,mm
""",
        [("R1", 1.0, 2.0, 0.0, "top", "R0603"), ("U1", 11.0, 2.0, 90.0, "bottom", "SO8")],
        0,
    ),
    Kind(
        "unit column",
        """\
RefDes,X,Y,Unit,Rot,Side
R1,100,200,mil,0,top
R2,300,200,mil,0,top
""",
        [("R1", 2.54, 5.08, 0.0, "top", ""), ("R2", 7.62, 5.08, 0.0, "top", "")],
        0,
    ),
    Kind(
        "layer names",
        """\
RefDes,X(mm),Y(mm),Rot,Layer
R1,1,2,0,F.Cu
R2,3,2,0,B.Cu
R3,5,2,0,SMT_TOP
R4,7,2,0,Bottom Layer (solder)
""",
        [
            ("R1", 1.0, 2.0, 0.0, "top", ""),
            ("R2", 3.0, 2.0, 0.0, "bottom", ""),
            ("R3", 5.0, 2.0, 0.0, "top", ""),
            ("R4", 7.0, 2.0, 0.0, "bottom", ""),
        ],
        0,
    ),
    Kind(
        "dollar refs csv",
        """\
Designator,Mid X (mm),Mid Y (mm),Layer,Rotation
U$1,1,2,Top,0
J1/A,3,2,Top,0
R_3,5,2,Top,0
IC-4,7,2,Top,0
LED#5,9,2,Top,0
""",
        [
            ("U$1", 1.0, 2.0, 0.0, "top", ""),
            ("J1/A", 3.0, 2.0, 0.0, "top", ""),
            ("R_3", 5.0, 2.0, 0.0, "top", ""),
            ("IC-4", 7.0, 2.0, 0.0, "top", ""),
            ("LED#5", 9.0, 2.0, 0.0, "top", ""),
        ],
        0,
    ),
    Kind(
        "utf16 no bom lf",
        "RefDes\tX(mm)\tY(mm)\tRot\tSide\nR1\t1\t2\t0\ttop\n",
        [("R1", 1.0, 2.0, 0.0, "top", "")],
        0,
        encoding="utf-16-le",
    ),
    Kind(
        "mils with decimals heading mil deg",
        """\
Ref Des;Location X (mils);Location Y (mils);Rotation (deg);Board Side
R1;1234.567;-200.5;90.000;Top
R2;1334.567;-200.5;90.000;Bot
""",
        [("R1", 31.358002, -5.0927, 90.0, "top", ""), ("R2", 33.898002, -5.0927, 90.0, "bottom", "")],
        0,
    ),
    Kind(
        "microns",
        """\
REFDES X(UM) Y(UM) ROT SIDE
R1 12500 3300 90 TOP
R2 22500 3300 0 BOT
""",
        [("R1", 12.5, 3.3, 90.0, "top", ""), ("R2", 22.5, 3.3, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "y before x",
        """\
Ref,Y (mm),X (mm),Rot,Side
R1,1,2,0,top
R2,3,4,0,top
""",
        [("R1", 2.0, 1.0, 0.0, "top", ""), ("R2", 4.0, 3.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "stations before components with delta coordinates",
        """\
separated
FILE,amp.dpv
PCBFILE,amp.csv
DATE,2023/01/02

Table,No.,ID,DeltX,DeltY,FeedRates,Note,Height,Speed,Status,SizeX,SizeY
Station,0,1,0.1,0.2,4,10k 0603,0.5,0,2,0,0
Station,1,2,-0.1,0.2,4,100n 0603,0.5,0,2,0,0

Table,No.,ID,PHead,STNo.,DeltX,DeltY,Angle,Height,Skip,Speed,Explain,Note,Delay
EComponent,0,1,1,1,12.5,3.4,90,0.5,0,0,R1,10k 0603,0
EComponent,1,2,2,2,14.5,3.4,0,0.5,0,0,C1,100n 0603,0
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("C1", 14.5, 3.4, 0.0, "top", "")],
        1,
        units="mm",
        side="top",
    ),
    Kind(
        "commented preamble with the side and the unit",
        """\
# Pick&Place Position Data File (Top)
#
# Project Name:        amp
# Project Version:     v1
# Board Name:          default
# Generator:           made by hand
# Unit:                mm
# Rotation:            Degrees CCW
# Board Side:          Top
# Fiducials:           No
#
Designator,Value,Device,Package,Position X,Position Y,Rotation,Type
"C1","100n","C-0603","C-0603",12.5,3.4,90,"SMT"
"R1","10k","R-0603","R-0603",14.5,3.4,0,"SMT"
""",
        [("C1", 12.5, 3.4, 90.0, "top", "C-0603"), ("R1", 14.5, 3.4, 0.0, "top", "R-0603")],
        0,
    ),
    Kind(
        "no heading, a side between package and rotation",
        """\
"C1","100n","CAP10",TOP,0,-2000,3550
"U1","LM358","SO8",TOP,90,100,200
"U2","LM358","SO8",BOTTOM,90,1100,200
""",
        [
            ("C1", -50.8, 90.17, 0.0, "top", "CAP10"),
            ("U1", 2.54, 5.08, 90.0, "top", "SO8"),
            ("U2", 27.94, 5.08, 90.0, "bottom", "SO8"),
        ],
        0,
        units="mil",
    ),
    Kind(
        "designator with spaces aligned",
        """\
Designator   X(mm)    Y(mm)    Rotation  Side
Logo 1       1.00     2.00     0.0       top
Mark top     3.00     4.50     90.0      top
R1           5.00     6.00     90.0      top
""",
        [
            ("Logo 1", 1.0, 2.0, 0.0, "top", ""),
            ("Mark top", 3.0, 4.5, 90.0, "top", ""),
            ("R1", 5.0, 6.0, 90.0, "top", ""),
        ],
        0,
    ),
    Kind(
        "part name, decal and part type",
        """\
PartName  PartDecal  PartType   X      Y     Orient.  Layer
R1        R0603      RES        12.5   3.4   90.00    Top
C1        C0603      CAP        14.5   3.4   0.00     Bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "C0603")],
        0,
        units="mm",
    ),
    Kind(
        "heading commented with an exclamation mark",
        """\
! Units: TH
! Ref   Part            Cell       X        Y        Rot  Side
R1      RES-10K         R0603      1200.5   350.0    90   Top
C1      CAP-100N        C0603      1300.5   350.0    0    Bottom
""",
        [("R1", 30.4927, 8.89, 90.0, "top", "R0603"), ("C1", 33.0327, 8.89, 0.0, "bottom", "C0603")],
        0,
    ),
    Kind(
        "csv unit in title",
        """\
Pick and place file in mm
Ref,X,Y,Rot,Side
R1,1.5,2.5,90,top
""",
        [("R1", 1.5, 2.5, 90.0, "top", "")],
        0,
    ),
    Kind(
        "csv units prose (all values mm)",
        """\
All values in millimeters / degrees
Ref;X;Y;Rot;Side
R1;1.5;2.5;90;top
""",
        [("R1", 1.5, 2.5, 90.0, "top", "")],
        0,
    ),
    Kind(
        "sides Top 1 Bottom 16",
        """\
Ref,X(mm),Y(mm),Rot,Layer
R1,1,2,0,1 - Top
R2,3,2,0,16 - Bottom
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 2.0, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "mirror false/true",
        """\
RefDes,X(mm),Y(mm),Angle,Mirrored
R1,1,2,0,FALSE
R2,3,2,0,TRUE
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 2.0, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "rotation R90 CSV",
        """\
Name,X [mm],Y [mm],Angle,Package,Value
R1,1,2,R90,R0603,10k
U1,3,2,MR180,SO8,LM358
""",
        [("R1", 1.0, 2.0, 90.0, "top", "R0603"), ("U1", 3.0, 2.0, 180.0, "bottom", "SO8")],
        0,
    ),
    Kind(
        "rot with degree sign",
        """\
Name;X [mm];Y [mm];Angle;Side
R1;1;2;90°;top
U1;3;2;180,0°;bottom
""",
        [("R1", 1.0, 2.0, 90.0, "top", ""), ("U1", 3.0, 2.0, 180.0, "bottom", "")],
        0,
    ),
    Kind(
        "units in rows with space",
        """\
Designator,X,Y,Rotation,Layer
R1,12.5 mm,3.4 mm,90 deg,Top
R2,14.5 mm,3.4 mm,0 deg,Bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("R2", 14.5, 3.4, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "metric and imperial columns",
        """\
RefDes,X (mm),Y (mm),X (in),Y (in),Rot,Side
R1,25.4,12.7,1.0,0.5,0,top
R2,50.8,12.7,2.0,0.5,0,bottom
""",
        [("R1", 25.4, 12.7, 0.0, "top", ""), ("R2", 50.8, 12.7, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "x y in one cell",
        """\
RefDes,Location,Rotation,Side
R1,"12.5mm, 3.4mm",90,top
R2,"14.5mm, 3.4mm",0,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("R2", 14.5, 3.4, 0.0, "top", "")],
        0,
    ),
    Kind(
        "center x + corner x",
        """\
Designator,Corner X (mm),Corner Y (mm),Center X (mm),Center Y (mm),Rotation,Side
R1,1,2,1.8,2.4,90,top
R2,3,2,3.8,2.4,0,top
""",
        [("R1", 1.8, 2.4, 90.0, "top", ""), ("R2", 3.8, 2.4, 0.0, "top", "")],
        0,
    ),
    Kind(
        "size columns",
        """\
Designator,Package,Length,Width,Height,X (mm),Y (mm),Rotation,Side
R1,0603,1.6,0.8,0.5,1,2,90,top
R2,0603,1.6,0.8,0.5,3,2,90,top
""",
        [("R1", 1.0, 2.0, 90.0, "top", "0603"), ("R2", 3.0, 2.0, 90.0, "top", "0603")],
        0,
    ),
    Kind(
        "quoted numbers with comma",
        """\
Designator;X (mm);Y (mm);Rotation;Side
"R1";"1,25";"2,5";"90,00";"top"
"R2";"3,25";"2,5";"0,00";"bottom"
""",
        [("R1", 1.25, 2.5, 90.0, "top", ""), ("R2", 3.25, 2.5, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "comma delim quoted comma decimals",
        """\
Designator,X (mm),Y (mm),Rotation,Side
R1,"1,25","2,5","90,00",top
R2,"3,25","2,5","0,00",bottom
""",
        [("R1", 1.25, 2.5, 90.0, "top", ""), ("R2", 3.25, 2.5, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "fixed width with blank value and package",
        """\
Ref      Val        Package       PosX       PosY     Rot   Side
C1       100n       C_0603       12.5000     3.4000   90.0  top
C2                  C_0603       14.5000     3.4000   90.0  top
U1       LM358                   16.5000     3.4000   90.0  bottom
""",
        [
            ("C1", 12.5, 3.4, 90.0, "top", "C_0603"),
            ("C2", 14.5, 3.4, 90.0, "top", "C_0603"),
            ("U1", 16.5, 3.4, 90.0, "bottom", ""),
        ],
        0,
        units="mm",
    ),
    Kind(
        "page breaks",
        """\
Placement report   Page 1
Ref      Package     X(mm)   Y(mm)   Rot   Side
R1       R0603       1.00    2.00    0     Top
Placement report   Page 2
Ref      Package     X(mm)   Y(mm)   Rot   Side
R2       R0603       3.00    2.00    0     Top
""",
        [("R1", 1.0, 2.0, 0.0, "top", "R0603"), ("R2", 3.0, 2.0, 0.0, "top", "R0603")],
        0,
    ),
    Kind(
        "negative with trailing minus?",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,-1.5,-2.25,0,top
R2,+3.5,2.25,-90,top
""",
        [("R1", -1.5, -2.25, 0.0, "top", ""), ("R2", 3.5, 2.25, 270.0, "top", "")],
        0,
    ),
    Kind(
        "nanometers",
        """\
Ref,X(nm),Y(nm),Rot,Side
R1,1500000,2250000,0,top
""",
        [("R1", 1.5, 2.25, 0.0, "top", "")],
        0,
    ),
    Kind(
        "1/100 mm",
        """\
Units: 1/100 mm
Ref,X,Y,Rot,Side
R1,150,225,0,top
""",
        [("R1", 1.5, 2.25, 0.0, "top", "")],
        0,
    ),
    Kind(
        "10 mil?",
        """\
Unit,0.0001 inch
Ref,X,Y,Rot,Side
R1,15000,22500,0,top
""",
        [("R1", 38.1, 57.15, 0.0, "top", "")],
        0,
    ),
    Kind(
        "csv with leading blank col",
        """\
,Ref,X(mm),Y(mm),Rot,Side
,R1,1,2,0,top
,R2,3,2,0,top
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "mixed case double heading",
        "REF DES\tPART NUMBER\tX COORD\tY COORD\tROTATION\tSIDE\n\t \t(mm)\t(mm)\t(deg)\t\nR1\tRC0603\t1.0\t2.0\t90\tTOP\nR2\tRC0603\t3.0\t2.0\t90\tTOP\n",
        [("R1", 1.0, 2.0, 90.0, "top", ""), ("R2", 3.0, 2.0, 90.0, "top", "")],
        0,
    ),
    Kind(
        "tab with comments inside",
        "# generated\nDesignator\tX\tY\tRotation\tSide\n# top\nR1\t1.0mm\t2.0mm\t90\ttop\n# bottom\nR2\t3.0mm\t2.0mm\t90\tbottom\n",
        [("R1", 1.0, 2.0, 90.0, "top", ""), ("R2", 3.0, 2.0, 90.0, "bottom", "")],
        0,
    ),
    Kind(
        "sum row numbers",
        """\
Designator,X(mm),Y(mm),Rotation,Side
R1,1,2,0,top
R2,3,2,0,top
Total,2,,,
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "pnp with angle words",
        """\
Designator,X(mm),Y(mm),Rotation,Side
R1,1,2,0 degrees,top
R2,3,2,90 degrees,top
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 3.0, 2.0, 90.0, "top", "")],
        0,
    ),
    Kind(
        "value/pack in one",
        """\
Designator,Value/Package,X(mm),Y(mm),Rotation,Side
R1,10k/R0603,1,2,0,top
""",
        [("R1", 1.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "mnt 5 cols no value",
        """\
R1   1.50  2.25  90  R0603
R2   3.50  2.75  0   R0603
C11  13.50 2.75  270 C0603
IC1  23.50 12.25 180 SO08
""",
        [
            ("R1", 1.5, 2.25, 90.0, "bottom", "R0603"),
            ("R2", 3.5, 2.75, 0.0, "bottom", "R0603"),
            ("C11", 13.5, 2.75, 270.0, "bottom", "C0603"),
            ("IC1", 23.5, 12.25, 180.0, "bottom", "SO08"),
        ],
        0,
        file="a.mnb",
        units="mm",
    ),
    Kind(
        "mnt with MR",
        """\
R1 1.50 2.25 R90 10k R0603
R2 3.50 2.75 MR0 10k R0603
""",
        [("R1", 1.5, 2.25, 90.0, "top", "R0603"), ("R2", 3.5, 2.75, 0.0, "bottom", "R0603")],
        0,
        file="a.txt",
        units="mm",
    ),
    Kind(
        "headless tabs with side mid",
        "R1\t10k\tR0603\t1.50\t2.25\t90\tTop\nC1\t100n\tC0603\t3.50\t2.25\t0\tBottom\n",
        [("R1", 1.5, 2.25, 90.0, "top", "R0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "C0603")],
        0,
        file="a.txt",
        units="mm",
    ),
    Kind(
        "headless ; decimal comma",
        """\
R1;10k;R0603;1,50;2,25;90;Top
C1;100n;C0603;3,50;2,25;0;Bottom
""",
        [("R1", 1.5, 2.25, 90.0, "top", "R0603"), ("C1", 3.5, 2.25, 0.0, "bottom", "C0603")],
        0,
        file="a.txt",
        units="mm",
    ),
    Kind(
        "headless names repeated value",
        """\
LED 1.50 2.25 90 LED0603
LED 3.50 2.75 0 LED0603
R1 13.50 2.75 0 R0603
R2 13.50 5.75 0 R0603
R3 13.50 7.75 0 R0603
R4 13.50 8.75 0 R0603
R5 13.50 9.75 0 R0603
R6 13.50 12.25 0 R0603
R7 13.50 13.75 0 R0603
R8 13.50 14.75 0 R0603
R9 13.50 22.75 0 R0603
""",
        [
            ("LED (line 1)", 1.5, 2.25, 90.0, "top", "LED0603"),
            ("LED (line 2)", 3.5, 2.75, 0.0, "top", "LED0603"),
            ("R1", 13.5, 2.75, 0.0, "top", "R0603"),
            ("R2", 13.5, 5.75, 0.0, "top", "R0603"),
            ("R3", 13.5, 7.75, 0.0, "top", "R0603"),
            ("R4", 13.5, 8.75, 0.0, "top", "R0603"),
            ("R5", 13.5, 9.75, 0.0, "top", "R0603"),
            ("R6", 13.5, 12.25, 0.0, "top", "R0603"),
            ("R7", 13.5, 13.75, 0.0, "top", "R0603"),
            ("R8", 13.5, 14.75, 0.0, "top", "R0603"),
            ("R9", 13.5, 22.75, 0.0, "top", "R0603"),
        ],
        1,
        file="a_top.txt",
        units="mm",
    ),
    Kind(
        "tab with spaces pad",
        "Designator\tComment\tFootprint\tMid X\tMid Y\tRotation\tLayer\n C1 \t 100n \t C0603 \t 1.5mm \t 2.5mm \t 90 \t Top \n",
        [("C1", 1.5, 2.5, 90.0, "top", "C0603")],
        0,
    ),
    Kind(
        "easyeda std",
        """\
Designator,Footprint,Mid X,Mid Y,Ref X,Ref Y,Pad X,Pad Y,Layer,Rotation,Comment
"C1","C0603","12.5mm","3.4mm","12.5mm","3.4mm","12.5mm","2.7mm","T","90","100nF"
"U1","SOIC-8_L4.9","22.5mm","13.4mm","22.5mm","13.4mm","20.5mm","12.7mm","B","270","LM358"
""",
        [("C1", 12.5, 3.4, 90.0, "top", "C0603"), ("U1", 22.5, 13.4, 270.0, "bottom", "SOIC-8_L4.9")],
        0,
    ),
    Kind(
        "easyeda mil",
        "Designator\tFootprint\tMid X\tMid Y\tRef X\tRef Y\tPad X\tPad Y\tLayer\tRotation\tComment\nC1\tC0603\t492.13mil\t133.86mil\t492.13mil\t133.86mil\t492mil\t106.3mil\tT\t90\t100nF\n",
        [("C1", 12.500102, 3.400044, 90.0, "top", "C0603")],
        0,
    ),
    Kind(
        "diptrace inch",
        """\
RefDes;Name;X (in);Y (in);Side;Rotate;Value;Pattern
C1;CAP;0.5;0.25;Top;90;100n;C0603
U1;AMP;1.5;0.75;Bottom;0;LM358;SO8
""",
        [("C1", 12.7, 6.35, 90.0, "top", "C0603"), ("U1", 38.1, 19.05, 0.0, "bottom", "SO8")],
        0,
    ),
    Kind(
        "sprint layout",
        """\
Layer;Id;Value;Package;PosX;PosY;Rotation
Top;R1;10k;0603;12,50;3,40;90
Bottom;C1;100n;0603;14,50;3,40;0
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
        units="mm",
    ),
    Kind(
        "target",
        "Bauteil\tWert\tGehäuse\tX\tY\tDrehung\tLage\nR1\t10k\t0603\t12.5\t3.4\t90\toben\nC1\t100n\t0603\t14.5\t3.4\t0\tunten\n",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
        units="mm",
    ),
    Kind(
        "openpnp csv",
        """\
Placement,PartID,Package,Value,X,Y,Rotation,Side
R1,R0603-10K,R0603,10k,12.5,3.4,90,Top
C1,C0603-100N,C0603,100n,14.5,3.4,0,Bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "C0603")],
        0,
        units="mm",
    ),
    Kind(
        "designator list name",
        '''\
"Ref","Val","Package","PosX","PosY","Rot","Side"
"C1","4.7uF, 10V, X5R","C_0603_1608Metric",12.5,-3.4,90.000000,"top"
"J1","USB ""C""","Conn",22.5,-3.4,90.000000,"bottom"
''',
        [("C1", 12.5, -3.4, 90.0, "top", "C_0603_1608Metric"), ("J1", 22.5, -3.4, 90.0, "bottom", "Conn")],
        0,
        units="mm",
    ),
    Kind(
        "kicad all pos spaces in package",
        """\
### Footprint positions - created on 2024 ###
## Unit = mm, Angle = deg.
## Side : top
# Ref     Val                   Package                          PosX       PosY       Rot  Side
C1        100nF                 C_0603_1608Metric             12.5000    -3.4000   90.0000  top
J1        Conn_01x04            PinHeader 1x04 P2.54mm        22.5000    -3.4000    0.0000  top
U1        AD 8232               QFN-20-1EP_4x4mm              32.5000    -3.4000  180.0000  top
## End
""",
        [
            ("C1", 12.5, -3.4, 90.0, "top", "C_0603_1608Metric"),
            ("J1", 22.5, -3.4, 0.0, "top", "PinHeader 1x04 P2.54mm"),
            ("U1", 32.5, -3.4, 180.0, "top", "QFN-20-1EP_4x4mm"),
        ],
        0,
    ),
    Kind(
        "kicad8 csv units header",
        """\
Ref,Val,Package,PosX (mm),PosY (mm),Rot (deg),Side
C1,100nF,C_0603,12.5,-3.4,90,top
""",
        [("C1", 12.5, -3.4, 90.0, "top", "C_0603")],
        0,
    ),
    Kind(
        "altium 2 preamble",
        """\
Altium Designer Pick and Place Locations
C:\\Projects\\amp\\Pick Place for amp.csv

========================================================================================================================
File Design Information:

Date:       01/02/24
Time:       12:13
Revision:   d0a60724
Variant:    No variations
Units used: mm

Designator Comment            Layer       Footprint             Center-X(mm) Center-Y(mm) Rotation Description                      
R1         10k                TopLayer    RESC1608X55N          12.5000      3.4000       90       Resistor, 10k 1%
U1         AMP 8              BottomLayer "SOIC 8"              22.5000      3.4000       270      Amplifier, dual, 5 V
""",
        [("R1", 12.5, 3.4, 90.0, "top", "RESC1608X55N"), ("U1", 22.5, 3.4, 270.0, "bottom", "SOIC 8")],
        0,
    ),
    Kind(
        "altium csv unicode mils",
        """\
"Designator","Comment","Layer","Footprint","Center-X(mil)","Center-Y(mil)","Rotation","Description"
"R1","10kΩ","TopLayer","RESC1608X55N","492.126mil","133.858mil","90","Resistor ±1%"
""",
        [("R1", 12.5, 3.399993, 90.0, "top", "RESC1608X55N")],
        0,
    ),
    Kind(
        "allegro csv",
        """\
Component Report,,,,,,,
Tue Nov 25,,,,,,,
REFDES,COMP_DEVICE_TYPE,COMP_VALUE,COMP_PACKAGE,SYM_X,SYM_Y,SYM_ROTATE,SYM_MIRROR
C1,CAP_C0603,100NF,C0603,492.126,133.858,90,NO
C2,CAP_C0603,100NF,C0603,592.126,133.858,90,YES
""",
        [("C1", 12.5, 3.399993, 90.0, "top", "C0603"), ("C2", 15.04, 3.399993, 90.0, "bottom", "C0603")],
        0,
        units="mil",
    ),
    Kind(
        "allegro A!",
        """\
A!REFDES!SYM_X!SYM_Y!SYM_ROTATE!SYM_MIRROR!SYM_NAME!
J!C:/x.brd!Tue!-100!-100!400!300!0.001!millimeters!
S!C1!12.500!3.400!90!NO!C0603!
S!C2!14.500!3.400!90!YES!C0603!
""",
        [("C1", 12.5, 3.4, 90.0, "top", "C0603"), ("C2", 14.5, 3.4, 90.0, "bottom", "C0603")],
        0,
    ),
    Kind(
        "pulsonix",
        """\
Component Name,Package,Value,Position X (thou),Position Y (thou),Rotation,Mirrored
R1,0603,10k,492.1,133.9,90,No
C1,0603,100n,592.1,133.9,0,Yes
""",
        [("R1", 12.49934, 3.40106, 90.0, "top", "0603"), ("C1", 15.03934, 3.40106, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "designspark",
        """\
Ref Name,Component,PCB Symbol,Value,X (mm),Y (mm),Rotation,Layer
R1,Resistor,0603,10k,12.5,3.4,90,Top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603")],
        0,
    ),
    Kind(
        "cadstar",
        """\
Name  Part                Alternate  X       Y       Orientation Mirror
R1    RES-10K-0603        (none)     12.500  3.400   90.000      N
C1    CAP-100N-0603       (none)     14.500  3.400   0.000       Y
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("C1", 14.5, 3.4, 0.0, "bottom", "")],
        0,
        units="mm",
    ),
    Kind(
        "horizon",
        """\
Ref,Value,Package,MPN,Side,PosX,PosY,Rotation
R1,10k,0603,RC-10,top,12.5,3.4,90
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603")],
        0,
        units="mm",
    ),
    Kind(
        "pcb-rnd",
        """\
# $Id$
# PcbXY Version 1.0
# Date: 2024
# RefDes, Description, Value, X, Y, rotation, top/bottom
# X,Y in mm.  rotation in degrees.
# --------------------------------------------
R1,"0603","10k",12.50,3.40,90,top
C1,"0603","100n",14.50,3.40,0,bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "jlc lower case",
        """\
designator,mid x,mid y,layer,rotation
R1,12.5mm,3.4mm,top,90
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "jlc all caps xlsx-like tab",
        "DESIGNATOR\tMID X\tMID Y\tLAYER\tROTATION\nR1\t12.5mm\t3.4mm\tT\t90\n",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "seeed",
        """\
Designator,Mid X(mm),Mid Y(mm),Layer,Rotation(degrees),Footprint
R1,12.5,3.4,T,90,0603
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603")],
        0,
    ),
    Kind(
        "pcbway",
        """\
Item #,Designator,Qty,Manufacturer,Mfg Part #,Package,Center-X(mm),Center-Y(mm),Rotation,Layer
1,R1,1,ACME,RC-10,0603,12.5,3.4,90,Top
2,C1,1,ACME,CC-1,0603,14.5,3.4,0,Bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "centroid with part columns",
        """\
Reference Designator,Part Number,Part Description,Package Type,X Location (in),Y Location (in),Theta,Side
R1,RC-10,"RES 10K 1%, 0603",0603,0.5,0.125,90,T
""",
        [("R1", 12.7, 3.175, 90.0, "top", "0603")],
        0,
    ),
    Kind(
        "two header rows units deg",
        """\
RefDes,Layer,LocationX,LocationY,Rotation
,,mm,mm,deg
R1,Top,12.5,3.4,90
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "mounting yes no smd col",
        """\
Designator,Footprint,Mid X (mm),Mid Y (mm),Layer,Rotation,SMD,Pins
R1,0603,12.5,3.4,T,90,Yes,2
J1,HDR,22.5,3.4,T,90,No,4
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("J1", 22.5, 3.4, 90.0, "top", "HDR")],
        0,
    ),
    Kind(
        "angle 0-359.99 etc",
        """\
Designator,X (mm),Y (mm),Layer,Rotation
R1,12.5,3.4,T,359.99
R2,12.5,3.4,T,-0.01
R3,12.5,9.4,T,22.5
""",
        [
            ("R1", 12.5, 3.4, 359.99, "top", ""),
            ("R2", 12.5, 3.4, 359.99, "top", ""),
            ("R3", 12.5, 9.4, 22.5, "top", ""),
        ],
        0,
    ),
    Kind(
        "leading bom row sep",
        """\
sep=;
Designator;X (mm);Y (mm);Layer;Rotation
R1;12,5;3,4;T;90
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "european thousands",
        """\
Designator;X (mil);Y (mil);Layer;Rotation
R1;1.492,13;133,86;T;90,00
R2;12.492,13;1.133,86;T;90,00
""",
        [("R1", 37.900102, 3.400044, 90.0, "top", ""), ("R2", 317.300102, 28.800044, 90.0, "top", "")],
        0,
    ),
    Kind(
        "swiss thousands",
        """\
Designator;X (mil);Y (mil);Layer;Rotation
R1;1'492.13;133.86;T;90.00
""",
        [("R1", 37.900102, 3.400044, 90.0, "top", "")],
        0,
    ),
    Kind(
        "sum in footer numbers",
        """\
Designator,X (mm),Y (mm),Layer,Rotation
R1,12.5,3.4,T,90
R2,14.5,3.4,T,90
2 parts, 0 bottom, 2 top
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("R2", 14.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "fiducials block blank rot",
        """\
Designator,X (mm),Y (mm),Layer,Rotation
FID1,2.5,3.4,T,
R1,12.5,3.4,T,90
""",
        [("FID1", 2.5, 3.4, 0.0, "top", ""), ("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "designator brackets",
        """\
Designator,X (mm),Y (mm),Layer,Rotation
R1[2],12.5,3.4,T,90
C1(A),12.5,5.4,T,0
U2.B,12.5,8.4,T,0
+5V,1,1,T,0
GND,2,1,T,0
""",
        [
            ("R1[2]", 12.5, 3.4, 90.0, "top", ""),
            ("C1(A)", 12.5, 5.4, 0.0, "top", ""),
            ("U2.B", 12.5, 8.4, 0.0, "top", ""),
            ("+5V", 1.0, 1.0, 0.0, "top", ""),
            ("GND", 2.0, 1.0, 0.0, "top", ""),
        ],
        0,
    ),
    Kind(
        "headless with spaces in name quoted",
        """\
Logo1 12.5 3.4 90 "LOGO BIG"
R1 13.5 3.5 0 "R 0603"
R2 14.5 4.5 270 "R 0603"
""",
        [
            ("Logo1", 12.5, 3.4, 90.0, "top", "LOGO BIG"),
            ("R1", 13.5, 3.5, 0.0, "top", "R 0603"),
            ("R2", 14.5, 4.5, 270.0, "top", "R 0603"),
        ],
        0,
        file="a_top.txt",
        units="mm",
    ),
    Kind(
        "eagle partlist sides",
        """\
Partlist exported from amp.brd at 2024

Part     Value          Package      Library     Position (mm)         Orientation

C1       100n           C0603        rcl         (12.5 3.4)            R90
IC1      LM358 DUAL     SO08         linear      (22.5 13.4)           MR180
JP1                     1X04         pinhead     (32.5 23.4)           R0
""",
        [
            ("C1", 12.5, 3.4, 90.0, "top", "C0603"),
            ("IC1", 22.5, 13.4, 180.0, "bottom", "SO08"),
            ("JP1", 32.5, 23.4, 0.0, "top", "1X04"),
        ],
        0,
    ),
    Kind(
        "headless pipe",
        """\
|R1|10k|0603|12.5|3.4|90|T|
|C1|100n|0603|14.5|3.4|0|B|
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
        file="a.txt",
        units="mm",
    ),
    Kind(
        "md table",
        """\
| Ref | X (mm) | Y (mm) | Rot | Side | Package |
|-----|--------|--------|-----|------|---------|
| R1  | 12.5   | 3.4    | 90  | top  | 0603    |
| C1  | 14.5   | 3.4    | 0   | bottom | 0603  |
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "x/y units one heading",
        """\
Ref,X [mm],Y,Rot,Side
R1,12.5,3.4,90,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "units mixed line",
        """\
Units: mm (dimensions), degrees (rotation)
Ref,X,Y,Rotation,Side
R1,12.5,3.4,90,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "two unit statements same",
        """\
Units: mm
All dimensions in millimeters
Ref,X,Y,Rotation,Side
R1,12.5,3.4,90,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "utf8 bom semi crcrlf",
        "\ufeffRef;X (mm);Y (mm);Rot;Side\r\r\nR1;1;2;0;top\r\r\n",
        [("R1", 1.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "form feed",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,1,2,0,top
""",
        [("R1", 1.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "nbsp",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,1 ,2,0,top
""",
        [("R1", 1.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "html entities",
        """\
Ref,X(mm),Y(mm),Rot,Side,Value
R1,1,2,0,top,10k&Omega;
""",
        [("R1", 1.0, 2.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "side column Top/Bottom with trailing text",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,1,2,0,Top Side
R2,1,3,0,Bottom Side
R3,1,4,0,TopSolder
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 1.0, 3.0, 0.0, "bottom", ""), ("R3", 1.0, 4.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "is top",
        """\
Ref,X(mm),Y(mm),Rot,IsTop
R1,1,2,0,True
R2,1,3,0,False
""",
        [("R1", 1.0, 2.0, 0.0, "top", ""), ("R2", 1.0, 3.0, 0.0, "bottom", "")],
        0,
    ),
    Kind(
        "values containing units in refdes col order",
        """\
X(mm),Y(mm),Rot,Side,Ref,Package
1,2,0,top,R1,0603
1,3,0,top,R2,0603
""",
        [("R1", 1.0, 2.0, 0.0, "top", "0603"), ("R2", 1.0, 3.0, 0.0, "top", "0603")],
        0,
    ),
    Kind(
        "eagle smd ulp",
        """\
# PCB Name: amp.brd
# Created by hand
# Part, Xpos, Ypos, Rot, Package, Value
R1, 12.5, 3.4, 90, R0603, 10k
C1, 14.5, 3.4, 0, C0603, 100n
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("C1", 14.5, 3.4, 0.0, "top", "C0603")],
        0,
        file="amp_top.csv",
        units="mm",
    ),
    Kind(
        "eagle csv bottom mirrored flag col",
        """\
Name,X,Y,Angle,Mirror,Smashed,Value,Package
R1,12.5,3.4,90,0,0,10k,R0603
C1,14.5,3.4,0,1,0,100n,C0603
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "C0603")],
        0,
        units="mm",
    ),
    Kind(
        "eagle units header",
        """\
Units: mm
Part Value Package X Y Angle
R1 10k R0603 12.50 3.40 90
C1 100n C0603 14.50 3.40 0
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("C1", 14.5, 3.4, 0.0, "top", "C0603")],
        0,
        file="a_top.txt",
    ),
    Kind(
        "tab headless allegro blanks tabs",
        "C1\t492.126\t133.858\t0\t\tC0603\nC2\t592.126\t133.858\t90\tm\tC0603\n",
        [("C1", 12.5, 3.399993, 0.0, "top", "C0603"), ("C2", 15.04, 3.399993, 90.0, "bottom", "C0603")],
        0,
        file="place_txt.txt",
        units="mil",
    ),
    Kind(
        "csv allegro headless !",
        """\
C1!492.126!133.858!0!!C0603
C2!592.126!133.858!90!m!C0603
""",
        [("C1", 12.5, 3.399993, 0.0, "top", "C0603"), ("C2", 15.04, 3.399993, 90.0, "bottom", "C0603")],
        0,
        file="place_txt.txt",
        units="mil",
    ),
    Kind(
        "neoden yy1",
        """\
NEODEN,YY1,P&P FILE,,,,,,,,,,,
,,,,,,,,,,,,,
PanelizedPCB,UnitLength,0,UnitWidth,0,Rows,1,Columns,1,
,,,,,,,,,,,,,
Fiducial,1-X,10.5,1-Y,10.5,OverallOffsetX,0,OverallOffsetY,0,
,,,,,,,,,,,,,
NozzleChange,OFF,BeforeComponent,1,Head1,Drop,Station2,PickUp,Station1,
,,,,,,,,,,,,,
Designator,Comment,Footprint,Mid X(mm),Mid Y(mm) ,Rotation,Head ,FeederNo,Mount Speed(%),Pick Height(mm),Place Height(mm),Mode,Skip
R1,10k,R0603,12.5,3.4,90,1,1,100,0,0,1,0
C1,100n,C0603,14.5,3.4,0,2,2,100,0,0,1,0
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("C1", 14.5, 3.4, 0.0, "top", "C0603")],
        0,
        side="top",
    ),
    Kind(
        "samsung style blanks",
        """\
  1 R1       12.500    3.400   90.00  R0603   10k
  2 C1       14.500    3.400    0.00  C0603   100n
  3 U1       24.500   13.400  180.00  SO8     LM358
""",
        [
            ("R1", 12.5, 3.4, 90.0, "top", "R0603"),
            ("C1", 14.5, 3.4, 0.0, "top", "C0603"),
            ("U1", 24.5, 13.4, 180.0, "top", "SO8"),
        ],
        0,
        file="a_top.txt",
        units="mm",
    ),
    Kind(
        "csv with trailing semicolons and quotes",
        """\
"Designator";"X";"Y";"Rot";"Side";
"R1";"12.5mm";"3.4mm";"90";"top";
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "xy reversed header 'Y,X' w/ names 'Row/Col'?",
        """\
RefDes,PosY (mm),PosX (mm),Rotation,Side
R1,3.4,12.5,90,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "angles 0..3 quarter turns?",
        """\
RefDes,X (mm),Y (mm),Orientation,Side
R1,12.5,3.4,1,top
R2,12.5,5.4,0,top
""",
        [("R1", 12.5, 3.4, 1.0, "top", ""), ("R2", 12.5, 5.4, 0.0, "top", "")],
        0,
    ),
    Kind(
        "comment lines between with #",
        """\
RefDes,X (mm),Y (mm),Rot,Side
#R9,1,2,0,top
R1,12.5,3.4,90,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        1,
    ),
    Kind(
        "parts with same refdes diff side",
        """\
RefDes,X (mm),Y (mm),Rot,Side
R1,12.5,3.4,90,top
R1,12.5,3.4,90,bottom
R2,1,3.4,90,bottom
""",
        [
            ("R1 (line 2)", 12.5, 3.4, 90.0, "top", ""),
            ("R1 (line 3)", 12.5, 3.4, 90.0, "bottom", ""),
            ("R2", 1.0, 3.4, 90.0, "bottom", ""),
        ],
        1,
    ),
    Kind(
        "part col holds refdes, name col holds value",
        """\
Part,Name,X (mm),Y (mm),Rot,Side
R1,10k,12.5,3.4,90,top
R2,22k,1,3.4,90,bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("R2", 1.0, 3.4, 90.0, "bottom", "")],
        0,
    ),
    Kind(
        "name col holds refdes, part col holds mpn",
        """\
Name,Part,X (mm),Y (mm),Rot,Side
R1,RC0603-10K,12.5,3.4,90,top
R2,RC0603-22K,1,3.4,90,bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("R2", 1.0, 3.4, 90.0, "bottom", "")],
        0,
    ),
    Kind(
        "id numeric + reference",
        """\
Id,Reference,Package,X (mm),Y (mm),Rot,Side
1,R1,0603,12.5,3.4,90,top
2,R2,0603,1,3.4,90,bottom
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("R2", 1.0, 3.4, 90.0, "bottom", "0603")],
        0,
    ),
    Kind(
        "x1 y1 x2 y2 bbox and center",
        """\
Ref,X1 (mm),Y1 (mm),X2 (mm),Y2 (mm),Center X (mm),Center Y (mm),Rot,Side
R1,11.5,3,13.5,3.8,12.5,3.4,90,top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "inch with quote mark header",
        """\
Ref,"X ("")","Y ("")",Rot,Side
R1,0.5,0.25,90,top
""",
        [("R1", 12.7, 6.35, 90.0, "top", "")],
        0,
    ),
    Kind(
        "units: Millimeter with German",
        """\
Masseinheit: mm
Name;X;Y;Winkel;Seite
R1;12,5;3,4;90;oben
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "chinese full",
        """\
位号,封装,中心X(mm),中心Y(mm),旋转角度,层
R1,0603,12.5,3.4,90,顶层
C1,0603,14.5,3.4,0,底层
""",
        [("R1", 12.5, 3.4, 90.0, "top", "0603"), ("C1", 14.5, 3.4, 0.0, "bottom", "0603")],
        0,
        encoding="gb18030",
    ),
    Kind(
        "japanese",
        """\
部品番号,リファレンス,X座標(mm),Y座標(mm),角度,実装面
RC-10,R1,12.5,3.4,90,表面
CC-1,C1,14.5,3.4,0,裏面
""",
        [("R1", 12.5, 3.4, 90.0, "top", ""), ("C1", 14.5, 3.4, 0.0, "bottom", "")],
        0,
        encoding="shift_jis",
    ),
    Kind(
        "fwidth pkg cut",
        """\
RefDes  Package        X(mm)     Y(mm)   Rot Side
R1      R_0603_1608Me  12.5000   3.4000   90 T
C1      C_0603_1608Me  14.5000   3.4000    0 B
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R_0603_1608Me"), ("C1", 14.5, 3.4, 0.0, "bottom", "C_0603_1608Me")],
        0,
    ),
    Kind(
        "neg zero",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,-0.0,0.0,-0,top
""",
        [("R1", 0.0, 0.0, 0.0, "top", "")],
        0,
    ),
    Kind(
        "space thousands",
        """\
Ref;X(um);Y(um);Rot;Side
R1;12 500;3 400;90;top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "")],
        0,
    ),
    Kind(
        "f360",
        """\
C1,12.5,3.4,90,GRM155R71C104KA88D,CAP-0402
J1,22.5,3.4,0,HEADER,CON-X
J2,32.5,13.9,270,JACK,CON-Y
""",
        [
            ("C1", 12.5, 3.4, 90.0, "top", "CAP-0402"),
            ("J1", 22.5, 3.4, 0.0, "top", "CON-X"),
            ("J2", 32.5, 13.9, 270.0, "top", "CON-Y"),
        ],
        0,
        file="x_front.csv",
        units="mm",
    ),
    Kind(
        "two odd texts",
        "J1\t22.5\t3.4\t0\tHEADER\tCONX\nJ2\t32.5\t13.9\t270\tJACK\tCONY\n",
        [("J1", 22.5, 3.4, 0.0, "top", "CONX"), ("J2", 32.5, 13.9, 270.0, "top", "CONY")],
        0,
        file="x_front.csv",
        units="mm",
    ),
    Kind(
        "ref value package x y rot side",
        """\
R1;10k;R0603;12,5;3,4;90;Top
X1;CRYSTAL;HC49;22,5;13,4;0;Top
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("X1", 22.5, 13.4, 0.0, "top", "HC49")],
        0,
        file="x.csv",
        units="mm",
    ),
    Kind(
        "number first",
        """\
1;R1;10k;R0603;12,5;3,4;90;Top
2;X1;CRYSTAL;HC49;22,5;13,4;0;Top
3;X2;CRYSTAL;HC49;22,5;23,4;0;Top
""",
        [
            ("R1", 12.5, 3.4, 90.0, "top", "R0603"),
            ("X1", 22.5, 13.4, 0.0, "top", "HC49"),
            ("X2", 22.5, 23.4, 0.0, "top", "HC49"),
        ],
        0,
        file="x.csv",
        units="mm",
    ),
    Kind(
        "side first",
        """\
T,R1,R0603,12.5,3.4,90
B,R2,R0603,22.5,3.9,0
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("R2", 22.5, 3.9, 0.0, "bottom", "R0603")],
        0,
        file="x.csv",
        units="mm",
    ),
    Kind(
        "height last col",
        """\
R1,12.5,3.4,90,R0603,10k,T
R2,13.5,3.9,0,R0603,12k,B
""",
        [("R1", 12.5, 3.4, 90.0, "top", "R0603"), ("R2", 13.5, 3.9, 0.0, "bottom", "R0603")],
        0,
        file="x.csv",
        units="mm",
    ),
    Kind(
        "pos rot first",
        """\
R1,90,12.51,3.4,R0603,10k,T
R2,0,13.5,3.9,R0603,12k,B
""",
        [("R1", 12.51, 3.4, 90.0, "top", "R0603"), ("R2", 13.5, 3.9, 0.0, "bottom", "R0603")],
        0,
        file="x.csv",
        units="mm",
    ),
]

ASKED = [
    Kind(
        "component holds packages",
        """\
Component,X(mm),Y(mm),Rotation,Layer
R0603,1,2,0,Top
R0603,2,2,0,Top
C0402,3,2,0,Top
""",
        "no column holds reference designators (the heading has 'Component', 'X",
    ),
    Kind(
        "tables of feeders, fiducials and chips under marked headings",
        """\
#Feeder,Feeder ID,Type,Nozzle,X,Y,Angle,Footprint,Value,Pick height,Pick delay,Place Height,Place delay,Vacuum detection
stack,0,1,1,12.3,44.5,90,0603,10k,0,100,0,100,Yes
stack,0,2,1,32.3,44.5,90,0603,100n,0,100,0,100,Yes
#PCB,Manual,Lock,0,0,0,Front
pcb,Manual,Lock,4.0,10.0,100,98,Front,10,10
#Chip,Feeder ID,Nozzle,Name,Value,Footprint,X,Y,Rotate,Skip
comp,1,1,R1,10k,0603,12.5,3.4,90,No
comp,2,1,C1,100n,0603,14.5,3.4,0,No
""",
        "nothing tells the side of 2 parts (lines 7, 8): no column, no words, n",
        units="mm",
    ),
    Kind(
        "sides as numbers beside sizes",
        "#Designator\tX-Loc\tY-Loc\tRotation\tSide\tType\tX-Size\tY-Size\tValue\tFootprint\tPopulate\tMPN\nR1\t1200.5\t350.0\t90\t1\t1\t60\t30\t10k\t0603\t1\tRC-10\nC1\t1300.5\t350.0\t0\t2\t1\t60\t30\t100n\t0603\t0\tCC-100\n",
        "R1: Side '1' names no side",
        units="mil",
    ),
    Kind(
        "headless csv 4 numbers",
        """\
R1,10k,0603,12.5,3.4,90,0.5,T
R2,10k,0603,14.5,3.4,0,0.5,T
R3,10k,0603,16.5,3.9,0,0.5,B
""",
        "there is no heading row, and which of the 4 columns of numbers are X, ",
        units="mm",
    ),
    Kind(
        "board dims prose",
        """\
Board size: 100 x 80 mm
Ref;X;Y;Rot;Side
R1;1.5;2.5;90;top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
    Kind(
        "offset prose",
        """\
X offset: 10 mm, Y offset: 5 mm
Ref;X;Y;Rot;Side
R1;1.5;2.5;90;top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
    Kind(
        "side words C S",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,1,2,0,C
R2,3,2,0,S
""",
        "R1: Side 'C' names no side",
    ),
    Kind(
        "sides 1 and 2",
        """\
Ref,X(mm),Y(mm),Rot,Layer
R1,1,2,0,1
R2,3,2,0,2
""",
        "R1: Layer '1' names no side",
    ),
    Kind(
        "bom like list col",
        """\
Designator,Quantity,Value,Footprint
"R1, R2",2,10k,R0603
C1,1,100n,C0603
""",
        "no heading row of a placement was found",
    ),
    Kind(
        "no rotation",
        """\
Designator,X (mm),Y (mm),Side
R1,1,2,top
R2,3,2,top
""",
        "no column holds the rotation (the heading has 'Designator', 'X (mm)', ",
    ),
    Kind(
        "no rot for mech only",
        """\
Designator,X (mm),Y (mm),Layer,Rotation
R1,12.5,3.4,T,90
R2,12.5,5.4,T,
""",
        "R2 has no Rotation",
    ),
    Kind(
        "headless 2 line records",
        """\
R1
12.5 3.4 90
C1
14.5 3.4 0
""",
        "no heading row of a placement was found",
    ),
    Kind(
        "units only deg heading",
        """\
Ref,X,Y,Rotation (deg),Side
R1,12.5,3.4,90,top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
    Kind(
        "board outline prose mm",
        """\
PCB outline 100.0mm x 50.0mm, 1.6mm thick
Ref,X,Y,Rotation,Side
R1,12.5,3.4,90,top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
    Kind(
        "origin prose",
        """\
Origin: lower left corner, (0,0) mm
Ref,X,Y,Rotation,Side
R1,12.5,3.4,90,top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
    Kind(
        "tol prose",
        """\
Tolerance +/-0.1 mm
Ref,X,Y,Rotation,Side
R1,12.5,3.4,90,top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
    Kind(
        "layer numbers eagle 1/16",
        """\
Ref,X(mm),Y(mm),Rot,Layer
R1,1,2,0,1
R2,1,3,0,16
""",
        "R1: Layer '1' names no side",
    ),
    Kind(
        "board quote in preamble w commas",
        """\
Title, Amp board, rev 2, units in mm, 2024
Ref,X,Y,Rot,Side
R1,12.5,3.4,90,top
""",
        "the unit of 'X' and 'Y' is stated nowhere in the file",
    ),
]


@pytest.mark.parametrize("kind", READ, ids=lambda kind: kind.name)
def test_the_kind_is_read(kind: Kind, tmp_path: Path) -> None:
    path = tmp_path / "placement"
    path.write_bytes(kind.text.encode(kind.encoding))
    placement, problems = read_placement(path, kind.file, units=kind.units, side=kind.side)
    assert not [problem for problem in problems if problem.severity == "error"]
    assert placement is not None
    found = [
        (
            part.refdes,
            round(part.center_mm[0], 6),
            round(part.center_mm[1], 6),
            part.rotation_deg,
            part.side,
            part.package,
        )
        for part in placement.components
    ]
    assert found == kind.parts
    assert sum("left out" in problem.what for problem in problems) == kind.left_out


@pytest.mark.parametrize("kind", ASKED, ids=lambda kind: kind.name)
def test_what_the_kind_leaves_open_is_asked(kind: Kind, tmp_path: Path) -> None:
    path = tmp_path / "placement"
    path.write_bytes(kind.text.encode(kind.encoding))
    _, problems = read_placement(path, kind.file, units=kind.units, side=kind.side)
    errors = [problem.what for problem in problems if problem.severity == "error"]
    assert errors
    assert errors[0].startswith(str(kind.parts))
