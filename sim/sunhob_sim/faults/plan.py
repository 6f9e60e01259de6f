"""The faults of a scenario, ready for the tray. Units: seconds from the start of the run;
minutes in files.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from .library import BY_NAME
from .tray import Planned

LAME = ("axis?_stalled", "axis?_one_phase", "axis?_backwards", "axis?_runs_away", "pulses?_low",
        "pulses?_high")
WEAK = "axis?_weak"
SLIPS_S = 60.0  # from one step after the sun to the next, at the most
UNKNOWING = ("settings_corrupt", "settings_gone", "clock_battery")

if TYPE_CHECKING:
    from ..scenario import Scenario


def planned_of(scenario: Scenario) -> list[Planned]:
    """The scenario's `[[fault]]` tables; without minutes a fault stays to the end."""
    found = []
    for one in scenario.fault:
        fault = BY_NAME[one.name]
        lasts_s = math.inf if one.minutes is None else 60.0 * one.minutes
        severity = (fault.low + fault.high) / 2.0 if one.severity is None else one.severity
        found.append(Planned(fault, scenario.offset_s(one.at), lasts_s, severity))
    return found


def untrue_of(scenario: Scenario, homed_s: Sequence[float] = ()) -> list[tuple[float, float]]:
    """(from, to) in seconds of the times in which clock, base or axes were not where the board was told;
    axes that no longer stray are true again once home is found (at homed_s)."""
    spans = []
    for one in planned_of(scenario):
        if one.fault.untrue:
            spans.append((one.start_s, math.inf))
        elif one.fault.group == "drive":
            over_s = one.start_s if one.fault.end is None else one.start_s + one.lasts_s
            spans.append((one.start_s, min((t for t in homed_s if t > over_s), default=math.inf)))
    return spans


def halts_of(scenario: Scenario) -> list[tuple[float, float]]:
    """(from, to) in seconds of the times in which the stop chain's line told the board of an open chain."""
    return [(one.start_s, math.inf if one.fault.end is None else one.start_s + one.lasts_s)
            for one in planned_of(scenario) if one.fault.halts]


def astray_of(scenario: Scenario) -> list[tuple[int, float, float]]:
    """(axis, from, to) in seconds of the times in which an axis turned without being asked; a slip is seen
    when the axis next turns."""
    return [(int(one.fault.name[4]), one.start_s, one.start_s + (one.lasts_s if one.fault.end else SLIPS_S))
            for one in planned_of(scenario) if one.fault.astray]


def _lasts(one: Planned) -> tuple[float, float]:
    return one.start_s, math.inf if one.fault.end is None else one.start_s + one.lasts_s


def lame_of(scenario: Scenario) -> list[tuple[int, float, float]]:
    """(axis, from, to) in seconds of the times in which axis 1 or 2 did not turn as it was driven."""
    return [(int(re.sub(r"\D", "", one.fault.name)), *_lasts(one)) for one in planned_of(scenario)
            if any(fnmatchcase(one.fault.name, lame) for lame in LAME)]


def weak_of(scenario: Scenario) -> list[tuple[int, float, float, float]]:
    """(axis, share, from, to) in seconds of the times in which axis 1 or 2 kept but a share of its steps."""
    return [(int(one.fault.name[4]), one.severity, *_lasts(one)) for one in planned_of(scenario)
            if fnmatchcase(one.fault.name, WEAK)]


def unknowing_of(scenario: Scenario) -> list[tuple[float, float]]:
    """(from, to) in seconds of the times in which the board knew neither its place nor its clock, and could
    not tell when the light would end."""
    return [_lasts(one) for one in planned_of(scenario) if one.fault.name in UNKNOWING]


def deaf_of(scenario: Scenario) -> list[tuple[float, float]]:
    """(from, to) in seconds of the times in which no press of LEAVE got through: its line never changed."""
    return [_lasts(one) for one in planned_of(scenario) if one.fault.name in ("leave_high", "leave_low")]


def mute_of(scenario: Scenario) -> list[tuple[float, float]]:
    """(from, to) in seconds of the times in which the buzzer was dead."""
    return [_lasts(one) for one in planned_of(scenario) if one.fault.name == "buzzer_low"]
