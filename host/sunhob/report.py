"""The report of a day: the figures, a comparison, the pictures, what happened, in one HTML file.

Energies in J, kJ or kWh as labelled, angles in degrees, powers in W; times in the day's civil zone.
"""

import base64
import html
import itertools
from pathlib import Path
from zoneinfo import ZoneInfo

from .report_plots import NEEDS_POT, PLOTS, plot_page
from .report_story import boils_s, cooked_s, held_spans, pot_c, timeline
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
    held = heat.get("hold_in_band", float("nan"))
    if held == held:
        rows.insert(4, ("Pot temperature held: within 2 K, of the sunny time / overshoot",
                        f"{100 * held:.1f} % / {heat['hold_overshoot_k']:.1f} K"))
    return rows


def comparison(result: RunResult) -> list[tuple[str, str, str]]:
    """(what, by the dish itself, with a hand on it) rows; [] where no hand was tried."""
    hand, trace = result.by_hand, result.trace
    if not hand or not trace.hand_heat_w.size:
        return []
    rows: list[tuple[str, str, str]] = [
        ("Heat into the pot", _kwh(result.heat["delivered_j"]), _kwh(hand["delivered_j"])),
        ("Times a person turns it in the light", "none", f"{hand['touches']:.0f}"),
    ]
    if "boil_c" not in result.pot:
        return rows
    for label, find, own, other in (
        ("boils", boils_s, trace.contents_c, trace.hand_contents_c),
        ("cooked", cooked_s, trace.cooked, trace.hand_cooked),
    ):
        mine, theirs = (_by_meal(result, find(result, one)) for one in (own, other))
        rows += [(f"Meal {k + 1} {label}", *pair)
                 for k, pair in enumerate(zip(mine, theirs, strict=True))]
    return [*rows, *_warmth(result)]


def _by_meal(result: RunResult, found: list[float]) -> list[str]:
    """Civil time of the first of `found` in each meal; a meal begins with fresh food."""
    starts = [0.0, *(a["t_s"] for a in result.actions if a["do"] == "add_food"), float("inf")]
    out = []
    for begin, end in itertools.pairwise(starts):
        first = next((t for t in found if begin <= t < end), None)
        out.append("never" if first is None else
                   f"{result.at(first).astimezone(ZoneInfo(result.timezone)):%H:%M}")
    return out


def _warmth(result: RunResult) -> list[tuple[str, str, str]]:
    """How warm the pot was while a temperature was held, and at the end of the day."""
    trace, rows = result.trace, []
    for begin, end, set_c in held_spans(result):
        inside = (trace.t_s >= begin) & (trace.t_s < end)
        spans = [f"{one[inside].min():.0f} to {one[inside].max():.0f} °C"
                 for one in (trace.contents_c, trace.hand_contents_c)]
        rows.append((f"Held at {set_c:.0f} °C", spans[0], spans[1]))
    return [*rows, ("At the end of the day", f"{trace.contents_c[-1]:.0f} °C",
                    f"{trace.hand_contents_c[-1]:.0f} °C")]


def _kwh(joules: float) -> str:
    return f"{joules / 3.6e6:.2f} kWh"


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
        if name in NEEDS_POT and not result.trace.contents_c.size:
            continue
        path = folder / f"{result.scenario}_{name}.png"
        draw(result, path)
        made.append(path)
    if result.page:
        made.append(folder / f"{result.scenario}_page.png")
        plot_page(result.display, made[-1])
    return made


_STYLE = """body{font:16px/1.45 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;
color:#222;background:#fffdf8}h1,h2{line-height:1.15}.caution{border-left:6px solid #b3261e;background:#fbeae8
;padding:.6rem 1rem}table{border-collapse:collapse;width:100%}td,th{text-align:left;padding:.2rem .6rem;
border-bottom:1px solid #e4ddd0;vertical-align:top}td:first-child{white-space:nowrap}img{max-width:100%}
td.t{text-align:right;white-space:nowrap}.cook td{color:#0b5394}.pot td{color:#8a4b08;font-weight:600}
.HAZARD td{color:#b3261e;font-weight:700}footer{color:#666;font-size:.85rem}"""


def _compared(result: RunResult) -> str:
    rows = comparison(result)
    if not rows:
        return ""
    cells = "".join("<tr>" + "".join(f"<td>{html.escape(one)}</td>" for one in row) + "</tr>" for row in rows)
    every = result.by_hand["every_min"]
    return (f"<h2>Beside a hand on the dish every {every:.0f} minutes</h2><table><tr><th></th>"
            f"<th>by itself</th><th>by hand</th></tr>{cells}</table>")


def html_report(result: RunResult, images: list[Path], path: Path) -> Path:
    """Write the one-file HTML report with the pictures inside; returns its path."""
    zone = ZoneInfo(result.timezone)
    parts = [f"<h1>A day on the bench: {html.escape(result.scenario)}</h1>",
             f"<p>{html.escape(result.about)}</p>",
             f"<p>{result.start.astimezone(zone):%d %B %Y}, times in {html.escape(result.timezone)}.</p>",
             "<div class=caution>" + "".join(f"<p>{html.escape(c)}</p>" for c in CAUTIONS) + "</div>",
             "<h2>Figures</h2><table>"]
    parts += [f"<tr><td>{html.escape(k)}</td><td>{html.escape(v)}</td></tr>" for k, v in figures(result)]
    parts += ["</table>", _compared(result), "<ul>",
              *(f"<li>{html.escape(note)}</li>" for note in result.notes), "</ul><h2>Pictures</h2>"]
    for image in images:
        data = base64.b64encode(image.read_bytes()).decode("ascii")
        parts.append(f'<p><img alt="{html.escape(image.stem)}" src="data:image/png;base64,{data}"></p>')
    parts.append("<h2>What happened</h2><table><tr><th>Time</th><th>Pot</th><th>Who</th><th>What</th></tr>")
    for when, who, words in timeline(result):
        warm = pot_c(result, when)
        parts.append(f"<tr class={who}><td>{when.astimezone(zone):%H:%M:%S}</td>"
                     f"<td class=t>{'' if warm is None else f'{warm:.0f} °C'}</td><td>{who}</td>"
                     f"<td>{html.escape(words)}</td></tr>")
    parts.append(f"</table><footer>events {result.events_sha256}</footer>")
    page = ("<!doctype html><html lang=en><meta charset=utf-8>"
            "<meta name=viewport content='width=device-width'>"
            f"<title>sunhob: {html.escape(result.scenario)}</title><style>{_STYLE}</style>"
            f"{''.join(parts)}</html>")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(page, "utf-8")
    return path
