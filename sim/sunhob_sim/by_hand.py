"""The same day with a hand turning the dish every so often, for comparison: its heat and its own pot.

Units: seconds from the start, degrees, W, J, deg C. The hand is an invented one. It comes when the day's cook
sets the heat and then every `every_min` minutes, sets the lag that gives the heat asked for at that moment,
and never aims ahead. Asked to hold a pot temperature, it looks at its own pot at each visit: full heat where
much is missing, the least heat where little is, turned away where it is warm enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .hob import Hob
from .past_sun import PastSun
from .pot_light import PotLight
from .sky import Sky
from .wind import Wind

_STEP_S = 5.0
_HAND_DEG = 0.3  # how closely a hand sets a dish by its shadow; common practice, no source
_DEG_PER_S = 15.0 / 3600.0  # hour angle of the sun
_LAGS_DEG = np.arange(0.0, 20.01, 0.25)
_FAR_K = 5.0  # farther below the temperature to hold, the hand gives full heat
_LEAST = 0.4
_SAID_S = 2.0  # what a deed asks for shows in the day a moment later
_HEAT_DEEDS = ("knob", "link_heat", "link_watts", "link_pot")
_POT_DEEDS = ("stir", "lid_on", "lid_off", "add_water", "add_food", "serve", "box")


@dataclass
class Day:
    """What the day asks of the hand, at the times `t_s`.

    asked: fraction of full heat, 0 while the dish is off the sun. set_c: pot temperature to hold, NaN while
    none is or hands are at the pot. on_hob: the pot stands there. deeds: of the day's cook, as the bench
    keeps them.
    """

    t_s: NDArray
    asked: NDArray
    set_c: NDArray
    on_hob: NDArray
    deeds: Sequence[dict[str, Any]]


@dataclass
class HandDay:
    """Heat taken up [W], contents [deg C], share cooked at the times of the day; and the figures."""

    heat_w: NDArray
    contents_c: NDArray
    cooked: NDArray
    figures: dict[str, float]


class _Hand:
    """Where the hand has the dish: `aim`, or None turned away."""

    def __init__(self, past: PastSun, light: PotLight, every_min: float, seed: int) -> None:
        self.past, self.light, self.every_s = past, light, 60.0 * every_min
        self.rng = np.random.default_rng(seed)
        self.aim: NDArray | None = None
        self.touches = 0
        self._visit_s = -np.inf

    def look(self, t_s: float, sun: NDArray, on: bool, called: bool, share: float) -> None:
        """At `t_s`: `on`: the meal is on; `called`: come now, whenever the last visit was."""
        if not on:
            self.aim, self._visit_s = None, -np.inf
            return
        if not called and t_s - self._visit_s < self.every_s:
            return
        self._visit_s = t_s
        if share <= 0.0:
            self.touches += self.aim is not None
            self.aim = None
            return
        off = abs(float(self.rng.normal(0.0, _HAND_DEG)))
        lag = _lag_deg(t_s, share, self.past, sun, self.light) + off
        self.aim, self.touches = self.past.at(t_s - lag / _DEG_PER_S), self.touches + 1


def hand_day(sky: Sky, day: Day, hob: Hob, wind: Wind, every_min: float = 10.0, seed: int = 1) -> HandDay:
    """The day by hand; `hob` holds its own pot and the light on it, and is used up."""
    hand = _Hand(PastSun(sky), hob.light, every_min, seed)
    grid = np.arange(float(day.t_s[0]), float(day.t_s[-1]) + _STEP_S, _STEP_S)
    index = np.minimum(np.searchsorted(day.t_s, grid), len(day.t_s) - 1)
    suns, beam, called = sky.sun_array(grid), sky.beam(grid), _called(grid, day.deeds)
    deeds = [d for d in day.deeds if d["do"] in _POT_DEEDS]
    rows = np.zeros((3, len(grid)))
    for i, t in enumerate(grid):
        while deeds and deeds[0]["t_s"] <= t:
            deed = deeds.pop(0)
            hob.deed(deed["do"], deed.get("value"))
        k = int(index[i])
        holds = bool(np.isfinite(day.set_c[k]))
        share = _held(day.set_c[k] - hob.pot.contents_c) if holds else float(day.asked[k])
        hand.look(float(t), suns[i], holds or share > 0.0, bool(called[i]), share)
        watts = (0.0, 0.0)
        if hand.aim is not None and day.on_hob[k] > 0.5 and hob.box is None:
            watts = hob.light.watts(hand.aim.tolist(), suns[i].tolist(), float(beam[i]))
        hob.let(_STEP_S, watts, wind.speed_at(float(t)))
        inside = hob.box or hob.pot
        rows[:, i] = sum(watts), hob.box.temp_c if hob.box else hob.pot.contents_c, inside.cooked
    heat_w, contents_c, cooked = (np.interp(day.t_s, grid, row) for row in rows)
    figures = {"delivered_j": round(float(rows[0].sum()) * _STEP_S), "every_min": every_min,
               "touches": float(hand.touches)}
    return HandDay(heat_w, contents_c, cooked, figures)


def _called(grid: NDArray, deeds: Sequence[dict[str, Any]]) -> NDArray:
    """Steps at which the day's cook has just turned the heat."""
    out = np.zeros(len(grid), dtype=bool)
    at = [d["t_s"] + _SAID_S for d in deeds if d["do"] in _HEAT_DEEDS]
    out[np.minimum(np.searchsorted(grid, at), len(grid) - 1)] = True
    return out


def _held(missing_k: float) -> float:
    return 1.0 if missing_k > _FAR_K else _LEAST if missing_k > 0.0 else 0.0


def _lag_deg(t_s: float, share: float, past: PastSun, sun: NDArray, light: PotLight) -> float:
    """Least lag [deg] behind the sun at which the pot gets no more than `share` of full heat."""
    if share >= 0.999:
        return 0.0
    aims = past.at(t_s - _LAGS_DEG / _DEG_PER_S)
    enough = light.shares(aims, np.broadcast_to(sun, aims.shape)) <= share * light.full_share(sun)
    return float(_LAGS_DEG[int(np.argmax(enough))] if enough.any() else _LAGS_DEG[-1])
