"""Whether a dead axis keeps the light loose whatever the other one does, by the bench's own geometry.

Units: seconds from the start, degrees, minutes where named. From the moment the axis was dead the whole
travel of the other one is tried, every 5 minutes of the stay: where none of it puts the light away for the
rest of the day (an aim ahead of the sun is met by it) the dish cannot leave. A drive that answers again tells
nobody so: the board has to try it, and has AGAIN_S for that. That counts apart ('cannot_leave') only if the
alarm was given and its times were right: to what the sun needs for the few degrees by which the dish may
stand elsewhere than it believes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .judge_limits import light
from .judge_rest import SURELY_DEG
from .plant_settings import true_mount
from .truth import Truth, dec_ha_deg, elevation_deg, from_dec_ha, separation_deg

EVERY_S = 300.0
PROMPT_S = 180.0  # a leave by counts, then the search for two flags, a minute each
ON_POT_S = 3600.0  # a dead dish keeps the spot on the pot for as much: 15 deg of sun, the dial has 14.8
AGAIN_S = 150.0  # each axis is tried once in two minutes; then the warning, and as long as it takes to look
RIGHT_MIN = 20.0  # 5 deg of sun: the sun sensor lets an axis be 2 to 4 deg off before it tells
RIGHT_DEG = 4.0  # the same, where the sun passes by, and gains hardly any distance in an hour
_GRID_DEG = 0.5
_SUN_DEG_A_MIN = 0.25
_DAY_MIN = 1440
_LATER_MIN = 10


@dataclass
class OneAxis:
    """lame: (axis, from, to) of times in which axis 1 or 2 did not obey; told: (when, minutes until the pot
    is clear, minutes until all is), -1 where not within a day; unknowing: (from, to) of times in which the
    board could not reckon them; weak: (axis, share, from, to) of times in which an axis kept but a share
    of its steps."""

    lame: Sequence[tuple[int, float, float]] = ()
    told: Sequence[tuple[float, int, int]] = field(default_factory=tuple)
    unknowing: Sequence[tuple[float, float]] = field(default_factory=tuple)
    weak: Sequence[tuple[int, float, float, float]] = field(default_factory=tuple)

    def shares(self, from_s: float, to_s: float) -> tuple[float, float]:
        """The least share of its steps that each axis kept in these seconds."""
        kept = [1.0, 1.0]
        for axis, share, began_s, ended_s in self.weak:
            if began_s <= to_s and from_s <= ended_s:
                kept[axis - 1] = min(kept[axis - 1], share)
        return kept[0], kept[1]

    def cannot_leave(self, truth: Truth, loose_clear_deg: float, first: int, last: int) -> NDArray | None:
        """Of the stay of these rows, but for its first: those until an axis answered again and was tried,
        if while it was dead there was never a way for the other one. Else None."""
        for axis, from_s, to_s in self.lame:
            began_s, ended_s = max(from_s, truth.t_s[first]), min(to_s, truth.t_s[last])
            rows = np.flatnonzero((truth.t_s >= began_s) & (truth.t_s <= ended_s))
            if not len(rows):
                continue
            some = rows[np.flatnonzero(np.diff(truth.t_s[rows] // EVERY_S, prepend=-1.0) > 0)]
            if all(farthest_deg(truth, axis, row) < loose_clear_deg + SURELY_DEG for row in some):
                return np.asarray(truth.t_s[first + 1 : last + 1] <= to_s + AGAIN_S)
        return None

    def told_right(self, truth: Truth, clear_deg: tuple[float, float], first: int, last: int) -> bool:
        """Whether times were told soon enough, and the last ones were true, of pot and surroundings."""
        said = self._said(truth, first, last)
        if not said:
            return False
        told = max(first, int(np.searchsorted(truth.t_s, said[0][0])))
        lit = light(truth)[first:told]  # under the cover, or a cloud, none is loose
        if np.diff(truth.t_s[first : told + 1])[lit].sum() > PROMPT_S:
            return False
        at_s, *minutes = said[-1]
        row = max(int(np.searchsorted(truth.t_s, at_s, side="right")) - 1, 0)
        true = [clear_after_min(truth, row, deg) for deg in clear_deg]
        return all(abs(a - b) <= RIGHT_MIN or abs(away_after_deg(truth, row, b) - deg) <= RIGHT_DEG
                   for a, b, deg in zip(true, minutes, clear_deg, strict=True))

    def told_times(self, truth: Truth, first: int, last: int, stuck: NDArray) -> bool:
        """Whether times were told of a light that no drive can end (stuck: in these of its rows, its first
        left out), or could not be: without power in all of them, place or clock."""
        powered = stuck & (truth.held["supply"][first + 1 : last + 1] > 0.5)
        blind = any(a <= truth.t_s[last] and truth.t_s[first] <= b for a, b in self.unknowing)
        return bool(blind or not powered.any() or self._said(truth, first, last))

    def _said(self, truth: Truth, first: int, last: int) -> list[tuple[float, int, int]]:
        """What was told of the light of a stay: in it, or while the spot was still on the pot."""
        return [one for one in self.told if truth.t_s[first] - ON_POT_S <= one[0] <= truth.t_s[last]]


def farthest_deg(truth: Truth, dead: int, row: int) -> float:
    """The greatest angle from the sun that the axis left can give, and the light keeps for the rest of
    the day, the dead one (1 or 2) where it stands."""
    name = f"axis{3 - dead}"
    if truth.flat[f"{name}.drive"] == "hand":
        return float(truth.separation_deg[row])
    grid = np.arange(truth.flat[f"{name}.low_deg"], truth.flat[f"{name}.high_deg"] + 0.1, _GRID_DEG)
    held = np.full_like(grid, truth.axes_deg[row, dead - 1])
    pair = (held, grid) if dead == 1 else (grid, held)
    aims: NDArray = true_mount(truth.flat).enu(*pair)
    lat = truth.site.latitude_deg
    dec, ha = (float(x) for x in dec_ha_deg(truth.sun[row], lat))
    sun = from_dec_ha(dec, ha + _SUN_DEG_A_MIN * np.arange(0, _DAY_MIN, _LATER_MIN), lat)
    down = np.flatnonzero(elevation_deg(sun) < -0.9)
    sun = sun[: max(1, int(down[0]))] if len(down) else sun
    return float(separation_deg(aims[:, None, :], sun[None]).min(axis=1).max())


def clear_after_min(truth: Truth, row: int, clear_deg: float) -> int:
    """Minutes until the sun is so far from the aim of this row, left alone, or down; -1: not within a day."""
    lat = truth.site.latitude_deg
    dec, ha = (float(x) for x in dec_ha_deg(truth.sun[row], lat))
    sun = from_dec_ha(dec, ha + _SUN_DEG_A_MIN * np.arange(_DAY_MIN), lat)
    away = (separation_deg(truth.aim[row], sun) >= clear_deg) | (elevation_deg(sun) < -0.9)
    return int(np.argmax(away)) if away.any() else -1


def away_after_deg(truth: Truth, row: int, minutes: int) -> float:
    """Angle from the sun to the aim of this row, left alone for so long; 0 for -1, that is for never."""
    if minutes < 0:
        return 0.0
    lat = truth.site.latitude_deg
    dec, ha = (float(x) for x in dec_ha_deg(truth.sun[row], lat))
    sun = from_dec_ha(dec, np.array([ha + _SUN_DEG_A_MIN * minutes]), lat)
    return float(separation_deg(truth.aim[row], sun)[0])
