"""What the judge is told of a run beside the plant's true state: what the cook did and asked for, which
faults there were, and what the board said of cover, place and light.

Units: seconds from the start; spans are (from, to).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from sunhob_board.declared import modes
from sunhob_board.declared.interlocks import INDEX

from . import pins
from .event_steps import steps
from .faults.plan import astray_of, deaf_of, halts_of, lame_of, mute_of, unknowing_of, untrue_of, weak_of
from .judge import judge
from .judge_motion import SMALL_DEG
from .judge_one_axis import OneAxis
from .truth import Truth

if TYPE_CHECKING:
    from .bench import Bench

CLEARS_S = 3.0  # CONFIRM held so long clears what a person must clear
ARRIVES_S = 15.0  # so long after its way to the sun ended, what is amiss where it did is found

def armed_s(bench: Bench) -> list[float]:
    """When the cook asked for a return other than by ARM [s from start]: ASIDE again, or any sign of
    being there where this cook chose that it may come back after a cloud."""
    deeds = bench.cook.done
    modes_then = steps(np.array([d["t_s"] for d in deeds]), bench.uplink.events, "mode", "b", modes.PARKED)
    back = bench.cooker.cook.return_after_cloud
    signs = ("arm", "confirm", "knob", "aside") if back else ()
    asked = [d["t_s"] for d, mode in zip(deeds, modes_then, strict=True)
             if d["do"] in signs or (d["do"] == "aside" and mode == modes.ASIDE)]
    return asked + _rested_s(bench)


def _rested_s(bench: Bench) -> list[float]:
    """Returns of a dish that a pot temperature had sent off the heat, in the time the cook attends [s]."""
    chose = [e["t_s"] for e in bench.uplink.events if e["name"] == "asked" and e["a"] == 2]
    attends_s = 60.0 * bench.cooker.cook.attendance_min
    return [e["t_s"] for e in bench.uplink.events
            if e["name"] == "mode" and (e["a"], e["b"]) == (modes.RESTING, modes.COMING)
            and any(t <= e["t_s"] for t in chose)
            and any(0.0 <= e["t_s"] - d["t_s"] <= attends_s for d in bench.cook.done)]


def _true_from_s(bench: Bench) -> float:
    """From when clock and base are as the board can know them [s from start]; infinity if never."""
    base = bench.scenario.base
    at = {event["name"]: event["t_s"] for event in reversed(bench.uplink.events)}
    if base.tilt_east_deg or base.tilt_north_deg:
        return float("inf")
    clock_s = 0.0 if base.clock_set and not base.clock_error_s else at.get("clock_set", float("inf"))
    north_s = 0.0 if base.north_deg == 0.0 else at.get("north_set", float("inf"))
    return float(max(clock_s, north_s))


def _untrue_s(bench: Bench) -> list[tuple[float, float]]:
    """From each bump of the base until north was set again [s from start]."""
    norths = [e["t_s"] for e in bench.uplink.events if e["name"] == "north_set"]
    bumps = [(bump, min((t for t in norths if t > bump), default=float("inf")))
             for bump in (d["t_s"] for d in bench.cook.done if d["do"] == "bump")]
    homed = [e["t_s"] for e in bench.uplink.events if e["name"] == "homed" and e["a"] == 2]
    return bumps + untrue_of(bench.scenario, homed)


def hazards_of(bench: Bench, true: Truth) -> list[dict[str, Any]]:
    """The hazards of a bench as it stands, from the plant's true state."""
    true.turned_s = _turned_s(bench)
    return judge(true, armed_s(bench), _true_from_s(bench), _untrue_s(bench), cover_s(bench.uplink.events),
                 _parked_s(bench), halted_s(bench), _astray_s(bench, true), one_axis(bench),
                 free_s(bench), _ended_s(bench), mute_of(bench.scenario))


def _turned_s(bench: Bench) -> list[float]:
    """When the board turned back on its way to the sun, asked by a host or by what it had found amiss, or did
    so as it arrived [s from start]."""
    found, arrived_s = [], -np.inf
    for event in bench.uplink.events:
        if event["name"] != "mode":
            continue
        if (event["a"], event["b"]) == (modes.COMING, modes.COOKING):
            arrived_s = event["t_s"]
        elif event["b"] in (modes.ASIDE, modes.LEAVING) and (
                event["a"] == modes.COMING or event["t_s"] - arrived_s <= ARRIVES_S):
            found.append(event["t_s"])
    return found


def _astray_s(bench: Bench, true: Truth) -> list[tuple[int, float, float]]:
    """(axis, from, to) of the times in which an axis turned without being asked; a slip of a resting axis is
    seen when that next turns, which the second axis of a polar mount does after minutes [s from start]."""
    spans = []
    for axis, from_s, to_s in astray_of(bench.scenario):
        row = int(np.searchsorted(true.t_s, from_s, side="right")) - 1
        went = np.abs(true.axes_deg[row:, axis - 1] - true.axes_deg[row, axis - 1]) > SMALL_DEG
        seen_s = float(true.t_s[row + int(np.argmax(went))]) if went.any() else to_s
        spans.append((axis, from_s, max(to_s, seen_s)))
    return spans


def _ended_s(bench: Bench) -> list[float]:
    """When an arming ended by a host's word or by a restart of the controller [s from start]."""
    left = [d["t_s"] for d in bench.cook.done if d["do"] == "link_leave"]
    return left + [e["t_s"] for e in bench.uplink.events if e["name"] == "boot"]


def one_axis(bench: Bench) -> OneAxis:
    """Axes that did not obey, and when the board said that the light would end by itself."""
    told = [(e["t_s"], e["a"], e["b"]) for e in bench.uplink.events if e["name"] == "walks_off"]
    return OneAxis(lame_of(bench.scenario), told, unknowing_of(bench.scenario), weak_of(bench.scenario))


def _parked_s(bench: Bench, which: Sequence[int] = (modes.PARKED, modes.LOCKED)) -> list[tuple[float, float]]:
    """When the board was parked or locked [s from start to s]; a start of the board is one in PARKED."""
    spans: list[tuple[float, float]] = []
    since: float | None = 0.0
    for event in bench.uplink.events:
        if event["name"] not in ("mode", "boot"):
            continue
        rests = event["name"] == "boot" or event["b"] in which
        if since is not None and not rests:
            spans.append((since, event["t_s"]))
            since = None
        elif since is None and rests:
            since = event["t_s"]
    return spans if since is None else [*spans, (since, float("inf"))]


def halted_s(bench: Bench) -> list[tuple[float, float]]:
    """From each opening of the stop chain, or break of its line, to the first LEAVE after it is whole again
    [s from start]: closing it moves nothing, a person must ask for the motion."""
    deaf = deaf_of(bench.scenario)  # no press gets through a broken wire
    leaves = [t for t, pin in bench.plant.presses if pin == pins.LEAVE
              and not any(from_s <= t <= to_s for from_s, to_s in deaf)]
    leaves += [d["t_s"] for d in bench.cook.done if d["do"] == "link_leave"]
    return [(a, _next_s(leaves, b)) for a, b in _chain_open_s(bench)]


def free_s(bench: Bench) -> list[tuple[float, float]]:
    """When a dish that rests may move on by itself [s from start to s]: parked, and not from an opening of
    the stop chain until a person says that all is well: clears it (CONFIRM held, a word over the link) or
    arms the dish. LEAVE alone makes it leave, once."""
    well = [bench.scenario.offset_s(one.at) for one in bench.scenario.action
            if one.do == "link_clear" or (one.do == "confirm" and one.hold_s >= CLEARS_S)]
    well += [t for t, pin in bench.plant.presses if pin == pins.ARM]
    spans = _parked_s(bench, (modes.PARKED,))
    for from_s, to_s in ((a, _next_s(well, b)) for a, b in _chain_open_s(bench)):
        parts = [part for a, b in spans for part in ((a, min(b, from_s)), (max(a, to_s), b))]
        spans = [(a, b) for a, b in parts if a < b]
    return spans


def _chain_open_s(bench: Bench) -> list[tuple[float, float]]:
    """From each opening of the stop chain, or break of its line, until it is whole again [s from start]."""
    closes = [d["t_s"] for d in bench.cook.done if d["do"] == "chain_close"]
    return [(d["t_s"], _next_s(closes, d["t_s"])) for d in bench.cook.done
            if d["do"] == "chain_open"] + halts_of(bench.scenario)


def _next_s(times_s: Sequence[float], after_s: float) -> float:
    """The first of these times after one; infinity if there is none."""
    return min((t for t in times_s if t > after_s), default=float("inf"))


def cover_s(events: list[dict[str, Any]]) -> list[tuple[float, float]]:
    """When the board asked for the cover [s from start to s]."""
    row = INDEX["park_bright"]
    told = [e for e in events if e["name"] in ("trip", "over") and e["a"] == row]
    ends = [e["t_s"] for e in told if e["name"] == "over"]
    return [(e["t_s"], min((t for t in ends if t > e["t_s"]), default=float("inf")))
            for e in told if e["name"] == "trip"]
