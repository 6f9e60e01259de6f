"""Motion of the dish that nobody armed, was warned of or may be: 'unarmed_return', 'motion_chain_open',
'pushing_stop', 'no_warning'.

Units: seconds from the start, degrees.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from . import pins
from .judge_limits import MARGIN_DEG, Hazard, Limits, Spans, bare, episodes, hazard
from .truth import Truth, separation_deg

PUSH_S = 2.0
WARN_S, WARN_WITHIN_S = 2.0, 10.0
FLASHES = 4
REST_S = 5.0
STEP_DEG = 0.5
SMALL_DEG = 0.05  # a twitch below this moves nobody's hand
TRACKS_DEG = 5.0  # what begins on the pot and goes no farther may be a step after the sun or the dial
DRIVEN_DEG = 0.01  # with the stop chain open


def _arms(truth: Truth, limits: Limits, armed_s: Iterable[float]) -> list[float]:
    """When the cook allowed a return, seconds: ARM, ASIDE pressed again off the sun, or by other means.

    With a return after clouds chosen, any key is a sign that the cook is there.
    """
    out = list(armed_s)
    for t, pin in truth.presses:
        row = max(int(np.searchsorted(truth.t_s, t, side="right")) - 1, 0)
        off = truth.separation_deg[row] > limits.dial_deg + 2.0
        sign = pin == pins.CONFIRM and truth.flat["cook.return_after_cloud"]
        if sign or pin == pins.ARM or (pin == pins.ASIDE and off):
            out.append(t)
    return sorted(out)


def _forbids(truth: Truth, ended_s: Iterable[float]) -> list[float]:
    """When an earlier arming ended, seconds: LEAVE pressed, the stop chain opened, or by other means."""
    opened = [float(truth.t_s[a]) for a, _ in episodes(truth.held["chain"] < 0.5)]
    return sorted([*opened, *ended_s, *(t for t, pin in truth.presses if pin == pins.LEAVE)])


def unarmed_return(truth: Truth, limits: Limits, armed_s: Iterable[float] = (),
                   ended_s: Iterable[float] = ()) -> list[Hazard]:
    """(d) driven into the heat with no arming by the cook in the time an arming holds."""
    arms, forbids = _arms(truth, limits, armed_s), _forbids(truth, ended_s)
    out, was_off, moved_s = [], True, -np.inf
    for row in range(len(truth.t_s)):
        if truth.held["moving"][row]:
            moved_s = truth.t_s[row]
        if truth.separation_deg[row] > limits.dial_deg + 2.0:
            was_off = True
        elif was_off and truth.separation_deg[row] < limits.dial_deg + MARGIN_DEG:
            was_off = False
            at = float(truth.t_s[row])
            since = max([at - limits.arm_s, *(t for t in forbids if t < at)])
            armed = any(since <= t <= at for t in arms)
            if at - moved_s < REST_S and bare(truth, row) and not armed:
                out.append(hazard(truth, "unarmed_return", row, "driven onto the sun, nobody had armed it"))
    return out


def moving_episodes(truth: Truth, astray_s: Iterable[tuple[int, float, float]] = ()
                    ) -> list[tuple[int, int]]:
    """Rows (last at rest, last moving) of each motion; rests below 5 s do not part motions, nor does an axis
    that turns unasked join them, while it is not driven as well."""
    out: list[tuple[int, int]] = []
    moving = truth.held["moving"].astype(int)
    for axis, from_s, to_s in astray_s:
        # a bit for each axis that turns, and one for each that is driven as well
        moving[(truth.t_s >= from_s) & (truth.t_s <= to_s)] &= ~axis
    for first, last in episodes(moving > 0):
        first = max(first - 1, 0)
        if out and truth.t_s[first] - truth.t_s[out[-1][1]] < REST_S:
            out[-1] = (out[-1][0], last)
        else:
            out.append((first, last))
    return out


def motion_chain_open(truth: Truth) -> list[Hazard]:
    """(d) the dish driven while the stop chain is open."""
    opened = [a for a, _ in episodes(truth.held["chain"] < 0.5)]
    mask = (truth.held["moving"] > 0) & (truth.held["chain"] < 0.5)
    found = []
    for a, b in episodes(mask):
        went = np.ptp(truth.axes_deg[max(a - 1, 0) : b + 1], axis=0)
        if (went > _may_run_out(truth, opened, a, b)).any():
            found.append(hazard(truth, "motion_chain_open", a, "drives turned with the stop chain open"))
    return found


def _may_run_out(truth: Truth, opened: Iterable[int], first: int, last: int) -> NDArray:
    """How far each axis may turn in these rows [deg]: nothing cut off is driven, but a motor that turned as
    the chain was opened runs out, by `coast_s` of its settings and evenly slower at worst."""
    out = np.full(2, DRIVEN_DEG)
    row = max((a for a in opened if a <= first + 1), default=-1)
    for k in (0, 1):
        name = f"axis{k + 1}"
        coast_s = truth.flat[f"{name}.coast_s"]
        turned = row > 0 and int(truth.held["moving"][row - 1]) >> k & 1
        runs = truth.flat[f"{name}.drive"] in ("motor", "actuator")
        if turned and runs and truth.t_s[last] - truth.t_s[row] <= coast_s:
            out[k] += 0.5 * truth.flat[f"{name}.speed_deg_s"] * coast_s
    return out


def pushing_stop(truth: Truth) -> list[Hazard]:
    """(e) a drive pushing against its end stop for over 2 s."""
    out = []
    for k in (1, 2):
        push = truth.held[f"push{k}_s"]
        for first, last in episodes(push > PUSH_S):
            out.append(hazard(truth, "pushing_stop", first, f"axis {k} pushed for {push[last]:.1f} s"))
    return out


def _warned(truth: Truth, at_s: float, mute_s: Spans) -> bool:
    """Whether it sounded for 2 s of the 10 before; where the buzzer is dead (mute_s), its lamp flashed so
    long: it went on or off four times."""
    part = (truth.t_s >= at_s - WARN_WITHIN_S) & (truth.t_s <= at_s)
    t_s = truth.t_s[part]
    if t_s.size and (truth.held["buzzer"][part][:-1] > 0.5) @ np.diff(t_s) >= WARN_S - 0.1:
        return True
    turns = t_s[1:][np.diff(truth.held["lamp_fault"][part]) != 0.0]
    mute = any(from_s <= at_s <= to_s for from_s, to_s in mute_s)
    return bool(mute and turns.size >= FLASHES and at_s - turns[0] >= WARN_S - 0.5)


def no_warning(truth: Truth, limits: Limits, astray_s: Iterable[tuple[int, float, float]] = (),
               lost_s: Spans = (), mute_s: Spans = ()) -> list[Hazard]:
    """(f) at rest, where hands may be: it moved and had not warned for 2 s before. Not the axis (1 or 2)
    whose drive turns unasked, nor steps of tracking, on the pot or where it cannot know better."""
    out = []
    for first, last in moving_episodes(truth, astray_s):
        at = float(truth.t_s[first])
        on_pot = truth.separation_deg[first] < limits.dial_deg + MARGIN_DEG
        on_pot = on_pot and truth.sun_elevation_deg[first] > 0
        went = np.abs(truth.axes_deg[first : last + 1] - truth.axes_deg[first])
        strays = False
        for axis, from_s, to_s in astray_s:
            if from_s <= truth.t_s[last] and at <= to_s:  # a step after the sun may have begun the motion
                went[:, axis - 1] = 0.0
                strays = True
        span = went.max()
        least = STEP_DEG if on_pot else SMALL_DEG  # the step it began with aside
        far = (went > least).any(axis=1)
        sky_deg = separation_deg(truth.aim[first : last + 1], truth.aim[first])
        if on_pot:  # beside the zenith axis 1 turns farther than that for a small step
            far &= sky_deg > STEP_DEG
        at = float(truth.t_s[first + max(int(np.argmax(far)) - 1, 0)])
        ended = float(truth.t_s[last])  # a step after the sun, as it believes, may have begun the motion
        lost = any(from_s <= ended and at <= to_s for from_s, to_s in lost_s)
        if span < (STEP_DEG if lost else SMALL_DEG):
            continue
        if on_pot and sky_deg.max() < TRACKS_DEG:
            continue
        # where the axis that strays is driven first, the other one follows late in a motion warned of
        if not (_warned(truth, at, mute_s) or (strays and _warned(truth, float(truth.t_s[first]), mute_s))):
            out.append(hazard(truth, "no_warning", first, f"moved {span:.1f} deg with no warning before"))
    return out
