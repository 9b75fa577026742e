"""Every column of the joint solution against finite differences of the picture that it draws."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.unmixing.columns import columns_of
from overlay.unmixing.draw import draw, sweeps_of
from overlay.unmixing.edges import edges_of
from overlay.unmixing.normal import normal_equations
from overlay.unmixing.pattern import pattern_of
from overlay.unmixing.picture import picture_of
from overlay.unmixing.solids import solids_of
from overlay.unmixing.solve import state_of, vector_of
from overlay.unmixing.state import BENEATH, moves_of, unknowns_of
from overlay.unmixing.task import outlines_of, task_of
from overlay.unmixing.windows import lots_of
from tests.unmixing.unmixing_world import Part, World, view_of

LOW = (
    Part("R1", (6.0, 6.0), (1.6, 0.8, 0.5), 80.0, 20.0, 0.22, 0.3, terminals="ends"),
    Part("R2", (8.2, 6.3), (2.0, 1.25, 0.6), 55.0, 90.0, 0.22, 0.3, terminals="ends"),
    Part("R3", (12.0, 5.0), (3.2, 1.6, 0.6), 70.0, 0.0, 0.22, 0.3, terminals="ends"),
    Part("U1", (20.0, 12.0), (5.0, 4.0, 1.0), 65.0, 30.0, terminals="leads_all", kind="ic"),
    Part("U2", (12.0, 14.0), (1.5, 1.4, 1.1), 60.0, 0.0, terminals="leads_x", kind="ic"),
    Part("D1", (15.2, 14.3), (1.8, 1.6, 1.2), 75.0, 10.0, kind="diode"),
)
TALL = (
    Part("L1", (24.0, 6.0), (4.0, 3.0, 4.0), 70.0, 15.0, kind="inductor"),
    Part("C1", (5.0, 14.0), (2.0, 2.0, 3.0), 60.0, 0.0, kind="capacitor"),
)
# Share of a column's length that may differ: a body's corners below its top face move a little less than the top does,
# and what the pose turns and stretches within one body is left out.
AGREES = 0.06


def prepared(parts: tuple[Part, ...]):
    world = World(parts, tilt_deg=(10.0, -8.0), noise_c=0.0)
    view = view_of(world)
    task = task_of(view, solids_of(view))
    mixture, random = task.mixture, np.random.default_rng(3)
    vector = vector_of(mixture, task.start)
    layout = mixture.layout
    k = task.k_in_radiance
    vector[layout.top] += random.uniform(5, 40, layout.top.stop - layout.top.start) * k
    vector[layout.board] += random.uniform(-2, 2, layout.board.stop) * k
    for places, size in ((layout.shift, 0.1), (layout.grown, 0.03), (layout.mirrored, 2.0 * k)):
        there = places[places >= 0]
        vector[there] += random.uniform(-size, size, len(there))
    vector[layout.pose] = random.uniform(-0.3, 0.3, layout.pose.stop - layout.pose.start)
    return task, state_of(mixture, vector, task.start)


def picture_at(task, state):
    """The picture, and what its edges sweep."""
    mixture, outlines = task.mixture, outlines_of(task, state)
    bodies = mixture.bodies
    lots = lots_of(bodies, outlines, state.sigma_px, mixture.observed.shape)
    edges = edges_of(bodies, outlines, state.sigma_px, lots)
    shares = [draw(edges, lot, pieces, bodies.walled) for lot, pieces in zip(lots, edges.pieces, strict=True)]
    picture = picture_of(mixture, state, outlines, lots, shares)
    return picture, sweeps_of(bodies, outlines, edges, moves_of(bodies, mixture.layout, task.pose_factor))


def model(task, vector, state):
    return picture_at(task, state_of(task.mixture, vector, state))[0].model


def jacobian(task, state):
    """Derivatives of the picture (unknowns, pixels) as the normal equations take them."""
    mixture = task.mixture
    picture, sweeps = picture_at(task, state)
    told = np.zeros((mixture.layout.count, *mixture.observed.shape))
    for knot in range(mixture.field.knots):
        told[knot] = picture.board_share * mixture.field.picture(np.eye(1, mixture.field.knots, knot)[0])
    beneath, share = mixture.field.at(mixture.bodies.center_mm[:, :2])
    for number, lot in enumerate(picture.lots):
        unknowns = unknowns_of(mixture.bodies, mixture.layout, lot)
        drawn = columns_of(mixture, picture, number, np.ones(unknowns.shape[1], dtype=bool), sweeps)
        for body, targets, columns, (row, col) in zip(lot.bodies, unknowns, drawn, lot.corner, strict=True):
            window = np.s_[row : row + lot.shape[0], col : col + lot.shape[1]]
            for target, column in zip(targets, columns, strict=True):
                if target >= 0:
                    told[target][window] += column
                elif target == BENEATH:
                    for knot, weight in zip(beneath[body], share[body], strict=True):
                        told[knot][window] += weight * column
    return told.reshape(len(told), -1)


@pytest.fixture(scope="module", params=[LOW, LOW + TALL], ids=["low bodies", "tall ones among them"])
def compared(request):
    task, state = prepared(request.param)
    layout = task.mixture.layout
    told, vector = jacobian(task, state), vector_of(task.mixture, state)
    found = np.full_like(told, np.nan)
    steps = np.full(layout.count, 1e-3)
    for radiances in (layout.board, layout.top, layout.mirrored[layout.mirrored >= 0]):  # which are held in 32 bits
        steps[radiances] = 0.1 * task.k_in_radiance
    steps[layout.bows[layout.bows >= 0]] = 0.01
    some_knots = range(0, layout.board.stop, 13)  # hundreds of knots are worked out alike
    for j, step in ((j, steps[j]) for j in (*some_knots, *range(layout.board.stop, layout.count))):
        up, down = vector.copy(), vector.copy()
        up[j] += step
        down[j] -= step
        found[j] = ((model(task, up, state) - model(task, down, state)) / (2 * step)).ravel()
    return task, told, found


def apart(told, found):
    """Length of the difference of each column over the column's own."""
    return np.linalg.norm(told - found, axis=1) / np.maximum(np.linalg.norm(found, axis=1), 1e-12)


@pytest.mark.parametrize("kind", ["board", "top", "mirrored", "leads", "bows", "walls"])
def test_columns_of_radiances_are_exact(compared, kind: str) -> None:
    task, told, found = compared
    layout = task.mixture.layout
    places = getattr(layout, kind)
    rows = np.arange(layout.count)[places] if isinstance(places, slice) else places[places >= 0]
    rows = rows[np.linalg.norm(found[rows], axis=1) > 1e-9]  # nan where a knot was not tried
    assert len(rows) or kind == "walls"  # only tall bodies have a wall of their own
    assert apart(told[rows], found[rows]).max(initial=0.0) < 1e-3


@pytest.mark.parametrize("kind", ["shift", "grown"])
def test_columns_of_each_bodys_geometry_are_those_of_the_drawn_picture(compared, kind: str) -> None:
    task, told, found = compared
    places = getattr(task.mixture.layout, kind)
    rows = places[places >= 0]
    assert apart(told[rows], found[rows]).max() < AGREES


@pytest.mark.parametrize("kind", ["caps", "pads"])
def test_columns_of_shared_metal_are_those_of_the_drawn_picture(compared, kind: str) -> None:
    task, told, found = compared
    rows = np.arange(task.mixture.layout.count)[getattr(task.mixture.layout, kind)]
    assert apart(told[rows], found[rows]).max() < AGREES


def test_columns_of_blur_and_pose_are_those_of_the_drawn_picture() -> None:
    task, state = prepared(LOW)  # taller bodies follow the pose without steering it
    layout = task.mixture.layout
    told, vector = jacobian(task, state), vector_of(task.mixture, state)
    for j in [layout.blur, *range(layout.pose.start, layout.pose.stop)]:
        up, down = vector.copy(), vector.copy()
        up[j], down[j] = up[j] + 1e-3, down[j] - 1e-3
        found = (model(task, up, state) - model(task, down, state)).ravel() / 2e-3
        assert apart(told[j : j + 1], found[None]).max() < AGREES


def test_normal_equations_are_the_products_of_all_columns() -> None:
    task, state = prepared(LOW + TALL)
    mixture = task.mixture
    picture, sweeps = picture_at(task, state)
    weight = np.where(task.usable, 1.0 + 0.5 * np.sin(np.arange(task.usable.size).reshape(task.usable.shape)), 0.0)
    pattern = pattern_of(mixture, picture.lots, task.usable, task.prior.precision)
    equations = normal_equations(mixture, pattern, picture, weight, sweeps)
    upper = equations.local.toarray()
    local = upper + np.triu(upper, 1).T
    matrix = np.block([[local, equations.border], [equations.border.T, equations.inner]])
    told = jacobian(task, state)
    expected = (told * weight.ravel()) @ told.T + task.prior.precision.toarray()
    unit = np.sqrt(np.diag(expected))
    assert (matrix / unit / unit[:, None]) == pytest.approx(expected / unit / unit[:, None], abs=1e-5)
    residual = (weight * (mixture.observed - picture.model)).ravel()
    assert equations.right / unit == pytest.approx(told @ residual / unit, abs=1e-5 * np.linalg.norm(residual))


def test_a_step_along_the_pose_changes_the_cost_as_predicted() -> None:
    task, state = prepared(LOW)
    layout, mixture = task.mixture.layout, task.mixture
    told, vector = jacobian(task, state), vector_of(mixture, state)
    observed = model(task, vector, replace(state)) + 0.3 * np.sin(np.arange(mixture.observed.size)).reshape(
        mixture.observed.shape
    )
    step = np.zeros(layout.count)
    step[layout.pose] = 0.02
    before = np.sum((observed - model(task, vector, state)) ** 2)
    after = np.sum((observed - model(task, vector + step, state)) ** 2)
    predicted = np.sum(((observed - model(task, vector, state)).ravel() - told.T @ step) ** 2)
    assert after - before == pytest.approx(predicted - before, rel=0.1)
