"""Brings faults on and takes them away again at their times. Units: seconds from the start of the run."""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

from sunhob.run_result import utc_text

if TYPE_CHECKING:
    from ..bench import Bench
    from .kind import Fault


@dataclass(frozen=True)
class Planned:
    """One fault to come: `fault` from `start_s` for `lasts_s` (infinite: to the end) at `severity`."""

    fault: Fault
    start_s: float
    lasts_s: float
    severity: float

    def as_dict(self) -> dict[str, Any]:
        """For result rows and replays."""
        lasts = None if math.isinf(self.lasts_s) else self.lasts_s
        return {"name": self.fault.name, "start_s": self.start_s, "lasts_s": lasts, "severity": self.severity}


class Live:
    """A fault while it is on: begin() and end() of its kind work on this. `bench` is the whole bench."""

    def __init__(self, bench: Bench, planned: Planned, tray: Tray) -> None:
        self.bench, self.severity, self.tray = bench, planned.severity, tray
        self.name = planned.fault.name
        self.seed = bench.scenario.seed + sum(map(ord, self.name))
        self.kept: Any = None  # what begin() leaves for end()
        self.on = True

    @property
    def now_s(self) -> float:
        """Seconds from the start of the run."""
        return self.bench.plant.now_us / 1e6

    def again(self, after_s: float, deed: Callable[[Live], None]) -> None:
        """Have `deed` done after so long, if the fault is still on by then."""
        def do() -> None:
            if self.on:
                deed(self)

        self.tray.at(self.now_s + after_s, do)


class Tray:
    """All faults of a run. step(now_s) does what is due; next_s says when the next is."""

    def __init__(self, bench: Bench, faults: Iterable[Planned]) -> None:
        self.bench = bench
        self._order = itertools.count()
        self._due: list[tuple[float, int, Callable[[], None]]] = []
        self.next_s = math.inf  # when the next thing is due; infinity when nothing is
        self.told: list[dict[str, Any]] = []
        for planned in faults:
            self.at(planned.start_s, partial(self._begin, planned))

    def at(self, when_s: float, deed: Callable[[], None]) -> None:
        """Do `deed` at `when_s`."""
        heapq.heappush(self._due, (when_s, next(self._order), deed))
        self.next_s = self._due[0][0]

    def step(self, now_s: float) -> None:
        """Do all that is due by now."""
        while self._due and self._due[0][0] <= now_s + 1e-6:
            heapq.heappop(self._due)[2]()
        self.next_s = self._due[0][0] if self._due else math.inf

    def _begin(self, planned: Planned) -> None:
        live = Live(self.bench, planned, self)
        self._tell(planned, "begins")
        planned.fault.begin(live)
        if planned.fault.end is not None and not math.isinf(planned.lasts_s):
            self.at(planned.start_s + planned.lasts_s, lambda: self._end(planned, live))

    def _end(self, planned: Planned, live: Live) -> None:
        live.on = False
        self._tell(planned, "ends")
        assert planned.fault.end is not None
        planned.fault.end(live)

    def _tell(self, planned: Planned, how: str) -> None:
        words = f"Fault {how}: {planned.fault.words}"
        at_s = self.bench.plant.now_us / 1e6
        when = utc_text(self.bench.scenario.start + timedelta(seconds=at_s))
        self.told.append({"at_utc": when, "t_s": round(at_s, 3), "do": f"fault_{planned.fault.name}",
                          "words": words})
