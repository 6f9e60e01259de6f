"""Figures of the heat table and the dial for `make bench`. Units: us, bytes, fraction of full heat, deg."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
from numpy.typing import NDArray
from sunhob.heat_table import build_heat_table
from sunhob.optics.geometry import optics_fingerprint, optics_of
from sunhob.optics.intercept import intercept
from sunhob.settings import load_cooker
from sunhob_board.heat.table import HeatTable
from sunhob_board.heat.trail import Trail
from sunhob_sim.pot_light import lag_directions
from sunhob_sim.truth import from_dec_ha
from sunhob_sim.wasm_sun import run_micropython

COOKER = load_cooker()
_SEED = 11  # not that of the table
MODULES = ("__init__", "heat/__init__", "heat/table", "heat/trail")
# The interpreter's own clock tells ms only.
_LOOP = """
import sys, time
sys.path.append('/')
from sunhob_board.heat.table import HeatTable
from sunhob_board.heat.trail import Trail
with open('/heat.tab', 'rb') as f:
    table = HeatTable(f.read(), %d)
class Sun:
    e, n, u = 0.5, -0.3, 0.812404
trail = Trail(table, 0.43)
n = %d
start = time.ticks_ms()
for _ in range(n):
    trail.start(Sun, 30)
    while not trail.step():
        pass
print(time.ticks_diff(time.ticks_ms(), start))
start = time.ticks_ms()
for _ in range(n):
    for i in range(100):
        trail.lag_udeg(400 + 6 * i)
print(time.ticks_diff(time.ticks_ms(), start))
"""


def table_bytes() -> int:
    """Size of the heat table file of the invented cooker."""
    return len(build_heat_table(COOKER))


def micropython_us(count: int = 500) -> tuple[float, float]:
    """(heat along a whole trail, lag of a heat) in MicroPython's WebAssembly build, us each."""
    program = _LOOP % (optics_fingerprint(COOKER), count)
    trail, inverse = run_micropython(program, {"/heat.tab": build_heat_table(COOKER)}, MODULES)
    return int(trail) / count * 1e3, int(inverse) / count * 10.0


def dial_errors(points: int = 60, rays: int = 1 << 15) -> NDArray:
    """Heat got less heat asked, fraction of full: the board's aim, and rays traced afresh at that attitude.

    Under suns spread over the year and the day, on trails spread over the half-plane behind.
    """
    rng = np.random.default_rng(_SEED)
    table = HeatTable(build_heat_table(COOKER), optics_fingerprint(COOKER))
    optics, latitude = optics_of(COOKER), COOKER.site.latitude_deg
    trail = Trail(table, math.radians(latitude))
    full = intercept(optics, [0.0], [60.0], [0.0], rays, _SEED, jobs=1).absorbed.item()
    errors: list[float] = []
    while len(errors) < points:
        sun = from_dec_ha(rng.uniform(-23.4, 23.4), rng.uniform(-60.0, 60.0), latitude)
        if sun[2] < math.sin(math.radians(15.0)):
            continue
        trail.start(SimpleNamespace(e=float(sun[0]), n=float(sun[1]), u=float(sun[2])),
                    int(rng.choice([0, 30, -30, 55, -55])))
        while not trail.step():
            pass
        asked = int(rng.integers(400, 1000))
        aim = [0.0, 0.0, 0.0]
        trail.aim(trail.lag_udeg(asked), aim)
        lag, elevation, direction = (float(v) for v in lag_directions(np.array(aim), sun))
        got = intercept(optics, [lag], [elevation], [direction % 359.999], rays, _SEED, jobs=1)
        errors.append(got.absorbed.item() / full - asked / 1000.0)
    return np.array(errors)
