"""`sunhob dish ...`: talk to the board of a dish, real or on the bench.

Units are in every option and key: percent, ms, s, deg, UTC.
"""

from __future__ import annotations

import json
import time
from datetime import UTC, datetime
from typing import Annotated, Any

import typer
from sunhob_board.declared import events as declared_events
from sunhob_board.declared import interlocks as declared_interlocks
from sunhob_board.declared import modes as declared_modes
from sunhob_board.declared.methods import METHODS

from .errors import LinkError, UserError
from .link import Dish
from .told import told_lines, utc_text

_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
_HOLD_MS = 400
_RENEW_S = 0.15
_PER_CALL = 16

dish_app = typer.Typer(
    no_args_is_help=True,
    help="Talk to the board of a dish. A dish in the sun burns skin and eyes: look at it before you ask it "
         "to move, keep people out of the light, and never move it from where you cannot see it.",
)

Port = Annotated[str, typer.Option("--port", envvar="SUNHOB_PORT", show_default=False,
                                   help="Serial port, socket://host:port, or bench:SCENARIO.")]
Amount = Annotated[str, typer.Argument(
    metavar="HEAT", show_default=False, help="Percent of full heat (70), watts into the pot (600W), or its "
    "temperature in degC (85C).")]
_HEAT_UNITS = {"": "percent", "%": "percent", "w": "watts", "c": "pot_c"}
_HEAT_WORDS = {"percent": "percent of full heat", "watts": "W into the pot", "pot_c": "degC in the pot"}
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")]


def heat_asked(text: str) -> dict[str, float]:
    """The link's parameter for a heat told as `70`, `70%`, `600W` or `85C`."""
    unit = text.lstrip("+-.0123456789")
    kind = _HEAT_UNITS.get(unit.strip().lower())
    try:
        value = float(text.removesuffix(unit))
    except ValueError:
        value = -1.0
    if kind is None or value < 0.0:
        raise UserError(f"heat: '{text}' is no heat; give percent (70), watts (600W) or degC (85C)")
    limits = next(row for method in METHODS if method[0] == "heat" for row in method[1] if row[0] == kind)
    if value > limits[3]:
        raise UserError(f"heat: {value:g} is above {limits[3]} {limits[4]}; give {limits[2]} to {limits[3]}")
    return {kind: value}


def _show(result: dict[str, Any], as_json: bool, words: str) -> None:
    typer.echo(json.dumps(result, allow_nan=False) if as_json else words)


def board_time(at: datetime) -> tuple[int, int]:
    """(days since 2000-01-01 UTC, ms of the day) of an aware time."""
    since = at.astimezone(UTC) - _EPOCH
    return since.days, since.seconds * 1000 + since.microseconds // 1000


@dish_app.command()
def status(port: Port, as_json: AsJson = False) -> None:
    """Tell what the dish is doing, where it points, and what keeps it from the sun."""
    with Dish(port) as dish:
        got = dish.call("status")
    _show(got, as_json, "\n".join(_status_lines(got)))


def _status_lines(got: dict[str, Any]) -> list[str]:
    lines = told_lines(got)
    for name in got.get("tripped", ()):
        if name in declared_interlocks.INDEX:
            words = declared_interlocks.ROWS[declared_interlocks.INDEX[name]][5:8]
            lines.append(f"{name}: " + " ".join(str(one) for one in words))
    return lines


@dish_app.command()
def cook(
    port: Port,
    amount: Amount,
    as_json: AsJson = False,
) -> None:
    """Come to the sun at this heat. Only after ARM was pressed at the dish: nobody arms it from afar."""
    asked = heat_asked(amount)
    if not any(asked.values()):
        raise UserError(f"heat: {amount} keeps the dish parked; give more, such as 40 percent, or leave it")
    _simple(port, as_json, "cook", "It warns, then comes to the sun. Keep clear.", **asked)


@dish_app.command()
def heat(
    port: Port,
    amount: Amount,
    as_json: AsJson = False,
) -> None:
    """Change the heat while a cook attends at the dish; 0 leaves the sun."""
    asked = heat_asked(amount)
    kind, value = next(iter(asked.items()))
    words = f"Heat asked: {value:g} {_HEAT_WORDS[kind]}." if value else "It warns, leaves the sun and parks."
    _simple(port, as_json, "heat", words, **asked)


@dish_app.command()
def aside(port: Port, as_json: AsJson = False) -> None:
    """Turn aside for hands at the pot. Wait for the lamp; coming back is asked for at the dish."""
    _simple(port, as_json, "aside", "It warns, then turns aside. Hands in only when the lamp says so.")


@dish_app.command()
def leave(port: Port, as_json: AsJson = False) -> None:
    """Leave the sun and park: the usual way to stop. It warns first, then moves."""
    _simple(port, as_json, "leave", "It warns, leaves the sun and parks. Keep clear until it stands still.")


def _simple(port: str, as_json: bool, method: str, words: str, **params: Any) -> None:
    with Dish(port) as dish:
        got = dish.call(method, **params)
    _show(got, as_json, words)


@dish_app.command()
def nudge(
    port: Port,
    axis: Annotated[int, typer.Argument(min=1, max=2, help="Axis, 1 or 2.")],
    rate_percent: Annotated[int, typer.Option(
        "--rate", min=-100, max=100, help="Speed, percent of full speed; minus turns back.")],
    seconds: Annotated[float, typer.Option(
        "--seconds", min=0.1, max=120, help="How long to go on asking, warning included [s].")] = 5.0,
    covered: Annotated[bool, typer.Option(
        "--covered", help="I say that the dish is covered. Without this nothing moves.")] = False,
    as_json: AsJson = False,
) -> None:
    """Turn one axis by hand, the dish covered and ASIDE pressed there; Ctrl-C, a pulled cable or the end of
    the time stops it."""
    if not covered:
        raise UserError("covered: not said, needed for any move by hand; cover the dish and add --covered")
    asked, got = 0, {}
    with Dish(port) as dish:
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            got = dish.call("nudge", axis=axis, rate_percent=rate_percent, hold_ms=_HOLD_MS, covered=True)
            asked += 1
            dish.listen(_RENEW_S)
    _show({**got, "asked": asked}, as_json, f"Asked {asked} times; it stops {_HOLD_MS} ms after the last.")


@dish_app.command("set")
def set_(
    port: Port,
    what: Annotated[str, typer.Argument(help="time, north or season.")],
    angle: Annotated[float | None, typer.Option(
        "--angle", help="With season: what the scale of the hand axis reads, degrees.")] = None,
    at: Annotated[str | None, typer.Option(
        "--at", help="With time: ISO time with its offset; else this computer's.")] = None,
    as_json: AsJson = False,
) -> None:
    """Set the clock, take the present sight of the sun (by the shadow sight, dish covered) as north, or tell
    how the season was set by hand."""
    if what not in ("time", "north", "season"):
        raise UserError(f"what: '{what}' is not time, north or season")
    if what != "time" and at is not None:
        raise UserError(f"at: belongs to 'set time', not to 'set {what}'; leave it out")
    if (what == "season") != (angle is not None):
        raise UserError("angle: belongs to 'set season', and is needed there: degrees that the scale reads")
    if angle is not None and not -60.0 <= angle <= 60.0:
        raise UserError(f"angle: {angle:g} deg is not -60 to 60 deg")
    when = None if at is None else _parse_time(at)
    with Dish(port) as dish:
        dish.hello()
        if what == "north":
            got = dish.call("set", what="north")
            north, spread = _need(got, "north_deg"), _need(got, "standard_error_deg")
            words = f"North correction: {north:.3f} deg, give or take {spread:.3f}. {_moved(got, spread)}"
        elif what == "season":
            got = dish.call("set", what="season", angle_deg=angle)
            past = _need(got, "season_off_deg")
            words = f"Season taken as {angle:g} deg; the sun stands {past:+.2f} deg past it."
        else:
            day, ms = board_time(when or datetime.now(UTC))
            got = dish.call("set", what="time", day=day, ms=ms)
            words = f"Clock set to {utc_text(day, ms)}."
    _show(got, as_json, words)


def _moved(got: dict[str, Any], spread_deg: float) -> str:
    """How the base stands against the setting before, where the board tells it."""
    turned, age_h = got.get("turned_deg"), got.get("was_age_h", -1)
    if turned is None:
        return ""
    if age_h < 0:
        return "It is the first on this board."
    since = f"since it was set {age_h:.0f} h ago"
    if abs(turned) <= 2.0 * spread_deg * 2.0**0.5:  # both sightings are that uncertain
        return f"The base has not moved {since}, as far as two sightings can tell."
    return f"The base has turned by {turned:+.3f} deg {since}."


def _parse_time(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise UserError(f"at: '{text}' is no ISO time; write 2026-06-21T09:00:00+00:00") from None
    if at.tzinfo is None:
        raise UserError(f"at: '{text}' has no offset; add Z for UTC, or +02:00 and the like")
    if not _EPOCH <= at < datetime(2099, 12, 31, tzinfo=UTC):
        raise UserError(f"at: '{text}' is outside 2000-01-01 to 2099-12-30")
    return at


@dish_app.command()
def log(
    port: Port,
    start: Annotated[int, typer.Option("--from", min=0, help="First record number.")] = 0,
    count: Annotated[int, typer.Option("--count", min=1, max=1000, help="Records at most.")] = 128,
    as_json: AsJson = False,
) -> None:
    """Read the events the board remembers, oldest first."""
    records: list[dict[str, Any]] = []
    with Dish(port) as dish:
        while len(records) < count:
            asked = {"from": start, "count": min(_PER_CALL, count - len(records))}
            got = [_record(row) for row in _need(dish.call("log", **asked), "records")]
            if not got:
                break
            records += got
            start = got[-1]["number"] + 1
    words = "\n".join(f"{r['number']:>6} {r['at_utc']} {r['name']:<14} {r['told']}" for r in records)
    _show({"records": records}, as_json, words or "no records")


def _need(got: dict[str, Any], key: str) -> Any:
    if key not in got:
        raise LinkError(f"the board's answer has no '{key}'; its firmware does not match this program")
    return got[key]


def _record(row: list[int]) -> dict[str, Any]:
    number, code, a, b, day, ms = row
    known = 0 <= code < len(declared_events.EVENTS)
    name, *what = declared_events.EVENTS[code] if known else (f"event {code}", "", "")
    told = f"{_named(what[0], a)} {_named(what[1], b)}"
    return {"number": number, "at_utc": utc_text(day, ms), "name": name, "a": a, "b": b, "told": told}


def _named(what: str, value: int) -> str:
    """A value of an event: the name of its interlock or mode where it means one, else the number."""
    names: tuple[str, ...] = ()
    if what.startswith("interlock row"):
        names = tuple(row[0] for row in declared_interlocks.ROWS)
    elif what.startswith("mode "):
        names = declared_modes.NAMES
    return names[value] if 0 <= value < len(names) else str(value)


@dish_app.command()
def clear(
    port: Port,
    code: Annotated[str, typer.Argument(help="Interlock, by name or row number; see status.")],
    as_json: AsJson = False,
) -> None:
    """Clear one latched interlock once its cause is gone. Go and look at the dish first."""
    row = declared_interlocks.INDEX.get(code, int(code) if code.isdecimal() else -1)
    if not 0 <= row < len(declared_interlocks.ROWS):
        names = ", ".join(declared_interlocks.INDEX)
        raise UserError(f"code: '{code}' is no interlock; one of {names}")
    _simple(port, as_json, "clear", f"Cleared {declared_interlocks.ROWS[row][0]}.", code=row)
