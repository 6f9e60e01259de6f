"""The faults of a scenario, ready for the tray. Units: seconds from the start of the run;
minutes in files.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .library import BY_NAME
from .tray import Planned

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


def untrue_of(scenario: Scenario) -> list[tuple[float, float]]:
    """(from, to) in seconds of the times in which clock or base were not what the board was told."""
    return [(one.start_s, math.inf) for one in planned_of(scenario) if one.fault.untrue]
