"""Gathered light loose about the dish: for how long, whether it could have been ended, whether it was told.

Units: seconds from the start, degrees. Hazards 'loose_light' and 'cover_untold'; counted apart what could
not be spared.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import pins
from .judge_leave import leave_s
from .judge_limits import GRACE_S, Hazard, Limits, Spans, episodes, hazard, light
from .judge_one_axis import OneAxis
from .judge_rest import excused, untold
from .truth import Truth

AWAY_DEG = 0.02  # from one row to the next, of a dish that comes nearer on the whole
ALARM_S = 60.0  # without lamp or buzzer for longer, nobody was told


def _loose(truth: Truth, limits: Limits, spared: NDArray | None = None) -> list[tuple[int, int]]:
    """Rows of each stay between dial limit and loose-clear that was lit for longer than a leave takes from
    where it was deepest in. A rest that is spared parts two moves, each with its own time, and so does
    whoever turns it back on its way to the sun."""
    mask = limits.beyond_dial(truth) & (truth.separation_deg < limits.loose_clear_deg)
    mask &= truth.sun_elevation_deg > 0.0
    lit_s = np.diff(truth.t_s, prepend=truth.t_s[:1]) * light(truth)
    found = []
    for first, last in episodes(mask):
        for a, b in [(first, last)] if spared is None else _parts(~spared, first, last):
            if lit_s[a + 1 : b + 1].sum() > _one_leave_s(truth, a, b) + GRACE_S + _way_s(truth, a, b, lit_s):
                found.append((first, last))
                break
    return found


def _one_leave_s(truth: Truth, first: int, last: int, shares: tuple[float, float] = (1.0, 1.0)) -> float:
    """How long a leave may take from where the dish stood in these rows, at either end and deepest in."""
    deepest = first + int(np.argmin(truth.separation_deg[first : last + 1]))
    return max(leave_s(truth, row, shares) for row in (first, deepest, last))


def _way_s(truth: Truth, first: int, last: int, lit_s: NDArray) -> float:
    """What the way to the sun took before the dish was turned back; lit_s: of each row of the run."""
    turned = _turned_back(truth, first, last)
    return 0.0 if turned == first else float(
        min(lit_s[first + 1 : turned + 1].sum(), leave_s(truth, turned)))


def _turned_back(truth: Truth, first: int, last: int) -> int:
    """The row of this stay in which LEAVE or ASIDE was pressed, the pot lifted or the stop chain opened, on a
    way that only came nearer to the sun, or the board turned back on it or as it arrived; its first where
    none of this was."""
    opened = episodes(truth.held["chain"][first : last + 1] < 0.5)[:1]
    stopped = [first + row for row, _ in opened]
    if truth.pot:
        stopped += [first + row for row, _ in episodes(truth.pot["on_hob"][first : last + 1] < 0.5)]
    stopped += [int(np.searchsorted(truth.t_s, at_s)) for at_s, pin in truth.presses
                if pin in (pins.LEAVE, pins.ASIDE)]
    stopped = [row for row in stopped if truth.held["moving"][min(row, last)]]
    stopped += [int(np.searchsorted(truth.t_s, at_s)) for at_s in truth.turned_s]
    for row in sorted(row for row in stopped if first < row < last):
        comes = np.diff(truth.separation_deg[first : row + 1]).max() < AWAY_DEG
        return row if comes else first
    return first


def _parts(mask: NDArray, first: int, last: int) -> list[tuple[int, int]]:
    """Runs of True within these rows."""
    return [(first + a, first + b) for a, b in episodes(mask[first : last + 1])]


def _cannot_move(truth: Truth, first: int, last: int, halted_s: Spans, rests: NDArray) -> bool:
    """Whether the stay is no longer than one leave and 10 s but for the times in which no drive can or may
    move: stop chain open, or closed and LEAVE not pressed since (halted_s), supply gone, both axes dead; and
    but for its excused rests (rests), which part it."""
    stuck = stuck_rows(truth, first, last, halted_s)
    return bool(stuck.any()) and all(_in_time(truth, a, b, ~stuck[a - first : b - first])
                                     for a, b in _parts(~rests, first, last))


def stuck_rows(truth: Truth, first: int, last: int, halted_s: Spans) -> NDArray:
    """Rows of a stay, but for its first, in which no drive can or may move."""
    held = {name: values[first + 1 : last + 1] for name, values in truth.held.items()}
    t_s = truth.t_s[first + 1 : last + 1]
    stuck = (held["chain"] < 0.5) | (held["supply"] < 0.5) | ((held["dead1"] > 0.5) & (held["dead2"] > 0.5))
    for from_s, to_s in halted_s:
        stuck |= (t_s >= from_s) & (t_s <= to_s)
    return np.asarray(stuck)


def _in_time(truth: Truth, first: int, last: int, rows: NDArray,
             shares: tuple[float, float] = (1.0, 1.0)) -> bool:
    """Whether these rows of a stay, counted from its second, were lit for no longer than a leave and 10 s,
    and its way to the sun where the cook turned it back."""
    lit_s = np.diff(truth.t_s, prepend=truth.t_s[:1]) * light(truth)
    allowed = _one_leave_s(truth, first, last, shares) + GRACE_S + _way_s(truth, first, last, lit_s)
    return bool(lit_s[first + 1 : last + 1][rows].sum() <= allowed)


def _told(truth: Truth, first: int, last: int) -> bool:
    """Whether lamp or buzzer went on within a minute, and again and again, where there was power for it."""
    held = {name: values[first : last + 1] for name, values in truth.held.items()}
    powered = held["supply"] > 0.5
    alarm = (held["buzzer"] + held["lamp_fault"] > 0.5) & powered
    lasting_s = np.diff(truth.t_s[first : last + 1], append=truth.t_s[last])
    silent = powered & ~alarm
    return all(lasting_s[a : b + 1].sum() <= ALARM_S for a, b in episodes(silent))


def told_stuck(truth: Truth, first: int, last: int, halted_s: Spans, one: OneAxis | None) -> bool:
    """Whether the alarm and its times were given of a stay in which no drive can or may move."""
    times = one is None or one.told_times(truth, first, last, stuck_rows(truth, first, last, halted_s))
    return times and _told(truth, first, last)


def loose_rows(truth: Truth, limits: Limits, cover_s: Spans = (), halted_s: Spans = (),
               free_s: Spans | None = None, one: OneAxis | None = None) -> list[Hazard]:
    """Loose light for longer than one planned leave and 10 s, each with what it counts as.

    'loose_light' is hazard (a). Apart from the hazards: 'stranded' if no drive could end it and the alarm
    was given; 'cover_told' if the dish rested, no clear place was to be had, and the board asked for the
    cover, in the spans of seconds cover_s; 'cannot_leave' if an axis was dead, the other one alone could not
    end it, and alarm and times were given, or if it took no longer than a leave by a drive that keeps but a
    share of its steps, and the alarm was given. Parked it may move on by itself (free_s), aside it may not.
    """
    every, left = _loose(truth, limits), set()
    if every:
        rests = excused(truth, limits.loose_clear_deg, cover_s, free_s)
        left = set(_loose(truth, limits, rests))
    out = []
    for first, last in every:
        kind = "loose_light" if (first, last) in left else "cover_told"
        cannot = _cannot_move(truth, first, last, halted_s, rests)
        if cannot and told_stuck(truth, first, last, halted_s, one):
            kind = "stranded"
        row = _loose_row(truth, kind, first, last)
        dead = one.cannot_leave(truth, limits.loose_clear_deg, first, last) if one else None
        if kind == "loose_light" and one and dead is not None and _in_time(
                truth, first, last, ~dead & ~rests[first + 1 : last + 1] & ~stuck_rows(
                    truth, first, last, halted_s)):
            alarmed = _told(truth, first, last)
            clear = truth.flat["dish.pot_clear_deg"], limits.loose_clear_deg
            right = one.told_right(truth, clear, first, last)
            yes = ("no", "yes")
            row["detail"] += f"; cannot leave: alarmed {yes[alarmed]}, times told right {yes[right]}"
            row["kind"] = "cannot_leave" if alarmed and right else kind
        shares = one.shares(truth.t_s[first], truth.t_s[last]) if one else (1.0, 1.0)
        if row["kind"] == "loose_light" and min(shares) < 1.0 and _told(truth, first, last) and all(
                _in_time(truth, a, b, ~rests[a + 1 : b + 1], shares) for a, b in _parts(~rests, first, last)):
            row["kind"] = "cannot_leave"
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


def cover_told(truth: Truth, cover_s: Spans, free_s: Spans | None = None) -> list[Hazard]:
    """Loose light about a resting dish whose cover the board asked for, rightly: counted apart."""
    rows = loose_rows(truth, Limits.of(truth.flat), cover_s, (), free_s)
    return [row for row in rows if row["kind"] == "cover_told"]


def cover_untold(truth: Truth, limits: Limits, cover_s: Spans = (), parked_s: Spans = (),
                 true_from_s: float = 0.0, untrue_s: Spans = ()) -> list[Hazard]:
    """Parked, bare and lit nearer to the sun than cover_below_deg for longer than a leave takes, and the
    board did not ask for the cover. Not judged where clock or base were not as the board was told."""
    mask = untold(truth, limits.loose_clear_deg, limits.cover_below_deg, cover_s, parked_s)
    mask &= light(truth) & (truth.t_s >= true_from_s)
    for first_s, last_s in untrue_s:
        mask &= (truth.t_s < first_s) | (truth.t_s > last_s)
    return [_loose_row(truth, "cover_untold", first, last) for first, last in episodes(mask)
            if truth.t_s[last] - truth.t_s[first] > leave_s(truth, first) + GRACE_S]


def _loose_row(truth: Truth, kind: str, first: int, last: int) -> Hazard:
    long = truth.t_s[last] - truth.t_s[first]
    part = truth.separation_deg[first : last + 1]
    text = f"{long:.0f} s between {part.min():.1f} and {part.max():.1f} deg off the sun"
    return hazard(truth, kind, first, text)
