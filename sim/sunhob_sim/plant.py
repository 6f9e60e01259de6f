"""The cooker on the bench in time: steps and motors turn its axes, the world runs on beside the board.

Units: us of virtual time at the board's side, seconds and degrees in the record, W/m2 for light.
The board sees only pin levels and converter readings; what the firmware believes is nowhere in here. What the
cooker is at a moment is in plant_state.py, its pins are in plant_signals.py.
"""

from __future__ import annotations

import heapq
from typing import Any

from .hob import Hob
from .pio_queue import PioQueue
from .plant_geometry import TrueMount
from .plant_motor import MotorAxis
from .plant_signals import PlantSignals
from .plant_state import REST_RECORD_US
from .sky import Sky

SLICE_US = 50_000  # longest leap while an axis moves
RECORD_US = 200_000


class Plant(PlantSignals):
    """Drives, mount and sensors between the virtual board's pins and the sky, run on from event to event."""

    def __init__(self, settings: Any, sky: Sky, mount: TrueMount | None = None, wind_m_s: float = 0.0,
                 gust_m_s: float = 0.0, seed: int = 1, start_deg: tuple[float, float] | None = None,
                 hob: Hob | None = None) -> None:
        super().__init__(settings, sky, mount, wind_m_s, gust_m_s, seed, start_deg, hob)
        self.queues: dict[int, PioQueue] = {0: PioQueue(), 1: PioQueue()}
        self._owns_queues = True
        self._steps = [0, 0]

    def attach(self, board: Any) -> None:
        """Take steps from the virtual board's own queues (`board.queues`) from now on."""
        self.queues = board.queues
        self._steps = [queue.steps_done(self.now_us) for queue in self._both() if queue] or [0, 0]
        self._steps += [0] * (2 - len(self._steps))
        self._owns_queues = False

    def motion(self, sm_id: int, words: list[int] | None) -> None:
        """Step words for axis `sm_id` (0 or 1) now; None drops them. The board's own queues know already."""
        if not self._owns_queues:
            return
        if words is None:
            self.queues[sm_id].clear(self.now_us)
            return
        for word in words:
            self.queues[sm_id].put(word, self.now_us)

    def next_edge_us(self) -> int | None:
        """When an input may change next without the board's doing, or None."""
        soonest = self._plan[0][0] if self._plan else None
        for spoilt in self.contacts.values():
            if spoilt.next_us is not None:
                at = max(spoilt.next_us, self.now_us + 1)
                soonest = at if soonest is None else min(soonest, at)
        due_s = None if self.rotary is None else self.rotary.next_edge_s()
        if due_s is not None:
            at = self.now_us + int(due_s * 1e6) + 2
            soonest = at if soonest is None else min(soonest, at)
        for axis, queue in zip(self.axes, self._both(), strict=True):
            if isinstance(axis, MotorAxis):
                axis.powered = self.powered
                rate = abs(axis.rate_deg_s)
                edge_s = axis.next_edge_s()
                if edge_s is not None:
                    at = self.now_us + int(edge_s * 1e6) + 2
                    soonest = at if soonest is None else min(soonest, at)
            else:
                steps_s = 0.0 if queue is None else queue.rate(self.now_us)
                if not steps_s:
                    continue
                rate = abs(steps_s) * 360.0 / axis.data.steps_per_turn
            away = abs(axis.load_deg - axis.data.home_deg)
            if rate and away < 0.1 * rate + axis.data.backlash_deg:
                at = self.now_us + 5_000
                soonest = at if soonest is None else min(soonest, at)
        return soonest

    def advance(self, to_us: int) -> None:
        """Let the world run on to `to_us`."""
        while self.now_us < to_us:
            stop = to_us
            if self._plan and self._plan[0][0] < stop:
                stop = max(self._plan[0][0], self.now_us)
            busy = self._busy()
            if busy:
                stop = min(stop, self.now_us + SLICE_US)
            elif self.hob is not None or not self.wind.calm:
                stop = min(stop, self.now_us + 1_000_000)
            if busy or self._stirs():
                self._run(stop)
            else:
                self._rest(stop)
            while self._plan and self._plan[0][0] <= self.now_us:
                _, pin, level = heapq.heappop(self._plan)
                self.set_input(pin, level)

    def _both(self) -> list[PioQueue | None]:
        return [self.queues.get(0), self.queues.get(1)]

    def _busy(self) -> bool:
        if (self.axes[0].drift_deg_s or self.axes[1].drift_deg_s) and self.powered:
            return True
        for motor in self.motors.values():
            if motor.busy:
                return True
        one, two = self._both()
        return bool((one and one.rate(self.now_us)) or (two and two.rate(self.now_us)))

    def _take_steps(self, to_us: int) -> list[int]:
        steps, last = [0, 0], self._steps
        for k in (0, 1):
            queue = self.queues.get(k)
            if queue is None:
                continue
            done = queue.steps_done(to_us)
            if done != last[k]:
                steps[k], last[k] = done - last[k], done
        return steps

    def _run(self, to_us: int) -> None:
        dt = (to_us - self.now_us) / 1e6
        steps = self._take_steps(to_us)
        powered = self.powered
        driven = steps[0] or steps[1] or any(motor.busy for motor in self.motors.values())
        if driven and not self._moving:
            self._record()  # the rest before the move, at its own time
        moving = 0
        for k, axis in enumerate(self.axes):
            if axis.turn(steps[k], powered, dt):
                moving |= (5 if steps[k] or axis.duty else 1) << k
                self.motor_s[k] += dt
            if moving >> k & 1 or steps[k] or not self.wind.calm:
                axis.settle(self.wind.shove(k, to_us / 1e6, axis.data.preloaded))
        self.powered_s += dt * powered
        self.now_us = to_us
        if self.rotary is not None:
            self.rotary.advance(to_us / 1e6)
        changed, self._moving = moving != self._moving, moving
        if self.hob is not None:
            self.hob.follow(self)
        quick = moving or driven or not self.wind.calm
        if changed or to_us - self._recorded_us >= (RECORD_US if quick else REST_RECORD_US):
            self._record()

    def _stirs(self) -> bool:
        """Whether axes that nobody drives may turn or have just stopped."""
        one, two = self.axes
        return bool(self._moving or self.motors or not self.wind.calm or one.pushing_s or two.pushing_s)

    def _rest(self, to_us: int) -> None:
        """As _run, of a cooker that stands still."""
        if self.powered:
            self.powered_s += (to_us - self.now_us) / 1e6
        self.now_us = to_us
        if self.rotary is not None:
            self.rotary.advance(to_us / 1e6)
        if self.hob is not None:
            self.hob.follow(self)
        if to_us - self._recorded_us >= REST_RECORD_US:
            self._record()
