"""The report of a day: what happened in plain words, the figures, the pictures, one HTML file.

Energies in J, kJ or kWh as labelled, angles in degrees, powers in W; times in the day's civil zone.
"""

import base64
import html
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sunhob_board.declared import interlocks, modes

from .report_plots import PLOTS
from .run_result import RunResult

CAUTIONS = (
    "Concentrated sunlight blinds and burns, on the pot and off it. Work from behind the dish, in dark "
    "glasses.",
    "Off the pot is not harmless: the light stays loose for hours. Park the dish or cover it before "
    "walking away.",
    "A stopped dish lets the sun walk off the pot, and meets it again the next day. Never leave it pointed "
    "and still.",
    "These figures come from a bench on a computer, with an invented cook, place and dish. No dish was "
    "built or tested.",
)

# What a cook reads for each event; {a} and {b} are its two values.
_WORDS = {
    "boot": "Switched on.", "armed": "Armed by the cook, for {a} minutes.",
    "settled": "On its aim.", "confirm": "The cook confirmed being there: {a} minutes more.",
    "clock_set": "Clock set.", "attendance": "Calling the cook: {a} minutes without a sign.",
    "homed": "Axis {a} found its home mark.", "cleared": "The cook cleared the fault.",
    "saved": "Stored.",
    "hand_lapsed": "Nobody has nudged it for {a} minutes: it parks itself.",
    "haze": "The light did not hold after its return: it now wants {a} s of good light before the next.",
    "no_path": "No safe way yet; it stays off the sun.",
}
_DISARMED = {1: "the time ran out", 2: "parked", 3: "a fault", 4: "the stop chain"}
_NORTH_DOUBTS = {
    1: "the sun is too low or too high to tell north", 2: "the dish still moved",
    3: "the play of axis 1 is not taken up", 4: "the play of axis 2 is not taken up",
}
_PLACES = {0: "elevated pole", 1: "horizon towards the pole", 2: "horizon towards the equator"}
_QUIET = {"saved", "settled", "plan"}


def words_of(name: str, a: int, b: int) -> str:
    """One event in plain words; angles in deg, heat in percent."""
    if name == "mode":
        return f"Now {modes.WORDS[b]}."
    if name in ("trip", "over"):
        row = interlocks.ROWS[a]
        return f"{row[5]} {row[6]}" if name == "trip" else f"That is over: {row[5][0].lower()}{row[5][1:]}"
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
    if name == "plan":
        return f"Way planned: {a / 1000:.0f} s in {b} legs."
    return _WORDS.get(name, name).format(a=a, b=b)


def timeline(result: RunResult, every: bool = False) -> list[tuple[datetime, str, str]]:
    """(UTC time, who, words) in order; `every` keeps the small events too."""
    rows = [(datetime.fromisoformat(e["at_utc"]), "dish", e["detail"]) for e in result.events
            if every or e["name"] not in _QUIET]
    rows += [(datetime.fromisoformat(a["at_utc"]), "cook", a["words"]) for a in result.actions]
    rows += [(datetime.fromisoformat(h["at_utc"]), "HAZARD", f"{h['kind']}: {h['detail']}")
             for h in result.hazards]
    return sorted(rows, key=lambda row: row[0])


def timeline_text(result: RunResult) -> str:
    """The timeline as text lines, times in the day's civil zone."""
    zone = ZoneInfo(result.timezone)
    return "\n".join(f"{when.astimezone(zone):%H:%M:%S}  {who:<6}  {words}"
                     for when, who, words in timeline(result))


def figures(result: RunResult) -> list[tuple[str, str]]:
    """(label, value with unit) rows of the report."""
    track, heat, board = result.tracking, result.heat, result.firmware
    rows = [
        ("Pointing error, median / 95 % / worst",
         f"{_deg(track['p50_deg'])} / {_deg(track['p95_deg'])} / {_deg(track['max_deg'])}"),
        ("Time following the sun", f"{track['seconds'] / 3600:.2f} h"),
        ("Heat into the pot", f"{heat['delivered_j'] / 3.6e6:.2f} kWh"),
        ("Heat asked against delivered, rms", _percent(heat["dial_error_rms"])),
        ("Motors running", f"{result.motor_s / 60:.1f} min of {result.simulated_s / 3600:.1f} h"),
        ("Energy: motors / all", f"{result.motor_j / 3600:.1f} / {result.energy_j / 3600:.1f} Wh"),
        ("Hazards found by the bench", str(len(result.hazards))),
        ("Worst turn of the control loop", f"{board.get('worst_tick_ms', 0):g} ms"),
        ("Board memory in use, at most", _memory(board.get("heap_peak_bytes", 0))),
        ("Engine", f"{result.engine}, {result.simulated_s / max(result.wall_s, 1e-9):.0f} x real time"),
    ]
    if result.by_hand:
        rows.insert(4, ("The same day with a hand on the dish every "
                        f"{result.by_hand['every_min']:.0f} minutes",
                        f"{result.by_hand['delivered_j'] / 3.6e6:.2f} kWh, "
                        f"{result.by_hand['touches']:.0f} touches"))
    return rows


def _memory(size: float) -> str:
    return f"{size / 1000:.1f} kB" if size else "told only by MicroPython"


def _percent(fraction: float) -> str:
    return "none" if fraction != fraction else f"{100 * fraction:.1f} % of full heat"


def _deg(value: float) -> str:
    return "none" if value != value else f"{value:.3f}°"


def pictures(result: RunResult, folder: Path) -> list[Path]:
    """Write the PNG pictures into `folder`; the paths written."""
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for name, draw in PLOTS.items():
        path = folder / f"{result.scenario}_{name}.png"
        draw(result, path)
        made.append(path)
    return made


_STYLE = """body{font:16px/1.45 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;
color:#222;background:#fffdf8}h1,h2{line-height:1.15}.caution{border-left:6px solid #b3261e;background:#fbeae8
;padding:.6rem 1rem}table{border-collapse:collapse;width:100%}td,th{text-align:left;padding:.2rem .6rem;
border-bottom:1px solid #e4ddd0;vertical-align:top}td:first-child{white-space:nowrap}img{max-width:100%}
.cook td{color:#0b5394}.HAZARD td{color:#b3261e;font-weight:700}footer{color:#666;font-size:.85rem}"""


def html_report(result: RunResult, images: list[Path], path: Path) -> Path:
    """Write the one-file HTML report with the pictures inside; returns its path."""
    zone = ZoneInfo(result.timezone)
    parts = [f"<h1>A day on the bench: {html.escape(result.scenario)}</h1>",
             f"<p>{html.escape(result.about)}</p>",
             f"<p>{result.start.astimezone(zone):%d %B %Y}, times in {html.escape(result.timezone)}.</p>",
             "<div class=caution>" + "".join(f"<p>{html.escape(c)}</p>" for c in CAUTIONS) + "</div>",
             "<h2>Figures</h2><table>"]
    parts += [f"<tr><td>{html.escape(k)}</td><td>{html.escape(v)}</td></tr>" for k, v in figures(result)]
    parts += ["</table>", *(f"<p>{html.escape(note)}</p>" for note in result.notes), "<h2>Pictures</h2>"]
    for image in images:
        data = base64.b64encode(image.read_bytes()).decode("ascii")
        parts.append(f'<p><img alt="{html.escape(image.stem)}" src="data:image/png;base64,{data}"></p>')
    parts.append("<h2>What happened</h2><table><tr><th>Time</th><th>Who</th><th>What</th></tr>")
    for when, who, words in timeline(result):
        parts.append(f"<tr class={who}><td>{when.astimezone(zone):%H:%M:%S}</td><td>{who}</td>"
                     f"<td>{html.escape(words)}</td></tr>")
    parts.append(f"</table><footer>events {result.events_sha256}</footer>")
    page = ("<!doctype html><html lang=en><meta charset=utf-8>"
            "<meta name=viewport content='width=device-width'>"
            f"<title>sunhob: {html.escape(result.scenario)}</title><style>{_STYLE}</style>"
            f"{''.join(parts)}</html>")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(page, "utf-8")
    return path
