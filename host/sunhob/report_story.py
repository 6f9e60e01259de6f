"""The day as a story in plain words: what dish and cook did, and what became of the pot.

Temperatures in deg C, angles in degrees, heat in percent or W; times in the day's civil zone.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from sunhob_board.declared import interlocks, modes

from .run_result import RunResult

_COOLED_K = 8.0  # so far below the boil, boiling again is news
_NEAR_K = 0.15
_HELD_K = 1.0
_TURN = 100  # permille: a dial that follows the beam by less is not told
_WATCHES = ("confirm", "link_pot", "lid_on", "lid_off")  # deeds that end no holding

# What a cook reads for each event; {a} and {b} are its two values.
_WORDS = {
    "armed": "Armed by the cook, for {a} minutes.",
    "settled": "On its aim.", "confirm": "The cook confirmed being there: {a} minutes more.",
    "clock_set": "Clock set.", "attendance": "Calling the cook: {a} minutes without a sign.",
    "homed": "Axis {a} found its home mark.", "cleared": "The cook cleared the fault.",
    "saved": "Stored.",
    "hand_lapsed": "Nobody has nudged it for {a} minutes: it parks itself.",
    "haze": "The light did not hold after its return: it now wants {a} s of good light before the next.",
    "dead_axis": "Axis {a} does not turn: it leaves with the other alone.",
    "no_path": "No safe way yet; it stays off the sun.",
}
_DISARMED = {1: "the time ran out", 2: "parked", 3: "a fault", 4: "the stop chain"}
_NORTH_DOUBTS = {
    1: "the sun is too low or too high to tell north", 2: "the dish still moved",
    3: "the play of axis 1 is not taken up", 4: "the play of axis 2 is not taken up",
    5: "the sun sensor saw the sun elsewhere",
}
_DOUBTS = {
    1: "the light tube is dark under a bright sky", 2: "the light tube still sees the sun",
    3: "the home flag of axis 1 says so", 4: "the home flag of axis 2 says so",
}
_PLACES = {0: "elevated pole", 1: "horizon towards the pole", 2: "horizon towards the equator"}
_BOOTS = {0: "Switched on; the watchdog was tried and works.", 1: "Switched on."}
_QUIET = {"saved", "settled", "plan", "aim", "confirm"}
_CYCLE = {"mode", "dial", "aim", "warn", "plan", "settled"}  # what a rest off the heat brings with it


def words_of(name: str, a: int, b: int) -> str:
    """One event in plain words; angles in deg, heat in percent."""
    if name == "boot":
        return _BOOTS.get(a, "Started again by a reset.")
    if name == "mode":
        return f"Now {modes.WORDS[b]}."
    if name in ("trip", "over"):
        row = interlocks.ROWS[a]
        words = f"It is that {_DOUBTS[b]}. " if row[0] == "place_doubt" and b in _DOUBTS else ""
        if name == "trip":
            return f"{row[5]} {words}{row[6]}"
        return f"That is over: {row[5][0].lower()}{row[5][1:]}"
    if name == "dial" and a == 0:
        return "Heat asked: none for now."
    if name == "dial":
        return f"Heat asked: {a / 10:.0f} % of full, {b / 1000:.1f} degrees behind the sun."
    if name == "asked":
        what = (f"{b / 10:.0f} % of full heat", f"{b} W", f"{b / 1000:.1f} degrees in the pot")[a]
        return f"The cook asks for {what}."
    if name == "aim":
        side = f", {abs(a)} degrees to the {'north' if a > 0 else 'south'} of its path" if a else ""
        return f"Aims {b / 1000:.1f} degrees behind the sun{side}."
    if name == "warn" and a == modes.COOKING:
        return f"Buzzer for {b} s, then it turns to the new heat."
    if name == "warn":
        return f"Buzzer for {b} s, then: {modes.WORDS[a]}."
    if name == "disarmed":
        return f"No longer armed: {_DISARMED.get(a, 'ended')}."
    if name == "stop_chain":
        return "Stop chain closed: nothing moves by that." if a else "Stop chain open: motors without power."
    if name == "north_set":
        return f"North set from one sighting: {a / 1000:+.2f} degrees, give or take {b / 1000:.2f}."
    if name == "north_refused":
        return f"Sighting refused (sun {a / 1000:.0f} degrees up): {_NORTH_DOUBTS.get(b, 'see the reply')}."
    if name == "park_moved":
        return f"Moves on to rest at the {_PLACES[a]}, {b / 10:.0f} degrees from the sun at the least."
    if name == "doubt":
        return f"It does not stand where it should: {_DOUBTS.get(a, 'it seems')}."
    if name in ("walks_off", "comes_back"):
        return _walk_off_words(name, a, b)
    if name == "season_set":
        return f"Season set by hand to {a / 1000:+.1f} degrees; the sun stands {b / 1000:+.2f} past it."
    if name == "plan":
        return f"Way planned: {a / 1000:.0f} s in {b} legs."
    return _WORDS.get(name, name).format(a=a, b=b)


def _walk_off_words(name: str, a: int, b: int) -> str:
    """What a dish that cannot move does by itself; minutes, -1: not within a day."""
    if name == "comes_back":
        return "The sun does not come back to it within a day." if a < 0 else (
            f"Left so, the sun is back on the pot in {a // 60} h {a % 60:02d} min.")
    pot = "stays on the pot all day" if a < 0 else f"is off the pot in {a} min"
    loose = "never within a day" if b < 0 else f"in {b // 60} h {b % 60:02d} min"
    return f"It cannot move. The light {pot}; its surroundings are clear {loose}. Cover it."


def crossings(t_s: NDArray, value: NDArray, high: float, low: float) -> list[float]:
    """Times [s] at which `value` comes up to `high`, each after it had been below `low`."""
    found, armed = [], True
    for t, v in zip(t_s.tolist(), value.tolist(), strict=True):
        if armed and v >= high:
            found.append(t)
        armed = v < low or (armed and v < high)
    return found


def boils_s(result: RunResult, contents_c: NDArray) -> list[float]:
    """When what is in the pot came to the boil [s from the start]."""
    boil_c = result.pot["boil_c"]
    return crossings(result.trace.t_s, contents_c, boil_c - _NEAR_K, boil_c - _COOLED_K)


def cooked_s(result: RunResult, cooked: NDArray) -> list[float]:
    """When a meal was done [s from the start]."""
    return crossings(result.trace.t_s, cooked, 1.0, 0.7)


def pot_events(result: RunResult) -> list[tuple[float, str, str]]:
    """(s from the start, short label, words) of what became of the pot; [] where none was modelled."""
    trace = result.trace
    if not trace.contents_c.size or "boil_c" not in result.pot:
        return []
    dry = (trace.water_kg <= 0.0) & (trace.heat_w > 0.0)
    rows = [(t, "boils", f"It boils: {result.pot['boil_c']:.1f} °C, as hot as water gets here.")
            for t in boils_s(result, trace.contents_c)]
    rows += [(t, "cooked", f"The meal is cooked; {np.interp(t, trace.t_s, trace.boiled_kg):.1f} kg of water "
                           "have gone as steam today.") for t in cooked_s(result, trace.cooked)]
    rows += [(t, "burnt", "It has burnt to the bottom.")
             for t in crossings(trace.t_s, trace.scorch, 1.0, 0.5)]
    rows += [(t, "dry", "It has boiled dry.") for t in crossings(trace.t_s, dry.astype(float), 1.0, 0.5)]
    return sorted([*rows, *_holds(result), *_box(result)])


def held_spans(result: RunResult) -> list[tuple[float, float, float]]:
    """(s, s, deg C): from when a pot was as warm as asked to the cook's next deed at dish or pot."""
    trace = result.trace
    found: list[tuple[float, float, float]] = []
    if not trace.set_c.size:
        return found
    off = np.abs(trace.contents_c - trace.set_c)
    for event in result.events:
        if event["name"] != "asked" or event["a"] != 2 or not event["b"]:
            continue
        end = min((a["t_s"] for a in result.actions if a["t_s"] > event["t_s"] and a["do"] not in _WATCHES),
                  default=float(trace.t_s[-1]))
        near = np.flatnonzero((trace.t_s > event["t_s"]) & (trace.t_s < end) & (off <= _HELD_K))
        if near.size:
            found.append((float(trace.t_s[near[0]]), end, event["b"] / 1000.0))
    return found


def _holds(result: RunResult) -> Iterator[tuple[float, str, str]]:
    for begin, _, set_c in held_spans(result):
        yield begin, "held", f"As warm as asked: {set_c:.0f} °C."


def _box(result: RunResult) -> Iterator[tuple[float, str, str]]:
    trace = result.trace
    for deed in result.actions:
        if deed["do"] != "box":
            continue
        yield deed["t_s"] + 1.0, "into the box", f"Into the box at {_at(result, deed['t_s']):.0f} °C."
        end = float(trace.t_s[-1])
        hours = np.arange(deed["t_s"] + 3600.0, end - 600.0, 3600.0)
        for t in [*hours.tolist(), end]:
            yield t, "", f"In the box for {(t - deed['t_s']) / 3600:.1f} h: {_at(result, t):.0f} °C."


def _at(result: RunResult, t_s: float) -> float:
    return float(np.interp(t_s, result.trace.t_s, result.trace.contents_c))


def pot_c(result: RunResult, when: datetime) -> float | None:
    """What is in the pot at a time, deg C; None where no pot was modelled."""
    if not result.trace.contents_c.size:
        return None
    return _at(result, (when - result.start).total_seconds())


def _rests(events: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Runs of rests off the heat with nothing but returns between them: the mode events of each run."""
    runs: list[list[dict[str, Any]]] = []
    for event in (e for e in events if e["name"] == "mode"):
        a, b = event["a"], event["b"]
        if b == modes.RESTING:
            if not runs or not runs[-1] or runs[-1][-1]["b"] != modes.COOKING:
                runs.append([])
            runs[-1].append(event)
        elif runs and runs[-1] and a in (modes.RESTING, modes.COMING) and b in (modes.COMING, modes.COOKING):
            runs[-1].append(event)
        else:
            runs.append([])
    return [run for run in runs if sum(e["b"] == modes.RESTING for e in run) > 1]


def _folded(result: RunResult) -> tuple[list[dict[str, Any]], list[tuple[datetime, str, str]]]:
    """Events without the comings and goings of long runs of rests, and a line for each such run."""
    zone, events, lines = ZoneInfo(result.timezone), result.events, []
    for run in _rests(events):
        first, last = run[0]["at_utc"], run[-1]["at_utc"]
        events = [e for e in events if not (first <= e["at_utc"] <= last and e["name"] in _CYCLE)]
        since, until = datetime.fromisoformat(first), datetime.fromisoformat(last)
        rests = sum(e["b"] == modes.RESTING for e in run)
        words = f"Off the heat while the pot is warm enough and back by itself, {rests} times until "
        words += f"{until.astimezone(zone):%H:%M}"
        t = [(one - result.start).total_seconds() for one in (since, until)]
        inside = (result.trace.t_s >= t[0]) & (result.trace.t_s <= t[1])
        if result.trace.contents_c.size:
            pot = result.trace.contents_c[inside]
            words += f"; the pot between {pot.min():.0f} and {pot.max():.0f} °C"
        lines.append((since, "dish", words + "."))
    return events, lines


def _told(events: list[dict[str, Any]]) -> Iterator[tuple[dict[str, Any], str]]:
    """Events with their words: the warning of a mode with the mode itself, small turns of the dial not."""
    before: dict[str, Any] = {}
    heat = 0
    for event in events:
        if event["name"] == "dial" and 0 < abs(event["a"] - heat) < _TURN:
            continue
        heat = event["a"] if event["name"] == "dial" else heat
        if event["name"] == "mode":
            warned = next((e for e in events if e["name"] == "warn" and e["at_utc"] == event["at_utc"]
                           and e["a"] == event["b"]), None)
            before = warned or {}
            yield event, event["detail"] + (f" Buzzer for {warned['b']} s first." if warned else "")
        elif event is not before:
            yield event, event["detail"]


def timeline(result: RunResult, every: bool = False) -> list[tuple[datetime, str, str]]:
    """(UTC time, who, words) in order; `every` keeps the small events too."""
    events, rows = (result.events, []) if every else _folded(result)
    rows += [(datetime.fromisoformat(e["at_utc"]), "dish", words) for e, words in _told(events)
             if every or e["name"] not in _QUIET]
    rows += [(datetime.fromisoformat(a["at_utc"]), "cook", a["words"]) for a in result.actions]
    rows += [(result.start + timedelta(seconds=t), "pot", words) for t, _, words in pot_events(result)]
    rows += [(datetime.fromisoformat(h["at_utc"]), "HAZARD", f"{h['kind']}: {h['detail']}")
             for h in result.hazards]
    return sorted(rows, key=lambda row: row[0])


def timeline_text(result: RunResult) -> str:
    """The timeline as text lines, times in the day's civil zone, the pot's temperature beside them."""
    zone = ZoneInfo(result.timezone)
    lines = []
    for when, who, words in timeline(result):
        warm = pot_c(result, when)
        shown = "" if warm is None else f"{warm:4.0f} °C  "
        lines.append(f"{when.astimezone(zone):%H:%M:%S}  {shown}{who:<6}  {words}")
    return "\n".join(lines)
