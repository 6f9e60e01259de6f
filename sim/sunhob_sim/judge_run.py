"""Hazards of a finished bench run: the plant's true state, with what the person at the dish did.

Units: seconds from the start of the run, degrees.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from sunhob_board.declared import modes

from . import pins
from .judge import Hazard, judge, stranded
from .truth import Truth, build

if TYPE_CHECKING:
    from .bench import Bench

COVER_OFF_S = 120.0  # after a sighting the cook sends the dish away and uncovers it when it is there
CLOCK_TRUE_S = 1.0
Span = tuple[float, float]


def judge_run(bench: Bench) -> tuple[list[Hazard], list[Hazard]]:
    """(hazards, stranded) of a run: dicts of kind, at_utc, detail."""
    truth = build(bench.plant)
    _mark(truth, "covered", covered_spans(bench))
    _mark(truth, "by_hand", mode_spans(bench, modes.BY_HAND))
    return judge(truth, true_from_s=true_from_s(bench)), stranded(truth)


def _mark(truth: Truth, name: str, spans: Iterable[Span]) -> None:
    for first, last in spans:
        truth.held[name] = np.where((truth.t_s >= first) & (truth.t_s <= last), 1.0, truth.held[name])


def _deeds_s(bench: Bench, name: str) -> list[float]:
    start = bench.scenario.start
    return [(datetime.fromisoformat(deed["at_utc"]) - start).total_seconds()
            for deed in bench.cook.done if deed["do"] == name]


def covered_spans(bench: Bench) -> list[Span]:
    """When the mirror was covered: from a north sighting until a while after it was sent away."""
    gone = [t for t, pin in bench.plant.presses if pin == pins.LEAVE]
    out = []
    for first in _deeds_s(bench, "north"):
        left = next((t for t in gone if t > first), float("inf"))
        out.append((first, left + COVER_OFF_S))
    return out


def mode_spans(bench: Bench, mode: int) -> list[Span]:
    """When the board was in `mode`, with a second at each end for the change itself."""
    out: list[Span] = []
    since: float | None = None
    for event in bench.uplink.events:
        if event["name"] != "mode":
            continue
        if event["b"] == mode and since is None:
            since = event["t_s"] - 1.0
        elif event["b"] != mode and since is not None:
            out.append((since, event["t_s"] + 1.0))
            since = None
    return out if since is None else [*out, (since, float("inf"))]


def true_from_s(bench: Bench) -> float:
    """Since when clock and base were true to what the board was told; infinity if never."""
    base = bench.scenario.base
    if base.tilt_east_deg or base.tilt_north_deg:
        return float("inf")
    need = []
    if not base.clock_set or abs(base.clock_error_s) > CLOCK_TRUE_S:
        need.append(min(_events_s(bench, "clock_set"), default=float("inf")))
    if base.north_deg:
        need.append(min(_events_s(bench, "north_set"), default=float("inf")))
    return max(need, default=0.0)


def _events_s(bench: Bench, name: str) -> list[float]:
    return [event["t_s"] for event in bench.uplink.events if event["name"] == name]
