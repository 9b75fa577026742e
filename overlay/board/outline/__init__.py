"""The board's edge from SVG, Gerber, DXF and IPC-2581."""
