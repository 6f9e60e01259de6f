"""What `sunhob check` says of the light: declared clear angles and guard plate against traced ones.

Units: deg, m, percent of full heat. The first check of an optics traces for some seconds, later ones read
what was kept on disk.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from rich.console import Console
from rich.progress import Progress

from .optics.geometry import Optics, optics_of
from .optics.intercept import cached_intercept
from .optics.loose import Clear, cached_clear, cached_plate_m, loose_parts
from .optics.plate import NO_PLATE_PERCENT
from .settings import Cooker

SLACK_DEG = 0.5  # a declared angle so much short of the traced one passes: the trace is no finer


@dataclass(frozen=True)
class LightJudged:
    """Lines for what falls short and for what is good to know; traced angles (deg) and radii (m); the least
    plate for the declared least heat (m; 0 none needed, inf none is wide enough)."""

    falls_short: list[str]
    notes: list[str]
    clear: Clear
    plate_m: float


def judge_light(cooker: Cooker) -> LightJudged:
    """Trace what the declared angles and plate must be, and compare."""
    optics = optics_of(cooker)
    clear, plate = _traced(optics, cooker.heat.least_percent)
    short = _pot_clear(cooker, clear) + _cover(cooker, clear) + _plate(cooker, plate)
    return LightJudged(short, _loose(cooker, clear), clear, plate)


def _traced(optics: Optics, least: float) -> tuple[Clear, float]:
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("tracing the light", total=None)
        found = cached_intercept(optics, lambda done, total: bar.update(task, completed=done, total=total))
        bar.update(task, completed=0, total=loose_parts())

        def tell(parts: int) -> None:
            bar.advance(task, parts)

        clear = cached_clear(optics, found, tell=tell)
        return clear, cached_plate_m(optics, found, least, clear, tell)


def _pot_clear(cooker: Cooker, clear: Clear) -> list[str]:
    told = cooker.dish.pot_clear_deg
    if clear.pot_clear_deg is None:
        return [f"dish.pot_clear_deg = {told} deg: the pot is not clear at 40 deg; take a smaller pot."]
    if told >= clear.pot_clear_deg - SLACK_DEG:
        return []
    return [
        f"dish.pot_clear_deg = {told} deg: traced, the pot gets under 1 % of full heat only from "
        f"{clear.pot_clear_deg:.1f} deg off the sun; give at least {math.ceil(clear.pot_clear_deg)} deg."
    ]


def _cover(cooker: Cooker, clear: Clear) -> list[str]:
    told = cooker.dish.cover_below_deg
    if told >= clear.loose_clear_deg - SLACK_DEG:
        return []
    return [
        f"dish.cover_below_deg = {told} deg: traced, more than 4 kW/m2 stays loose in places until "
        f"{clear.loose_clear_deg:.1f} deg off the sun; give at least {math.ceil(clear.loose_clear_deg)} deg."
    ]


def _plate(cooker: Cooker, plate_m: float) -> list[str]:
    least, have = cooker.heat.least_percent, cooker.guard.diameter_m
    if have >= plate_m:
        return []
    told = f"heat.least_percent = {least} %: "
    if math.isinf(plate_m):
        return [told + f"no guard plate holds so much spill; give {NO_PLATE_PERCENT:g} % or a wider pot."]
    return [
        told + f"the spill takes a guard plate of {plate_m:.2f} m, guard.diameter_m = {have} m; "
        f"widen it or give up to {NO_PLATE_PERCENT:g} %."
    ]


def _loose(cooker: Cooker, clear: Clear) -> list[str]:
    told = cooker.dish.loose_clear_deg
    if told >= clear.loose_clear_deg - SLACK_DEG:
        return []
    return [
        f"dish.loose_clear_deg = {told} deg, by which it leaves and parks: traced, more than 4 kW/m2 stays "
        f"loose in places beyond {clear.guarded_m:.2f} m of the focus until {clear.loose_clear_deg:.1f} deg "
        "off the sun (sunhob optics tells where). Parked nearer than dish.cover_below_deg = "
        f"{cooker.dish.cover_below_deg} deg it asks for its cover: lay it on, and until then keep people "
        "and all that burns out of there."
    ]
