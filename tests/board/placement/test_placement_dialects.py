"""Placement files in the dialects that exporters write; all contents are invented."""

# ruff: noqa: E501 -- lines are as long as exporters make them

from dataclasses import dataclass
from pathlib import Path

import pytest

from overlay.board.placement.read import read_placement


@dataclass(frozen=True)
class Case:
    """A file, and what stands in it: (refdes, x mm, y mm, degrees, side, package, part number) of each part."""

    name: str
    text: str
    units: str
    units_from: str
    parts: list[tuple[str, float, float, float, str, str, str]]
    encoding: str = "utf-8"
    file: str = "board.csv"
    given: str | None = None


CASES = [
    Case(
        "report with path and ruler above a quoted table",
        (
            "Pick and Place Locations\n"
            "C:\\Jobs\\mm\\thing.csv\n"
            "\n"
            "========================================================================================================================\n"
            "File Design Information:\n"
            "\n"
            "Date:       14/05/19\n"
            "Time:       12:03\n"
            "Revision:   Not in VersionControl\n"
            "Variant:    No variations\n"
            "Units used: mil\n"
            "\n"
            '"Designator","Comment","Layer","Footprint","Center-X(mil)","Center-Y(mil)","Rotation","Description"\n'
            '"U1","LM317, adj","BottomLayer","SOT-223","1204.72","-688.98","90","0.1" pitch, "good" one"\n'
            '"R1","10k","TopLayer","0603","400.00","300.00","270",""\n'
        ),
        "mil",
        "heading of column 'Center-X(mil)'",
        [
            ("U1", 30.599888, -17.500092, 90.0, "bottom", "SOT-223", "LM317, adj"),
            ("R1", 10.16, 7.62, 270.0, "top", "0603", "10k"),
        ],
    ),
    Case(
        "three pairs in aligned columns with units in each cell",
        """\

Designator Footprint               Mid X         Mid Y         Ref X         Ref Y         Pad X         Pad Y TB      Rotation Comment
C1         0603                   14.4mm        46.2mm        14.4mm        46.2mm       14.06mm        46.4mm  T        330.00 100nF 50V
R12        RESC 1005               1.0mm        -6.2mm         1.4mm        46.2mm       14.06mm        46.4mm  B          0.00
""",
        "mm",
        "suffix of the cells in column 'Mid X'",
        [("C1", 14.4, 46.2, 330.0, "top", "0603", "100nF 50V"), ("R12", 1.0, -6.2, 0.0, "bottom", "RESC 1005", "")],
    ),
    Case(
        "comment-prefixed aligned heading",
        """\
### Footprint positions - created on Sun 01 Jan 2023 ###
### Printed by hand
## Unit = mm, Angle = deg.
## Side : All
# Ref     Val       Package                PosX       PosY       Rot  Side
C1        100nF     C_0603_1608Metric   123.4567  -45.6789   90.0000  top
R1                  R_0603_1608Metric   123.4567   -4.6789  -90.0000  bottom
U1        LM358     SOIC-8               23.4567  -45.6789    0.0000  top
## End
""",
        "mm",
        "line 3 '## Unit = mm, Angle = deg.'",
        [
            ("C1", 123.4567, -45.6789, 90.0, "top", "C_0603_1608Metric", "100nF"),
            ("R1", 123.4567, -4.6789, 270.0, "bottom", "R_0603_1608Metric", ""),
            ("U1", 23.4567, -45.6789, 0.0, "top", "SOIC-8", "LM358"),
        ],
        file="x.pos",
    ),
    Case(
        "aligned columns with a name that is too long",
        """\
### Module positions - created on 2013 ###
## Unit = inches, Angle = deg.
## Side : Front
# Ref    Val                  PosX       PosY        Rot     Side
C1       100nF              3.4567    -5.6789      90.0    Front
REALLYLONGREF1 100nF        3.4567    -5.6789      90.0    Front
R1       a_very_long_value_of_20 4.4567    -5.6789      90.0    Front
R2       1k                 4.4567    -5.6789      90.0    Front
""",
        "inch",
        "line 2 '## Unit = inches, Angle = deg.'",
        [
            ("C1", 87.80018, -144.24406, 90.0, "top", "", "100nF"),
            ("REALLYLONGREF1", 87.80018, -144.24406, 90.0, "top", "", "100nF"),
            ("R1", 113.20018, -144.24406, 90.0, "top", "", "a_very_long_value_of_20"),
            ("R2", 113.20018, -144.24406, 90.0, "top", "", "1k"),
        ],
    ),
    Case(
        "table without units",
        """\
Ref,Val,Package,PosX,PosY,Rot,Side
"C1","100nF","C_0603",12.3,-45.6,90.000000,top
""",
        "mm",
        "placement_units",
        [("C1", 12.3, -45.6, 90.0, "top", "C_0603", "100nF")],
        given="mm",
    ),
    Case(
        "heading and units in comments",
        """\
# XY file
# Date: Thu
# Author: Harry
# Title: Bio-amplifier - PCB X-Y
# RefDes, Description, Value, X, Y, rotation, top/bottom
# X,Y in mils.  rotation in degrees.
# --------------------------------------------
R1,"0603","10k",1200.50,1100.00,90,top
U1,"SO8","LM358, dual",1200.50,1100.00,90,bottom
""",
        "mil",
        "line 6 '# X,Y in mils. rotation in degrees.'",
        [
            ("R1", 30.4927, 27.94, 90.0, "top", "0603", "10k"),
            ("U1", 30.4927, 27.94, 90.0, "bottom", "SO8", "LM358, dual"),
        ],
    ),
    Case(
        "position pair and lettered orientation in one cell",
        (
            "Partlist\n"
            "\n"
            "Exported from board.brd at 5/12/2014 3:45 PM\n"
            "\n"
            "Assembly variant: \n"
            "\n"
            "Part     Value          Package      Library      Position (mil)        Orientation\n"
            "\n"
            "C1       100nF          C0603        rcl          (1200 350)            R90\n"
            "U1       LM358          SO08         linear       (900 1200)            MR180\n"
            "H1                      MOUNT-HOLE   holes        (100 1200)            R0\n"
        ),
        "mil",
        "heading of column 'Position (mil)'",
        [
            ("C1", 30.48, 8.89, 90.0, "top", "C0603", "100nF"),
            ("U1", 22.86, 30.48, 180.0, "bottom", "SO08", "LM358"),
            ("H1", 2.54, 30.48, 0.0, "top", "MOUNT-HOLE", ""),
        ],
    ),
    Case(
        "no heading, the side in the file's suffix",
        """\
C1 14.40 46.20 330 100nF C0402
R1 14.43 46.27  90 10k R0402
U2 10.41 40.20   0 LM358 SO08
""",
        "mm",
        "placement_units",
        [
            ("C1", 14.4, 46.2, 330.0, "bottom", "C0402", "100nF"),
            ("R1", 14.43, 46.27, 90.0, "bottom", "R0402", "10k"),
            ("U2", 10.41, 40.2, 0.0, "bottom", "SO08", "LM358"),
        ],
        file="amp.mnb",
        given="mm",
    ),
    Case(
        "A! heading and S! rows",
        """\
A!REFDES!COMP_DEVICE_TYPE!COMP_VALUE!SYM_NAME!SYM_X!SYM_Y!SYM_ROTATE!SYM_MIRROR!
J!C:/board.brd!Tue May 10!-100.000!-100.000!400!300!0.001!millimeters!BOARD!62 mil!4!OUT OF DATE!
S!R1!RES_10K!10k!R0402!12.500!33.100!90.000!NO!
S!U1!LM358!!SOIC8!2.500!33.100!180.000!YES!
""",
        "mm",
        "line 2 'J!C:/board.brd!Tue May 10!-100.000!-100.000!400!300!0.001…'",
        [("R1", 12.5, 33.1, 90.0, "top", "R0402", "RES_10K"), ("U1", 2.5, 33.1, 180.0, "bottom", "SOIC8", "LM358")],
    ),
    Case(
        "exclamation marks with a mirror mark",
        """\
UUNITS = MILS
#
# REFDES ! X ! Y ! ROT ! MIRROR ! SYMBOL
R1 !  1250.00 !  3300.00 !  90 !   ! R0402
U1 !   125.00 !  3300.00 ! 180 ! m ! SOIC8
""",
        "mil",
        "line 1 'UUNITS = MILS'",
        [("R1", 31.75, 83.82, 90.0, "top", "R0402", ""), ("U1", 3.175, 83.82, 180.0, "bottom", "SOIC8", "")],
    ),
    Case(
        "UTF-16 tab table with three pairs",
        (
            '"Designator"\t"Device"\t"Footprint"\t"Mid X"\t"Mid Y"\t"Ref X"\t"Ref Y"\t"Pad X"\t"Pad Y"\t"Pins"\t"Layer"\t"Rotation"\t"SMD"\t"Comment"\n'
            '"C1"\t"CL05"\t"C0402"\t"14.4mm"\t"46.2mm"\t"14.4mm"\t"46.2mm"\t"14mm"\t"46.2mm"\t"2"\t"T"\t"90"\t"Yes"\t"100nF"\n'
        ),
        "mm",
        "suffix of the cells in column 'Mid X'",
        [("C1", 14.4, 46.2, 90.0, "top", "C0402", "CL05")],
        encoding="utf-16",
    ),
    Case(
        "starred preamble, the designator under Name",
        """\
*Pick And Place List
*Company=
*
*Project=thing
*Date=18:14:02
*
*Coordinates in mm, always center of component
*Origin 0/0=Lower left corner of PCB
*Rotation in degree (0-360, math. pos.)
*
*No;Value;Package;X;Y;Rotation;Side;Name
1;220;R0603;25,3;-18,0;0;Top;R1
2;1k;R0603;25,35;-18,0;90,0;Bottom;R2
""",
        "mm",
        "line 7 '*Coordinates in mm, always center of component'",
        [("R1", 25.3, -18.0, 0.0, "top", "R0603", "220"), ("R2", 25.35, -18.0, 90.0, "bottom", "R0603", "1k")],
    ),
    Case(
        "both sides named in the preamble",
        """\
# Pick&Place Position Data File
#
# Project Name:        Demo
# Unit:                mm
# Rotation:            Degrees CCW
# Board Side:          Top + Bottom
# Supported Part Types: THT, SMT, Fiducial
"Designator","Value","Device","Package","Position X","Position Y","Rotation","Side","Type"
"R1","10k","R-0603","RESC1608X55N","12.3","4.5","90.0","Top","SMT"
"FID1","","Fid","FID","12.3","4.5","0","Bottom","Fiducial"
""",
        "mm",
        "line 4 '# Unit: mm'",
        [("R1", 12.3, 4.5, 90.0, "top", "RESC1608X55N", "R-0603"), ("FID1", 12.3, 4.5, 0.0, "bottom", "FID", "Fid")],
    ),
    Case(
        "Part ID as designator",
        """\
PICK AND PLACE FILE
=====================================
Units: thou
"Part ID","Value","Package","Layer","Rotation","X","Y"
"R1","10k","RES40",TOP,90,1200,3400
"Q1","BC547","TO92",BOT,90,1200,3400
""",
        "mil",
        "line 3 'Units: thou'",
        [("R1", 30.48, 86.36, 90.0, "top", "RES40", "10k"), ("Q1", 30.48, 86.36, 90.0, "bottom", "TO92", "BC547")],
    ),
    Case(
        "two pairs units row",
        """\
Ref;X;Y;X;Y;Rot;Side
;mil;mil;mm;mm;deg;
R1;1000;500;25.4;12.7;90;top
R2;400;0;10.16;0;90;bot
""",
        "mm",
        "line 2, the units below column 'X'",
        [("R1", 25.4, 12.7, 90.0, "top", "", ""), ("R2", 10.16, 0.0, 90.0, "bottom", "", "")],
    ),
    Case(
        "Chinese headings in GB18030",
        """\
位号,封装,X坐标(mm),Y坐标(mm),旋转,层
R1,R0603,12.3,4.5,90,顶层
R2,R0603,12.3,5.5,90,底层
""",
        "mm",
        "heading of column 'X坐标(mm)'",
        [("R1", 12.3, 4.5, 90.0, "top", "R0603", ""), ("R2", 12.3, 5.5, 90.0, "bottom", "R0603", "")],
        encoding="gb18030",
    ),
    Case(
        "sections",
        (
            "TOP SIDE\n"
            "Ref\tX (mm)\tY (mm)\tRot\n"
            "R1\t1\t2\t0\n"
            "R2\t1\t3\t0\n"
            "\n"
            "BOTTOM SIDE\n"
            "Ref\tX (mm)\tY (mm)\tRot\n"
            "R3\t1\t2\t0\n"
            "Page 2 of 3\n"
            "R4\t1\t2\t45\n"
            "Total: 4\n"
        ),
        "mm",
        "heading of column 'X (mm)'",
        [
            ("R1", 1.0, 2.0, 0.0, "top", "", ""),
            ("R2", 1.0, 3.0, 0.0, "top", "", ""),
            ("R3", 1.0, 2.0, 0.0, "bottom", "", ""),
            ("R4", 1.0, 2.0, 45.0, "bottom", "", ""),
        ],
    ),
    Case(
        "name as designator, the side in the file's name",
        """\
Name,X,Y,Angle,Value,Package
R1,1.2,3.4,90,10k,R0603
LED1,1.2,3.4,90,RED,LED0603
""",
        "mm",
        "placement_units",
        [("R1", 1.2, 3.4, 90.0, "bottom", "R0603", "10k"), ("LED1", 1.2, 3.4, 90.0, "bottom", "LED0603", "RED")],
        file="PnP_amp_v1_back.csv",
        given="mm",
    ),
    Case(
        "part type, decal and Orient.",
        (
            "PartType\tRefDes\tPartDecal\tPins\tLayer\tOrient.\tX\tY\tSMD\tGlued\n"
            "RES-10K\tR1\tR0603\t2\tTop\t90.000\t1200\t3400\tYes\tNo\n"
        ),
        "mil",
        "placement_units",
        [("R1", 30.48, 86.36, 90.0, "top", "R0603", "RES-10K")],
        given="mil",
    ),
    Case(
        "ruler",
        """\
Component report
Unit: Inches

Part Name      Component Name   X        Y        Orientation  Side
-------------  ---------------  -------  -------  -----------  ------
RES 10K 1%     R1               1.2500   0.5000   90.0         Top
               C7               1.5000   0.5000   0.0          Bottom
CAP 100N       C8                .5000   0.5000   -45.0        Top
""",
        "inch",
        "line 2 'Unit: Inches'",
        [
            ("R1", 31.75, 12.7, 90.0, "top", "", "RES 10K 1%"),
            ("C7", 38.1, 12.7, 0.0, "bottom", "", ""),
            ("C8", 12.7, 12.7, 315.0, "top", "", "CAP 100N"),
        ],
    ),
    Case(
        "aligned report with quoted values",
        (
            "Pick and Place Locations\n"
            "C:\\x\\Pick Place for X.txt\n"
            "\n"
            "========================================================================================================================\n"
            "File Design Information:\n"
            "\n"
            "Date:       03/06/19\n"
            "Time:       14:01\n"
            "Revision:   Not in VersionControl\n"
            "Variant:    No variations\n"
            "Units used: mm\n"
            "\n"
            "Designator Comment                   Layer       Footprint             Center-X(mm) Center-Y(mm) Rotation Description                        \n"
            'C1         "100nF"                   TopLayer    C0402                 10.0000      20.0000      90       "Chip Capacitor, 100 nF"\n'
            'C2         100nF                     BottomLayer C0402                 110.0000     -20.0000     180      ""\n'
            "MCU1       STM32F                    TopLayer    LQFP 48 7x7           10.1000      21.0000      360                                       \n"
        ),
        "mm",
        "heading of column 'Center-X(mm)'",
        [
            ("C1", 10.0, 20.0, 90.0, "top", "C0402", "100nF"),
            ("C2", 110.0, -20.0, 180.0, "bottom", "C0402", "100nF"),
            ("MCU1", 10.1, 21.0, 0.0, "top", "LQFP 48 7x7", "STM32F"),
        ],
    ),
    Case(
        "blank quoted row and mixed units",
        """\
"Designator","Footprint","Mid X","Mid Y","Ref X","Ref Y","Pad X","Pad Y","TB","Rotation","Comment"
""
"C1","R0201","14.4mm","46.2mm","14.4mm","46.2mm","14.06mm","46.4mm","T","330.00","Comment"
"C2","R0201","400mil","46.2mm","14.4mm","46.2mm","14.06mm","46.4mm","B","330.00","1.2" thing"
""",
        "mm, mil",
        "suffix of the cells in column 'Mid X'",
        [
            ("C1", 14.4, 46.2, 330.0, "top", "R0201", "Comment"),
            ("C2", 10.16, 46.2, 330.0, "bottom", "R0201", '1.2" thing'),
        ],
    ),
    Case(
        "no heading, exclamation marks with a mirror mark",
        (
            "UUNITS = MILLIMETERS\n"
            "C1    !   12.700 !   34.500 !   90 ! m ! CAP_0402 \n"
            "R1    !   12.710 !   34.500 !    0 !   ! RES_0402 \n"
        ),
        "mm",
        "line 1 'UUNITS = MILLIMETERS'",
        [("C1", 12.7, 34.5, 90.0, "bottom", "CAP_0402", ""), ("R1", 12.71, 34.5, 0.0, "top", "RES_0402", "")],
    ),
    Case(
        "tabs aligned",
        (
            "Ref\t\tX (mm)\t\tY (mm)\t\tRot\tSide\n"
            "R1\t\t1.5\t\t2.5\t\t90\tTop\n"
            "LONGREF_R1\t1.5\t\t2.5\t\t90\tTop\n"
            "R2\t\t1.5\t\t-112.555\t90\tBottom\n"
        ),
        "mm",
        "heading of column 'X (mm)'",
        [
            ("R1", 1.5, 2.5, 90.0, "top", "", ""),
            ("LONGREF_R1", 1.5, 2.5, 90.0, "top", "", ""),
            ("R2", 1.5, -112.555, 90.0, "bottom", "", ""),
        ],
    ),
    Case(
        "decimal comma semicolon",
        """\
Ref;X [mm];Y [mm];Rot;Layer;Value
R1;1.204,72;-3,5;90,00;Top;10k
R2;12,7;3,5;-90,00;Bottom;0,1uF/50V
""",
        "mm",
        "heading of column 'X [mm]'",
        [("R1", 1204.72, -3.5, 90.0, "top", "", "10k"), ("R2", 12.7, 3.5, 270.0, "bottom", "", "0,1uF/50V")],
    ),
    Case(
        "thousands",
        """\
Ref,X (mil),Y (mil),Rot,Layer,Value
R1,"1,204.72","3,500.00",90,Top,10k
R2,204.72,3500,0,Bottom,10k
""",
        "mil",
        "heading of column 'X (mil)'",
        [("R1", 30.599888, 88.9, 90.0, "top", "", "10k"), ("R2", 5.199888, 88.9, 0.0, "bottom", "", "10k")],
    ),
    Case(
        "extra desc",
        """\
Ref,X,Y,Rot,Side,Description
R1,10.0,20.0,90,top,res, 10k, 1%
""",
        "mm",
        "placement_units",
        [("R1", 10.0, 20.0, 90.0, "top", "", "res,10k,1%")],
        given="mm",
    ),
    Case(
        "side flag Y/N",
        """\
Ref,X(mm),Y(mm),Rot,Bottom
R1,10.0,20.0,90,N
R2,10.0,20.0,90,Y
""",
        "mm",
        "heading of column 'X(mm)'",
        [("R1", 10.0, 20.0, 90.0, "top", "", ""), ("R2", 10.0, 20.0, 90.0, "bottom", "", "")],
    ),
    Case(
        "paginated",
        (
            "                          COMPONENT PLACEMENT REPORT                  Page 1\n"
            "                          Units: mil\n"
            "\n"
            "REF    PART NO        X         Y     ROT   SIDE\n"
            "====   ========   =======   =======   ===   ====\n"
            "R1     123-456     1000.0     500.0    90   TOP\n"
            "R2     123-456    11000.0     500.0    90   BOT\n"
            "\n"
            "\x0c                          COMPONENT PLACEMENT REPORT                  Page 2\n"
            "                          Units: mil\n"
            "\n"
            "REF    PART NO        X         Y     ROT   SIDE\n"
            "====   ========   =======   =======   ===   ====\n"
            "R3                  100.0      50.0     0   TOP\n"
            "\n"
            "Total components: 3\n"
        ),
        "mil",
        "line 2 'Units: mil'",
        [
            ("R1", 25.4, 12.7, 90.0, "top", "", "123-456"),
            ("R2", 279.4, 12.7, 90.0, "bottom", "", "123-456"),
            ("R3", 2.54, 1.27, 0.0, "top", "", ""),
        ],
    ),
    Case(
        "right aligned narrow heading",
        """\
Ref       X        Y   Rot  Side Comment
R1   12.345  -6.7890   0.0     T 10k 1%
C12   1.345   6.7890 270.0     B
U1    2.345  16.7890 270.0     T LM 358
""",
        "mm",
        "placement_units",
        [
            ("R1", 12.345, -6.789, 0.0, "top", "", "10k 1%"),
            ("C12", 1.345, 6.789, 270.0, "bottom", "", ""),
            ("U1", 2.345, 16.789, 270.0, "top", "", "LM 358"),
        ],
        given="mm",
    ),
    Case(
        "ragged",
        """\
RefDes X Y Rotation Side Value
R1 1.0 2.0 90 top 10k 1%
C100 13.0 -22.25 180 bottom
""",
        "mm",
        "placement_units",
        [("R1", 1.0, 2.0, 90.0, "top", "", "10k 1%"), ("C100", 13.0, -22.25, 180.0, "bottom", "", "")],
        given="mm",
    ),
    Case(
        "sep",
        """\
sep=;
Ref;X (mm);Y (mm);Rot;Side
R1;1;2;3;top
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 3.0, "top", "", "")],
    ),
    Case(
        "bars with a ruler",
        """\
| Ref | X (mm) | Y (mm) | Rot | Side |
|-----|-------:|-------:|----:|------|
| R1  | 1.0    | 2.0    | 90  | top  |
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 90.0, "top", "", "")],
    ),
    Case(
        "two line heading",
        """\
Ref,Center,Center,Rot,Board
Des,X (mm),Y (mm),(deg),Side
R1,1,2,3,top
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 3.0, "top", "", "")],
    ),
    Case(
        "html",
        """\
<html><body><h1>Placed Component Report</h1><p>Units: mils</p><table><tr><th>REFDES</th><th>SYM_X</th><th>SYM_Y</th><th>SYM_ROTATE</th><th>SYM_MIRROR</th><th>COMP_PACKAGE</th></tr>
<tr><td>R1</td><td>100.0</td><td>200.0</td><td>90</td><td>NO</td><td>R0402</td></tr>
</table></body></html>""",
        "mil",
        "line 1 'Units: mils'",
        [("R1", 2.54, 5.08, 90.0, "top", "R0402", "")],
    ),
    Case(
        "units in cell in",
        """\
RefDes, X, Y, Rotation, Side
R1, 0.5in, 1.2", 90°, Top
R2, 0.5in, 0, 45 deg, Bottom
""",
        "inch",
        "suffix of the cells in column 'X'",
        [("R1", 12.7, 30.48, 90.0, "top", "", ""), ("R2", 12.7, 0.0, 45.0, "bottom", "", "")],
    ),
    Case(
        "line ends of CR alone",
        "Ref,X(mm),Y(mm),Rot,Side\rR1,1,2,3,top\rR2,1,3,3,top\r",
        "mm",
        "heading of column 'X(mm)'",
        [("R1", 1.0, 2.0, 3.0, "top", "", ""), ("R2", 1.0, 3.0, 3.0, "top", "", "")],
    ),
    Case(
        "Japanese headings in Shift-JIS",
        """\
部品番号,リファレンス,X座標(mm),Y座標(mm),角度,実装面
RK73,R1,1,2,90,部品面
RK73,R2,1,3,90,はんだ面
""",
        "mm",
        "heading of column 'X座標(mm)'",
        [("R1", 1.0, 2.0, 90.0, "top", "", "RK73"), ("R2", 1.0, 3.0, 90.0, "bottom", "", "RK73")],
        encoding="shift_jis",
    ),
    Case(
        "German headings in windows-1252",
        """\
Bauteil;Wert;Gehäuse;X (mm);Y (mm);Drehung;Seite
R1;10 R;0603;1,5;2,5;90;Oben
C1;1µF;0603;1,5;2,5;90;Unten
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.5, 2.5, 90.0, "top", "0603", "10 R"), ("C1", 1.5, 2.5, 90.0, "bottom", "0603", "1µF")],
        encoding="cp1252",
    ),
    Case(
        "legend",
        """\
Ref,X (mm),Y (mm),Rot,"Side (1=top, 2=bottom)"
R1,1,2,0,1
R2,1,2,0,2
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", ""), ("R2", 1.0, 2.0, 0.0, "bottom", "", "")],
    ),
    Case(
        "cw",
        """\
Ref,X (mm),Y (mm),Rotation (CW),Side
R1,1,2,90,top
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 270.0, "top", "", "")],
    ),
    Case(
        "origo",
        """\
Title: X
Origo: 1204.72, 1204.72 mill
Units used: mil

Designator Footprint  Mid X   Mid Y  Layer Rotation Comment
R1         0603       1.5     2.5    T     90       10k
""",
        "mil",
        "line 3 'Units used: mil'",
        [("R1", 0.0381, 0.0635, 90.0, "top", "0603", "10k")],
    ),
    Case(
        "multi-line cell",
        """\
Ref,Description,"X
(mm)",Y (mm),Rot,Side
R1,"two
lines",1,2,3,top
R2,"x",1,5,3,top
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 3.0, "top", "", "two lines"), ("R2", 1.0, 5.0, 3.0, "top", "", "x")],
    ),
    Case(
        "desc inch",
        """\
"Ref","X (mm)","Y (mm)","Rot","Side","Description"
"J1","1","2","0","Top","Header, 0.1" pitch, 4 way"
"J2","1","2.5","0","Top","3.5" floppy"
"J3","1","3.5","0","Top","say ""hi"", ok"
""",
        "mm",
        "heading of column 'X (mm)'",
        [
            ("J1", 1.0, 2.0, 0.0, "top", "", 'Header, 0.1" pitch, 4 way'),
            ("J2", 1.0, 2.5, 0.0, "top", "", '3.5" floppy'),
            ("J3", 1.0, 3.5, 0.0, "top", "", 'say "hi", ok'),
        ],
    ),
    Case(
        "no head csv",
        """\
R1,0603,10k,12.30,4.55,90,T
C1,0603,100n,13.37,4.55,45,B
""",
        "mm",
        "placement_units",
        [("R1", 12.3, 4.55, 90.0, "top", "0603", "10k"), ("C1", 13.37, 4.55, 45.0, "bottom", "0603", "100n")],
        given="mm",
    ),
    Case(
        "no head suffix",
        """\
R1  14.4mm  46.2mm  90  top
C1  14.4mm  46.25mm  0  bottom
""",
        "mm",
        "suffix of the cells in column 'X'",
        [("R1", 14.4, 46.2, 90.0, "top", "", ""), ("C1", 14.4, 46.25, 0.0, "bottom", "", "")],
    ),
    Case(
        "space separated # heading units line",
        """\
# Ref Val Package PosX PosY Rot Side
# mm
R1 10k R_0603 1.00 2.00 90 F
C1 100n C_0603 1.00 2.00 90 B
""",
        "mm",
        "line 2 '# mm'",
        [("R1", 1.0, 2.0, 90.0, "top", "R_0603", "10k"), ("C1", 1.0, 2.0, 90.0, "bottom", "C_0603", "100n")],
    ),
    Case(
        "german",
        """\
Bestückungsliste
Einheit: mm
Bauteil;Wert;Bauform;X;Y;Winkel;Seite
R1;10k;0603;1,5;2,5;90;oben
C1;100n;0603;1,5;-2,5;90;unten
""",
        "mm",
        "line 2 'Einheit: mm'",
        [("R1", 1.5, 2.5, 90.0, "top", "0603", "10k"), ("C1", 1.5, -2.5, 90.0, "bottom", "0603", "100n")],
        encoding="cp1252",
    ),
    Case(
        "utf16be nobom",
        ("Ref\tX (mm)\tY (mm)\tRot\tSide\r\nR1\t1\t2\t3\tTop\r\n"),
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 3.0, "top", "", "")],
        encoding="utf-16-be",
    ),
    Case(
        "name and refdes",
        """\
Name,RefDes,Value,X (mm),Y (mm),Side,Rotate
RES0603,R1,10k,1,2,Top,0
CAP0603,C1,100n,1,3,Bottom,90
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "RES0603"), ("C1", 1.0, 3.0, 90.0, "bottom", "", "CAP0603")],
    ),
    Case(
        "part conflicts",
        """\
Part,Component,X (mm),Y (mm),Side,Rot
R1,RES0603,1,2,Top,0
C1,CAP0603,1,3,Bottom,90
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "RES0603"), ("C1", 1.0, 3.0, 90.0, "bottom", "", "CAP0603")],
    ),
    Case(
        "part conflicts2",
        """\
Part,Component,X (mm),Y (mm),Side,Rot
BC547,Q1,1,2,Top,0
BC547,Q2,1,3,Bottom,90
""",
        "mm",
        "heading of column 'X (mm)'",
        [("Q1", 1.0, 2.0, 0.0, "top", "", "BC547"), ("Q2", 1.0, 3.0, 90.0, "bottom", "", "BC547")],
    ),
    Case(
        "three pairs",
        (
            "Designator\tFootprint\tPad X\tPad Y\tRef X\tRef Y\tMid X\tMid Y\tTB\tRotation\n"
            "R1\t0603\t1mm\t2mm\t3mm\t4mm\t5mm\t6mm\tT\t0\n"
        ),
        "mm",
        "suffix of the cells in column 'Mid X'",
        [("R1", 5.0, 6.0, 0.0, "top", "0603", "")],
    ),
    Case(
        "ref pair only",
        ("Designator\tFootprint\tPad X\tPad Y\tRef X\tRef Y\tTB\tRotation\nR1\t0603\t1mm\t2mm\t3mm\t4mm\tT\t0\n"),
        "mm",
        "suffix of the cells in column 'Ref X'",
        [("R1", 3.0, 4.0, 0.0, "top", "0603", "")],
    ),
    Case(
        "metric",
        """\
Metric
Ref;X;Y;Rot;Side
R1;1000;500;0;top
""",
        "mm",
        "line 1 'Metric'",
        [("R1", 1000.0, 500.0, 0.0, "top", "", "")],
    ),
    Case(
        "trailer units",
        """\
Ref;X;Y;Rot;Side
R1;1000;500;0;top

All dimensions in mils
""",
        "mil",
        "line 4 'All dimensions in mils'",
        [("R1", 25.4, 12.7, 0.0, "top", "", "")],
    ),
    Case(
        "1/1000",
        """\
Units: 1/1000 inch
Ref;X;Y;Rot;Side
R1;1000;500;0;top
""",
        "mil",
        "line 1 'Units: 1/1000 inch'",
        [("R1", 25.4, 12.7, 0.0, "top", "", "")],
    ),
    Case(
        "0.01mm",
        """\
Units: 0.01 mm
Ref;X;Y;Rot;Side
R1;1000;500;0;top
""",
        "0.01 mm",
        "line 1 'Units: 0.01 mm'",
        [("R1", 10.0, 5.0, 0.0, "top", "", "")],
    ),
    Case(
        "empty mirror",
        """\
Ref;X (mm);Y (mm);Rot;Mirror
R1;10;50;0;
R2;10;50;0;
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 10.0, 50.0, 0.0, "top", "", ""), ("R2", 10.0, 50.0, 0.0, "top", "", "")],
    ),
    Case(
        "m mirror side",
        """\
Ref;X (mm);Y (mm);Rot;Side
R1;10;50;0;
R2;10;50;0;M
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 10.0, 50.0, 0.0, "top", "", ""), ("R2", 10.0, 50.0, 0.0, "bottom", "", "")],
    ),
    Case(
        "sectioned aligned",
        """\
Top side
Ref    X(mm)   Y(mm)   Rot
R1      1.00    2.00     0
R2     11.00    2.00    90
Bottom side
Ref    X(mm)   Y(mm)   Rot
R3      1.00    2.00     0
""",
        "mm",
        "heading of column 'X(mm)'",
        [
            ("R1", 1.0, 2.0, 0.0, "top", "", ""),
            ("R2", 11.0, 2.0, 90.0, "top", "", ""),
            ("R3", 1.0, 2.0, 0.0, "bottom", "", ""),
        ],
    ),
    Case(
        "report with a count above the table",
        """\
Placed Component Report
Design Name: board.brd
Date: Tue Aug 12 10:11:12 2014
Units: mils
Total Components: 3

REFDES,COMP_DEVICE_TYPE,COMP_VALUE,COMP_TOL,COMP_PACKAGE,SYM_X,SYM_Y,SYM_ROTATE,SYM_MIRROR
C1,CAP_0402-100NF,100NF,10%,CAP0402,1200.00,3400.00,90.000,NO
U1,LM358_SO8,LM358,,SO8,1200.00,3500.00,90.000,YES
""",
        "mil",
        "line 4 'Units: mils'",
        [
            ("C1", 30.48, 86.36, 90.0, "top", "CAP0402", "CAP_0402-100NF"),
            ("U1", 30.48, 88.9, 90.0, "bottom", "SO8", "LM358_SO8"),
        ],
    ),
    Case(
        "shifted title",
        """\
,,,,,,
,Board X,,,,,
,Ref,X (mm),Y (mm),Rotation,Layer,
,R1,1,2,0,Top,
,R2,1,3,0,Bottom,
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", ""), ("R2", 1.0, 3.0, 0.0, "bottom", "", "")],
    ),
    Case(
        "index col",
        """\
#,Designator,X (mm),Y (mm),Rotation,Layer
1,R1,1,2,0,Top
2,R2,1,3,0,Bottom
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", ""), ("R2", 1.0, 3.0, 0.0, "bottom", "", "")],
    ),
    Case(
        "quoted whole lines",
        """\
"Ref,X (mm),Y (mm),Rot,Side"
"R1,1,2,0,top"
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "")],
    ),
    Case(
        "xy in um",
        """\
RefDes,X [um],Y [um],Rot,Side
R1,12500,-3000,0,Top
""",
        "um",
        "heading of column 'X [um]'",
        [("R1", 12.5, -3.0, 0.0, "top", "", "")],
    ),
    Case(
        "units in brackets below aligned headings",
        """\
Designator  Footprint   Mid X     Mid Y     TB  Rotation
                       (mil)     (mil)         (deg)
R1          0603       1000      2000      T   90
R2          0603       1500      2000      B   90
""",
        "mil",
        "line 2, the units below column 'Mid X'",
        [("R1", 25.4, 50.8, 90.0, "top", "0603", ""), ("R2", 38.1, 50.8, 90.0, "bottom", "0603", "")],
    ),
    Case(
        "value blank all aligned",
        """\
Ref    Val    Package   PosX(mm)   PosY(mm)   Rot  Side
R1            0603        1.000      2.000   90.0  top
R2            0603       11.000      2.000   90.0  bottom
""",
        "mm",
        "heading of column 'PosX(mm)'",
        [("R1", 1.0, 2.0, 90.0, "top", "0603", ""), ("R2", 11.0, 2.0, 90.0, "bottom", "0603", "")],
    ),
    Case(
        "position pairs in inches",
        """\
Partlist

Exported from X.brd at 05.12.2014 15:45:11

Part  Value  Package  Library  Position (inch)  Orientation

C1    100nF  C0603    rcl      (0.3 1.25)       R90
R12   1k     R0603    rcl      (1.35 0.5)       MR0
X1           XTAL     rcl      (1.35 -0.5)      SR90
""",
        "inch",
        "heading of column 'Position (inch)'",
        [
            ("C1", 7.62, 31.75, 90.0, "top", "C0603", "100nF"),
            ("R12", 34.29, 12.7, 0.0, "bottom", "R0603", "1k"),
            ("X1", 34.29, -12.7, 90.0, "top", "XTAL", ""),
        ],
    ),
    Case(
        "single blanks and a mirror column",
        """\
REFDES X_COORD Y_COORD ROTATION MIRROR SYMBOL
UNITS MILS
C1 100.0 200.0 90 NO CAP0402
C2 100.0 300.0 90 YES CAP0402
""",
        "mil",
        "line 2 'UNITS MILS'",
        [("C1", 2.54, 5.08, 90.0, "top", "CAP0402", ""), ("C2", 2.54, 7.62, 90.0, "bottom", "CAP0402", "")],
    ),
    Case(
        "quoted words in aligned columns",
        """\
# Placement file
#  Units: MM
#
# Reference  Part_Number  Cell   X   Y   Rotation  Layer
"R1"  "RES-10K"  "R0603"  12.000  13.000  90  "Top"
"R2"  ""  "R0603"  12.000  15.000  90  "Bottom"
""",
        "mm",
        "line 2 '# Units: MM'",
        [("R1", 12.0, 13.0, 90.0, "top", "R0603", "RES-10K"), ("R2", 12.0, 15.0, 90.0, "bottom", "R0603", "")],
    ),
    Case(
        "thousandths of an inch",
        """\
Component placement list

Design: foo.pcb
Units: Thousandths of an inch

Component Name,Part Name,Alternate,X,Y,Orientation,Mirrored
R1,RES10K,,1000,2000,90.000,No
R2,RES10K,,1000,2500,90.000,Yes
""",
        "mil",
        "line 4 'Units: Thousandths of an inch'",
        [("R1", 25.4, 50.8, 90.0, "top", "", "RES10K"), ("R2", 25.4, 63.5, 90.0, "bottom", "", "RES10K")],
    ),
    Case(
        "indented report with a ruler",
        (
            "Component Positions Report\n"
            "-------------------------\n"
            "\n"
            "Report File:        C:\\\\x.txt\n"
            "Units:              mm \n"
            "\n"
            "  Name   Component     Package      X       Y     Rotation  Side\n"
            "  ----   ---------     -------      -       -     --------  ----\n"
            "  R1     RES 10K       0603       10.00   20.00   90        Top\n"
            "  C22    CAP           0603       10.00  120.00   270       Bottom\n"
            "\n"
            "Total: 2\n"
        ),
        "mm",
        "line 5 'Units: mm'",
        [("R1", 10.0, 20.0, 90.0, "top", "0603", "RES 10K"), ("C22", 10.0, 120.0, 270.0, "bottom", "0603", "CAP")],
    ),
    Case(
        "decimal commas and Rotate",
        """\
RefDes;Name;X (mm);Y (mm);Side;Rotate;Value
R1;RES_0603;10,16;-5,08;Top;90;10k
R2;RES_0603;10,16;5,08;Bottom;90;10k
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 10.16, -5.08, 90.0, "top", "", "RES_0603"), ("R2", 10.16, 5.08, 90.0, "bottom", "", "RES_0603")],
    ),
    Case(
        "French headings in Latin-1",
        """\
Repère;Valeur;Boîtier;X (mm);Y (mm);Rotation;Face
R1;10k;0603;1,5;2,5;90;Dessus
R2;10k;0603;1,5;3,5;90;Dessous
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.5, 2.5, 90.0, "top", "0603", "10k"), ("R2", 1.5, 3.5, 90.0, "bottom", "0603", "10k")],
        encoding="latin-1",
    ),
    Case(
        "Russian headings in windows-1251",
        """\
Поз. обозначение;Номинал;Корпус;X, мм;Y, мм;Угол;Сторона
R1;10к;0603;1,5;2,5;90;Верх
R2;10к;0603;1,5;2,9;90;Низ
""",
        "mm",
        "heading of column 'X, мм'",
        [("R1", 1.5, 2.5, 90.0, "top", "0603", "10к"), ("R2", 1.5, 2.9, 90.0, "bottom", "0603", "10к")],
        encoding="cp1251",
    ),
    Case(
        "Cyrillic letters as axes",
        """\
Поз. обозначение;Номинал;Корпус;Х, мм;У, мм;Угол;Слой
R1;10к;0603;1,5;2,5;90;Верх
""",
        "mm",
        "heading of column 'Х, мм'",
        [("R1", 1.5, 2.5, 90.0, "top", "0603", "10к")],
    ),
    Case(
        "Chinese headings and unit suffixes",
        """\
元件位号,封装,元件值,中心X,中心Y,旋转角度,面
C1,C0603,100nF,12.3mm,4.5mm,90,T
C2,C0603,100nF,12.3mm,5.5mm,90,B
""",
        "mm",
        "suffix of the cells in column '中心X'",
        [("C1", 12.3, 4.5, 90.0, "top", "C0603", "100nF"), ("C2", 12.3, 5.5, 90.0, "bottom", "C0603", "100nF")],
        encoding="gb18030",
    ),
    Case(
        "Chinese values under English headings",
        """\
Designator,Comment,Footprint,Mid X,Mid Y,Layer,Rotation
C1,电容,C0603,12.3mm,4.5mm,T,90
C2,贴片电阻,C0603,12.3mm,5.5mm,B,90
""",
        "mm",
        "suffix of the cells in column 'Mid X'",
        [("C1", 12.3, 4.5, 90.0, "top", "C0603", "电容"), ("C2", 12.3, 5.5, 90.0, "bottom", "C0603", "贴片电阻")],
        encoding="gb18030",
    ),
    Case(
        "byte order mark and inches",
        ("\ufeffRefDes\tSide\tX [in]\tY [in]\tTheta\tPart\nR1\tTOP\t1.25\t0.5\t90\tRC0603\n"),
        "inch",
        "heading of column 'X [in]'",
        [("R1", 31.75, 12.7, 90.0, "top", "", "RC0603")],
    ),
    Case(
        "two names in one heading",
        """\
Reference Designator,Part Number/Description,Layer,X Center,Y Center,Rotation
R1,RC0603,Top,1.000mm,2.0mm,0
""",
        "mm",
        "suffix of the cells in column 'X Center'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "RC0603")],
    ),
    Case(
        "num refdes",
        """\
Designator,X(mm),Y(mm),Rot,Side
1,1,2,0,top
2,1,3,0,top
""",
        "mm",
        "heading of column 'X(mm)'",
        [("1", 1.0, 2.0, 0.0, "top", "", ""), ("2", 1.0, 3.0, 0.0, "top", "", "")],
    ),
    Case(
        "section letters",
        """\
Designator,X(mm),Y(mm),Rot,Side
U3E,1,2,0,top
U3D,1,3,0,top
IC1-A,1,3,0,top
R1_2,1,3,0,top
""",
        "mm",
        "heading of column 'X(mm)'",
        [
            ("U3E", 1.0, 2.0, 0.0, "top", "", ""),
            ("U3D", 1.0, 3.0, 0.0, "top", "", ""),
            ("IC1-A", 1.0, 3.0, 0.0, "top", "", ""),
            ("R1_2", 1.0, 3.0, 0.0, "top", "", ""),
        ],
    ),
    Case(
        "comment heading xyz",
        """\
; Placement
; units: mm
; ref x y rot side pkg
R1 1.25 3.50 90 t 0603
R2 1.25 4.50 0 b 0603
""",
        "mm",
        "line 2 '; units: mm'",
        [("R1", 1.25, 3.5, 90.0, "top", "0603", ""), ("R2", 1.25, 4.5, 0.0, "bottom", "0603", "")],
    ),
    Case(
        "blanks around quotes",
        (' "Ref" , "X (mm)" , "Y (mm)" , "Rot" , "Side" \n "R1" , "1.5" , "2.5" , "90" , "top" \n'),
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.5, 2.5, 90.0, "top", "", "")],
    ),
    Case(
        "rows longer w trailing delim",
        """\
Ref,X(mm),Y(mm),Rot,Side
R1,1,2,0,top,
R2,1,2,0,top,,,
""",
        "mm",
        "heading of column 'X(mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", ""), ("R2", 1.0, 2.0, 0.0, "top", "", "")],
    ),
    Case(
        "heading trailing delim",
        """\
Ref,X(mm),Y(mm),Rot,Side,
R1,1,2,0,top
""",
        "mm",
        "heading of column 'X(mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "")],
    ),
    Case(
        "tab w space-padded",
        ("Ref \t X (mm) \t Y (mm) \t Rot \t Side\n R1 \t 1.5 \t 2.5 \t 90 \t Top\n"),
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.5, 2.5, 90.0, "top", "", "")],
    ),
    Case(
        "panel statement",
        """\
Placement of panel
Ref,X(mm),Y(mm),Rot,Side
A1-R1,1,2,0,top
A2-R1,51,2,0,top
""",
        "mm",
        "heading of column 'X(mm)'",
        [("A1-R1", 1.0, 2.0, 0.0, "top", "", ""), ("A2-R1", 51.0, 2.0, 0.0, "top", "", "")],
    ),
    Case(
        "mixed case top bottom in layer: 'Top Layer' aligned",
        """\
Ref   Layer         X mm     Y mm   Rot
R1    Top Layer     1.00     2.00     0
R2    Bottom Layer  1.00    12.00     0
""",
        "mm",
        "heading of column 'X mm'",
        [("R1", 1.0, 2.0, 0.0, "top", "", ""), ("R2", 1.0, 12.0, 0.0, "bottom", "", "")],
    ),
    Case(
        "heading units aligned separated",
        """\
RefDes   X (mm)   Y (mm)   Rotation (deg)   Side   Part Number
R1       1.00     2.00     0                Top    RC-0603 10K
R2       1.00    22.00     0                Bottom RC-0603 10K
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "RC-0603 10K"), ("R2", 1.0, 22.0, 0.0, "bottom", "", "RC-0603 10K")],
    ),
    Case(
        "pos with unit deg col",
        """\
Ref,Val,Package,PosX,PosY,Rot,Side
C1,1u,0603,1.5mm,2.5mm,90.0deg,top
""",
        "mm",
        "suffix of the cells in column 'PosX'",
        [("C1", 1.5, 2.5, 90.0, "top", "0603", "1u")],
    ),
    Case(
        "pos all bottom neg + name",
        """\
### Module positions
## Unit = mm, Angle = deg.
## Side : bottom
# Ref    Val      Package   PosX   PosY   Rot
R1       10k      0603    -12.5   -3.0    0.0
""",
        "mm",
        "line 2 '## Unit = mm, Angle = deg.'",
        [("R1", -12.5, -3.0, 0.0, "bottom", "0603", "10k")],
        file="x-bottom.pos",
    ),
    Case(
        "xls tab text",
        ("Designator\tX-Pos (mil)\tY-Pos (mil)\tRot.\tMount Side\nR1\t100\t200\t0\tTOP\n"),
        "mil",
        "heading of column 'X-Pos (mil)'",
        [("R1", 2.54, 5.08, 0.0, "top", "", "")],
    ),
    Case(
        "preamble csv key vals",
        """\
Project,Foo
Units,mm
Origin,lower left
Side,Top

Designator,X,Y,Rotation
R1,1,2,0
""",
        "mm",
        "line 2 'Units,mm'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "")],
    ),
    Case(
        "origin/placement by two header lines aligned",
        """\

Part          Center              Rot   Side
Ref        X (mm)    Y (mm)      (deg)
R1          1.00      2.00         90    T
C10        11.00     12.00        180    B
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, 2.0, 90.0, "top", "", ""), ("C10", 11.0, 12.0, 180.0, "bottom", "", "")],
    ),
    Case(
        "ruler boxes",
        """\
+------+---------+---------+-----+------+
| Ref  | X (mm)  | Y (mm)  | Rot | Side |
+------+---------+---------+-----+------+
| R1   |    1.00 |   -2.00 |  90 | top  |
+------+---------+---------+-----+------+
""",
        "mm",
        "heading of column 'X (mm)'",
        [("R1", 1.0, -2.0, 90.0, "top", "", "")],
    ),
    Case(
        "dnp col",
        """\
Ref,X(mm),Y(mm),Rot,Side,Fitted
R1,1,2,0,top,No
""",
        "mm",
        "heading of column 'X(mm)'",
        [("R1", 1.0, 2.0, 0.0, "top", "", "")],
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_dialect_is_read(case: Case, tmp_path: Path) -> None:
    path = tmp_path / "placement"
    path.write_bytes(case.text.encode(case.encoding))
    placement, problems = read_placement(path, case.file, units=case.given)
    assert not problems
    assert placement is not None
    found = [
        (
            part.refdes,
            round(part.center_mm[0], 6),
            round(part.center_mm[1], 6),
            part.rotation_deg,
            part.side,
            part.package,
            part.part_number,
        )
        for part in placement.components
    ]
    assert found == case.parts
    assert (placement.units, placement.units_from) == (case.units, case.units_from)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_part_names_its_line(case: Case, tmp_path: Path) -> None:
    path = tmp_path / "placement"
    path.write_bytes(case.text.encode(case.encoding))
    placement, _ = read_placement(path, case.file, units=case.given)
    assert placement is not None
    lines = case.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for part in placement.components:
        rows = lines[part.line - 1 : part.line + 2]  # a row of several lines is named by its first
        assert part.refdes in " ".join(rows[:1]) or part.refdes in " ".join(rows)
