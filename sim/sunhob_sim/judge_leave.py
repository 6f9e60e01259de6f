"""How long a leave may take from where the dish stands, by the bench's own mount and sun.

Units: seconds, degrees.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .plant_settings import park_axes, true_mount
from .truth import Truth, separation_deg

_NEARER_DEG = 0.5  # so much nearer to the sun is no other way


def leave_s(truth: Truth, row: int, shares: tuple[float, float] = (1.0, 1.0)) -> float:
    """Seconds to park from where the axes stand at `row`, one axis after the other at full speed, of which a
    drive that loses steps has a share.

    One after the other, for a way that stays behind the sun may need two legs (elevation first near the
    zenith): 47 s at most with the invented dish, of the 90 s that a leave may take to its park. Where every
    such way comes nearer to the sun first, it leads over the zenith.
    """
    here = (float(truth.axes_deg[row, 0]), float(truth.axes_deg[row, 1]))
    goal = park_axes(truth.flat)
    if truth.flat["mount.kind"] == "polar" or _leads_off(truth, row, here, goal):
        return _legs_s(truth, [here, goal], shares)
    top = min(90.0, truth.flat["axis2.high_deg"])
    return _legs_s(truth, [here, (here[0], top), (goal[0], top), goal], shares)


def _legs_s(truth: Truth, corners: list[tuple[float, float]], shares: tuple[float, float]) -> float:
    total = 0.0
    for k in (0, 1):
        name = f"axis{k + 1}"
        if truth.flat[f"{name}.drive"] == "hand":
            continue
        speed, accel = shares[k] * truth.flat[f"{name}.speed_deg_s"], truth.flat[f"{name}.accel_deg_s2"]
        total += sum(abs(b[k] - a[k]) / speed + (speed / accel if a[k] != b[k] else 0.0)
                     for a, b in pairwise(corners))
    return total


def _leads_off(truth: Truth, row: int, here: tuple[float, float], goal: tuple[float, float]) -> bool:
    """Whether one axis after the other, or both at once, gets there without coming nearer to the sun."""
    share = np.linspace(0.0, 1.0, 25)
    late, soon = np.clip(2.0 * share - 1.0, 0.0, 1.0), np.clip(2.0 * share, 0.0, 1.0)
    mount = true_mount(truth.flat)
    for one, two in ((share, share), (soon, late), (late, soon)):
        aims = mount.enu(here[0] + one * (goal[0] - here[0]), here[1] + two * (goal[1] - here[1]))
        away = separation_deg(aims, truth.sun[row])
        if away.min() > away[0] - _NEARER_DEG:
            return True
    return False
