"""What makes the heat, in the words that all reports share."""

from __future__ import annotations

from overlay.heat.model import BoardSource, FrameHeat, HeatCall, HeatedBy, PartHeat

CAVEAT = (
    "Worked out from the temperatures of parts and bare board alone, with an unknown conductivity of the board: it "
    "explains the map and changes no verdict. What parts that were not read make shows on their "
    "neighbours, or as a place of bare board. Intervals are ± 2 standard uncertainties. Watts need input_power_w."
)


def heat_words(heat: PartHeat) -> str:
    """``makes heat: 22.2 ± 13.4 K its own; 5.0 K from R17, 3.4 K from L1; 4 ± 2 % of the heat (k = 2)``."""
    words = [f"{heat.own_rise_k:.1f} ± {2 * heat.own_rise_u_k:.1f} K its own"]
    if heat.heated_by:
        words.append(heaters_words(heat))
    if heat.call is HeatCall.MAKES_HEAT:
        words.append(share_words(heat))
    return f"{heat.call.value}: {'; '.join(words)} (k = 2)"


def heaters_words(heat: PartHeat) -> str:
    """``5.0 K from R17, 3.4 K from L1``."""
    return ", ".join(f"{heater.rise_k:.1f} K from {_name(heater)}" for heater in heat.heated_by)


def share_words(heat: PartHeat | BoardSource) -> str:
    """``4 ± 2 % of the heat, 0.17 ± 0.08 W``."""
    words = f"{100 * heat.share:.0f} ± {200 * heat.share_u:.0f} % of the heat"
    if heat.power_w is not None:
        words += f", {heat.power_w:.2f} ± {2 * (heat.power_u_w or 0.0):.2f} W"
    return words


def source_name(source: BoardSource) -> str:
    """How a source on bare board is called."""
    return f"board near ({source.board_mm[0]:.0f}, {source.board_mm[1]:.0f})"


def sources_of(heat: FrameHeat) -> list[tuple[str, PartHeat | BoardSource]]:
    """Everything that makes heat, the largest share first, with its name."""
    found: list[tuple[str, PartHeat | BoardSource]] = [
        (part.refdes, part) for part in heat.parts if part.call is HeatCall.MAKES_HEAT
    ]
    found += [(source_name(source), source) for source in heat.board_sources if source.share > source.share_u]
    return sorted(found, key=lambda item: (-item[1].share, item[0]))


def _name(heater: HeatedBy) -> str:
    if heater.refdes is not None:
        return heater.refdes
    return f"board near ({heater.board_mm[0]:.0f}, {heater.board_mm[1]:.0f})"
