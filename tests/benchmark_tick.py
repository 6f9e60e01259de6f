"""How much a control tick has to do, in operations of CPython's bytecode: the same on every machine.

A board's interpreter takes about as many, each 2 to 5 us on an RP2040 at 125 MHz, as reckoned from ticks of
an emulated one; so this finds the long ticks without it, and what makes them long. Run as a
program it tells the longest by function: python tests/benchmark_tick.py
"""

import sys
from collections import Counter
from dataclasses import dataclass, field
from types import CodeType, FrameType
from typing import Any

from sunhob_board.declared import modes
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import Bench

_FIRMWARE = "sunhob_board"
_NAMES = {getattr(modes, name): name for name in dir(modes) if isinstance(getattr(modes, name), int)}


@dataclass
class Tick:
    """at_s: simulated time [s]; by: function -> operations in it."""

    at_s: float
    mode: str
    by: Counter[str] = field(default_factory=Counter)

    @property
    def operations(self) -> int:
        return self.by.total()


class Counting:
    """Counts what the firmware does in each tick of a bench on the engine cpython."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.ticks: list[Tick] = []
        self._codes: Counter[CodeType] = Counter()
        boot = bench.engine._boot

        def booted(*given: Any) -> None:
            boot(*given)
            if bench.engine.app is not None:
                self._watch(bench.engine.app)

        bench.engine._boot = booted

    def _trace(self, frame: FrameType, event: str, _given: object) -> Any:
        if _FIRMWARE not in frame.f_code.co_filename:
            return None
        frame.f_trace_lines, frame.f_trace_opcodes = False, True
        code, codes = frame.f_code, self._codes

        def within(_frame: FrameType, event: str, _given: object) -> Any:
            if event == "opcode":
                codes[code] += 1
            return within

        return within

    def _watch(self, app: Any) -> None:
        tick = app.tick

        def counted() -> int:
            self._codes.clear()
            sys.settrace(self._trace)
            try:
                return int(tick())
            finally:
                sys.settrace(None)
                mode = _NAMES.get(app.controller.mode, "") if app.controller else ""
                self.ticks.append(Tick(self.bench.plant.now_us / 1e6, mode, Counter(
                    {code.co_qualname: n for code, n in self._codes.items()})))

        app.tick = counted


def ticks(name: str = "short") -> list[Tick]:
    """All ticks of a library scenario, the longest first."""
    bench = Bench(scenarios.load(name), "cpython")
    try:
        counting = Counting(bench)
        bench.run()
    finally:
        bench.close()
    return sorted(counting.ticks, key=lambda one: -one.operations)


if __name__ == "__main__":
    for one in ticks()[:20]:
        most = ", ".join(f"{what} {n}" for what, n in one.by.most_common(5))
        print(f"{one.operations:7d} at {one.at_s:7.1f} s, {one.mode}: {most}")
