"""Pursuit against a general solver of differential equations, and against closed forms on circles.

The solver (SciPy, DOP853) moves the coordinates of the body: its velocity points along the line and takes up
what the lead does along it. It knows no angles and no closed forms. Its plane is the azimuthal equidistant
one around the track at the equator.
"""

import numpy as np
import pytest
from pursuit_scenes import Plane, wandering
from scipy.integrate import solve_ivp

from towzone.gear.pursuit import pursue

PLANE = Plane(-25.0, 0.0)
NODES = 41
WITHIN_M = 1e-3
"""As asked of the method. Found: 0.01 mm at most, with current and winch or without."""


def solved(path, length, start, drift):
    """Bodies at the nodes, shape (n, 2), each leg lasting from 0 to 1."""
    bodies = [start]
    for here, there, before, after, current in zip(
        path[:-1], path[1:], length[:-1], length[1:], drift, strict=True
    ):

        def velocity(tau, body, here=here, lead=there - here, paid=after - before, current=current):
            line = here + tau * lead - body
            along = line / np.hypot(*line)
            return current + (along @ (lead - current) - paid) * along

        bodies.append(
            solve_ivp(velocity, (0.0, 1.0), bodies[-1], method="DOP853", rtol=1e-11, atol=1e-9).y[:, -1]
        )
    return np.array(bodies)


def taut_tracks(seed, *, winch, current):
    """Random tracks on which the line keeps taut, with what is to be expected of them."""
    rng = np.random.default_rng(seed)
    made = 0
    while made < 24:
        path = wandering(rng, NODES, (20.0, 180.0), 0.35)
        path -= path.mean(axis=0)
        length = np.full(NODES, rng.uniform(150.0, 600.0))
        if winch:
            length = length[0] + np.cumsum(rng.uniform(-10.0, 8.0, NODES))
        drift = rng.normal(0.0, 10.0, 2) + rng.normal(0.0, 2.0, (NODES - 1, 2)) if current else None
        drifts = {} if drift is None else {"drift_east_m": drift[:, 0], "drift_north_m": drift[:, 1]}
        found = pursue(*PLANE.positions(path), length, **drifts)
        if length.min() > 50.0 and not found.slack.any():
            made += 1
            yield path, length, np.zeros((NODES - 1, 2)) if drift is None else drift, found


@pytest.mark.parametrize(("winch", "current"), [(False, False), (True, False), (False, True), (True, True)])
def test_random_tracks_agree_with_the_solver(winch, current):
    """Twenty-four tracks of forty legs, in all nodes."""
    worst = 0.0
    for path, length, drift, found in taut_tracks(11, winch=winch, current=current):
        body = PLANE.points(found.lon_deg, found.lat_deg)
        worst = max(worst, np.hypot(*(body - solved(path, length, body[0], drift)).T).max())

    assert worst < WITHIN_M


def test_slack_is_what_a_stiff_rope_does():
    """A rope that pulls in proportion to its stretch and never pushes, however near the lead comes.

    Tracks with sharp corners; such a rope stretches by the speed over the stiffness, up to 0.1 m, and that
    far the two differ.
    """
    rng = np.random.default_rng(12)
    for _ in range(6):
        path = wandering(rng, 16, (50.0, 300.0), 1.2)
        length = 300.0 + np.cumsum(rng.uniform(-20.0, 20.0, 16))
        found = pursue(*PLANE.positions(path), length)
        body = PLANE.points(found.lon_deg, found.lat_deg)
        bodies = [body[0]]
        for here, there, before, after in zip(path[:-1], path[1:], length[:-1], length[1:], strict=True):

            def velocity(tau, body, here=here, lead=there - here, before=before, after=after):
                line = here + tau * lead - body
                size = np.hypot(*line)
                return 3000.0 * max(0.0, size - before - tau * (after - before)) * line / size

            bodies.append(
                solve_ivp(velocity, (0.0, 1.0), bodies[-1], method="LSODA", rtol=1e-7, atol=1e-5).y[:, -1]
            )

        assert found.slack.any()
        assert np.hypot(*(body - np.array(bodies)).T).max() < 0.15


def half_angle_on_a_circle(x, ratio, run):
    """Tangent of half the angle between heading and line after a run (in lengths) on a circle.

    ``ratio`` is length over radius; the three cases of the gear model, section 2.3 (own derivation).
    """
    if ratio < 1.0:
        root = np.sqrt(1.0 - ratio**2)
        low, high = (1.0 - root) / ratio, (1.0 + root) / ratio
        share = (x - low) / (x - high) * np.exp(-root * run)
        return (low - share * high) / (1.0 - share)
    if ratio == 1.0:
        return 1.0 - 1.0 / (1.0 / (1.0 - x) + run / 2.0)
    root = np.sqrt(ratio**2 - 1.0)
    return (1.0 + root * np.tan(root * run / 2.0 + np.arctan((ratio * x - 1.0) / root))) / ratio


@pytest.mark.parametrize("start_deg", [-40.0, 0.0, 15.0])
@pytest.mark.parametrize(
    ("radius", "run_m"), [(800.0, 900.0), (404.0, 900.0), (400.0, 900.0), (320.0, 300.0)]
)
def test_circles_agree_with_their_closed_form(radius, run_m, start_deg):
    """Chords of 0.5 m: the angle at the last node is that of the circle to 1e-6 of a radian."""
    legs = round(run_m / 0.5)
    phi = np.arange(legs + 1) * 0.5 / radius
    path = radius * np.column_stack([1.0 - np.cos(phi), np.sin(phi)])
    found = pursue(*PLANE.positions(path), np.full(legs + 1, 400.0), start_bearing_deg=-start_deg)

    wanted = 2.0 * np.arctan(
        half_angle_on_a_circle(np.tan(np.radians(start_deg) / 2.0), 400.0 / radius, phi * radius / 400.0)
    )
    angle = (phi - np.radians(found.bearing_deg) + np.pi) % (2.0 * np.pi) - np.pi
    assert np.abs(angle - wanted).max() < 1e-6
    assert not found.slack.any()


def test_a_circle_tighter_than_the_line_leaves_it_slack():
    """Radius 0.8 L: the line passes square (gear model, 2.3) and hangs slack from there."""
    phi = np.arange(3001) * 0.5 / 320.0
    path = 320.0 * np.column_stack([1.0 - np.cos(phi), np.sin(phi)])
    found = pursue(*PLANE.positions(path), np.full(3001, 400.0))
    square = phi[np.argmax(half_angle_on_a_circle(0.0, 1.25, phi * 0.8) >= 1.0)]

    assert 1300.0 < square * 320.0 < 1350.0
    # A chord points half a chord ahead of the circle, which the angle takes two and a half legs to grow.
    assert abs(phi[np.argmax(found.slack)] - square) < 3.0 * 0.5 / 320.0
