"""Contact readings brought to infrared readings: agreement, contradiction, and what they say of the camera."""

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from overlay.board.model import Board, Component, Outline
from overlay.errors import InputError
from overlay.frames.radiometry import Band
from overlay.probes.contact import apply_contacts
from overlay.probes.model import ContactReading
from overlay.probes.read import read_contacts
from overlay.reading.model import FrameReading, Reading
from overlay.uncertainty import Term, TermName, combined_k, difference_k

BAND = Band(8.0, 14.0)
CAMERA_U = 1.2


def component(refdes: str) -> Component:
    return Component(refdes, (0.0, 0.0), 0.0, "top", "SOIC-8", "X", "X", False, 1)


def board(*names: str) -> Board:
    import shapely

    parts = tuple(component(name) for name in names)
    return Board("b", "A", parts, Outline(shapely.box(-9, -9, 9, 9), "test"), Path("p.csv"), "mm", "test")


def reading(refdes: str, peak: float | None, *, state: str = "read", own_u: float = 1.0, **more: Any) -> Reading:
    budget = (Term(TermName.CAMERA, CAMERA_U, "camera:load"), Term(TermName.EMISSIVITY, own_u, f"emissivity:{refdes}"))
    return Reading(
        refdes,
        "load",
        state,
        peak,
        peak,
        combined_k(budget),
        peak,
        (0.0, 0.0),
        50.0,
        1.0,
        0.94,
        0.02,
        budget=budget,
        **more,  # type: ignore[arg-type]
    )


def view(*names: str) -> Any:
    return SimpleNamespace(ambient_c=23.0, reflected_c=23.0, reflected_u_c=1.0, band=BAND, board=board(*names))


def frame(*readings: Reading) -> FrameReading:
    return FrameReading(readings, (), np.zeros((8, 8)), 1.3, "declared")


def contact(refdes: str, temperature: float, u: float = 0.9) -> ContactReading:
    return ContactReading(refdes, temperature, u, None, None, "", 2)


def applied(readings: list[Reading], contacts: list[ContactReading], **more: Any) -> Any:
    names = [item.refdes for item in readings]
    shares, places = more.get("wire_share", {}), more.get("at_place_c", {})
    combined, met, problems = apply_contacts(frame(*readings), view(*names), contacts, shares, places, "contact.csv")
    return {item.refdes: item for item in combined.readings}, met, problems


def test_agreeing_readings_are_weighted_by_their_uncertainties() -> None:
    after, (meeting,), problems = applied([reading("U1", 80.0)], [contact("U1", 82.0)])
    infrared_u = math.hypot(CAMERA_U, 1.0)
    weight = infrared_u**2 / (infrared_u**2 + 0.9**2)
    assert meeting.agrees
    assert not problems
    assert after["U1"].state == "contact"
    assert after["U1"].peak_c == pytest.approx(80.0 + 2.0 * weight)
    assert after["U1"].u_c == pytest.approx(1 / math.sqrt(1 / infrared_u**2 + 1 / 0.9**2))


def test_a_contradiction_is_told_and_never_averaged() -> None:
    after, (meeting,), (problem,) = applied([reading("U1", 80.0)], [contact("U1", 95.0)])
    assert meeting.agrees is False
    assert (problem.file, problem.line, problem.severity) == ("contact.csv", 2, "warning")
    assert after["U1"].peak_c == 95.0
    cooler, _, _ = applied([reading("U1", 80.0)], [contact("U1", 65.0)])
    assert (cooler["U1"].peak_c, cooler["U1"].state) == (80.0, "read")
    assert "contradicts" in cooler["U1"].why[-1]


def test_a_shiny_or_hidden_part_takes_the_contact_reading_alone() -> None:
    for state, peak in (("shiny", 31.0), ("hidden", None)):
        after, _, _ = applied([reading("C9", peak, state=state)], [contact("C9", 71.0)])
        assert (after["C9"].state, after["C9"].peak_c, after["C9"].u_c) == ("contact", 71.0, 0.9)


def test_agreeing_contacts_tighten_every_other_part_of_the_frame() -> None:
    parts = [reading(f"U{i}", 70.0 + i, own_u=0.4) for i in range(5)]
    # the camera reads 1.5 K too low: each contact is that much higher
    contacts = [contact(f"U{i}", 71.5 + i, 0.6) for i in range(4)]
    after, _, problems = applied(parts, contacts)
    assert not problems
    untouched = after["U4"]
    assert untouched.state == "read"
    assert untouched.peak_c == pytest.approx(75.5, abs=0.4)
    assert untouched.u_c is not None
    assert untouched.u_c < 0.7 * combined_k(parts[4].budget)


def test_beads_that_are_wrong_each_by_itself_leave_less_than_is_claimed() -> None:
    """Simulated frames whose beads share nothing: the corrected untouched part scatters less than it might."""
    rng = np.random.default_rng(4)
    scores = []
    for _ in range(600):
        camera = rng.normal()
        true = rng.uniform(50, 90, 4)
        infrared = true + CAMERA_U * camera + rng.normal(0, 0.5, 4)
        parts = [reading(f"U{i}", float(infrared[i]), own_u=0.5) for i in range(4)]
        contacts = [contact(f"U{i}", float(true[i] + rng.normal(0, 0.7)), 0.7) for i in range(3)]
        after, _, problems = applied(parts, contacts)
        if not problems:
            scores.append((after["U3"].peak_c - true[3]) / after["U3"].u_c)
    assert len(scores) > 500
    assert abs(float(np.mean(scores))) < 0.12
    assert 0.75 < float(np.std(scores)) < 1.0


def test_six_beads_that_are_wrong_together_teach_no_more_than_their_common_error_allows() -> None:
    """Simulated frames with a common error of beads and of a default emissivity, as six readings of one meter have."""
    rng = np.random.default_rng(8)
    scores, left = [], []
    for _ in range(400):
        camera, bead, emissivity = rng.normal(), rng.normal(), rng.normal()
        true = rng.uniform(50, 90, 7)
        infrared = true + CAMERA_U * camera + 0.9 * (0.9 * emissivity + np.sqrt(0.19) * rng.normal(0, 1, 7))
        parts = [reading(f"U{i}", float(infrared[i]), own_u=0.9) for i in range(7)]
        beads = true + 1.4 * (0.9 * bead + np.sqrt(0.19) * rng.normal(0, 1, 7))
        after, _, _ = applied(parts, [contact(f"U{i}", float(beads[i]), 1.4) for i in range(6)])
        scores.append((after["U6"].peak_c - true[6]) / after["U6"].u_c)
        left.append(next(term.contribution_k for term in after["U6"].budget if term.name is TermName.CAMERA))
    assert 0.75 < float(np.std(scores)) < 1.05
    assert np.mean(left) > 0.8  # of 1.2 K; as if beads were independent 0.45 would be left


def test_the_wire_s_draw_put_back_is_known_only_roughly() -> None:
    _, (meeting,), _ = applied([reading("R1", None, state="hidden")], [contact("R1", 71.0)], wire_share={"R1": 0.1})
    assert meeting.contact_u_c == pytest.approx(math.hypot(0.9, 0.3 * 48.0 / 9.0))


def test_a_meter_s_resolution_taken_for_its_accuracy_is_challenged() -> None:
    _, _, problems = applied([reading("U1", 80.0)], [contact("U1", 80.2, 0.1)])
    assert [(problem.column, problem.line) for problem in problems] == [("u_c", 2)]
    assert "T class 1" in problems[0].what
    assert not applied([reading("U1", 80.0)], [contact("U1", 80.2, 0.9)])[2]


def test_common_terms_stay_common_after_a_contact() -> None:
    after, _, _ = applied([reading("U1", 80.0), reading("U2", 70.0)], [contact("U1", 80.5, 3.0)])
    one, other = after["U1"], after["U2"]
    assert difference_k(one.budget, other.budget) < math.hypot(one.u_c, other.u_c)


def test_what_the_wire_draws_off_is_put_back() -> None:
    after, (meeting,), _ = applied([reading("R1", None, state="hidden")], [contact("R1", 71.0)], wire_share={"R1": 0.1})
    assert meeting.contact_c == pytest.approx(23.0 + 48.0 / 0.9)
    assert after["R1"].peak_c == pytest.approx(23.0 + 48.0 / 0.9)


def test_a_bead_off_the_peak_is_carried_there() -> None:
    _, (meeting,), _ = applied([reading("U1", 80.0)], [contact("U1", 76.0)], at_place_c={"U1": 76.5})
    assert meeting.contact_c == pytest.approx(79.5)


def test_a_bead_on_the_tab_is_never_averaged_with_the_top_and_teaches_nothing_of_the_camera() -> None:
    tab = replace(contact("Q1", 71.0), on_case=True)
    after, met, problems = applied([reading("Q1", 80.0), reading("U2", 60.0)], [tab])
    assert (met, problems) == ((), ())
    assert (after["Q1"].state, after["Q1"].peak_c, after["U2"].peak_c) == ("read", 80.0, 60.0)
    assert after["Q1"].case is not None
    assert (after["Q1"].case.temperature_c, combined_k(after["Q1"].case.budget)) == (71.0, pytest.approx(0.9))
    assert after["Q1"].shows_top


def test_a_bead_on_the_tab_stands_for_a_part_whose_top_mirrors() -> None:
    tab = replace(contact("Q1", 71.0), on_case=True)
    after, _, _ = applied([reading("Q1", 31.0, state="shiny")], [tab])
    assert (after["Q1"].state, after["Q1"].peak_c, after["Q1"].u_c) == ("contact", 71.0, pytest.approx(0.9))
    assert not after["Q1"].shows_top


def test_a_bead_known_better_than_any_class_is_taken_for_the_finest() -> None:
    after, _, problems = applied([reading("C9", None, state="hidden")], [contact("C9", 71.0, 0.05)])
    assert after["C9"].u_c == pytest.approx(0.5 / math.sqrt(3.0))
    assert "0.29 is used" in problems[0].remedy


def test_a_bead_may_sit_on_top_and_another_on_the_tab(tmp_path: Path) -> None:
    path = tmp_path / "c.csv"
    path.write_text("refdes,temperature_c,u_c,at\nU1,71.5,0.8,\nU1,69,0.8,Tab\nU2,50,0.8,case\n")
    found = read_contacts(path, "c.csv", board("U1", "U2"))
    assert [(item.refdes, item.on_case) for item in found] == [("U1", False), ("U1", True), ("U2", True)]
    path.write_text("refdes,temperature_c,u_c,at\nU1,71.5,0.8,lead\n")
    with pytest.raises(InputError, match="no place of a bead"):
        read_contacts(path, "c.csv", board("U1"))


def test_an_emissivity_is_inferred_and_offered_to_parts_alike() -> None:
    true_c, emissivity = 75.0, 0.30
    leaving = emissivity * BAND.radiance(true_c) + (1 - emissivity) * BAND.radiance(23.0)
    parts = [
        reading("L1", 40.0, state="shiny", leaving_radiance=float(leaving), leaving_u=0.5),
        reading("L2", 38.0, state="shiny"),
    ]
    combined, (meeting,), _ = apply_contacts(frame(*parts), view("L1", "L2"), [contact("L1", true_c)], {}, {}, "c.csv")
    assert meeting.emissivity == pytest.approx(emissivity, abs=1e-6)
    assert meeting.emissivity_u is not None
    assert 0.0 < meeting.emissivity_u < 0.05
    assert meeting.alike == ("L2",)
    assert any("L2" in note and "0.30" in note for note in combined.notes)


def test_the_table_is_read_with_tolerance_and_gauge_and_unfilled_rows_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "c.csv"
    path.write_text("rank,refdes,temperature_c,u_c,thermocouple,awg,reason\n1,U1,71.5,0.3,K1,36,\n2,U2,,,,,near\n")
    (only,) = read_contacts(path, "c.csv", board("U1", "U2"))
    assert only.u_c == pytest.approx(math.hypot(0.3, 1.5 / math.sqrt(3)))
    assert only.wire_diameter_mm == pytest.approx(0.127)


def test_every_wrong_cell_of_the_table_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "c.csv"
    path.write_text(
        "refdes,temperature_c,u_c,board_x_mm,board_y_mm,thermocouple\n"
        "U9,50,1,,,\nU1,warm,1,,,\nU1,50,-1,,,\nU1,50,1,3,,\nU1,50,1,,,J\nU1,50,0,,,\nU2,50,1,,,\nU2,51,1,,,\n"
    )
    with pytest.raises(InputError) as caught:
        read_contacts(path, "c.csv", board("U1", "U2"))
    assert [problem.line for problem in caught.value.problems] == [2, 3, 4, 5, 6, 7, 9]
