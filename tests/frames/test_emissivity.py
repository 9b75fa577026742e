from dataclasses import replace

import numpy as np
import pytest

from overlay.board.kinds import KINDS
from overlay.board.model import Body, Component, Rating
from overlay.errors import InputError
from overlay.frames.emissivity import (
    BOARD,
    DEFAULTS,
    SHINY_BELOW,
    default_emissivity,
    emissivity_of,
    map_from_cold_frames,
    resample_map,
)
from overlay.frames.frame import EmissivityMap
from overlay.frames.radiometry import Band, object_radiance

BAND = Band(8.0, 14.0)
BODY = Body(3.0, 2.0, 1.0, "bodies.csv", emissivity=0.7, emissivity_u=0.05)


def part(kind: str = "ic", body: Body | None = None, rating: Rating | None = None) -> Component:
    return Component("U1", (0.0, 0.0), 0.0, "top", "", "", "", False, 1, kind, body, rating)


def test_the_parts_table_wins_over_the_bodies_table_and_that_over_the_default() -> None:
    rating = Rating(7, emissivity=0.8, emissivity_u=0.02)
    assert emissivity_of(part(body=BODY, rating=rating)).value == 0.8
    assert "line 7" in emissivity_of(part(body=BODY, rating=rating)).source
    assert emissivity_of(part(body=BODY, rating=Rating(7))).value == 0.7
    assert emissivity_of(part()) == DEFAULTS["ic"]
    assert emissivity_of(part(rating=Rating(7, emissivity=0.8))).u > 0.0


def test_what_may_be_bare_metal_is_shiny_until_a_table_says_otherwise() -> None:
    shiny = {kind for kind, emissivity in DEFAULTS.items() if emissivity.value < SHINY_BELOW}
    assert shiny == {"electrolytic", "crystal", "battery", "shield", "heatsink", "module", "mechanical"}
    can = Body(8.0, 8.0, 10.0, "name", shape="round")
    assert default_emissivity(part("capacitor", can)).value < SHINY_BELOW
    square_can = Body(8.3, 8.3, 10.0, "table")
    assert default_emissivity(part("capacitor", square_can)).value < SHINY_BELOW
    chip, film = Body(3.2, 2.5, 2.5, "table"), Body(18.0, 7.0, 12.0, "table")
    assert default_emissivity(part("capacitor", chip)).value > SHINY_BELOW
    assert default_emissivity(part("capacitor", film)).value > SHINY_BELOW
    for kind in ("capacitor", ""):  # without a body nothing tells that it is a can: wide, and never clear
        assert default_emissivity(part(kind)).u >= 0.1
    assert default_emissivity(part("resistor")).value > SHINY_BELOW
    assert BOARD.value > 0.8


@pytest.mark.parametrize(
    ("kind", "package", "value"),
    [
        ("resistor", "Shunt_4x10_Busbar", ""),
        ("resistor", "R_2512_6332Metric", "R002"),
        ("resistor", "R_2512", "0.5 mOhm 1%"),
        ("connector", "USB_C_Receptacle_16P", ""),
        ("connector", "RJ45_Magjack_Horizontal", ""),
        ("connector", "SMA_Edge", ""),
        ("transistor", "TO-39-3", ""),
        ("transistor", "Package_TO:TO-3", ""),
        ("ic", "TO-99-8", ""),
        ("transistor", "TO-220-3_Horizontal_TabUp", ""),
        ("ic", "QFN-40_6x6_Lidded", ""),
        ("ic", "FCBGA-484_23x23", ""),
        ("relay", "TO-5-8", ""),
        ("connector", "Faston_6.3mm", ""),
    ],
)
def test_packages_that_may_show_bare_metal_are_not_readable_by_default(kind: str, package: str, value: str) -> None:
    named = replace(part(kind), package=package, value=value, body=Body(6.0, 3.0, 1.0, "name"))
    assert default_emissivity(named).value < SHINY_BELOW
    assert "no file declares" in default_emissivity(named).source
    assert emissivity_of(replace(named, rating=Rating(3, emissivity=0.9))).value == 0.9


@pytest.mark.parametrize(
    ("kind", "package", "value"),
    [
        ("resistor", "R_2512_6332Metric", "0R1"),
        ("resistor", "R0603", "0R"),
        ("resistor", "R_Axial_DIN0207", "4k7"),
        ("connector", "PinHeader_2x05_P2.54mm", ""),
        ("connector", "Terminal_2P_5.08", ""),
        ("transistor", "TO-3P-3_Vertical", ""),
        ("transistor", "TO-220-3_Vertical", ""),
        ("transistor", "TO-252-3", ""),
        ("regulator", "TO-92-3", ""),
        ("transistor", "SOT-23-3", ""),
        ("ic", "QFN-32_5x5", ""),
        ("ic", "SOIC-8_3.9x4.9mm", ""),
        ("ic", "BGA-144_10x10", ""),
        ("relay", "RELAY_19x15", ""),
        ("diode", "SMB", ""),
    ],
)
def test_moulded_and_painted_packages_are_readable_by_default(kind: str, package: str, value: str) -> None:
    named = replace(part(kind), package=package, value=value, body=Body(6.0, 3.0, 1.0, "name"))
    assert default_emissivity(named).value > SHINY_BELOW


def test_every_kind_of_part_has_a_default() -> None:
    assert set(KINDS) | {""} == set(DEFAULTS)
    for emissivity in DEFAULTS.values():
        assert emissivity.value - emissivity.u > 0.0
        assert emissivity.value + emissivity.u <= 1.0
        assert emissivity.source


TRUTH = np.repeat(np.array([[0.97, 0.9, 0.6, 0.3, 0.1, 0.05]]), 400, axis=0)


def cold(stage_c: float, noise_c: float = 0.0, reflected_c: float = 23.0, seed: int = 1) -> np.ndarray:
    leaving = object_radiance(BAND, stage_c, TRUTH, reflected_c)
    noise = np.random.default_rng(seed).normal(0.0, 1.0, TRUTH.shape) * noise_c
    return BAND.radiance(BAND.temperature_c(leaving) + noise)


def test_exact_frames_give_the_emissivity_back_with_one_and_with_two_temperatures() -> None:
    one = map_from_cold_frames(BAND, [cold(60.0)], [60.0], 23.0)
    two = map_from_cold_frames(BAND, [cold(40.0), cold(70.0)], [40.0, 70.0], 99.0)
    np.testing.assert_allclose(one.value, TRUTH, rtol=0, atol=1e-9)
    np.testing.assert_allclose(two.value, TRUTH, rtol=0, atol=1e-9)


def test_the_map_scatters_as_it_claims() -> None:
    rng = np.random.default_rng(7)
    for temperatures in ([60.0], [40.0, 70.0]):
        deviations = []
        for trial in range(60):
            stage = rng.normal(temperatures, 0.5)
            room = rng.normal(23.0, 1.0)
            frames = [cold(value, 0.06, room, 10 * trial + k) for k, value in enumerate(stage)]
            found = map_from_cold_frames(BAND, frames, temperatures, 23.0)
            deviations.append((found.value - TRUTH) / found.u)
        spread = np.nanstd(np.concatenate(deviations), axis=0)
        # stage and room errors are common to a frame: 60 of them, so the spread is known to about 10 %
        if len(temperatures) == 2:
            assert (spread < 1.25).all()
            assert (spread > 0.75).all()
        else:
            assert (spread[1:] < 1.3).all()
            assert (spread[1:] > 0.7).all()


def test_the_uncertainty_as_a_share_of_emissivity_grows_as_that_falls() -> None:
    found = map_from_cold_frames(BAND, [cold(60.0)], [60.0], 23.0)
    share = (found.u / found.value)[0]
    assert (np.diff(share) > 0.0).all()


def test_pixels_that_no_emissivity_explains_are_invalid() -> None:
    frame = cold(60.0)
    frame[0, 0] = BAND.radiance(75.0)  # brighter than a black body
    frame[1, 1] = BAND.radiance(15.0)  # darker than a mirror
    frame[2, 2] = BAND.radiance(60.2)  # a black body, within the noise of the stage
    found = map_from_cold_frames(BAND, [frame], [60.0], 23.0)
    assert np.isnan(found.value[0, 0])
    assert np.isnan(found.u[0, 0])
    assert np.isnan(found.value[1, 1])
    assert found.value[2, 2] == 1.0


def test_a_map_taken_in_another_pose_is_brought_to_the_captures_pixels() -> None:
    y, x = np.mgrid[0:400, 0:6].astype(float)
    sampling = np.stack([x, y + 3.0], axis=-1)
    found = resample_map(map_from_cold_frames(BAND, [cold(60.0)], [60.0], 23.0, source="cold.tiff"), sampling)
    np.testing.assert_allclose(found.value[:-3], TRUTH[:-3], rtol=0, atol=1e-9)
    assert np.isnan(found.value[-3:]).all()
    assert found.source == "cold.tiff: the unpowered board at 60 °C"


def test_a_stage_as_warm_as_its_surroundings_tells_nothing() -> None:
    with pytest.raises(InputError, match="lie within 5 K"):
        map_from_cold_frames(BAND, [cold(60.0)], [25.0], 23.0)
    with pytest.raises(InputError, match="lie within 5 K"):
        map_from_cold_frames(BAND, [cold(60.0)] * 2, [60.0, 61.0], 23.0)
    with pytest.raises(InputError, match="2 frames and 1 temperatures"):
        map_from_cold_frames(BAND, [cold(60.0)] * 2, [60.0], 23.0)
    with pytest.raises(InputError, match="differ in size"):
        map_from_cold_frames(BAND, [cold(40.0), cold(60.0)[1:]], [40.0, 60.0], 23.0)


def test_a_map_is_resampled_to_another_pose() -> None:
    y, x = np.mgrid[0:20, 0:30].astype(float)
    given = EmissivityMap(0.5 + 0.01 * x + 0.005 * y, np.full(x.shape, 0.02), "made up")
    place = np.stack([x + 1.25, y - 0.5], axis=-1)
    found = resample_map(given, place, pixel_u=0.5)
    inside = (place[..., 0] <= 29) & (place[..., 1] >= 0)
    np.testing.assert_array_equal(np.isfinite(found.value), inside)
    np.testing.assert_allclose(found.value[inside], (0.5 + 0.01 * place[..., 0] + 0.005 * place[..., 1])[inside])
    np.testing.assert_allclose(found.u[inside], np.hypot(0.02, 0.5 * np.hypot(0.01, 0.005)))
    nowhere = resample_map(given, np.full(place.shape, np.nan))
    assert np.isnan(nowhere.value).all()


def test_the_stages_own_uncertainty_is_a_share_of_every_emissivity() -> None:
    """One kelvin of the stage at 60 °C, reflected 23 °C: −1.57 K at 85 °C whatever ε, worked out independently."""
    found = map_from_cold_frames(BAND, [cold(60.0)], [60.0], 23.0, stage_u_c=1.0, reflected_u_c=0.0, noise_c=0.0)
    known = np.isfinite(found.u)
    assert found.u[known] == pytest.approx(found.common_share * found.value[known])
    contrast = float(BAND.radiance(85.0) - BAND.radiance(23.0)) / float(BAND.slope(85.0))
    assert found.common_share * contrast == pytest.approx(1.57, abs=0.03)
