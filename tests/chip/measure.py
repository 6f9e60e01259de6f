"""What is measured on a board through its console. Units: bytes, deg, ms."""

import json

import numpy as np
from sunhob.board.image import code_files
from sunhob.board.raw_repl import RawRepl
from sunhob.firmware_build import place_of, short_of
from sunhob.sun_compare import CHECK_LATITUDES_DEG, Case, board_terms, parse_time, standard_pressure_pa
from sunhob.sun_truth import separation_deg, sun_enu

_BATCH = 8
_SUN = """
import sys, json
if %(folder)r not in sys.path:
    sys.path.insert(0, %(folder)r)
from %(table_file)s import %(table)s as SunTable
from %(sun_file)s import %(sun)s as Sun
with open(%(folder)r + '/sun.tab', 'rb') as f:
    table = SunTable(f.read())
def tell(cases):
    for site, day, ms in cases:
        sun = Sun(table, *site)
        sun.%(update)s(day, ms)
        print(json.dumps([repr(sun.%(e)s), repr(sun.%(n)s), repr(sun.%(u)s)]))
"""
# in pieces: what a piece of code leaves behind is collected for certain once it has ended
_HEAP = ("""
import gc, sys, json
if %(folder)r not in sys.path:
    sys.path.insert(0, %(folder)r)
for name in %(names)r:
    __import__(name)
gc.collect()
""", """
loaded = gc.mem_alloc()
from sunhob_board import main
app = main.start(%(folder)r + '/')
for _ in range(100):
    app.cycle()
gc.collect()
""", """
import time
began = time.ticks_us()
gc.collect()
took = time.ticks_diff(time.ticks_us(), began)
print(json.dumps([gc.mem_alloc() - loaded, gc.mem_free(), took]))
""")


def free_console(repl: RawRepl) -> None:
    """Keep the board from starting its controller again by itself, and collect as its loader does while code
    is loaded: else no 14 kB in one piece are left on a Pico."""
    repl.run("import gc\ngc.threshold(16384)\nt = globals().get('back')\nif t:\n    t.deinit()")


def sun_cases(begin: str = "2026-01-01T00:00:00Z", count: int = 48, seed: int = 5) -> list[Case]:
    """Instants of the years to come at sites of all latitudes."""
    rng = np.random.default_rng(seed)
    start = parse_time(begin).timestamp()
    found = []
    for n in range(count):
        when = start + float(rng.uniform(0.0, 19 * 365.25 * 86400.0))
        altitude = float(rng.uniform(0.0, 4500.0))
        at = parse_time(str(np.datetime64(int(when * 1000), "ms")))
        longitude, temp_c = float(rng.uniform(-180.0, 180.0)), float(rng.uniform(-20.0, 40.0))
        found.append(Case(at, CHECK_LATITUDES_DEG[n % len(CHECK_LATITUDES_DEG)], round(longitude, 6),
                          round(altitude, 1), round(standard_pressure_pa(altitude), 1), round(temp_c, 1)))
    return found


def sun_worst_deg(repl: RawRepl, folder: str, cases: list[Case]) -> float:
    """Worst separation [deg] of the board's sun from SPA, the sun up, by the table in `folder` ('/a')."""
    short = {name: short_of("." + name) for name in ("update", "e", "n", "u")}
    table_file, table = place_of("sun/table", "SunTable")
    sun_file, sun = place_of("sun/position", "Sun")
    repl.run(_SUN % {"folder": folder, "table_file": table_file, "table": table, "sun_file": sun_file,
                     "sun": sun, **short})
    found = []
    for at in range(0, len(cases), _BATCH):
        terms = [(site, *instant) for site, instant in map(board_terms, cases[at:at + _BATCH])]
        lines = repl.run(f"tell({terms!r})").splitlines()
        found += [[float(text) for text in json.loads(line)] for line in lines]
    truth = np.concatenate([
        sun_enu(c.at.timestamp(), c.latitude_deg, c.longitude_deg, c.altitude_m, c.pressure_pa, c.temp_c)
        for c in cases])
    up = truth[:, 2] >= 0.0
    assert len(found) == len(cases) and up.sum() > len(cases) // 4
    return float(separation_deg(np.array(found)[up], truth[up]).max())


def heap(repl: RawRepl, folder: str, kind, cooker) -> tuple[int, int, float]:
    """(bytes that the running controller's objects hold, code not counted; bytes that are free; ms that a
    collection of garbage takes)."""
    names = [name.removesuffix(".mpy").replace("/", ".") for name in code_files(kind, cooker)]
    told = {"folder": folder, "names": names}
    *_, last = (repl.run(code % told, 300.0) for code in _HEAP)  # at rest a tick comes each second
    live, free, us = json.loads(last)
    return live, free, us / 1000.0
