"""What an episode says of the way to safety: how soon it was noticed, how long until the light was off.

Units: seconds, degrees. All but what the board told is read from the plant's true state.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from sunhob_board.declared import interlocks, modes

from ..judge_limits import MARGIN_DEG, Limits, episodes
from ..judge_rest import excused
from ..judge_told import cover_s
from ..scenario import Scenario
from ..truth import Truth

NEVER = -1.0  # it did not come to that
_EVERY_DAY = ("sun_low", "park_bright", "attendance")  # trips that need no fault
_SIGNS = ("boot", "stop_chain", "no_path", "north_refused", "doubt", "dead_axis")
_OF_DEEDS = {"chain_open": ("stop_chain",), "pot_lift": ("pot_lifted", "pot_absent", "pot_missing"),
             "stir": ("pot_lifted", "pot_absent", "pot_missing")}  # fmt: skip
_FOLLOWS_S = 30.0
_LIT_W_M2 = 50.0


@dataclass(frozen=True)
class ToSafe:
    """sign: the first thing the board told of the fault, '' if nothing; noticed_s: after how long.

    pot_s, light_s: from the leave (or lock) that followed until the pot was out of the light, and until no
    light was loose, the longest of the episode. loose_s: the longest stay in loose light after the fault,
    rest under a cover asked for not counted. NEVER: there was no such time. The end of the run ends a stay.
    """

    sign: str = ""
    noticed_s: float = NEVER
    pot_s: float = NEVER
    light_s: float = NEVER
    loose_s: float = 0.0


def sign_of(event: dict[str, Any]) -> str:
    """The name of the interlock or event that tells of something amiss; '' for the events of every day."""
    if event["name"] == "trip":
        name: str = interlocks.ROWS[event["a"]][0]
        return "" if name in _EVERY_DAY else name
    return event["name"] if event["name"] in _SIGNS else ""


Expected = list[tuple[str, float, float]]


def expected(scenario: Scenario) -> Expected:
    """(sign, from, to) in seconds: what this cook's own deeds and this sky bring without any fault."""
    found = []
    for one in scenario.action:
        at_s = scenario.offset_s(one.at)
        found += [(sign, at_s, at_s + _FOLLOWS_S) for sign in _OF_DEEDS.get(one.do, ())]
    if scenario.sky.kind != "clear" or scenario.sky.cloud:
        found.append(("light_low", 0.0, math.inf))
    return found


def to_safe(true: Truth, events: list[dict[str, Any]], fault_s: float,
            known: Expected | None = None) -> ToSafe:
    """The figures of a run whose first fault came at `fault_s` seconds from the start; what is `known` to
    come without it is not taken for its sign."""
    sign, noticed_s = "", NEVER
    for event in events:
        name, t_s = sign_of(event), event["t_s"]
        if t_s >= fault_s and name and not any(name == k and a <= t_s <= b for k, a, b in known or ()):
            sign, noticed_s = name, t_s - fault_s
            break
    limits = Limits.of(true.flat)
    lit = (true.sun_elevation_deg > 0.0) & (true.dni_w_m2 > _LIT_W_M2) & (true.held["covered"] < 0.5)
    away = true.separation_deg
    on_pot = lit & (away < true.flat["dish.pot_clear_deg"])
    live = lit & (away < limits.loose_clear_deg)
    live &= ~excused(true, limits.loose_clear_deg, cover_s(events))
    loose = live & (away > limits.dial_deg + MARGIN_DEG) & (true.t_s >= fault_s)
    stays = [true.t_s[b] - true.t_s[a] for a, b in episodes(loose)]
    begun = [e["t_s"] for e in events
             if e["name"] == "mode" and e["b"] in (modes.LEAVING, modes.LOCKED) and e["t_s"] >= fault_s]
    return ToSafe(sign, noticed_s, _worst(true, on_pot, begun), _worst(true, live, begun),
                  float(max(stays, default=0.0)))


def _worst(true: Truth, lit: np.ndarray, begun_s: list[float]) -> float:
    """The longest time from a beginning until `lit` ends; NEVER if it never stood then."""
    worst = NEVER
    for at_s in begun_s:
        row = int(np.searchsorted(true.t_s, at_s, side="right")) - 1
        if row >= 0 and lit[row]:
            dark = np.flatnonzero(~lit[row:])
            end = row + int(dark[0]) if dark.size else len(lit) - 1
            worst = max(worst, float(true.t_s[end]) - at_s)
    return worst
