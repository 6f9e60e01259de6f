"""From the record of a run to its trace and figures. Units: s, degrees, W, W/m2, J, fraction of full heat."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from sunhob.run_result import RunResult, Trace
from sunhob_board.declared import modes
from sunhob_board.heat import dial as heat_dial

from .by_hand import Day, hand_day
from .display_text import rows_of
from .event_steps import steps
from .hob import Hob
from .hold_band import hold_band
from .judge_loose import cover_told, stranded
from .judge_told import cover_s, free_s, halted_s, hazards_of, one_axis
from .pot_light import PotLight
from .pot_setup import pot_of
from .truth import Truth, build, dec_ha_deg, separation_deg

if TYPE_CHECKING:
    from .bench import Bench

TRACE_STEP_S = 1.0
_DRIFT_DEG = 0.4  # a lag told this far from the last was not drifted to
_AT_HEAT = (modes.COMING, modes.COOKING, modes.RESTING)  # the meal is on, and no hands are at the pot
_SETTLE_S = 20.0  # after a turn of the dial the dish is under way to its new aim
MOTOR_W = 18.0  # one motor turning: common practice, no source
DRIVERS_W = 1.0  # both drivers with power, motors at rest: common practice, no source
BOARD_W = 0.4  # controller, clock and sensors: common practice, no source

def _lag_told(t_s: NDArray, events: list[dict[str, Any]]) -> NDArray:
    """The lag wanted [deg] at each time: it drifts evenly from one telling to the next, and jumps where the
    dial was turned."""
    at, lag = [-np.inf], [0.0]
    for event in events:
        if event["name"] in ("dial", "aim"):
            if event["name"] == "dial" or abs(event["b"] / 1000.0 - lag[-1]) > _DRIFT_DEG:
                at.append(max(at[-1], event["t_s"] - 1e-3))
                lag.append(lag[-1])
            at.append(event["t_s"])
            lag.append(event["b"] / 1000.0)
    return np.asarray(np.interp(t_s, at[1:], lag[1:])) if len(at) > 1 else np.zeros_like(t_s)


def _wanted(bench: Bench, true: Truth, lag_deg: NDArray, angle_deg: NDArray) -> NDArray:
    """The aim asked for: `lag` of arc behind the sun, `angle` from the east of its path to the north pole."""
    lat = np.radians(bench.cooker.site.latitude_deg)
    pole = np.array([0.0, np.cos(lat), np.sin(lat)])
    east = np.cross(pole, true.sun)
    east /= np.linalg.norm(east, axis=-1, keepdims=True)
    north = np.cross(true.sun, east)
    lag, angle = np.radians(lag_deg)[:, None], np.radians(angle_deg)[:, None]
    way = np.cos(angle) * east + np.sin(angle) * north
    return np.asarray(np.cos(lag) * true.sun + np.sin(lag) * way)


def trace_of(bench: Bench, light: PotLight) -> Trace:
    """The true state at even steps."""
    events = bench.uplink.events
    t = np.arange(0.0, bench.scenario.seconds, TRACE_STEP_S)
    true = build(bench.plant, t)
    away = true.separation_deg
    mode = steps(t, events, "mode", "b", modes.PARKED)
    cooking = mode == modes.COOKING
    lag = _lag_told(t, events)
    half = bench.cooker.tracking.deadband_deg / 2.0
    lag = np.where((lag > 0) & (lag < half), half, lag)
    wanted = _wanted(bench, true, lag, steps(t, events, "aim", "a", 0.0))
    steady = cooking.copy()
    for event in events:
        if event["name"] in ("dial", "mode", "warn"):
            steady[(t >= event["t_s"]) & (t < event["t_s"] + _SETTLE_S)] = False
    error = np.where(steady, separation_deg(true.aim, wanted), np.nan)
    dec, ha = dec_ha_deg(wanted, bench.cooker.site.latitude_deg)
    _, aim_ha = dec_ha_deg(true.aim, bench.cooker.site.latitude_deg)
    hour_error = np.abs((aim_ha - ha + 180.0) % 360.0 - 180.0) * np.cos(np.radians(dec))
    lit = (true.pot["on_hob"] > 0.5) & (true.held["covered"] < 0.5)
    share = light.shares(true.aim, true.sun) * lit
    return Trace(
        t, *_angles(true.sun), *_angles(true.aim), away, error,
        np.where(cooking, steps(t, events, "dial", "a", 0.0) / 1000.0, 0.0),
        share / light.full_share(true.sun),
        share * light.w_per_share * true.dni_w_m2, true.dni_w_m2, mode,
        **{name: true.pot[name] for name in ("contents_c", "underside_c", "water_kg", "boiled_kg", "cooked",
                                             "scorch")},
        full_heat_w=light.full_share(true.sun) * light.w_per_share * true.dni_w_m2,
        set_c=np.where(np.isin(mode, _AT_HEAT), _set_c(t, events), np.nan),
        hour_error_deg=np.where(steady, hour_error, np.nan),
    )


def _set_c(t_s: NDArray, events: list[dict[str, Any]]) -> NDArray:
    """Pot temperature asked for [deg C]; NaN while percent or watts are."""
    kind, value = (steps(t_s, events, "asked", column, 0.0) for column in ("a", "b"))
    return np.where((kind == heat_dial.POT) & (value > 0.0), value / 1000.0, np.nan)


def _by_hand(bench: Bench, trace: Trace, every_min: float) -> dict[str, float]:
    """Put the same day by hand into the trace; its figures."""
    true, hob = build(bench.plant, trace.t_s), bench.plant.hob
    assert hob is not None
    day = Day(trace.t_s, trace.asked_fraction, trace.set_c, true.pot["on_hob"], bench.cook.done)
    own = Hob(pot_of(bench.scenario, bench.cooker), hob.light, hob.air_c)
    got = hand_day(bench.sky, day, own, bench.plant.wind, every_min, bench.scenario.seed)
    trace.hand_heat_w, trace.hand_contents_c, trace.hand_cooked = got.heat_w, got.contents_c, got.cooked
    return got.figures


def _angles(enu: NDArray) -> tuple[NDArray, NDArray]:
    azimuth = np.degrees(np.arctan2(enu[..., 0], enu[..., 1])) % 360.0
    return azimuth, np.degrees(np.arcsin(np.clip(enu[..., 2], -1.0, 1.0)))


def _tracking(trace: Trace) -> dict[str, float]:
    """Pointing error; hour_p95_deg is its part in hour angle, on the sky: with the season set by hand, the
    part that a drive answers for."""
    error = trace.error_deg[np.isfinite(trace.error_deg)]
    if not error.size:
        names = ("p50_deg", "p95_deg", "max_deg", "hour_p95_deg")
        return dict.fromkeys(names, float("nan")) | {"seconds": 0.0}
    hour = trace.hour_error_deg[np.isfinite(trace.hour_error_deg)]
    p50, p95 = (round(float(np.percentile(error, p)), 5) for p in (50, 95))
    return {"p50_deg": p50, "p95_deg": p95, "max_deg": round(float(error.max()), 5),
            "hour_p95_deg": round(float(np.percentile(hour, 95)), 5),
            "seconds": float(error.size) * TRACE_STEP_S}


def _dial_error(trace: Trace) -> float:
    on = np.isfinite(trace.error_deg) & (trace.fraction > 0.0)
    if not on.any():
        return float("nan")
    return round(float(np.sqrt(np.mean((trace.asked_fraction - trace.fraction)[on] ** 2))), 5)


def finish(bench: Bench) -> RunResult:
    """The result of a bench that has run to its end."""
    hob = bench.plant.hob
    assert hob is not None
    hob.follow(bench.plant, now=True)
    trace = trace_of(bench, hob.light)
    motor_s = float(sum(bench.plant.motor_s))
    motor_j = motor_s * MOTOR_W
    rest_j = bench.plant.powered_s * DRIVERS_W + bench.scenario.seconds * BOARD_W
    one = bench.scenario
    true = build(bench.plant)
    hand = _by_hand(bench, trace, one.hand_every_min) if one.hand_every_min else {}
    held = hold_band(trace, bench.cook.done, bench.uplink.events,
                     bench.cooker.interlock.light_low_w_m2)
    return RunResult(
        scenario=one.name, about=" ".join(one.about.split()), engine=bench.engine_name, start=one.start,
        timezone=one.timezone, simulated_s=one.seconds, wall_s=bench.wall_s, tracking=_tracking(trace),
        hazards=hazards_of(bench, true), stranded=stranded(true, None, halted_s(bench), one_axis(bench)),
        cover_told=cover_told(true, cover_s(bench.uplink.events), free_s(bench)),
        events=bench.uplink.events, energy_j=round(motor_j + rest_j, 1),
        motor_j=round(motor_j, 1), motor_s=round(motor_s, 2),
        heat=held | {"delivered_j": round(hob.pot.ledger.absorbed_j), "dial_error_rms": _dial_error(trace)},
        pot=hob.state(),
        firmware={"worst_tick_ms": round(bench.engine.worst_cycle_ms, 3), "cycles": bench.cycles,
                  "exchanges": bench.board.exchanges, "heap_peak_bytes": bench.heap_peak,
                  "resets": _resets(bench), "bad_lines": bench.uplink.bad},
        trace=trace,
        actions=sorted([*bench.cook.done, *bench.tray.told], key=lambda one: one["t_s"]),
        by_hand=hand, notes=_notes(bench), **_page(bench),
    )


def _page(bench: Bench) -> dict[str, Any]:
    """The cook's page as it stands, where a display is fitted."""
    if bench.display is None:
        return {}
    seen = bench.display.picture()
    return {"display": seen, "page": rows_of(seen)}


def _resets(bench: Bench) -> int:
    """Resets of the board, trials of its watchdog left out."""
    proofs = sum(e["name"] == "boot" and e["a"] == 0 for e in bench.uplink.events)
    return len(bench.engine.resets) - proofs


def _notes(bench: Bench) -> list[str]:
    notes = [
        f"Cooker: {bench.cooker.label}. Motor power {MOTOR_W:g} W turning, {DRIVERS_W:g} W at rest, "
        f"board {BOARD_W:g} W: common practice, no source.",
        "Heat is the light that the pot takes up, by ray trace of this dish and pot. The pot is a model: "
        "metal and contents, what they lose to air, sky and steam, boiling at the pressure of the place.",
        f"Pointing error leaves out the {_SETTLE_S:g} s after a turn of the dial or a change of mode.",
    ]
    if bench.scenario.hand_every_min:
        notes.append("The hand does the day's deeds at the same times, with a pot of its own. It sets the "
                     "heat asked for at each visit and lets the sun walk on until the next; to hold a "
                     "temperature it gives full heat, the least, or none, by what its pot then needs.")
    resets = _resets(bench)
    if resets:
        notes.append(f"The board reset itself {resets} times.")
    refused = [r["error"]["message"] for r in bench.uplink.replies if "error" in r]
    if refused:
        notes.append(f"Refused by the board over the link: {len(refused)}; the first: {refused[0]}.")
    return notes
