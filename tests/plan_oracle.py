"""Slow second opinions on planned lines: whether one keeps clear, whether there is one, and how short it is.

`judged` moves the gear of many lines in many truths side by side with `gear_oracle.dragged` and holds it
against the zones in the plane of the scene. `ways` looks for lines on graphs of its own, by a footprint of
its own; what it finds counts only when `surely_clear` confirms it: gear dragged with extreme figures.

Only what a plan is given (scene, figures with their deviations) is shared with towzone.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely
from gear_oracle import KNOT_MPS, dragged, level, offset
from gear_scenes import Truth
from plan_scenes import figures_of, judge_of, legs_of, scene

from towzone.model.plan import NoLine
from towzone.model.vessel import Rig
from towzone.plan.route.corrected import find_line

SEED = 20261126

DRAWS, RIM, SIGMAS = 16, 12, 3.0
"""Truths of a line: so many by chance, and so many on the rim of what is allowed for."""
TOUCH_M = 0.005
"""What is nearer than this touches, whatever the margin."""
UNSURE_M = 0.05
"""The plane is true to 4 parts in a million at 30 km."""
EVERY_M = 12.0
"""So far apart are the moments, in way of the vessel, at which the gear of a truth is held against zones."""
SHARPEST_DEG, LAYBACKS = 60.0, 3.0
SLOW = 2.2
"""By so many deviations slower than its figures a winch may be where a line has to be surely clear."""


# ---------------------------------------------------------------- the way of vessel and gear


@dataclass(frozen=True)
class Case:
    """A line of a scene with the figures of its gear, as ``{name: figure}``, and truths to try."""

    scene: object
    line: object
    figures: dict
    truth: Truth
    steering: np.ndarray
    """Turning vectors (turns per metre, phase, share) of how the vessel strays, shape (3, k)."""
    slow: float = 0.0
    """By so many standard deviations the winch is slower than its figures: how long the runs are."""


@dataclass(frozen=True)
class Sailed:
    """Vessel and gear of a case, n moments and k truths; the clock is 0 where towing begins."""

    case: Case
    clock_s: np.ndarray
    vessel: np.ndarray
    block: np.ndarray
    doors: np.ndarray
    codend: np.ndarray
    towline_m: np.ndarray
    towed_s: float


def rig_of(figures):
    return Rig.BEAM if "beam_length" in figures else Rig.TWIN if "clump_warp" in figures else Rig.SINGLE


def stream_of(scene):
    current = scene.figures.current
    if current is None:
        return 0.0j
    return current.drift_kn * KNOT_MPS * np.exp(1j * np.radians(90.0 - current.set_deg))


def behind_m(figures):
    """Lengths of what is towed behind the doors, by the figures."""
    return figures["net_length"].value + (figures["sweeps"].value if "sweeps" in figures else 0.0)


def runs_s(figures, slow=0.0):
    """How long shooting and hauling take: warp, sweeps and net, by a winch so many deviations slower."""
    out = figures["warp"].value + behind_m(figures)
    speeds = [figures[n].value - slow * figures[n].sigma for n in ("veer_speed", "haul_speed")]
    return out / speeds[0], out / speeds[1]


def course_of(case):
    """Time and place of run-in, line and run-out, and how long the line itself takes.

    The gear is shot over the run-in and hauled over the run-out: all of warp, sweeps and net.
    """
    one = case.scene
    z, _ = one.dense(case.line)
    speed, way = one.speed_kn * KNOT_MPS, one.hauling_way_kn * KNOT_MPS
    shooting, hauling = runs_s(case.figures, case.slow)
    ahead = (z[1] - z[0]) / abs(z[1] - z[0]), (z[-1] - z[-2]) / abs(z[-1] - z[-2])
    run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(z)))])
    length = legs_of(case.line)[0].sum()
    clock = run * (length / run[-1]) / speed
    z = np.concatenate([[z[0] - ahead[0] * shooting * speed], z, [z[-1] + ahead[1] * hauling * way]])
    return np.concatenate([[-shooting], clock, [clock[-1] + hauling]]), z, clock[-1]


def sailed(cases, step_m):
    """Sail all cases side by side, in as many steps as the longest needs."""
    ways = [course_of(case) for case in cases]
    steps = 2 + int(max(np.abs(np.diff(z)).sum() for _, z, _ in ways) / step_m)
    parts = [_prepared(case, *way, steps) for case, way in zip(cases, ways, strict=True)]
    clocks, _, blocks, lines, seconds = zip(*parts, strict=True)
    many = [case.truth for case in cases]
    gear = dragged(
        np.concatenate([c[:, None] + 0.0 * b.real for c, b in zip(clocks, blocks, strict=True)], axis=1),
        np.concatenate(blocks, axis=1),
        np.concatenate(lines, axis=1),
        np.concatenate(seconds),
        current_mps=np.concatenate([t.current for t in many]),
        friction=np.concatenate([t.friction for t in many]),
        turned=np.concatenate([t.turned for t in many]),
        speed_mps=3.0 * KNOT_MPS,
    )
    cuts = np.cumsum([0, *(len(t) for t in many)])
    return [
        Sailed(
            case,
            parts[n][0],
            parts[n][1],
            *(c[:, cuts[n] : cuts[n + 1]] for c in (gear.block, gear.doors, gear.codend)),
            lines[n],
            ways[n][2],
        )
        for n, case in enumerate(cases)
    ]


def _prepared(case, time_s, z, towed_s, steps):
    """Clock, vessel as planned, its block in each truth, layback, and what follows the doors."""
    v, rig = case.truth.values, case.truth.rig
    clock = np.linspace(time_s[0], time_s[-1], steps)
    vessel = np.interp(clock, time_s, z.real) + 1j * np.interp(clock, time_s, z.imag)
    run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(vessel)))])[:, None]
    turns, phase, share = case.steering
    strayed = case.scene.steering_m * share * np.exp(2j * np.pi * (run * turns + phase))
    block = offset(vessel[:, None], v["block_aft"], v["block_starboard"]) + case.truth.bias + strayed
    early = np.maximum(-clock, 0.0)[:, None]
    late = np.maximum(clock - towed_s, 0.0)[:, None]
    warp = np.maximum(v["warp"] - early * v["veer_speed"] - late * v["haul_speed"], 0.0)
    aside = 0.0 if rig is Rig.BEAM else (v["door_spread"] - v["block_separation"]) / 2.0
    towline = np.broadcast_to(level(warp, v["depth"] + v["block_height"], aside), block.shape)
    second = v["net_length"] + np.zeros(len(case.truth))
    if rig is not Rig.BEAM:
        half = (v["door_spread"] / (2.0 if rig is Rig.TWIN else 1.0) - v["wing_spread"]) / 2.0
        second = second + level(v["sweeps"], 0.0, half)
    return clock, vessel, block, towline, second


def outlines(truth, towline, block, doors, codend):
    """The gear as closed lines through doors, wing-ends, codends and clump; (n, k, corners) complex."""
    v = truth.values
    u = (block - doors) / np.maximum(np.abs(block - doors), 1e-6)
    u2 = (doors - codend) / np.maximum(np.abs(doors - codend), 1e-6)
    if truth.rig is Rig.BEAM:
        half, apart = v["beam_length"] / 2.0, v["beams_apart"] / 2.0
        ring = []
        for side in (1.0, -1.0):
            port, starboard = (doors + 1j * u * (side * apart + end * half) for end in (1.0, -1.0))
            ring += [port, codend + 1j * u2 * side * apart, starboard, port]
        return [np.stack(ring[:4], -1), np.stack(ring[4:], -1)]
    port, starboard = (doors + end * 1j * u * v["door_spread"] / 2.0 for end in (1.0, -1.0))
    nets = (v["door_spread"] / 4.0, -v["door_spread"] / 4.0) if truth.rig is Rig.TWIN else (0.0,)
    ring = [port]
    if truth.rig is Rig.TWIN:
        share, height = v["clump_warp"] / v["warp"], v["depth"] + v["block_height"]
        warp = np.sqrt(towline**2 + height**2 + ((v["door_spread"] - v["block_separation"]) / 2.0) ** 2)
        clump = doors + u * (towline - level(warp * share, height))
    for n, aside in enumerate(nets):
        end = codend + 1j * u2 * aside
        wings = [end + u2 * v["net_length"] + side * 0.5j * u2 * v["wing_spread"] for side in (1.0, -1.0)]
        ring += [wings[0], end, wings[1]] + ([clump] if len(nets) > 1 and n == 0 else [])
    ring += [starboard] + ([clump] if truth.rig is Rig.TWIN else []) + [port]
    return [np.stack(ring, -1)]


WIDEST = {4: 2, 6: 4, 11: 8}
"""Which corner of an outline is its other outer end, by how many it has: of a beam, single and twin rig."""


def size_m(truth):
    """No part of the gear is farther than this from the middle of the doors."""
    v = truth.values
    if truth.rig is Rig.BEAM:
        return float(np.max(v["net_length"] + v["beams_apart"] + v["beam_length"]))
    return float(np.max(v["sweeps"] + v["net_length"] + v["door_spread"] + 0.05 * v["warp"]))


def least_of(went, ground, within_m, every_m=EVERY_M):
    """Least clearance of the gear in each truth, (k,), where under ``within_m``; ``within_m`` elsewhere."""
    truth, k = went.case.truth, len(went.case.truth)
    best = np.full(k, within_m)
    stride = max(1, int(every_m / max(np.abs(np.diff(went.vessel)).max(), 1e-9)))
    n = np.unique(np.append(np.arange(0, len(went.clock_s), stride), len(went.clock_s) - 1))
    n = n[ground.holds(went.clock_s[n])]
    reach, size = np.abs(went.doors[n] - went.vessel[n, None]).max(initial=0.0), size_m(truth)
    n = n[ground.near(_points(went.vessel[n]), within_m + reach + size)]
    if not len(n):
        return best
    near = ground.near(_points(went.doors[n]), within_m + size) & (went.towline_m[n] > 0.0)
    rows, which = np.nonzero(near)
    if not len(rows):
        return best
    at = n[np.unique(rows)]
    back = np.searchsorted(at, n[rows])
    for ring in outlines(truth, *(c[at] for c in (went.towline_m, went.block, went.doors, went.codend))):
        z = ring[back, which]
        things = shapely.linestrings(np.stack([z.real, z.imag], -1))
        close = np.flatnonzero(ground.near(things, within_m))
        if len(close):
            np.minimum.at(best, which[close], ground.clearance_m(things[close]))
        # Between moments that follow each other: a line that goes round a zone comes near it twice.
        if k == 1 and len(z) > 1 and ground.near(_swept(z)[np.diff(rows) == 1], 0.0).any():
            best = np.minimum(best, -0.1)
    return best


def _swept(z):
    """What is run over between moments by the line from outer end to outer end of a ring, as small areas."""
    ends = np.stack([z[:, 0], z[:, WIDEST[z.shape[1]]]], -1)
    hulls = np.concatenate([ends[:-1], ends[1:]], axis=1)
    return shapely.convex_hull(shapely.multipoints(np.stack([hulls.real, hulls.imag], -1)))


def gear_keeps_m(went, within_m=50.0, every_m=EVERY_M):
    """What the gear keeps more than the margin in each truth, (k,); at most ``within_m``."""
    least = np.full(len(went.case.truth), within_m)
    for ground in went.case.scene.grounds:
        need = max(ground.margin_m, TOUCH_M)
        least = np.minimum(least, least_of(went, ground, need + within_m, every_m) - need)
    return least


def _legs(a, b):
    return shapely.linestrings(np.stack([np.stack([z.real, z.imag], -1) for z in (a, b)], axis=1))


def _points(z):
    return shapely.points(z.real, z.imag)


# ---------------------------------------------------------------- truths


def stated(one, line, figures):
    """The case in which all is as the figures say."""
    values = {name: np.array([figure.value]) for name, figure in figures.items()}
    zero = np.zeros(1)
    truth = Truth(rig_of(figures), values, np.array([stream_of(one)]), zero, zero.astype(complex), zero)
    return Case(one, line, figures, truth, np.zeros((3, 1)))


def drawn(rng, one, line, figures):
    """A case with truths: every figure off by its deviation, to three of them; the vessel strays.

    The last `RIM` are three deviations off together, most of it in the current, and stray all they may.
    """
    names = [n for n in figures if n not in ("drift", "position", "antenna", "tow_speed")]
    draws = DRAWS + RIM
    off = np.clip(rng.normal(size=(len(names) + 4, draws)), -SIGMAS, SIGMAS)
    off[-4:-2, DRAWS:] *= 3.0
    off[:, DRAWS:] *= SIGMAS / np.sqrt((off[:, DRAWS:] ** 2).sum(axis=0))
    values = {name: figures[name].value + figures[name].sigma * off[n] for n, name in enumerate(names)}
    for name in names:
        if figures[name].low is not None:
            values[name] = np.clip(values[name], figures[name].low, figures[name].high)
        if name not in ("block_aft", "block_starboard", "beams_apart"):
            values[name] = np.maximum(values[name], 0.2)
    drift = figures["drift"].value * KNOT_MPS * (off[-4] + 1j * off[-3])
    bias = figures["position"].value * (off[-2] + 1j * off[-1])
    steering = np.stack(
        [
            np.where(rng.random(draws) < 0.5, 0.0, 1.0 / rng.uniform(800.0, 8000.0, draws)),
            rng.random(draws),
            np.append(np.sqrt(rng.random(DRAWS)), np.ones(RIM)),
        ]
    )
    truth = Truth(rig_of(figures), values, stream_of(one) + drift, np.zeros(draws), bias, np.zeros(draws))
    return Case(one, line, figures, truth, steering)


def extreme(one, line, figures):
    """A case of truths that lie around all likely ones: layback shorter and longer, current from around.

    Both at once, which is more than is likely. What else is doubtful is `aside_m`.
    """
    streams = [0.0j, *(np.exp(1j * np.pi / 3.0 * np.arange(6)) / np.cos(np.pi / 6.0))]
    pull, stream = (c.ravel() for c in np.meshgrid([-1.0, 0.0, 1.0], streams, indexing="ij"))
    values = {name: np.full(len(pull), figure.value) for name, figure in figures.items()}
    values["warp"] = values["warp"] + SIGMAS * warp_off_m(figures) * pull.real
    drift = SIGMAS * figures["drift"].value * KNOT_MPS * stream
    zero = np.zeros(len(pull))
    truth = Truth(rig_of(figures), values, stream_of(one) + drift, zero, zero.astype(complex), zero)
    return Case(one, line, figures, truth, np.zeros((3, len(pull))), SLOW)


def layback_of(figures):
    aside = (
        0.0
        if rig_of(figures) is Rig.BEAM
        else (figures["door_spread"].value - figures["block_separation"].value) / 2.0
    )
    height = figures["depth"].value + figures["block_height"].value
    return float(level(figures["warp"].value, height, aside))


def warp_off_m(figures):
    """Standard deviation of a warp by which the layback is off as it is by warp, depth and sag together."""
    layback, warp = layback_of(figures), figures["warp"].value
    height = figures["depth"].value + figures["block_height"].value
    down = np.hypot(figures["depth"].sigma, figures["block_height"].sigma)
    off = np.sqrt(
        (warp / layback * figures["warp"].sigma) ** 2 + (height / layback * down) ** 2 + (0.01 * layback) ** 2
    )
    return float(off * layback / warp)


def aside_m(one, figures):
    """By how much else than layback and current the gear may be off: position, block, spread, net."""
    spread = figures["door_spread"].sigma if "door_spread" in figures else 0.0
    lengths = [figures[n].sigma for n in ("net_length", "sweeps") if n in figures]
    rest = np.sqrt(
        figures["position"].value ** 2
        + (1.5 * figures["antenna"].value) ** 2
        + (spread / 2.0) ** 2
        + sum(s**2 for s in lengths)
    )
    return float(SIGMAS * rest) + one.steering_m


# ---------------------------------------------------------------- judging lines


class Judged(NamedTuple):
    """What a line keeps, metres more than it must: negative is too near.

    ``vessel_m`` by margin, position error and steering; ``gear_m`` the gear by the figures, by margin;
    ``ends_m`` the length of rope that is out while shooting and hauling, by margin. ``wrong`` of ``truths``
    kept less than the margin, ``worst_m`` the least of them. ``leg_m`` is the shortest leg over three
    laybacks (or over the shortest leg of the wanted line), ``turn_deg`` the sharpest turn. ``rim_wrong`` and
    ``rim_m`` are the same of the truths on the rim.
    """

    vessel_m: float
    gear_m: float
    ends_m: float
    wrong: int
    truths: int
    worst_m: float
    rim_wrong: int
    rim_m: float
    leg_m: float
    turn_deg: float
    start_m: float
    end_m: float


def judged(cases_of, rngs, *, step_m=3.0, coarse_m=6.0):
    """Judge lines: a list of (scene, line, figures), a list of `Judged`."""
    if not cases_of:
        return []
    nominal = sailed([stated(*some) for some in cases_of], step_m)
    many = sailed([drawn(rng, *some) for rng, some in zip(rngs, cases_of, strict=True)], coarse_m)
    return [_judged(a, b) for a, b in zip(nominal, many, strict=True)]


def _judged(nominal, many):
    one, line, figures = nominal.case.scene, nominal.case.line, nominal.case.figures
    truly = gear_keeps_m(many, 15.0)
    length, _, turn = legs_of(line)
    least = min(LAYBACKS * layback_of(figures), float(legs_of(one.line)[0].min()))
    ends = [abs(complex(one.plane.flat(line.lon_deg[k], line.lat_deg[k])) - one.z[k]) for k in (0, -1)]
    return Judged(
        vessel_keeps_m(nominal),
        float(gear_keeps_m(nominal, 20.0, 3.0)[0]),
        ends_keep_m(nominal),
        int((truly[:DRAWS] < -UNSURE_M).sum()),
        DRAWS,
        float(truly[:DRAWS].min()),
        int((truly[DRAWS:] < -UNSURE_M).sum()),
        float(truly[DRAWS:].min()),
        float(length.min()) - least,
        float(turn.max(initial=0.0)),
        *ends,
    )


def vessel_keeps_m(went):
    """What the vessel keeps more than margin, position error and steering, run-in and run-out counted in."""
    one, least = went.case.scene, np.inf
    time_s, z, _ = course_of(went.case)
    for ground in one.grounds:
        need = max(ground.margin_m, TOUCH_M) + one.position_error_m + one.steering_m
        for begin, end in _held(ground, time_s):
            inner = (time_s > begin) & (time_s < end)
            some = np.concatenate([[begin], time_s[inner], [end]])
            way = np.interp(some, time_s, z.real) + 1j * np.interp(some, time_s, z.imag)
            thing = shapely.linestrings(np.stack([way.real, way.imag], -1))
            least = min(least, float(ground.clearance_m([thing])[0]) - need)
    return least


def _held(ground, time_s):
    """Between which times of a course a rule holds."""
    if ground.force is None:
        return []
    begin, end = max(ground.force[0], time_s[0]), min(ground.force[1], time_s[-1])
    return [(begin, end)] if begin < end else []


def ends_keep_m(went):
    """What the rope that is out while shooting and hauling keeps more than the margin.

    Warp, sweeps and net drawn out straight down to the bottom; by the figures as they are.
    """
    one, figures = went.case.scene, went.case.figures
    height = figures["depth"].value + figures["block_height"].value
    early, late = np.maximum(-went.clock_s, 0.0), np.maximum(went.clock_s - went.towed_s, 0.0)
    out = figures["warp"].value - early * figures["veer_speed"].value - late * figures["haul_speed"].value
    ropes = out + behind_m(figures)
    down = ((early > 0.0) | (late > 0.0)) & (ropes > height)
    reach, least = level(ropes, height), np.inf
    for ground in one.grounds:
        n = np.flatnonzero(down & ground.holds(went.clock_s))
        if len(n):
            kept = ground.clearance_m(_points(went.vessel[n])) - reach[n] - max(ground.margin_m, TOUCH_M)
            least = min(least, float(kept.min()))
    return least


# ---------------------------------------------------------------- lines that surely are clear


def surely_clear(cases_of, extra_m, step_m=8.0):
    """Whether lines keep clear by ``extra_m`` more than the margin, by all that is likely and a little more.

    Zones count whenever their rule holds at any time of the tow.
    """
    went = sailed([extreme(*some) for some in cases_of], step_m)
    return [_surely(some, extra_m) for some in went]


def _surely(went, extra_m):
    one, line, figures = went.case.scene, went.case.line, went.case.figures
    length, _, turn = legs_of(line)
    least = min(LAYBACKS * layback_of(figures), float(legs_of(one.line)[0].min()))
    if length.min() < least or turn.max(initial=0.0) > SHARPEST_DEG:
        return False
    held = [replace(g, force=(-np.inf, np.inf)) for g in one.grounds if _held(g, course_of(went.case)[0])]
    strict = replace(went, case=replace(went.case, scene=replace(one, grounds=tuple(held))))
    if vessel_keeps_m(strict) < extra_m or rope_keeps_m(strict) < extra_m:
        return False
    aside = aside_m(one, figures)
    for ground in held:
        need = max(ground.margin_m, TOUCH_M) + extra_m + aside
        if (least_of(strict, ground, need + 1.0, 8.0) < need).any():
            return False
    return True


def rope_keeps_m(went):
    """What the whole rope, three deviations long, keeps more than the margin on run-in and run-out."""
    one, reach, least = went.case.scene, rope_of(went.case.scene, went.case.figures), np.inf
    time_s, z, towed_s = course_of(went.case)
    for begin, end in ((time_s[0], 0.0), (towed_s, time_s[-1])):
        some = np.array([begin, end])
        way = np.interp(some, time_s, z.real) + 1j * np.interp(some, time_s, z.imag)
        thing = shapely.linestrings(np.stack([way.real, way.imag], -1))
        for ground in one.grounds:
            kept = float(ground.clearance_m([thing])[0]) - reach - max(ground.margin_m, TOUCH_M)
            least = min(least, kept)
    return least


def rope_of(one, figures):
    """No part of the gear is farther from the antenna: lengths and errors as large as they can be."""
    longest = {name: f.value + SIGMAS * f.sigma for name, f in figures.items()}
    shallow = sum(figures[n].value - SIGMAS * figures[n].sigma for n in ("depth", "block_height"))
    rope = max(longest["warp"], longest.get("clump_warp", 0.0)) + longest.get("sweeps", 0.0)
    reach = level(rope + longest["net_length"], max(shallow, 0.0))
    aside = longest.get("beams_apart", 0.0) / 2.0 + longest.get("beam_length", 0.0) / 2.0
    aside = max(aside, longest.get("block_separation", 0.0) / 2.0)
    block = abs(figures["block_aft"].value) + abs(figures["block_starboard"].value)
    error = SIGMAS * (figures["antenna"].value + figures["position"].value)
    return float(reach) + aside + block + error + one.steering_m


# ---------------------------------------------------------------- looking for lines


def straight_m(one, figures):
    """How far aside of its vessel the gear may be on a straight leg: half its width, set, what is unsure."""
    layback, speed = layback_of(figures), one.speed_kn * KNOT_MPS
    wide = figures["door_spread"].value if "door_spread" in figures else 0.0
    if rig_of(figures) is Rig.BEAM:
        wide = figures["beams_apart"].value + figures["beam_length"].value
    drift = abs(stream_of(one)) + SIGMAS * figures["drift"].value * KNOT_MPS * 1.16
    whole = layback + behind_m(figures)
    set_m = whole * min(drift / speed, 1.0)
    return wide / 2.0 + float(set_m) + aside_m(one, figures)


CUTS = (0.0, 0.2, 0.4)
"""Shares of the layback by which turns of up to 60 degrees are reckoned to cut: none, most, all (0.36)."""


def ways(one, figures, *, extra_m, cuts=CUTS, lattice=0, rng=None, finer=False):
    """Lines that may be clear, shortest first of each footprint; none where the graph has no way."""
    found = []
    for cut in cuts:
        z = _Search(one, figures, extra_m, cut).best(lattice=lattice, rng=rng, finer=finer)
        if z is not None:
            found.append((z, one.line_of(z)))
    return found


def clear_line(one, figures, rng, *, extra_m=20.0, lattice=90):
    """A line that is surely clear by so much more than the margin; ``None`` where none is found."""
    found = ways(one, figures, extra_m=extra_m, lattice=lattice, rng=rng)
    if not found:
        return None
    clear = surely_clear([(one, line, figures) for _, line in found], extra_m)
    passed = [line for (_, line), ok in zip(found, clear, strict=True) if ok]
    return min(passed, key=length_m) if passed else None


def shortest_line(one, figures, *, cuts=(0.0, 0.1, 0.2, 0.3, 0.4)):
    """The shortest line found by the fine graph that is surely clear; ``None`` where none is."""
    found = ways(one, figures, extra_m=0.0, cuts=cuts, finer=True)
    if not found:
        return None
    clear = surely_clear([(one, line, figures) for _, line in found], 0.0)
    passed = [line for (_, line), ok in zip(found, clear, strict=True) if ok]
    return min(passed, key=length_m) if passed else None


def length_m(planned):
    return float(legs_of(planned)[0].sum())


class _Search:
    """One graph: places around set-out zones (and of a lattice), seen from each other, turns limited."""

    MOST = 450
    """Places of a graph; of more, only some are taken, evenly."""
    AROUND, RINGS = 15.0, (0.0, 0.25, 0.6, 1.1)

    def __init__(self, one, figures, extra_m, cut):
        self.one, self.figures = one, figures
        layback = layback_of(figures)
        self.leg_m = min(LAYBACKS * layback, float(legs_of(one.line)[0].min())) + 1.0
        self.turn_deg = SHARPEST_DEG - 0.5
        out = straight_m(one, figures) + cut * layback
        vessel = one.position_error_m + one.steering_m + 1.0
        self.ends = self._ends(extra_m)
        held = [g for g in one.grounds if g.force is not None and self._ever(g)]
        self.out = {g.zone_id: g.margin_m + g.radius_m + extra_m + max(out, vessel) for g in held}
        self.held = held
        blocked = [shapely.buffer(g.shape, self.out[g.zone_id], quad_segs=6) for g in held if not g.allowed]
        self.blocked = shapely.union_all(blocked) if blocked else shapely.Polygon()
        self.rooms = [shapely.buffer(g.shape, -self.out[g.zone_id], quad_segs=6) for g in held if g.allowed]
        for shape in (self.blocked, *self.rooms):
            shapely.prepare(shape)

    def _ever(self, ground):
        """Whether a rule holds at any time of a tow twice as long as the wanted line."""
        speed = self.one.speed_kn * KNOT_MPS
        (before, after), _ = self.ends
        last = 2.0 * length_m(self.one.line) / speed + after / (self.one.hauling_way_kn * KNOT_MPS)
        return ground.force[1] > -before / speed and ground.force[0] < last

    def _ends(self, extra_m):
        """Where the rope may not reach while shooting and hauling: lengths of the runs, and the shapes."""
        reach = rope_of(self.one, self.figures) + extra_m
        shooting, hauling = runs_s(self.figures, SLOW)
        speed, way = self.one.speed_kn * KNOT_MPS, self.one.hauling_way_kn * KNOT_MPS
        return (shooting * speed, hauling * way), reach

    def free(self, a, b):
        """Which legs from places to places keep clear."""
        legs = _legs(a, b)
        ok = ~shapely.intersects(self.blocked, legs)
        for room in self.rooms:
            ok &= shapely.contains(room, legs)
        return ok

    def run_free(self, a, b):
        """Whether runs from places to places keep off by the whole rope."""
        legs = _legs(a, b)
        ok = np.ones(len(legs), bool)
        for ground in self.held:
            ok &= ~ground.near(legs, ground.margin_m + self.ends[1] + 0.5)
        return ok

    def best(self, *, lattice, rng, finer):
        places = self._places(lattice, rng)
        found = self._shortest(places)
        if found is None or not finer:
            return found
        # Again with places close around the corners that were found: finer each time.
        for step in (160.0, 50.0):
            off = step * (np.arange(-3, 4)[:, None] + 1j * np.arange(-3, 4)[None, :]).ravel()
            near = np.concatenate([found[[0, -1]], *(c + off for c in found[1:-1])])
            again = self._shortest(near) if len(near) > 2 else None
            found = found if again is None else again
        return found

    def _places(self, lattice, rng):
        z = [self.one.z[0], self.one.z[-1], *self.one.z[1:-1]]
        low, high = _bounds(self.one.z, 12000.0)
        for ground in self.held:
            sign = -1.0 if ground.allowed else 1.0
            for ring in self.RINGS:
                out = (self.out[ground.zone_id] + 2.0) / np.cos(np.radians(self.AROUND)) + ring * self.leg_m
                shape = shapely.buffer(ground.shape, sign * out, quad_segs=int(45.0 / self.AROUND))
                tidy = shapely.simplify(shape, 0.01 * out)
                xy = shapely.get_coordinates(tidy)
                z += list((xy[:, 0] + 1j * xy[:, 1])[: 120 if ring == 0.0 else 60])
        if lattice:
            side = int(np.sqrt(lattice))
            x, y = np.meshgrid(np.linspace(low.real, high.real, side), np.linspace(low.imag, high.imag, side))
            shaken = rng.uniform(-0.4, 0.4, (2, x.size)) * np.array(
                [[(high.real - low.real) / side], [(high.imag - low.imag) / side]]
            )
            z += list(x.ravel() + shaken[0] + 1j * (y.ravel() + shaken[1]))
        z = np.array(z)
        inside = (z.real > low.real) & (z.real < high.real) & (z.imag > low.imag) & (z.imag < high.imag)
        inside[:2] = True
        inside[2:] &= self.free(z[2:], z[2:])
        z = z[inside]
        if len(z) > self.MOST:
            z = z[np.unique(np.append([0, 1], np.linspace(0, len(z) - 1, self.MOST).astype(int)))]
        return z

    def _shortest(self, z):
        """The shortest way from the first place to the second, as places."""
        n = len(z)
        a, b = (c.ravel() for c in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
        length = np.abs(z[b] - z[a])
        ok = (length >= self.leg_m) & (b != 0) & (a != 1)
        ok[ok] = self.free(z[a[ok]], z[b[ok]])
        first, last = np.flatnonzero(ok & (a == 0)), np.flatnonzero(ok & (b == 1))
        ahead = (z[b] - z[a]) / np.maximum(length, 1e-9)
        ok[first] = self.run_free(z[a[first]] - ahead[first] * self.ends[0][0], z[a[first]])
        ok[last] &= self.run_free(z[b[last]], z[b[last]] + ahead[last] * self.ends[0][1])
        cost = np.where(ok, length, np.inf).reshape(n, n)
        course = np.angle(ahead).reshape(n, n)
        best, come = np.full((n, n), np.inf), np.full((n, n), -1)
        best[0], changed = cost[0], np.ones(n, bool)
        for _ in range(14):
            turn = np.flatnonzero(changed & np.isfinite(best).any(axis=0))
            changed = np.zeros(n, bool)
            for j in turn:
                i, k = np.flatnonzero(np.isfinite(best[:, j])), np.flatnonzero(np.isfinite(cost[j]))
                if j == 1 or not len(k):
                    continue
                bend = np.abs((course[j, k][None, :] - course[i, j][:, None] + np.pi) % (2 * np.pi) - np.pi)
                total = np.where(bend <= np.radians(self.turn_deg), best[i, j][:, None], np.inf)
                pick = np.argmin(total, axis=0)
                total = total[pick, np.arange(len(k))] + cost[j, k]
                better = total < best[j, k] - 1e-6
                best[j, k[better]], come[j, k[better]] = total[better], i[pick[better]]
                changed[k[better]] = True
            if not changed.any():
                break
        return self._traced(z, best, come)

    def _traced(self, z, best, come):
        i = int(np.argmin(best[:, 1]))
        if not np.isfinite(best[i, 1]):
            return None
        way = [1, i]
        while way[-1] != 0:
            way.append(int(come[way[-1], way[-2]]))
        return z[way[::-1]]


def _bounds(z, more):
    low = complex(z.real.min() - more, z.imag.min() - more)
    return low, complex(z.real.max() + more, z.imag.max() + more)


# ---------------------------------------------------------------- holding towzone against all this

NOMINAL_OFF_M = 0.5
"""As gear by the figures is held against gear dragged in small steps elsewhere."""
LONGER = 1.02
"""The longest a corrected line may be, by the best that is found on small scenes."""


class Answer(NamedTuple):
    """What towzone says of a scene: a corrected line, or why there is none; neither for one that is clear."""

    seed: int
    scene: object
    judge: object
    figures: dict
    line: object
    why: str | None
    passes: bool
    seconds: float


@dataclass
class Held:
    """An answer held against the second opinions; ``None`` where one was not asked for, or has nothing."""

    answer: Answer
    judged: Judged | None = None
    other: object = None
    best: object = None
    accepted: bool | None = None
    """Whether towzone's own check calls the line of the second opinion clear."""
    seconds: float = 0.0

    @property
    def ratio(self):
        """Length of the corrected line over the best found."""
        return None if self.best is None else length_m(self.answer.line) / length_m(self.best)

    def faults(self):
        """What is wrong with the answer, in words."""
        checks = [("it does not pass its own check", self.answer.passes)]
        if self.judged is not None:
            j = self.judged
            checks += [
                ("starts elsewhere", j.start_m <= 0.01),
                ("ends elsewhere", j.end_m <= 0.01),
                ("vessel too near", j.vessel_m >= -UNSURE_M),
                ("gear too near by the figures", j.gear_m >= -NOMINAL_OFF_M),
                ("rope too near while shooting or hauling", j.ends_m >= -UNSURE_M),
                ("leg too short", j.leg_m >= -1.0),
                ("turn too sharp", j.turn_deg <= SHARPEST_DEG + 0.1),
            ]
        checks.append(("says there is none, and there is one", self.other is None))
        checks.append(("longer than need be", self.ratio is None or self.ratio <= LONGER))
        return [words for words, fine in checks if not fine]


def asked(seed, one=None):
    """What towzone says of a scene: that of a seed, unless it is given."""
    one = scene(np.random.default_rng([SEED, seed])) if one is None else one
    judge = judge_of(one)
    figures = figures_of(judge)
    begun = time.process_time()
    if judge.is_clear(one.line):
        return Answer(seed, one, judge, figures, None, None, True, time.process_time() - begun)
    found = find_line(one.line, judge)
    took = time.process_time() - begun
    if isinstance(found, NoLine):
        return Answer(seed, one, judge, figures, None, str(found.why), True, took)
    return Answer(seed, one, judge, figures, found.line, None, judge.is_clear(found.line), took)


def held(answers):
    """Hold answers against the second opinions, those with lines side by side."""
    out = [Held(answer) for answer in answers]
    begun = time.process_time()
    lines = [h for h in out if h.answer.line is not None]
    rngs = [np.random.default_rng([SEED, h.answer.seed, 1]) for h in lines]
    for h, found in zip(lines, judged([_of(h) for h in lines], rngs), strict=True):
        h.judged = found
    each = (time.process_time() - begun) / max(len(lines), 1)
    for h in out:
        begun, (_, line, why) = time.process_time(), (h.answer.seed, h.answer.line, h.answer.why)
        if why is not None:
            rng = np.random.default_rng([SEED, h.answer.seed, 2])
            h.other = clear_line(h.answer.scene, h.answer.figures, rng)
        elif line is not None and h.answer.scene.kind == "small" and len(h.answer.scene.line) == 2:
            h.best = shortest_line(h.answer.scene, h.answer.figures)
        theirs = h.other or h.best
        h.accepted = None if theirs is None else h.answer.judge.is_clear(theirs)
        h.seconds = time.process_time() - begun + each * (line is not None)
    return out


def _of(h):
    return h.answer.scene, h.answer.line, h.answer.figures
