"""Hazards of a run, judged from the true state of the plant and never from what the firmware believes.

Units: seconds from the start, degrees, W/m2.
Kinds: 'loose_light', 'ahead_of_sun', 'unarmed_return', 'motion_chain_open', 'pushing_stop', 'no_warning',
'pot_too_hot', 'cover_untold'.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sunhob.run_result import utc_text

from . import pins
from .dial_limit import dial_lags
from .judge_leave import leave_s
from .judge_one_axis import OneAxis
from .judge_rest import excused, untold
from .pot_light import lag_directions
from .truth import Truth, separation_deg

LIGHT_W_M2 = 35.0  # 112 suns 25 deg off (design notes, section 2) make 4 kW/m2 of it; nearer is guarded
GRACE_S = 10.0
MARGIN_DEG = 0.5  # of the dial limit: deadband, play, wind
PARK_DEG = 3.0
PUSH_S = 2.0
WARN_S, WARN_WITHIN_S = 2.0, 10.0
FLASHES = 4
LOST_S = 60.0  # within it a lead that can be seen must be ended
BY_SIGHT, BY_TUBE_DEG = 1.5, 24.0  # a lead can be seen from so many limits of the sun sensor on; by the tube
ALARM_S = 60.0  # without lamp or buzzer for longer, nobody was told
REST_S = 5.0
STEP_DEG = 0.5
SMALL_DEG = 0.05  # a twitch below this moves nobody's hand
TRACKS_DEG = 5.0  # what begins on the pot and goes no farther may be a step after the sun or the dial
DRIVEN_DEG = 0.01  # with the stop chain open
POT_HOT_S = 10.0
HEATING_W = 50.0  # less than a pot at its limit loses by far
Hazard = dict[str, Any]
Spans = Iterable[tuple[float, float]]


@dataclass
class Limits:
    """What the cooker allows: lags in degrees, times in seconds. dial_deg: the greatest lag of the dial under
    any sun; dial_at: the same for (elevation of the axis, direction of the sun) in degrees, where known."""

    dial_deg: float
    loose_clear_deg: float
    cover_below_deg: float
    deadband_deg: float
    arm_s: float
    dial_at: Any = None

    @classmethod
    def of(cls, flat: dict[str, Any]) -> Limits:
        """The limits of flat settings, from the ray trace of the cooker's optics."""
        dial_at = dial_lags(flat)
        alone = flat["cook.attendance_min"] if flat["cook.return_after_cloud"] else 0.0
        arm_s = 60.0 * max(flat["cook.arm_timeout_min"], alone) + 180.0
        return cls(float(dial_at.values.max()), flat["dish.loose_clear_deg"],
                   flat["dish.cover_below_deg"], flat["tracking.deadband_deg"], arm_s, dial_at)

    def beyond_dial(self, truth: Truth) -> NDArray:
        """Rows in which the dish looks farther off the sun than the dial ever asks for there."""
        if self.dial_at is None:
            return truth.separation_deg > self.dial_deg + MARGIN_DEG
        _, elevation, direction = lag_directions(truth.aim, truth.sun)
        low, high = self.dial_at.grid[0][[0, -1]]
        at = np.stack([np.clip(elevation, low, high), direction], axis=-1)
        return np.asarray(truth.separation_deg > self.dial_at(at) + MARGIN_DEG)


def episodes(mask: NDArray) -> list[tuple[int, int]]:
    """First and last row of each run of True."""
    edge = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in edge.reshape(-1, 2)]


def _hazard(truth: Truth, kind: str, row: int, detail: str) -> Hazard:
    start = datetime.fromtimestamp(truth.start_unix, UTC)
    at = utc_text(start + timedelta(seconds=float(truth.t_s[row])))
    return {"kind": kind, "at_utc": at, "detail": detail}


def _light(truth: Truth) -> NDArray:
    bare = truth.held["covered"] < 0.5
    return (truth.sun_elevation_deg > 0.0) & (truth.dni_w_m2 > LIGHT_W_M2) & bare


def _bare(truth: Truth, row: int) -> bool:
    return bool(truth.sun_elevation_deg[row] > 0.0 and truth.held["covered"][row] < 0.5)


def _loose(truth: Truth, limits: Limits, spared: NDArray | None = None) -> list[tuple[int, int]]:
    """Rows of each stay between dial limit and loose-clear that was lit for longer than a leave takes from
    where it was deepest in. A rest that is spared parts two moves, each with its own time."""
    mask = limits.beyond_dial(truth) & (truth.separation_deg < limits.loose_clear_deg)
    mask &= truth.sun_elevation_deg > 0.0
    lit_s = np.diff(truth.t_s, prepend=truth.t_s[:1]) * _light(truth)
    found = []
    for first, last in episodes(mask):
        for a, b in [(first, last)] if spared is None else _parts(~spared, first, last):
            deepest = a + int(np.argmin(truth.separation_deg[a : b + 1]))
            allowed = max(leave_s(truth, row) for row in (a, deepest, b)) + GRACE_S
            if lit_s[a + 1 : b + 1].sum() > allowed:
                found.append((first, last))
                break
    return found


def _parts(mask: NDArray, first: int, last: int) -> list[tuple[int, int]]:
    """Runs of True within these rows."""
    return [(first + a, first + b) for a, b in episodes(mask[first : last + 1])]


def _cannot_move(truth: Truth, first: int, last: int, halted_s: Spans, rests: NDArray) -> bool:
    """Whether the stay is no longer than one leave and 10 s but for the times in which no drive can or may
    move: stop chain open, or closed and LEAVE not pressed since (halted_s), supply gone, both axes dead; and
    but for its excused rest where that left it (rests)."""
    stuck = _stuck(truth, first, last, halted_s)
    return bool(stuck.any() and _in_time(truth, first, last, ~stuck & ~rests[first + 1 : last + 1]))


def _stuck(truth: Truth, first: int, last: int, halted_s: Spans) -> NDArray:
    """Rows of a stay, but for its first, in which no drive can or may move."""
    held = {name: values[first + 1 : last + 1] for name, values in truth.held.items()}
    t_s = truth.t_s[first + 1 : last + 1]
    stuck = (held["chain"] < 0.5) | (held["supply"] < 0.5) | ((held["dead1"] > 0.5) & (held["dead2"] > 0.5))
    for from_s, to_s in halted_s:
        stuck |= (t_s >= from_s) & (t_s <= to_s)
    return np.asarray(stuck)


def _in_time(truth: Truth, first: int, last: int, rows: NDArray) -> bool:
    """Whether these rows of a stay, counted from its second, were lit for no longer than a leave and 10 s."""
    lit_s = np.diff(truth.t_s[first : last + 1]) * _light(truth)[first + 1 : last + 1]
    return bool(lit_s[rows].sum() <= max(leave_s(truth, row) for row in (first, last)) + GRACE_S)


def _told(truth: Truth, first: int, last: int) -> bool:
    """Whether lamp or buzzer went on within a minute, and again and again, where there was power for it."""
    held = {name: values[first : last + 1] for name, values in truth.held.items()}
    powered = held["supply"] > 0.5
    alarm = (held["buzzer"] + held["lamp_fault"] > 0.5) & powered
    lasting_s = np.diff(truth.t_s[first : last + 1], append=truth.t_s[last])
    silent = powered & ~alarm
    return all(lasting_s[a : b + 1].sum() <= ALARM_S for a, b in episodes(silent))


def loose_rows(truth: Truth, limits: Limits, cover_s: Spans = (), halted_s: Spans = (),
               free_s: Spans | None = None, one: OneAxis | None = None) -> list[Hazard]:
    """Loose light for longer than one planned leave and 10 s, each with what it counts as.

    'loose_light' is hazard (a). Apart from the hazards: 'stranded' if no drive could end it and the alarm
    was given; 'cover_told' if the dish rested, no clear place was to be had, and the board asked for the
    cover, in the spans of seconds cover_s; 'cannot_leave' if an axis was dead, the other one alone could not
    end it, and alarm and times were given. Parked it may move on by itself (free_s), aside it may not.
    """
    every, left = _loose(truth, limits), set()
    if every:
        rests = excused(truth, limits.loose_clear_deg, cover_s, free_s)
        left = set(_loose(truth, limits, rests))
    out = []
    for first, last in every:
        kind = "loose_light" if (first, last) in left else "cover_told"
        if _cannot_move(truth, first, last, halted_s, rests) and _told(truth, first, last):
            kind = "stranded" if one is None or one.told_times(truth, first, last) else kind
        row = _loose_row(truth, kind, first, last)
        dead = one.cannot_leave(truth, limits.loose_clear_deg, first, last) if one else None
        if kind == "loose_light" and one and dead is not None and _in_time(
                truth, first, last, ~dead & ~rests[first + 1 : last + 1] & ~_stuck(
                    truth, first, last, halted_s)):
            alarmed = _told(truth, first, last)
            clear = truth.flat["dish.pot_clear_deg"], limits.loose_clear_deg
            right = one.told_right(truth, clear, first, last)
            yes = ("no", "yes")
            row["detail"] += f"; cannot leave: alarmed {yes[alarmed]}, times told right {yes[right]}"
            row["kind"] = "cannot_leave" if alarmed and right else kind
        out.append(row)
    return out


def loose_light(truth: Truth, limits: Limits, cover_s: Spans = (), halted_s: Spans = (),
                free_s: Spans | None = None, one: OneAxis | None = None) -> list[Hazard]:
    """(a) gathered light loose for longer than one planned leave and 10 s, that could have been ended."""
    rows = loose_rows(truth, limits, cover_s, halted_s, free_s, one)
    return [row for row in rows if row["kind"] == "loose_light"]


def stranded(truth: Truth, limits: Limits | None = None, halted_s: Spans = (),
             one: OneAxis | None = None) -> list[Hazard]:
    """Loose light that no drive could end, or not the one that still turned, and that was told: counted apart
    from the hazards."""
    rows = loose_rows(truth, limits or Limits.of(truth.flat), (), halted_s, None, one)
    return [row for row in rows if row["kind"] in ("stranded", "cannot_leave")]


def cover_told(truth: Truth, cover_s: Spans) -> list[Hazard]:
    """Loose light about a resting dish whose cover the board asked for, rightly: counted apart."""
    return [row for row in loose_rows(truth, Limits.of(truth.flat), cover_s) if row["kind"] == "cover_told"]


def cover_untold(truth: Truth, limits: Limits, cover_s: Spans = (), parked_s: Spans = (),
                 true_from_s: float = 0.0, untrue_s: Spans = ()) -> list[Hazard]:
    """Parked, bare and lit nearer to the sun than cover_below_deg for longer than a leave takes, and the
    board did not ask for the cover. Not judged where clock or base were not as the board was told."""
    mask = untold(truth, limits.loose_clear_deg, limits.cover_below_deg, cover_s, parked_s)
    mask &= _light(truth) & (truth.t_s >= true_from_s)
    for first_s, last_s in untrue_s:
        mask &= (truth.t_s < first_s) | (truth.t_s > last_s)
    return [_loose_row(truth, "cover_untold", first, last) for first, last in episodes(mask)
            if truth.t_s[last] - truth.t_s[first] > leave_s(truth, first) + GRACE_S]


def _loose_row(truth: Truth, kind: str, first: int, last: int) -> Hazard:
    long = truth.t_s[last] - truth.t_s[first]
    part = truth.separation_deg[first : last + 1]
    text = f"{long:.0f} s between {part.min():.1f} and {part.max():.1f} deg off the sun"
    return _hazard(truth, kind, first, text)


def ahead_of_sun(truth: Truth, limits: Limits, true_from_s: float = 0.0,
                 untrue_s: Iterable[tuple[float, float]] = ()) -> list[Hazard]:
    """(b) aim ahead of the sun by more than the deadband within the loose-light angle, for over 1 s. Where an
    axis or the base no longer was where the board was told (untrue_s): so far ahead that light tells of it,
    for over LOST_S."""
    lead = -truth.behind_deg * np.cos(np.radians(truth.aim_dec_deg))
    allowed = limits.deadband_deg
    if not truth.calm:  # a gust may hold the dish anywhere in its play
        # Home too may have been found with the load on the far flank: once for that, once for now.
        allowed += 2.0 * max(truth.flat["axis1.backlash_deg"], truth.flat["axis2.backlash_deg"])
    pole_deg = 90.0 - np.sign(truth.site.latitude_deg or 1.0) * truth.aim_dec_deg
    mask = (lead > allowed) & (truth.separation_deg < limits.loose_clear_deg)
    mask &= (pole_deg > PARK_DEG) & _light(truth) & (truth.t_s >= true_from_s)
    lost = np.zeros(len(mask), dtype=bool)
    for first_s, last_s in untrue_s:
        lost |= (truth.t_s >= first_s) & (truth.t_s <= last_s)
    fitted = truth.flat["sensor.sun"]
    seen = lead > (BY_SIGHT * truth.flat["interlock.sun_sensor_deg"] if fitted else BY_TUBE_DEG)
    out = []
    for part, longest_s in ((mask & ~lost, 1.0), (mask & lost & seen, LOST_S)):
        for first, last in episodes(part):
            if truth.t_s[last] - truth.t_s[first] <= longest_s:
                continue
            worst = float(lead[first : last + 1].max())
            out.append(_hazard(truth, "ahead_of_sun", first, f"up to {worst:.2f} deg ahead of the sun"))
    return out


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
            if at - moved_s < REST_S and _bare(truth, row) and not armed:
                out.append(_hazard(truth, "unarmed_return", row, "driven onto the sun, nobody had armed it"))
    return out


def moving_episodes(truth: Truth) -> list[tuple[int, int]]:
    """Rows (last at rest, last moving) of each motion; rests below 5 s do not part motions."""
    out: list[tuple[int, int]] = []
    for first, last in episodes(truth.held["moving"] > 0):
        first = max(first - 1, 0)
        if out and truth.t_s[first] - truth.t_s[out[-1][1]] < REST_S:
            out[-1] = (out[-1][0], last)
        else:
            out.append((first, last))
    return out


def motion_chain_open(truth: Truth) -> list[Hazard]:
    """(d) the dish driven while the stop chain is open."""
    mask = (truth.held["moving"] > 0) & (truth.held["chain"] < 0.5)
    return [_hazard(truth, "motion_chain_open", a, "drives turned with the stop chain open")
            for a, b in episodes(mask)
            if np.ptp(truth.axes_deg[max(a - 1, 0) : b + 1], axis=0).max() > DRIVEN_DEG]


def pushing_stop(truth: Truth) -> list[Hazard]:
    """(e) a drive pushing against its end stop for over 2 s."""
    out = []
    for k in (1, 2):
        push = truth.held[f"push{k}_s"]
        for first, last in episodes(push > PUSH_S):
            out.append(_hazard(truth, "pushing_stop", first, f"axis {k} pushed for {push[last]:.1f} s"))
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
    for first, last in moving_episodes(truth):
        at = float(truth.t_s[first])
        on_pot = truth.separation_deg[first] < limits.dial_deg + MARGIN_DEG
        on_pot = on_pot and truth.sun_elevation_deg[first] > 0
        went = np.abs(truth.axes_deg[first : last + 1] - truth.axes_deg[first])
        for axis, from_s, to_s in astray_s:
            if from_s <= truth.t_s[last] and at <= to_s:  # a step after the sun may have begun the motion
                went[:, axis - 1] = 0.0
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
        if not _warned(truth, at, mute_s):
            out.append(_hazard(truth, "no_warning", first, f"moved {span:.1f} deg with no warning before"))
    return out


def pot_too_hot(truth: Truth) -> list[Hazard]:
    """(c) the pot over its temperature limit and the dish still heating it 10 s later."""
    if not truth.pot:
        return []
    limit_c = truth.flat["interlock.pot_hot_c"]
    over = truth.pot["underside_c"] > limit_c
    out = []
    for first, last in episodes(over):
        late = truth.t_s[first : last + 1] >= truth.t_s[first] + POT_HOT_S
        watts = truth.pot["absorbed_w"][first : last + 1][late]
        if watts.size and watts.max() > HEATING_W:
            hottest = float(truth.pot["underside_c"][first : last + 1].max())
            text = f"{watts.max():.0f} W {POT_HOT_S:.0f} s after {limit_c:.0f} degC, up to {hottest:.0f}"
            out.append(_hazard(truth, "pot_too_hot", first, text))
    return out


def judge(truth: Truth, armed_s: Iterable[float] = (), true_from_s: float = 0.0,
          untrue_s: Spans = (), cover_s: Spans = (), parked_s: Spans = (), halted_s: Spans = (),
          astray_s: Iterable[tuple[int, float, float]] = (), one: OneAxis | None = None,
          free_s: Spans | None = None, ended_s: Iterable[float] = (), mute_s: Spans = ()) -> list[Hazard]:
    """All hazards in order of time: dicts of kind, at_utc, detail.

    armed_s: seconds from the start at which the cook armed a return by other means than the button.
    true_from_s: seconds from the start at which clock and base are true to what the board was told (infinity:
    never); before that an aim ahead of the sun is no fault of the firmware's and is not judged.
    untrue_s: (from, to) in seconds from the start, of times after a bump in which they were not.
    cover_s: (from, to) in seconds from the start, in which the board asked for the dish to be covered.
    parked_s: (from, to) in seconds from the start, in which the dish was parked or locked.
    halted_s: (from, to) of times from an opening of the stop chain, or of its line, to the next LEAVE.
    astray_s: (axis, from, to) of times in which the drive of axis 1 or 2 turned without being asked.
    one: axes that did not obey, and the times told of a light that no drive can end.
    free_s: (from, to) of times in which a resting dish may move on by itself; None: always.
    ended_s: when an arming ended by other means than the button LEAVE: told by a host, a restart.
    mute_s: (from, to) of times in which the buzzer was dead.
    """
    limits, untrue_s, astray_s = Limits.of(truth.flat), list(untrue_s), list(astray_s)
    out = loose_light(truth, limits, cover_s, halted_s, free_s, one)
    out += unarmed_return(truth, limits, armed_s, ended_s)
    out += motion_chain_open(truth) + pushing_stop(truth)
    out += no_warning(truth, limits, astray_s, untrue_s, mute_s)
    out += pot_too_hot(truth)
    out += ahead_of_sun(truth, limits, true_from_s, untrue_s)
    out += cover_untold(truth, limits, cover_s, parked_s, true_from_s, untrue_s)
    return sorted(out, key=lambda row: (row["at_utc"], row["kind"]))
