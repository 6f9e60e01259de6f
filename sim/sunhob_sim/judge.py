"""Hazards of a run, judged from the true state of the plant and never from what the firmware believes.

Units: seconds from the start, degrees, W/m2.
Kinds: 'loose_light' and 'cover_untold' (judge_loose.py); 'unarmed_return', 'motion_chain_open',
'pushing_stop' and 'no_warning' (judge_motion.py); 'ahead_of_sun', 'pot_too_hot'.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from .judge_limits import Hazard, Limits, Spans, episodes, hazard, light
from .judge_loose import cover_untold, loose_light, stuck_rows, told_stuck
from .judge_motion import motion_chain_open, no_warning, pushing_stop, unarmed_return
from .judge_one_axis import OneAxis
from .truth import Truth

# So near the pole nothing is ahead of the sun: it comes nearer by 1 deg an hour at most, and never within 62.
# The home flags lie 2.8 deg off the pole, and a search passes them by 0.6.
PARK_DEG = 4.0
LOST_S = 60.0  # within it a lead that can be seen must be ended
BY_SIGHT, BY_TUBE_DEG = 1.5, 24.0  # a lead can be seen from so many limits of the sun sensor on; by the tube
POT_HOT_S = 10.0
HEATING_W = 50.0  # less than a pot at its limit loses by far


def ahead_of_sun(truth: Truth, limits: Limits, true_from_s: float = 0.0, untrue_s: Spans = (),
                 halted_s: Spans = (), one: OneAxis | None = None) -> list[Hazard]:
    """(b) aim ahead of the sun by more than the deadband within the loose-light angle, for over 1 s. Where an
    axis or the base no longer was where the board was told (untrue_s): so far ahead that light tells of it,
    for over LOST_S. Times in which no drive can or may move (halted_s: after the stop chain) do not count if
    the alarm and its times were given: their loose light counts as stranded."""
    lead = -truth.behind_deg * np.cos(np.radians(truth.aim_dec_deg))
    allowed = limits.deadband_deg
    if not truth.calm:  # a gust may hold the dish anywhere in its play
        # Home too may have been found with the load on the far flank: once for that, once for now.
        allowed += 2.0 * max(truth.flat["axis1.backlash_deg"], truth.flat["axis2.backlash_deg"])
    pole_deg = 90.0 - np.sign(truth.site.latitude_deg or 1.0) * truth.aim_dec_deg
    mask = (lead > allowed) & (truth.separation_deg < limits.loose_clear_deg)
    mask &= (pole_deg > PARK_DEG) & light(truth) & (truth.t_s >= true_from_s)
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
            stuck = stuck_rows(truth, first, last, halted_s)
            free_s = np.diff(truth.t_s[first : last + 1])[~stuck].sum()
            if free_s <= longest_s and told_stuck(truth, first, last, halted_s, one):
                continue
            worst = float(lead[first : last + 1].max())
            out.append(hazard(truth, "ahead_of_sun", first, f"up to {worst:.2f} deg ahead of the sun"))
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
            out.append(hazard(truth, "pot_too_hot", first, text))
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
    out += ahead_of_sun(truth, limits, true_from_s, untrue_s, halted_s, one)
    out += cover_untold(truth, limits, cover_s, parked_s, true_from_s, untrue_s)
    return sorted(out, key=lambda row: (row["at_utc"], row["kind"]))
