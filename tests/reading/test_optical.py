"""Terms of the instrument and of others' light: what they depend on, and which way."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.frames.frame import Emissivity
from overlay.frames.size_of_source import SizeOfSource
from overlay.reading.read_components import read_view
from overlay.registration.faces import project_faces
from overlay.uncertainty import TermName
from overlay.view.emission import seen_from_aside


def term(reading, name: TermName) -> float:
    return sum(abs(item.contribution_k) for item in reading.budget if item.name is name)


def test_an_uneven_frame_counts_in_full_for_every_part(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0), 60.0))
    joint = bench.unsolved(view)
    (even,), (uneven,) = (read_view(replace(view, nonuniformity_c=value), joint).readings for value in (0.0, 0.8))
    assert term(even, TermName.UNEVENNESS) == 0.0
    # at ε = 0.94 and 60 °C a kelvin of the camera at 23 °C is 0.81 K of the part
    assert term(uneven, TermName.UNEVENNESS) == pytest.approx(0.65, abs=0.1)
    assert uneven.peak_c == even.peak_c


def test_the_skirt_takes_more_from_smaller_and_hotter_parts(bench) -> None:
    parts = [
        bench.part("U1", (8.0, 15.0), (1.6, 1.6), 80.0),
        bench.part("U2", (20.0, 15.0), (8.0, 8.0), 80.0),
        bench.part("U3", (33.0, 15.0), (8.0, 8.0), 36.0),
    ]
    small, large, cold = bench.read(*parts).readings
    assert term(small, TermName.SIZE_OF_SOURCE) > 1.3 * term(large, TermName.SIZE_OF_SOURCE)
    assert term(large, TermName.SIZE_OF_SOURCE) > 3.0 * term(cold, TermName.SIZE_OF_SOURCE)


def test_a_measured_curve_puts_back_what_the_lens_took(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0), 60.0), blur_px=1.0)
    curve = SizeOfSource(np.array([10.0, 30.0, 100.0]), np.array([0.85, 0.9, 1.0]), "curve.csv", measured=True)
    joint = bench.unsolved(view)
    (plain,), (corrected,) = (read_view(item, joint).readings for item in (view, replace(view, size_of_source=curve)))
    rise = plain.peak_c - 35.0
    assert corrected.peak_c == pytest.approx(35.0 + rise / 0.9, abs=0.6)


def test_the_side_takes_from_an_emissivity_only_beyond_what_is_usual() -> None:
    mould = Emissivity(0.94, 0.02, "test")
    assert seen_from_aside(mould, 30.0) == mould
    assert seen_from_aside(mould, 45.0).u > mould.u
    assert seen_from_aside(mould, 60.0).u > 3 * mould.u


def test_a_part_mirrors_a_hot_and_taller_neighbour_but_not_a_lower_one(bench) -> None:
    view = bench.view(
        bench.part("U1", (14.0, 15.0), (5.0, 5.0), 40.0, emissivity=0.8),
        bench.part("U2", (20.5, 15.0), (5.0, 5.0), 110.0),
    )
    low, _ = read_view(view, bench.unsolved(view)).readings
    raised = tuple(replace(face, z_mm=8.0) if face.component.refdes == "U2" else face for face in view.faces)
    mirrored, source = read_view(replace(view, faces=raised), bench.unsolved(view)).readings
    assert term(low, TermName.GLOW) == 0.0
    assert 0.3 < term(mirrored, TermName.GLOW) < 5.0
    assert term(source, TermName.GLOW) == 0.0


def test_a_window_shows_the_board_its_own_glow(bench) -> None:
    view = bench.view(bench.part("U1", (14.0, 15.0), (5.0, 5.0), 40.0, emissivity=0.8), board_c=60.0)
    behind = replace(view, sight=replace(view.sight, window_transmittance=0.9, window_reflectance=0.08))
    (open_air,), (window,) = (read_view(item, bench.unsolved(item)).readings for item in (view, behind))
    assert term(open_air, TermName.GLOW) == 0.0
    assert term(window, TermName.GLOW) > 0.1


def test_a_part_without_a_body_is_as_small_or_as_large_as_may_be(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (3.0, 3.0), 80.0), px_per_mm=2.0)
    component = replace(view.board.components[0], body=None)
    board = replace(view.board, components=(component,))
    unknown = replace(view, board=board, faces=project_faces(view.registration, board))
    (reading,) = read_view(unknown).readings
    assert abs(reading.peak_c - 80.0) < 2 * reading.u_c
    assert reading.u_c > 2.0
