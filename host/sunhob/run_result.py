"""What one run on the bench gives: data only, for reports and JSON.

Units are in the names: _s seconds, _j joules, _deg degrees, _w watts, _w_m2 watts per square metre.
Trace columns hold one value per sample; times are seconds from the start of the run.
"""

import hashlib
import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np

SERIES_STEP_S = 60.0  # of the pot in the JSON


def _none() -> np.ndarray:
    return np.empty(0)


@dataclass
class Trace:
    """The true state of the plant at even steps (not what the firmware believes), as numpy arrays."""

    t_s: np.ndarray
    sun_azimuth_deg: np.ndarray
    sun_elevation_deg: np.ndarray
    dish_azimuth_deg: np.ndarray
    dish_elevation_deg: np.ndarray
    separation_deg: np.ndarray
    error_deg: np.ndarray  # separation from the wanted trailing aim; NaN when not cooking
    asked_fraction: np.ndarray  # heat dial, fraction of full heat; 0 when not cooking
    fraction: np.ndarray  # heat on the pot, fraction of full heat by the beam of that moment
    heat_w: np.ndarray  # light that the pot takes up
    dni_w_m2: np.ndarray
    mode: np.ndarray  # row of sunhob_board.declared.modes.NAMES
    contents_c: np.ndarray = field(default_factory=_none)  # what is in the pot, deg C
    underside_c: np.ndarray = field(default_factory=_none)  # its metal underneath, deg C
    water_kg: np.ndarray = field(default_factory=_none)
    cooked: np.ndarray = field(default_factory=_none)  # 1 when done
    scorch: np.ndarray = field(default_factory=_none)  # 1 when burnt
    boiled_kg: np.ndarray = field(default_factory=_none)  # water gone as steam so far
    full_heat_w: np.ndarray = field(default_factory=_none)  # full heat by the beam of that moment
    set_c: np.ndarray = field(default_factory=_none)  # pot temperature asked for; NaN while none is
    hand_heat_w: np.ndarray = field(default_factory=_none)  # the same day with a hand on the dish
    hand_contents_c: np.ndarray = field(default_factory=_none)
    hour_error_deg: np.ndarray = field(default_factory=_none)  # error_deg across the hour circle alone
    hand_cooked: np.ndarray = field(default_factory=_none)


@dataclass
class RunResult:
    """One run: figures, events, hazards and the trace. `as_dict` is what `bench run --json` prints."""

    scenario: str
    about: str
    engine: str
    start: datetime
    timezone: str
    simulated_s: float
    wall_s: float
    tracking: dict[str, float]
    hazards: list[dict[str, Any]]
    events: list[dict[str, Any]]
    energy_j: float
    motor_j: float
    heat: dict[str, float]
    firmware: dict[str, float]
    trace: Trace
    actions: list[dict[str, Any]] = field(default_factory=list)
    stranded: list[dict[str, Any]] = field(default_factory=list)
    cover_told: list[dict[str, Any]] = field(default_factory=list)
    motor_s: float = 0.0
    by_hand: dict[str, float] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    pot: dict[str, Any] = field(default_factory=dict)  # the pot at the end; units in the keys
    display: np.ndarray = field(default_factory=_none)  # dots of the cook's page at the end, top left first
    page: list[str] = field(default_factory=list)  # its rows, read back from the dots

    @property
    def events_sha256(self) -> str:
        """SHA-256 of the canonical JSON of the event list: equal runs have equal sums."""
        return events_sum(self.events)

    def at(self, seconds: float) -> datetime:
        """The UTC time `seconds` after the start of the run."""
        return self.start + timedelta(seconds=seconds)

    def pot_series(self) -> dict[str, list[float]]:
        """The pot's true state minute by minute, units in the keys; {} where no pot was modelled."""
        trace = self.trace
        if not trace.contents_c.size:
            return {}
        rows = np.searchsorted(trace.t_s, np.arange(0.0, float(trace.t_s[-1]) + 0.5, SERIES_STEP_S))
        columns = {"t_s": trace.t_s, "contents_c": trace.contents_c, "underside_c": trace.underside_c,
                   "water_kg": trace.water_kg, "absorbed_w": trace.heat_w}
        return {name: [round(float(value), 3) for value in column[rows]] for name, column in columns.items()}

    def as_dict(self) -> dict[str, Any]:
        """The object of `bench run --json`; times in s, energies in J, angles in deg."""
        return {
            "scenario": self.scenario, "engine": self.engine, "start_utc": utc_text(self.start),
            "simulated_s": self.simulated_s, "wall_s": round(self.wall_s, 3),
            "tracking": self.tracking, "hazards": self.hazards, "stranded": self.stranded,
            "cover_told": self.cover_told,
            "events": self.events, "events_sha256": self.events_sha256,
            "energy_j": self.energy_j, "motor_j": self.motor_j, "motor_s": self.motor_s,
            "heat": self.heat, "firmware": self.firmware, "by_hand": self.by_hand,
            "actions": self.actions, "notes": self.notes, "pot": self.pot, "page": self.page,
            "pot_series": self.pot_series(),
        }


def utc_text(when: datetime) -> str:
    """ISO text of a UTC time, to the millisecond."""
    return when.strftime("%Y-%m-%dT%H:%M:%S.") + f"{when.microsecond // 1000:03d}Z"


def events_sum(events: list[dict[str, Any]]) -> str:
    """SHA-256 over compact JSON with sorted keys, hex."""
    text = json.dumps(events, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
