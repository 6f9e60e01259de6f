"""The page on loose light: guarded volume, guard plate, keep-out. Units: m, deg, kW/m2, percent."""

from __future__ import annotations

import math
from typing import Any

PAGE = """# Loose light: guarded volume, guard plate, keep-out

This page is made by `make notes` from a ray trace of the built-in invented dish ({diameter:g} m wide, focal
length {focal:g} m). **Run `sunhob optics --cooker your.toml` for yours** and take its numbers.

> Gathered light blinds, burns skin and sets fire, and not only at the pot. Wear dark glasses made for bright
> sun. Never look into the mirror. Never reach or stand in the beam. These figures are of a model. They are no
> certificate of safety, and the codes of your place come first.

![Guarded volume, guard plate and keep-out](light.svg)

## Where the light is

The figures hold for a beam of 1000 W/m2, in places of {cell:.0f} cm. Clear air high up gives up to a
quarter more. The limit of 4 kW/m2 lies below the least flux published for setting wood alight.

- **On the pot.** From {pot:.1f} deg off the sun the pot gets less than 1 %.
- **Guarded volume.** At full heat everything above 4 kW/m2 lies within {full:.2f} m of the focus. Dialled
  down to 40 % it lies within {guarded:.2f} m. Nothing that burns may be in there but the pot and its
  ring.
- **Keep-out.** Turned further off the sun, the light leaves that volume. More than 4 kW/m2 comes loose in
  places, as far as **{reach:.1f} m from the focus, until the dish is {loose:.0f} deg off the sun**.

| off the sun | strongest beyond the guarded volume | more than 4 kW/m2 as far as |
|---|---|---|
{rows}

Mark a circle of {keep:.0f} m about the dish on the ground. No child, no animal, no dry grass, no fuel, no
cloth, no plastic in it. Whoever must go in goes behind the dish. Beyond {skin:.1f} m from the focus bare
skin has over 30 s until a second-degree burn; beyond {harmless:.1f} m it feels no harm. Without dark
glasses an eye that sees the whole mirror full of sun is not safe nearer than {eye:.0f} m: stay out of its
front.

## The guard plate

Dialled down, part of the light misses the pot. Down to 40 % of full heat it stays in the guarded volume.
Less heat than that takes a level plate about the pot, at the height of `guard.below_focus_m`:

| least heat | plate |
|---|---|
{plates}

- Sheet steel, 1 mm or more, bare or painted with stove paint. No galvanised sheet: hot zinc gives off fumes.
- A hole for the pot ring in its middle; the gap to the pot under 5 mm.
- It gets hot enough to burn skin and to char wood. Hold it by metal, and leave 0.1 m of air to anything else.
- Declare it (`guard.diameter_m`, `guard.below_focus_m`) and run `sunhob check`, `sunhob optics` and
  `sunhob table heat` again: it shades the mirror a little.

## When the mount dies on the sun

A stopped dish stays hot for a while: the sun walks off the pot only by 15 deg an hour, and the loose
light stays for hours. `sunhob optics` tells the minutes for your place and day, and when the sun comes
back to it next day. So: press LEAVE; if nothing moves, cover the mirror from behind; if you cannot, turn
it by the hand releases ([mechanics](mechanics.md)), away from people."""


def light_page(cooker: Any, figures: dict[str, Any]) -> str:
    """The whole page."""
    rows = [
        f"| {r['lag_deg']:.0f} deg | {r['most_kw_m2']:.0f} kW/m2 | {r['reach_m']:.2f} m |"
        for r in figures["by_lag"]
        if r["lag_deg"] >= 25.0
    ]
    plates = ["| 40 % and more | none needed |"]
    plates += [f"| {p['least_percent']:.0f} % | {p['diameter_m']:.2f} m wide |" for p in figures["plates"]]
    reach = max(r["reach_m"] for r in figures["by_lag"])
    return PAGE.format(
        diameter=cooker.dish.aperture_diameter_m,
        focal=cooker.dish.focal_length_m,
        cell=100.0 * figures["cell_m"],
        pot=figures["pot_clear_deg"],
        full=figures["guarded_full_m"],
        guarded=figures["guarded_m"],
        reach=_up(reach),
        loose=math.ceil(figures["loose_clear_deg"]),
        rows="\n".join(rows),
        keep=keep_out_m(figures),
        skin=_up(figures["skin_m"]),
        harmless=_up(figures["skin_no_discomfort_m"]),
        eye=figures["eye_m"],
        plates="\n".join(plates),
    )


def _up(metres: float) -> float:
    """To the next tenth: a distance to keep is never rounded down."""
    return math.ceil(metres * 10.0 - 1e-6) / 10.0


def keep_out_m(figures: dict[str, Any]) -> float:
    """Radius of the circle to keep clear on the ground [m]: the reach of loose light and a metre more."""
    reach = max([figures["skin_no_discomfort_m"]] + [r["reach_m"] for r in figures["by_lag"]])
    return float(math.ceil(reach + 1.0))
