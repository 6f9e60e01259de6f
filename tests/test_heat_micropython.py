"""The heat table and its aims on MicroPython give what CPython gives. Units: udeg, permille."""

from __future__ import annotations

import json
import math

import pytest
from sunhob.errors import UserError
from sunhob.heat_table import build_heat_table
from sunhob.optics.geometry import optics_fingerprint
from sunhob.settings import load_cooker
from sunhob_board.heat.table import HeatTable
from sunhob_board.heat.trail import Trail
from sunhob_sim import wasm_home
from sunhob_sim.wasm_sun import run_micropython

MODULES = ("__init__", "heat/__init__", "heat/table", "heat/trail")
DATA = build_heat_table(load_cooker())
MARK = optics_fingerprint(load_cooker())
LATITUDES_DEG = (24.6, -33.0, 0.0)
SUNS = ((0.5, -0.3), (-0.4, 0.35), (0.1, 0.05))
ANGLES = (0, 30, -55)
ASKED = (995, 900, 700, 550, 400, 100)

ON_BOARD = """
import sys, json, gc
sys.path.append('/')
from sunhob_board.heat.table import HeatTable, HeatTableError
from sunhob_board.heat.trail import Trail
with open('/heat.tab', 'rb') as f:
    data = f.read()
table = HeatTable(data, %(mark)d)
class Sun: pass
out = []
for lat, angle, e, n in %(cases)r:
    sun = Sun()
    sun.e, sun.n = e, n
    sun.u = (1.0 - e * e - n * n) ** 0.5
    trail = Trail(table, lat)
    trail.start(sun, angle)
    while not trail.step():
        pass
    out.append([trail.lag_udeg(p) for p in %(asked)r] + [trail.stray(9000000)] + list(trail.profile))
codes = []
spoilt = bytearray(data)
spoilt[777] ^= 4
for bad, mark in ((b'', %(mark)d), (data[:99], %(mark)d), (bytes(spoilt), %(mark)d), (data, 7)):
    try:
        HeatTable(bad, mark)
    except HeatTableError as error:
        codes.append(error.args[0])
gc.collect()
before = gc.mem_alloc()
x = 0
for p in range(1000):
    x ^= trail.lag_udeg(p)
used = gc.mem_alloc() - before
print(json.dumps([out, codes, used]))
"""


def cases() -> list[tuple[float, int, float, float]]:
    return [(math.radians(lat), angle, e, n) for lat in LATITUDES_DEG for angle in ANGLES for e, n in SUNS]


class FixedSun:
    def __init__(self, e: float, n: float) -> None:
        self.e, self.n, self.u = e, n, (1.0 - e * e - n * n) ** 0.5


def test_micropython_gives_the_same_and_the_inverse_leaves_nothing_on_the_heap() -> None:
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))
    script = ON_BOARD % {"mark": MARK, "cases": cases(), "asked": ASKED}
    (line,) = run_micropython(script, {"/heat.tab": DATA}, MODULES)
    found, codes, used = json.loads(line)
    table = HeatTable(DATA, MARK)
    for (lat, angle, e, n), got in zip(cases(), found, strict=True):
        trail = Trail(table, lat)
        trail.start(FixedSun(e, n), angle)
        while not trail.step():
            pass
        assert got == [trail.lag_udeg(p) for p in ASKED] + [trail.stray(9_000_000)] + list(trail.profile)
    assert codes == ["missing", "short", "corrupt", "other"]
    assert used < 256  # the loop's own names; a number a call would be 16 kB
