"""What is said of an alignment: tables and lines for a person, keys for a program. Units: deg, s, UTC."""

from __future__ import annotations

import math
from typing import Any

from rich.console import Console
from rich.table import Table

_CLOCK_DEG_PER_S = 15.041 / 3600.0
CAUTION = (
    "Take sightings with the dish masked and by the shadow sight only: never look along the dish at the "
    "sun, and keep everyone out of the space in front of it."
)


def proof_words(proof: dict[str, Any], by: str) -> str:
    """One sighting beside what `by` predicts of it."""
    (az, el), (sun_az, sun_el) = proof["predicted_deg"], proof["seen_deg"]
    return (f"Proof at {proof['at_utc']}: by {by} the dish points at azimuth {az:.3f}, elevation {el:.3f} "
            f"deg; seen, with the sight on the sun: {sun_az:.3f}, {sun_el:.3f}. "
            f"{proof['off_deg']:.3f} deg apart, {proof['limit_deg']:.3f} allowed.")


def answer_of(found: Any, seen: Any, clock_s: float) -> dict[str, Any]:
    """What a fit found, as the JSON object holds it."""
    names = (*found.fitted[:3], "axis1_zero_deg", "axis2_zero_deg")
    return {
        **{name: found.values[name] for name in names},
        **{name: found.values[name] for name in found.fitted if name not in names},
        "rms_deg": found.rms_deg,
        "sightings": int(found.used.sum()),
        "left_out": [i + 1 for i in range(len(seen)) if not found.used[i]],
        "standard_error_deg": dict(found.standard_error),
        "times_for_95_percent": found.spread(),
        "clock_uncertainty_s": clock_s,
        "clock_uncertainty_deg": clock_s * _CLOCK_DEG_PER_S,
        "clock": _clock_state(seen),
    }


def _clock_state(seen: Any) -> dict[str, Any]:
    """What the sightings tell of the board's clock: whence it had its time, and how far off the host's."""
    off = [s for _source, s in seen.clock if not math.isnan(s)]
    return {"sources": sorted({source for source, _s in seen.clock if source}),
            "least_off_s": min(off) if off else None, "most_off_s": max(off) if off else None}


def _signed(seconds: float) -> str:
    """+0.3, -0.3, and 0.0 without a sign."""
    return f"{round(seconds, 1):+.1f}" if round(seconds, 1) else "0.0"


def show(answer: dict[str, Any], found: Any, seen: Any) -> None:
    """The same for a person, on standard output."""
    shown = Table(title=f"{answer['sightings']} sightings, {seen.at[0]:%Y-%m-%d}")
    for name in ("", "fitted", "standard error"):
        shown.add_column(name, justify="left" if not name else "right")
    for name in found.fitted:
        shown.add_row(name, f"{found.values[name]:.4f}", f"{found.standard_error[name]:.4f}")
    shown.add_row("axis1_zero_deg", f"{found.values['axis1_zero_deg']:.4f}", "as set: one with north")
    console = Console(width=None if Console().is_terminal else 110)
    console.print(shown)
    console.print(f"Left over: {found.rms_deg:.3f} deg rms.")
    for number in answer["left_out"]:
        x, y = found.residual_deg[number - 1]
        off = (x * x + y * y) ** 0.5
        console.print(f"Sighting {number} disagrees with the others by {off:.2f} deg: left out.")
    if "proof" in answer:
        console.print(proof_words(answer["proof"], "the fit"))
    console.print(
        f"A clock {answer['clock_uncertainty_s']:g} s wrong would turn all of this by "
        f"{answer['clock_uncertainty_deg']:.3f} deg about the pole, and no sighting would show it."
    )
    if answer["clock"]["most_off_s"] is not None:
        console.print(f"The board's clock ({' and '.join(answer['clock']['sources'])}) was "
                      f"{_signed(answer['clock']['least_off_s'])} to "
                      f"{_signed(answer['clock']['most_off_s'])} s off this computer's.")
    if found.values.get("axis1_scale") or found.values.get("axis2_scale"):
        console.print("A scale belongs into axisN.steps_per_turn: divide it by 1 + scale.")
    console.print(CAUTION)
