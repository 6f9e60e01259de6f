"""Figures of `make bench` that want real MicroPython and a long run: sun positions, and a month's heap.

Units: us, bytes, hours of the day UTC.
"""

from datetime import UTC, date, datetime, timedelta

from sunhob.sun_table import build_table, day2000
from sunhob_board.declared import modes
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import Bench
from sunhob_sim.wasm_sun import run_micropython

_START_H, _LOOK_H = 3.5, 11.5  # of each day: the scenario starts; the heap is looked at
# The interpreter's own clock tells ms only; the empty loop is taken off.
_SUN_LOOP = """
import sys, time
sys.path.append('/')
from sunhob_board.sun.table import SunTable
from sunhob_board.sun.position import Sun
with open('/sun.tab', 'rb') as f:
    sun = Sun(SunTable(f.read()), 24600000, 73700000, 600, 94300, 20)
day, count = %d, %d
start = time.ticks_ms()
for i in range(count):
    pass
empty = time.ticks_diff(time.ticks_ms(), start)
start = time.ticks_ms()
for i in range(count):
    sun.update(day, i * 4000)
print(time.ticks_diff(time.ticks_ms(), start) - empty)
"""


def sun_position_us(count: int) -> float:
    """Time of one sun position in MicroPython's WebAssembly build [us]."""
    first = date(2026, 1, 1)
    program = _SUN_LOOP % (day2000(first) + 60, count)
    (line,) = run_micropython(program, {"/sun.tab": build_table(first, 1)})
    return int(line) / count * 1e3


def heap_growth(full: bool) -> tuple[str, int, int, int]:
    """(over what, bytes grown, meals cooked, meals meant) between the same hour of the second and last day.

    The first two days fill what is filled once: queues and lists that then keep their size.
    Short of the full month, its thirty meals are eaten in two days, thirty more before the first look.
    """
    days, meals = (31, 1) if full else (3, 15)
    bench = Bench(scenarios.parse(_month(days + 1, meals)), "micropython")
    held: list[int] = []
    try:
        bench.engine.boot()
        for number in range(days + 1):
            until_us = (_LOOK_H + 24.0 * number - _START_H) * 3.6e9
            while bench.board.now_us < until_us:
                bench.engine.cycle()
            held.append(bench.engine.heap_bytes())
    finally:
        bench.close()
    eaten = sum(e["name"] == "mode" and e["b"] == modes.COOKING for e in bench.uplink.events)
    span = "30 days" if full else f"{days - 1} days with {meals} meals each (30 days: --full)"
    return span, held[-1] - held[1], eaten, (days + 1) * meals


def _month(days: int, meals: int) -> str:
    """Each day so many short meals: ARM, ten minutes on the sun with a turn of the dial, LEAVE."""
    start = datetime(2026, 3, 1, int(_START_H), 30, tzinfo=UTC)
    lines = ['name = "month"', f"start = {start.isoformat()}", f"hours = {24 * days}"]
    for number in range(days * meals):
        day, meal = divmod(number, meals)
        first = start + timedelta(days=day, minutes=10 + 28 * meal)
        for minutes, do in ((0, 'knob"\nvalue = 100'), (1, 'arm"'), (6, 'knob"\nvalue = 60'), (11, 'leave"')):
            when = (first + timedelta(minutes=minutes)).isoformat()
            lines += ["[[action]]", f'at = "{when}"', f'do = "{do}']
    return "\n".join(lines) + "\n"
