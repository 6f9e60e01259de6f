"""The cook of a scenario: hands on the controls, and a host at the link, at the scenario's times.

Units: seconds from the start of the run, degrees, percent. Input bits are those of sunhob_board.core.panel.
"""

import heapq
import itertools
import json
import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from sunhob_board.core import panel as keys
from sunhob_board.declared import interlocks
from sunhob_board.link import frame

from .scenario import Scenario
from .scenario_parts import Action

_BUTTONS = {"arm": keys.ARM, "leave": keys.LEAVE, "aside": keys.ASIDE, "confirm": keys.CONFIRM,
            "home": keys.LEAVE}
_WORDS = {
    "arm": "Presses ARM.", "leave": "Presses LEAVE.", "aside": "Presses ASIDE.",
    "confirm": "Presses CONFIRM.",
    "home": "Presses LEAVE, so that it homes itself.", "knob": "Turns the heat knob to {:.0f} %.",
    "clock": "Sets the clock from the telephone.", "chain_open": "Opens the stop chain.",
    "north": "Covers the dish and turns it by hand until the shadow sight agrees.",
    "bump": "Somebody knocks the base {:+.1f} degrees round.",
    "cover": "Lays the cover over the dish.", "uncover": "Takes the cover off the dish.",
    "season": "Covers the dish and turns the hand axis to {:+.1f} degrees.",
    "chain_close": "Closes the stop chain.", "pot_lift": "Lifts the pot off.", "pot_set": "Sets the pot on.",
    "link_leave": "Asks it to leave over the link.", "link_aside": "Asks it aside over the link.",
    "link_heat": "Asks {:.0f} % of full heat over the link.",
    "link_watts": "Asks {:.0f} W into the pot over the link.",
    "link_pot": "Asks to hold the pot at {:.1f} degrees over the link.",
    "link_clear": "Clears the faults over the link.",
    "stir": "Stirs to the bottom.", "lid_on": "Puts the lid on.", "lid_off": "Takes the lid off.",
    "add_water": "Adds {:g} kg of water.", "add_food": "Adds {:g} kg of food.",
    "serve": "Serves {:.0f} % of the pot.", "box": "Takes the pot into the insulated box.",
}
_LINK_HEATS = {"link_heat": "percent", "link_watts": "watts", "link_pot": "pot_c"}
_AT_POT = ("stir", "lid_on", "lid_off", "add_water", "add_food", "serve", "box")
_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
_SIGHT_DEG = 0.02  # how closely the hand settles; a shadow of 1 m read to 0.4 mm, common practice, no source
_LIFT_DEG = 0.05  # elevation says little of north
_NUDGE_EVERY_S = 3.0
_HOLD_ON_S = 0.8
_FAR_DEG = 10.0
_PRESS_S = 0.5
_SIGHT_TRIES = 400
_SCREW_S = 60.0  # a hand at the screw, then at the telephone: common practice, no source
_BACK_OFF_DEG = 0.8  # more than the play of any gear worth having: common practice, no source


class Cook:
    """Holds the true state of the controls: `mask` (panel bits) and `knob_percent`; `sent` takes link lines.

    `sight` gives the (axis 1, axis 2) turn [deg] that would bring the true dish onto the true sun; `bump`
    turns the base clockwise by degrees; `at_pot` does a deed at the pot with its value;
    `turn_screw` sets the hand axis to degrees of its scale.
    """

    def __init__(self, scenario: Scenario, send: Callable[[bytes], None],
                 sight: Callable[[], tuple[float, float]], accels_deg_s2: tuple[float, float],
                 approach: tuple[int, int] = (0, 0),
                 bump: Callable[[float], None] = lambda _deg: None,
                 at_pot: Callable[[str, float | None], None] = lambda _do, _value: None,
                 turn_screw: Callable[[float], None] = lambda _deg: None) -> None:
        self.scenario = scenario
        self.send = send
        self.sight = sight
        self.accels = accels_deg_s2
        self.approach = approach
        self.bump = bump
        self.at_pot = at_pot
        self.turn_screw = turn_screw
        self._backing = [side != 0 for side in approach]
        self.mask = keys.CHAIN
        self.knob_percent = 0.0
        self.done: list[dict[str, Any]] = []
        self.covered = False
        self._order = itertools.count()
        self._queue: list[tuple[float, int, Callable[[float], None]]] = []
        self.next_s = math.inf  # when the next deed is due [s from start]; infinity when all is done
        self._id = itertools.count(1)
        self._tries = 0
        pots = [a.do for a in scenario.action if a.do in ("pot_lift", "pot_set")]
        if not pots or pots[0] == "pot_lift":
            self.mask |= keys.POT
        for action in scenario.action:
            self._at(scenario.offset_s(action.at), self._deed(action))

    def step(self, now_s: float) -> None:
        """Do every deed due by now."""
        while self._queue and self._queue[0][0] <= now_s + 1e-6:
            due, _, deed = heapq.heappop(self._queue)
            deed(max(due, now_s) if due < now_s - 5 else due)
        self.next_s = self._queue[0][0] if self._queue else math.inf

    def _at(self, when_s: float, deed: Callable[[float], None]) -> None:
        heapq.heappush(self._queue, (when_s, next(self._order), deed))
        self.next_s = self._queue[0][0]

    def _deed(self, action: Action) -> Callable[[float], None]:
        def do(now_s: float) -> None:
            self._tell(now_s, action)
            self._act(now_s, action)
        return do

    def _tell(self, now_s: float, action: Action) -> None:
        when = self.scenario.start + timedelta(seconds=now_s)
        words = _WORDS[action.do].format(action.value if action.value is not None else 0)
        self.done.append({"at_utc": when.strftime("%Y-%m-%dT%H:%M:%S.000Z"), "t_s": round(now_s, 3),
                          "do": action.do, "value": action.value, "words": words})

    def _act(self, now_s: float, action: Action) -> None:
        do = action.do
        if do in _BUTTONS:
            self._press(_BUTTONS[do], now_s, action.hold_s)
        elif do == "knob":
            self.knob_percent = float(action.value or 0.0)
        elif do in ("chain_open", "chain_close"):
            self._put(keys.CHAIN, do == "chain_close")
        elif do in ("pot_lift", "pot_set"):
            self._put(keys.POT, do == "pot_set")
        elif do in _AT_POT:
            self.at_pot(do, action.value)
            if do == "box":
                self._put(keys.POT, False)
        elif do in ("cover", "uncover"):
            self.covered = do == "cover"
        elif do == "clock":
            self._set_clock(now_s, float(action.value or 0.0))
        elif do == "bump":
            self.bump(float(action.value or 0.0))
        elif do == "season":
            was, self.covered = self.covered, True
            self.turn_screw(float(action.value or 0.0))
            told = {"what": "season", "angle_deg": action.value}
            self._at(now_s + _SCREW_S, lambda _now: self._call("set", told))
            self._at(now_s + 2.0 * _SCREW_S, lambda _now: setattr(self, "covered", was))
        elif do == "north":
            self.covered = True
            self._press(keys.ASIDE, now_s, _PRESS_S)  # a person at the covered dish: it may be turned by hand
            self._tries = 0
            self._backing = [side != 0 for side in self.approach]
            self._at(now_s + 2.0 * _PRESS_S, self._sight_north)
        else:
            self._link(do, action)

    def _put(self, bit: int, on: bool) -> None:
        self.mask = self.mask | bit if on else self.mask & ~bit

    def hold_pot(self, on: bool) -> None:
        """Somebody else lifts the pot away, or sets it back."""
        self._put(keys.POT, on)

    def _press(self, bit: int, now_s: float, hold_s: float) -> None:
        self.mask |= bit
        self._at(now_s + hold_s, lambda _now: self._release(bit))

    def _release(self, bit: int) -> None:
        self.mask &= ~bit

    def _link(self, do: str, action: Action) -> None:
        if do in _LINK_HEATS:
            self._call("heat", {_LINK_HEATS[do]: action.value})
        elif do == "link_clear":
            for code, row in enumerate(interlocks.ROWS):
                if row[4] and row[0] in interlocks.FROM_AFAR:
                    self._call("clear", {"code": code})
        else:
            self._call(do.removeprefix("link_"), {})

    def _call(self, method: str, params: dict[str, Any]) -> None:
        body = {"jsonrpc": "2.0", "id": next(self._id), "method": method, "params": params}
        # as the host library does on opening a port: half a line that is left there is none of ours
        self.send(b"\n" + frame.encode(json.dumps(body).encode("ascii")))

    def _set_clock(self, now_s: float, error_s: float) -> None:
        when = self.scenario.start + timedelta(seconds=now_s + error_s)
        passed = when - _EPOCH
        ms = passed.seconds * 1000 + passed.microseconds // 1000
        self._call("set", {"what": "time", "day": passed.days, "ms": ms})

    def _sight_north(self, now_s: float) -> None:
        """Nudge one axis at a time until the shadow sight agrees, then set north and park."""
        turn = self.sight()
        self._tries += 1
        if (self._tries > 2 and self._agrees(turn)) or self._tries > _SIGHT_TRIES:
            self._call("set", {"what": "north"})
            self._at(now_s + 2.0, self._uncover)
            return
        axis = 0 if abs(turn[0]) > 2.0 or abs(turn[1]) <= _LIFT_DEG else 1
        left = self._to_go(axis, turn[axis])
        far = abs(left) > _FAR_DEG
        # a push of a second starts gently: it gains 0.5 to 0.9 * accel * rate squared
        gain = (0.9 if abs(left) > 0.3 else 0.55) * self.accels[axis]
        rate = 100 if far else int(min(100, max(2, 100 * math.sqrt(abs(left) / gain))))
        self._call("nudge", {"axis": axis + 1, "rate_percent": rate if left > 0 else -rate,
                             "hold_ms": 1000, "covered": True})
        self._at(now_s + (_HOLD_ON_S if far else _NUDGE_EVERY_S), self._sight_north)

    def _agrees(self, turn: tuple[float, float]) -> bool:
        ready = not any(self._backing)
        return ready and abs(turn[0]) <= _SIGHT_DEG and abs(turn[1]) <= _LIFT_DEG

    def _to_go(self, axis: int, turn_deg: float) -> float:
        """Turn [deg] to ask of an axis with play: back off first, then come on from its own side."""
        side = self.approach[axis]
        if side == 0:
            return turn_deg
        ahead = turn_deg * side  # positive: still to come on
        if ahead < -_SIGHT_DEG:
            self._backing[axis] = True
        elif ahead > _BACK_OFF_DEG / 2:
            self._backing[axis] = False
        return turn_deg - side * _BACK_OFF_DEG if self._backing[axis] else turn_deg

    def _uncover(self, now_s: float) -> None:
        self._act(now_s, Action(at="00:00", do="leave"))
        self._at(now_s + 120.0, lambda _now: setattr(self, "covered", False))
