"""Names as part libraries of many kinds write them, and the body each tells, at IPC-7351 level A."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.bodies import body_from_package
from overlay.board.model import Body
from overlay.board.packages.parts import is_mechanical
from overlay.board.packages.words import normal

# name = x × y [× height], "round" before a diameter, "-" where the name tells no body
KNOWN = """
0603 = 1.6 x 0.8
R0603 = 1.6 x 0.8 x 0.45
C_0402_1005Metric = 1.0 x 0.5 x 0.5
R_0402_1005Metric = 1.0 x 0.5 x 0.35
R_0201_0603Metric = 0.6 x 0.3
C_01005_0402Metric = 0.4 x 0.2
R_1206_3216Metric_Pad1.30x1.75mm_HandSolder = 3.2 x 1.6
R_2512_6332Metric = 6.35 x 3.2
L_0805_2012Metric = 2.0 x 1.25
LED_0805_2012Metric = 2.0 x 1.25
LED_1206_3216Metric_ReverseMount_Hole1.8x2.4mm = 3.2 x 1.6
LED0603 = 1.6 x 0.8
0603-LED = 1.6 x 0.8
LED_0603_RED = 1.6 x 0.8
RES-0805 = 2.0 x 1.25 x 0.55
RES_0805 = 2.0 x 1.25 x 0.55
CAP_1206_HS = 3.2 x 1.6 x 1.6
0603M = 0.6 x 0.3
C0402M = 0.4 x 0.2
1608M = 1.6 x 0.8
1608 = 1.6 x 0.8
2012 = 2.0 x 1.25
C3225 = 3.2 x 2.5 x 2.5
2010 = 5.0 x 2.5
R2512 = 6.35 x 3.2
C0603K = 1.6 x 0.8 x 0.8
SMD0402 = 1.0 x 0.5
0402-R = 1.0 x 0.5 x 0.35
0402C = 1.0 x 0.5 x 0.5
CHIP-0603(1608-METRIC) = 1.6 x 0.8
0603 (1608 Metric) = 1.6 x 0.8
1206 (3216 Metric) = 3.2 x 1.6
RESC2012(0805)N = 2.0 x 1.25
6-0805_M = 2.0 x 1.25
J1-0603 = 1.6 x 0.8
Resistor_SMD:R_0603_1608Metric = 1.6 x 0.8 x 0.45
Fuse_1206_3216Metric = 3.2 x 1.6
Fuse_2920_7451Metric = 7.36 x 5.12
R_0612_1632Metric = 1.6 x 3.2
L_1008_2520Metric = 2.5 x 2.0
R_Array_Convex_4x0603 = 1.6 x 3.2
R_MELF_MMB-0207 = 5.8 x 2.2 x 2.2
R_MiniMELF_MMA-0204 = 3.6 x 1.4 x 1.4
D_MiniMELF = 3.5 x 1.6
D_MELF = 5.2 x 2.6
LL34 = 3.5 x 1.6
SOD-80 = 3.5 x 1.6
CP_EIA-3216-18_Kemet-A = 3.2 x 1.6 x 1.8
CP_EIA-7343-31_Kemet-D_Pad2.25x2.55mm_HandSolder = 7.3 x 4.3 x 3.1
CP_EIA-7343-43_Kemet-X = 7.3 x 4.3 x 4.3
CP_Tantalum_Case-B_EIA-3528-21_Hand = 3.5 x 2.8 x 2.1
A/3216-18W = 3.2 x 1.6 x 1.8
C/6032-28W = 6.0 x 3.2 x 2.8
TANT-B = 3.5 x 2.8 x 2.1
CASE-D = 7.3 x 4.3 x 3.1
CAPMP7343 = 7.3 x 4.3
2917 (7343 Metric) = 7.3 x 4.3
CASE-E = -
TANT-V = -
CASE-X = -
SIZE-Y = -
CP_Elec_6.3x5.4 = round 6.3 x 5.4
CP_Elec_10x10.5 = round 10.0 x 10.5
C_Elec_6.3x5.8 = round 6.3 x 5.8
CAPAE-6.6X6.6H5.4 = round 6.3 x 5.4
CAP-SMD_BD6.3-L6.6-W6.6-FD = round 6.3
CP_Radial_D8.0mm_P3.50mm = round 8.0 x 11.5
CP_Radial_D6.3mm_P2.50mm = round 6.3 x 11
C_Radial_D10.0mm_H20.0mm_P5.00mm = round 10.0 x 20
CAP-TH_BD8.0-P3.50-D0.6-FD = round 8.0
C_Disc_D5.0mm_W2.5mm_P5.00mm = 5.0 x 2.5
RV_Disc_D7mm_W3.4mm_P5mm = 7.0 x 3.4
C_Rect_L7.2mm_W2.5mm_P5.00mm_FKS2_FKP2_MKS2_MKP2 = 7.2 x 2.5
R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal = 6.3 x 2.5 x 2.5
L_Axial_L5.3mm_D2.2mm_P10.16mm_Horizontal = 5.3 x 2.2 x 2.2
0207/10 = 6.3 x 2.5 x 2.5
0204/7 = 3.6 x 1.6
D_DO-41_SOD81_P10.16mm_Horizontal = 5.2 x 2.7
D_DO-41_SOD81_P5.08mm_Vertical_KathodeUp = -
D_SMA = 4.3 x 2.6 x 2.4
DO-214AC = 4.3 x 2.6 x 2.4
DO-214AA (SMB) = 4.3 x 3.6
D_SMB_Handsoldering = 4.3 x 3.6 x 2.3
SMC = 6.85 x 5.9 x 2.3
SMA_L4.3-W2.6-LS5.2-RD = 4.3 x 2.6
D_SOD-123 = 2.65 x 1.55
SOD-123F = 2.65 x 1.55
D_SOD-323 = 1.7 x 1.3
D_SOD-523 = 1.2 x 0.8
SOD923 = 0.8 x 0.6
SOT-23 = 1.3 x 2.9 x 1.1
SOT23 = 1.3 x 2.9
SOT23-3 = 1.3 x 2.9
SOT-23_Handsoldering = 1.3 x 2.9
SOT23-BEC = 1.3 x 2.9
TO-236AB = 1.3 x 2.9
TO-236-3, SC-59, SOT-23-3 = 1.3 x 2.9
SOT-23-5 = 1.6 x 2.9 x 1.45
SOT23-6L = 1.6 x 2.9
TSOT-23-6 = 1.6 x 2.9 x 1.0
SC70-5 = 1.25 x 2.0 x 1.1
SOT-323 = 1.25 x 2.0
SOT-323_SC-70 = 1.25 x 2.0
SOT-363_SC-70-6 = 1.25 x 2.0
SC-88A = 1.25 x 2.0
SOT-563 = 1.2 x 1.6 x 0.6
SOT-143 = 1.3 x 2.9
SC-74 = 1.5 x 2.9
SOT-89-3 = 2.5 x 4.5 x 1.5
SOT-223 = 3.5 x 6.5 x 1.8
SOT-223-3_TabPin2 = 3.5 x 6.5 x 1.8
TO-252-3_TabPin2 = 6.1 x 6.54 x 2.39
PG-TO252-3 = 6.1 x 6.54
DPAK = 6.1 x 6.54
TO-252-2_L6.6-W6.1-P4.57-LS9.9-TL = 6.1 x 6.6
D2PAK = 9.25 x 10.0 x 4.4
TO-263-5 = 9.25 x 10.0 x 4.4
TO-263-7_TabPin4 = 9.25 x 10.0
TO-220-3_Vertical = 10.0 x 4.4
TO-220-3_Horizontal_TabDown = 10.0 x 15.6 x 4.4
TO-247-3_Vertical = 15.9 x 5.0
TO-126-3_Vertical = 8.0 x 3.25
TO-92_Inline = 4.8 x 3.7
SOIC-8_3.9x4.9mm_P1.27mm = 3.9 x 4.9 x 1.75
SOIC-8-1EP_3.9x4.9mm_P1.27mm_EP2.29x3mm = 3.9 x 4.9 x 1.75
SOIC-8 (4.90x3.91mm) = 3.91 x 4.9
SOIC-8_L4.9-W3.9-P1.27-LS6.0-BL = 4.9 x 3.9
SO8 = 3.9 x 4.9 x 1.75
SO-14 = 3.9 x 8.65
8-SOIC (0.154", 3.90mm Width) = 3.9 x 4.9
16-SOIC (0.295", 7.50mm Width) = 7.5 x 10.3
SOP-8 = 3.9 x 4.9
SOIC8-208 = 5.3 x 5.25
SO-16W = 7.5 x 10.3 x 2.65
SOICW-16 = 7.5 x 10.3 x 2.65
SOIC16-300 = 7.5 x 10.3
SOIC-16W_7.5x10.3mm_P1.27mm = 7.5 x 10.3 x 2.65
SO20 = 7.5 x 12.8
SOIC-28W = 7.5 x 17.9
SOP-4_4.4x2.6mm_P1.27mm = 4.4 x 2.6
TSSOP-16_4.4x5mm_P0.65mm = 4.4 x 5.0 x 1.2
TSSOP-20 = 4.4 x 6.5 x 1.2
16-TSSOP (0.173", 4.40mm Width) = 4.4 x 5.0
HTSSOP-16-1EP_4.4x5mm_P0.65mm_EP3.4x5mm = 4.4 x 5.0 x 1.2
TSSOP-48_P0.5mm = 6.1 x 12.5
SSOP28 = 5.3 x 10.2 x 2.0
SSOP-20_5.3x7.2mm_P0.65mm = 5.3 x 7.2
SSOP-16_4.4x5.2mm_P0.65mm = 4.4 x 5.2
QSOP-16_3.9x4.9mm_P0.635mm = 3.9 x 4.9
MSOP-10 = 3.0 x 3.0 x 1.1
MSOP-8_3x3mm_P0.65mm = 3.0 x 3.0
VSSOP-8_2.3x2mm_P0.5mm = 2.3 x 2.0
LQFP-48_7x7mm_P0.5mm = 7.0 x 7.0 x 1.6
LQFP-48_L7.0-W7.0-P0.50-LS9.0-BL = 7.0 x 7.0 x 1.6
TQFP44 = 10.0 x 10.0 x 1.2
LQFP64 = 10.0 x 10.0 x 1.6
64-LQFP = 10.0 x 10.0
TQFP-100 = 14.0 x 14.0
LQFP-144_20x20mm_P0.5mm = 20.0 x 20.0
QFP-100 = -
QFN-32-1EP_5x5mm_P0.5mm_EP3.45x3.45mm = 5.0 x 5.0
QFN-28-1EP_4x5mm_P0.5mm_EP2.65x3.65mm = 4.0 x 5.0
QFN24-4X4 = 4.0 x 4.0
QFN-56-EP(7x7) = 7.0 x 7.0
VQFN-24-1EP_4x4mm_P0.5mm_EP2.45x2.45mm_ThermalVias = 4.0 x 4.0
QFN-16 = -
DFN-8_3x3 = 3.0 x 3.0
TDFN-8-1EP_2x3mm_P0.5mm_EP1.3x1.4mm = 2.0 x 3.0
DFN2020-6 = 2.0 x 2.0
DFN1006-2 = 1.0 x 0.6
X2SON-8_1.4x1mm_P0.35mm = 1.4 x 1.0
WSON-8-1EP_2x2mm_P0.5mm_EP0.9x1.6mm = 2.0 x 2.0
WSON-8 = -
BGA-256_17.0x17.0mm_Layout16x16_P1.0mm = 17.0 x 17.0
BGA-64_8x8 = -
TFBGA-64_5x5mm_Layout8x8_P0.5mm = 5.0 x 5.0
DSBGA-5_0.822x1.116mm_Layout2x1x2_P0.4mm = 0.822 x 1.116
WLCSP-12_1.2x1.6mm_P0.4mm = 1.2 x 1.6
LGA-12_2x2mm_P0.5mm = 2.0 x 2.0
DIP-8_W7.62mm = 6.35 x 9.27 x 5.33
PDIP-14 = 6.35 x 19.05
DIL16 = 6.35 x 19.05
DIP-28_W15.24mm = 13.8 x 37.4
DIP-28_W7.62mm = 6.35 x 34.7
DIP-28 = -
DIP-40 = 13.8 x 51.75
PLCC-44 = 16.6 x 16.6
PLCC-28 = 11.5 x 11.5
L_12x12mm_H8mm = 12.0 x 12.0 x 8.0
L_6.3x6.3_H3 = 6.3 x 6.3 x 3.0
IND_4x4 = 4.0 x 4.0
IND-SMD_L4.0-W4.0 = 4.0 x 4.0
Inductor_SMD:L_12×12mm_H8mm = 12.0 x 12.0 x 8.0
L_7,3x7,3mm_H3,5 = 7.3 x 7.3 x 3.5
Crystal_SMD_3225-4Pin_3.2x2.5mm = 3.2 x 2.5
Crystal_SMD_0603-4Pin_6.0x3.5mm = 6.0 x 3.5
Crystal_SMD_3215 = 3.2 x 1.5
XTAL-3225 = 3.2 x 2.5
CRYSTAL-SMD_4P-L3.2-W2.5-BL = 3.2 x 2.5
Oscillator_SMD_Abracon_ASE-4Pin_3.2x2.5mm = 3.2 x 2.5
HC49-S = 11.4 x 4.65
HC49-U = 11.05 x 4.65 x 13.5
LED_PLCC-2 = 3.5 x 2.8
LED_PLCC-2_3.4x3.0mm_AK = 3.4 x 3.0
LED_3528 = 3.5 x 2.8
MAKER RES 0201_0603 = 0.6 x 0.3
CAP 1206_3216 - 1.0MM = 3.2 x 1.6
0402-NARROW_NO-PASTE = 1.0 x 0.5
R_2512_HIGH_POWER = 6.35 x 3.2
C_1808(4520)_3MIL_X = 4.5 x 2.0
R0603MP = 1.6 x 0.8
BALUN-0805 = 2.0 x 1.25
L0805CS = 2.29 x 1.73
R_0402x4 = 1.0 x 2.0
SOIC127PX600X175-14N = 3.9 x 8.65
SOP127X1032X265-20N = 7.5 x 12.8
MAKER_QFN50P500X500X90-32N = 5.0 x 5.0
DFN200X300X80-8N = 2.0 x 3.0
SOT23-6P95_280X145L60X40 = 1.6 x 2.9
TQFP-50P-1200L1-1200L2-64N = 10.0 x 10.0
DIP254P762X420-14N = 6.35 x 19.05
CAP ALSMD ELEC 8.3MM H7.7MM = round 8.0
CAP_ELECTRO_D6.3S2.5 = round 6.3
CPOL-RM2.0mm_5x11mm = round 5.0
CPOL-RADIAL-2.0MM-5MM = round 5.0
XTAL-32x25 = 3.2 x 2.5
XTAL_NX2520SA = 2.5 x 2.0
MAKER_COIL VLS252012 = 2.5 x 2.0 x 1.2
NRS6045 = 6.0 x 6.0 x 4.5
SSOP24_W5.6mm = 5.6 x 8.2
QFN48-0.4MM = 6.0 x 6.0
R-PWQFN-N28_EP2.1x3.1mm = -
PLCC-44_Socket = -
SMA-EDGE_JACK = -
PLCC-4 LED = 3.5 x 2.8
LED SMD 3535 = 3.5 x 3.5
PinSocket_1x10_P2.00mm_Vertical_SMD = 2.5 x 20.0
1N4148-THT = 4.0 x 1.85
TO-220_LAYING = 10.0 x 15.6
CAPC0402_M = 1.0 x 0.5 x 0.5
CAPC0805 = 2.0 x 1.25
CAPC0603X33N = 0.6 x 0.3 x 0.33
CAPC0603 (0201) = 0.6 x 0.3
SOIC8_1D27_3_9X4_9MM = 3.9 x 4.9
QFN48_0D5_7X7MM = 7.0 x 7.0
X4_SMD_3_2X2_5MM = 3.2 x 2.5
BGA96_P8_7P5X13 = 7.5 x 13.0
HEADER2X8_1D27 = 3.4 x 10.16
SOT_323 = 1.25 x 2.0
MLF10_3X3_05MM_EP = 3.0 x 3.0
AP7361 = -
QFN16_50P300X300X100_HS-17N = 3.0 x 3.0
LQFP-48_7x7x05P = 7.0 x 7.0 x 1.6
UD-4X5,8_MAKER = round 4.0 x 5.8
CAP-D6.3xL5.4 = round 6.3 x 5.4
D-PAK = 6.1 x 6.54
5-SOT23 = 1.6 x 2.9
CDRH5D28 = 5.7 x 5.7 x 2.8
CD54 = 5.8 x 5.2 x 4.5
X3225 = 3.2 x 2.5 x 0.7
SMBJ = 4.3 x 3.6
LED_D5.0mm = round 5.4
LED_3MM = round 3.4
SRP7028A = 7.0 x 7.0 x 2.8
SRR1005 = 10.0 x 10.0 x 5.0
L_Vishay_IHLP-2525 = 6.67 x 6.67
Vishay_PowerPAK_1212-8_Single = 3.3 x 3.3
C050-030X075 = 7.5 x 3.0
JST_XH_B4B-XH-A_1x04_P2.50mm_Vertical = 12.4 x 5.75 x 7.0
Potentiometer_Bourns_3296W_Vertical = 9.5 x 4.8 x 10.0
HDR1X4 = 2.54 x 10.16
2x5 header = 5.08 x 12.7
TO-3 = 39.0 x 26.0
UFQFPN-48 = 7.0 x 7.0
LED_D5.0mm_Horizontal_O1.27mm_Z3.0mm = -
LED_WS2812B_PLCC4_5.0x5.0mm_P3.2mm = 5.0 x 5.0
PinHeader_1x04_P2.54mm_Vertical = 2.54 x 10.16
PinHeader_2x05_P2.54mm_Vertical = 5.08 x 12.7
PinSocket_1x06_P2.54mm_Vertical = 2.54 x 15.24 x 8.5
USB_C_Receptacle_HRO_TYPE-C-31-M-12 = 8.94 x 7.3
BarrelJack_Horizontal = 14.5 x 9.0
SW_DIP_SPSTx08_Slide_9.78x22.5mm_W7.62mm_P2.54mm = 9.78 x 22.5
Heatsink_35x26mm_1xFixation3mm = 35.0 x 26.0
Module_18.0x25.5x3.1mm = 18.0 x 25.5 x 3.1
SM/R_0805 = 2.0 x 1.25 x 0.55
SM/SOT23_123 = 1.3 x 2.9
SOT23_5 = 1.6 x 2.9 x 1.45
SOT23_3 = 1.3 x 2.9
SOIC_8 = 3.9 x 4.9
SO08 = 3.9 x 4.9
SOIC8N = 3.9 x 4.9
SOIC-16L = 3.9 x 9.9
SO16L = -
SO-8FL = 5.9 x 5.1
PowerPAK_SO-8_Single = 5.9 x 5.1
HSOP-20 = -
HSOP-8-1EP_3.9x4.9mm_P1.27mm_EP2.41x3.1mm = 3.9 x 4.9
CHIPLED_0603 = 1.6 x 0.8
HC49/S = 11.4 x 4.65
Crystal_HC49-U-3Pin_Vertical = 11.05 x 4.65
DO35-7 = 4.0 x 1.85
CT3528 = 3.5 x 2.8
CASE-B_3528 = 3.5 x 2.8 x 2.1
32-LQFP (7x7) = 7.0 x 7.0
48-QFN (7x7) = 7.0 x 7.0
TO-263 (D2Pak) = 9.25 x 10.0
RES-TH_BD2.4-L6.3-P10.30-D0.6 = 6.3 x 2.4 x 2.4
DO-41_BD2.4-L4.7-P8.70-D0.9-RD = 4.7 x 2.4
LED-TH_BD5.0-P2.54-RD = round 5.4
CP_Axial_L10.0mm_D4.5mm_P15.00mm_Horizontal = 10.0 x 4.5
L_Toroid_Vertical_L22.4mm_W10.2mm_P7.90mm_Vishay_TJ5 = 22.4 x 10.2
SW_Push_1P1T_NO_6x6mm_H9.5mm = 6.0 x 6.0 x 9.5
SOIC127P600-8M = 3.9 x 4.9
TQFP80P1200X1200-44N = 10.0 x 10.0
TO457P1000X238-3N = 6.1 x 6.54 x 2.38
RESCAXS80P320X160X55-8N = 1.6 x 3.2 x 0.55
XTAL320X250X80N = 3.2 x 2.5 x 0.8
RESAD1016W52L630D250B = 6.3 x 2.5 x 2.5
DIPS762W52P254L946H508Q8 = 6.35 x 9.46 x 5.08
SON50P300X200X80-9T165X238N = 3.0 x 2.0 x 0.8
PLCC127P1753X1753X457-44N = 16.6 x 16.6 x 4.57
SOJ127P840X350-28 = 7.6 x 17.78 x 3.5
"""

UNKNOWN = """
Oscillator_DIP-8
Relay_DIP-14
FanPinHeader_1x04_P2.54mm_Vertical
Fuseholder_Clip-5x20mm_Littelfuse_111
L_CommonModeChoke_Coilcraft_0603USB
Crystal_DS10_D1.0mm_L4.3mm_Horizontal
SOT-227
TO-220-11_P3.4x5.08mm_StaggerOdd_Lead4.85mm_Vertical
SOIC-99
LQFP-99
L_Sunlord_MWSA0402S
SMA_Amphenol_132134_Vertical
CONN-SMA
JST_PH_S2B-PH-K_1x02_P2.00mm_Horizontal
TerminalBlock_Phoenix_MKDS-1,5-2-5.08_1x02_P5.08mm_Horizontal
MountingHole_3.2mm_M3
MountingHole_3.2x5.0mm
TestPoint_Pad_1.0x1.0mm
SolderWirePad_1x01_SMD_5x10mm
Fiducial_1mm_Mask2mm
BatteryHolder_Keystone_1060_1x2032
Relay_SPDT_Finder_36.11
Buzzer_12x9.5RM7.6
SW_SPST_TL3342
ESP32-WROOM-32
Molex_Pico_53048
DB_1S
RESC16085X55
SOIC127P600X175
RM1005
R
0000
9999
SMD
-
_
x
1x1
"""


def pairs() -> list[tuple[str, str]]:
    rows = [line.rpartition(" = ") for line in KNOWN.strip().splitlines()]
    return [(name, expected) for name, _, expected in rows]


@pytest.mark.parametrize(("name", "expected"), pairs(), ids=lambda text: text)
def test_a_name_tells_its_body(name: str, expected: str) -> None:
    body = body_from_package(name)
    if expected == "-":
        assert body is None
        return
    assert body is not None
    shape = "round" if expected.startswith("round") else "box"
    sizes = [float(size) for size in expected.removeprefix("round").split("x")]
    sides = sizes[:1] * 2 + sizes[1:] if shape == "round" else sizes
    assert body.shape == shape
    assert (body.length_mm, body.width_mm) == pytest.approx(sides[:2], abs=0.011)
    if len(sides) == 3:
        assert body.height_mm == pytest.approx(sides[2], abs=0.011)
    assert body.source


@pytest.mark.parametrize("name", UNKNOWN.strip().splitlines())
def test_what_a_name_does_not_tell_is_not_invented(name: str) -> None:
    assert body_from_package(name) is None


def test_the_corpus_is_large() -> None:
    assert len(pairs()) + len(UNKNOWN.split("\n")) >= 200


@pytest.mark.parametrize(
    ("name", "terminals"),
    [
        ("R0603", "ends"),
        ("D_MELF", "ends"),
        ("CP_EIA-3216-18_Kemet-A", "leads_x"),
        ("D_SMA", "leads_x"),
        ("SOT-23", "leads_x"),
        ("SOIC-8", "leads_x"),
        ("SOIC127P600X175-8N", "leads_x"),
        ("LQFP-48", "leads_all"),
        ("QFN-32_5x5mm", "none"),
        ("BGA-100_11x11mm", "none"),
        ("CP_Elec_8x10", "none"),
    ],
)
def test_metal_shows_where_the_family_has_it(name: str, terminals: str) -> None:
    body = body_from_package(name)
    assert body is not None
    assert body.terminals == terminals


@pytest.mark.parametrize(
    "name",
    [
        "SOIC-8_3.9x4.9mm_P1.27mm",
        "SOIC127P600X175-8N",
        "TSSOP-16_4.4x5mm_P0.65mm",
        "SOT-23",
        "SOT-223-3_TabPin2",
        "TO-252-3_TabPin2",
        "DIP-8_W7.62mm",
        "DFN-8_2x3mm",
        "PinHeader_1x04_P2.54mm_Vertical",
    ],
)
def test_level_b_lays_pin_rows_a_quarter_turn_on(name: str) -> None:
    a, b = body_from_package(name, "A"), body_from_package(name, "B")
    assert a is not None
    assert b is not None
    assert (b.length_mm, b.width_mm) == (a.width_mm, a.length_mm)
    assert b.terminals == ("none" if a.terminals == "none" else "leads_y")


@pytest.mark.parametrize("name", ["R0603", "D_SMA", "CP_EIA-3216-18", "QFN-28_4x5mm", "LQFP-48", "TO-220-3_Vertical"])
def test_level_b_leaves_two_terminal_and_quad_packages(name: str) -> None:
    a, b = body_from_package(name, "A"), body_from_package(name, "B")
    assert a is not None
    assert b is not None
    assert replace(b, level="A") == a
    assert b.level == ("B" if name == "LQFP-48" else "A")  # its pin 1 goes to another corner


def test_a_bare_chip_code_is_as_high_as_its_kind() -> None:
    heights = {kind: body_from_package("0805", kind=kind) for kind in ("resistor", "capacitor")}
    assert {kind: body and body.height_mm for kind, body in heights.items()} == {"resistor": 0.55, "capacitor": 1.25}


@given(st.text(max_size=60))
def test_any_text_as_a_package_tells_a_body_or_none(text: str) -> None:
    body = body_from_package(text)
    assert body is None or (isinstance(body, Body) and 0.0 < body.length_mm <= 200.0 and 0.0 < body.width_mm <= 200.0)


PIECES = [
    "SOIC",
    "QFN",
    "0603",
    "1608",
    "Metric",
    "-",
    "_",
    "8",
    "x",
    "3.9",
    "mm",
    "P1.27",
    "EP",
    "CAPC",
    "SOT",
    "TO",
    "D",
]


@given(
    st.lists(st.sampled_from([*PIECES, "L", "W", "DIP", "H8", "CP_", "EIA-", "7343", "/", "(", ")", " "]), max_size=9)
)
def test_any_mixture_of_name_pieces_tells_a_body_or_none(pieces: list[str]) -> None:
    body = body_from_package("".join(pieces))
    assert body is None or min(body.length_mm, body.width_mm) > 0.0


@given(st.sampled_from([name for name, expected in pairs() if expected != "-"]))
def test_case_and_blanks_around_a_name_do_not_matter(name: str) -> None:
    body = body_from_package(name)
    assert body_from_package(f"  {name.lower()} ") == body == body_from_package(name.upper())


@pytest.mark.parametrize(
    "name", ["JUMPER2-0402_NC", "TP_SMD_10.00x2.00mm", "SJ_2_OPEN", "STANDOFF-M3", "OSHW_5MM", "MountingHole_3.2mm_M3"]
)
def test_marks_pads_and_hardware_have_no_body(name: str) -> None:
    assert is_mechanical(normal(name))
    assert body_from_package(name) is None


def test_a_connector_with_mounting_holes_is_a_part() -> None:
    assert not is_mechanical(normal("DSUB-9_Male_Vertical_MountingHoles"))
