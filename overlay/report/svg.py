"""Paints a `Drawing` as SVG text."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable

from overlay.frames.frame import Array
from overlay.plain_text import visible
from overlay.report.drawing import Area, Drawing, Label, Line, Mark, Picture
from overlay.report.palette import INK

_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})

# One definition a page: hatches over a verdict's fill, the second cue besides its colour.
HATCHES = """<svg class="hatches" width="0" height="0" aria-hidden="true"><defs>
<pattern id="hatch-rising" width="0.9" height="0.9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">\
<path d="M0 0V0.9" stroke="#1d1d1b" stroke-width="0.16"/></pattern>
<pattern id="hatch-cross" width="0.9" height="0.9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">\
<path d="M0 0V0.9M0 0H0.9" stroke="#fff" stroke-width="0.16"/></pattern>
<pattern id="hatch-dots" width="0.9" height="0.9" patternUnits="userSpaceOnUse">\
<circle cx="0.45" cy="0.45" r="0.13" fill="#1d1d1b"/></pattern>
<pattern id="hatch-level" width="0.9" height="0.9" patternUnits="userSpaceOnUse">\
<path d="M0 0.45H0.9" stroke="#1d1d1b" stroke-width="0.12"/></pattern>
</defs></svg>"""


def escaped(text: str) -> str:
    """Text safe between tags and inside quoted attributes; control characters are shown by their number."""
    clean = visible(text)
    if not clean.isprintable():
        clean = "".join(letter if letter.isprintable() else " " for letter in clean)
    return clean.translate(_ESCAPES)


def svg_text(drawing: Drawing, name: str) -> str:
    """The drawing as an ``<svg>`` element; marks that belong to a part carry ``data-part``."""
    body = "\n".join(_mark(mark, drawing.height_mm) for mark in drawing.marks)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" aria-labelledby="{name}-title" '
        f'viewBox="0 0 {drawing.width_mm:g} {drawing.height_mm:g}">'
        f'<title id="{name}-title">{escaped(drawing.description)}</title>\n{body}\n</svg>'
    )


def _mark(mark: Mark, height: float) -> str:
    if isinstance(mark, Area):
        return _area(mark, height)
    if isinstance(mark, Line):
        dash = ' stroke-dasharray="1.2 0.8"' if mark.dashed else ""
        points = " ".join(f"{x:.2f},{height - y:.2f}" for x, y in mark.points)
        return (
            f'<polyline points="{points}" fill="none" stroke="{mark.stroke}" stroke-width="{mark.width_mm:g}"'
            f"{dash}{_part(mark.part)}/>"
        )
    if isinstance(mark, Label):
        return _label(mark, height)
    return _picture(mark, height)


def _part(part: str, kind: str = "") -> str:
    return f' data-part="{escaped(part)}"{kind}' if part else ""


def ring_path(rings: Iterable[Array], height: float) -> str:
    """Path data of closed rings."""
    return "".join("M" + "L".join(f"{x:.2f} {height - y:.2f}" for x, y in ring) + "Z" for ring in rings)


def _area(area: Area, height: float) -> str:
    path = ring_path(area.rings, height)
    stroke = f' stroke="{area.stroke}" stroke-width="{area.width_mm:g}"' if area.stroke else ""
    dash = ' stroke-dasharray="1.2 0.8"' if area.dashed else ""
    opacity = f' opacity="{area.opacity:g}"' if area.opacity < 1.0 else ""
    fill = area.fill or "none"
    title = f"<title>{escaped(area.title)}</title>" if area.title else ""
    part = _part(area.part, ' class="body"')
    shape = f'<path d="{path}" fill="{fill}" fill-rule="evenodd"{stroke}{dash}{opacity}{part}'
    text = f"{shape}>{title}</path>" if title else f"{shape}/>"
    if area.hatch:
        text += f'<path d="{path}" fill="url(#hatch-{area.hatch})" fill-rule="evenodd" pointer-events="none"/>'
    return text


def _label(label: Label, height: float) -> str:
    x, y = label.x_mm, height - label.y_mm
    turn = f' transform="rotate({-label.angle_deg:g} {x:.2f} {y:.2f})"' if label.angle_deg else ""
    weight = ' font-weight="bold"' if label.bold else ""
    halo = ""
    if label.halo is not None:
        halo = f' stroke="{label.halo}" stroke-width="{label.size_mm * 0.25:.2f}" paint-order="stroke"'
    color = "" if label.color == INK else f' fill="{label.color}"'
    anchor = "" if label.anchor == "start" else f' text-anchor="{label.anchor}"'
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{label.size_mm:.2f}"{color}{anchor}{weight}{halo}{turn}'
        f"{_part(label.part)}>{escaped(label.text)}</text>"
    )


def _picture(picture: Picture, height: float) -> str:
    top = height - picture.y_mm - picture.height_mm
    return (
        f'<image x="{picture.x_mm:.2f}" y="{top:.2f}" width="{picture.width_mm:.2f}" '
        f'height="{picture.height_mm:.2f}" preserveAspectRatio="none" image-rendering="pixelated" '
        f'href="{png_address(picture)}"/>'
    )


def png_address(picture: Picture) -> str:
    """A picture's pixels as a ``data:`` address."""
    from PIL import Image

    image = Image.fromarray(picture.numbers)
    image.putpalette(picture.colors.tobytes())
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode()
