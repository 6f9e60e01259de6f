"""The words and the JSON of `sunhob optics` for all that is not on the pot.

Units are at the end of each key: m, deg, min, W/m2; `suns` are kW/m2 in a beam of 1000 W/m2.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np

from sunhob.settings import Cooker
from sunhob.sun_compare import standard_pressure_pa
from sunhob.sun_truth import Floats

from .geometry import Optics
from .intercept import Intercept
from .loose import LooseLight
from .plate import DIRECTIONS_DEG, NO_PLATE_PERCENT, dialled_lag_deg
from .spill import spill
from .walk_off import Site, WalkOff, walk_off

CAUTIONS = (
    "Cautions: wear dark glasses made for bright sun near the dish. Never look into the mirror or at the hot "
    "spot, and never stand or reach into the beam: it burns skin, blinds, and sets wood and clothing on "
    "fire, off the pot too. Cover the dish when it is not in use. These figures are of a model, and no "
    "certificate of safety; codes and licensed practice of your place come first."
)
HOURS_FROM_NOON = (-3.0, 0.0, 3.0)
_SPILL_ELEVATION_DEG = 50.0


def walks(cooker: Cooker, found: Intercept, loose_deg: float, day: date) -> list[tuple[datetime, WalkOff]]:
    """Dead mounts on this day: at three hours about mean solar noon, aimed true and at the least heat."""
    here = cooker.site
    pressure = standard_pressure_pa(here.altitude_m)
    site = Site(here.latitude_deg, here.longitude_deg, here.altitude_m, pressure, here.temp_c)
    noon = datetime.combine(day, time(12), UTC) - timedelta(hours=here.longitude_deg / 15.0)
    out = []
    for hours in HOURS_FROM_NOON:
        start = (noon + timedelta(hours=hours)).replace(microsecond=0)
        up = site.sun(np.array([start.timestamp()]))[1][0]
        if up < cooker.interlock.sun_low_deg:
            continue
        lag = dialled_lag_deg(found, cooker.heat.least_percent, float(up), DIRECTIONS_DEG[0])
        for behind in (0.0, lag):
            out.append((start, walk_off(site, start.timestamp(), behind, _heat(found), loose_deg)))
    return out


def _heat(found: Intercept) -> Any:
    """Share of full heat for walk_off: none beyond the lags traced, where the pot gets under 1 %."""
    full = float(found.absorbed[0].max())

    def share(lag: Floats, elevation: Floats, direction: Floats) -> Floats:
        heat = found.at(lag, elevation, direction, "absorbed") / full
        return np.where(lag > found.lag_deg[-1], 0.0, heat)

    return share


def facts(
    optics: Optics, found: Intercept, light: LooseLight, walked: list[tuple[datetime, WalkOff]], least: float
) -> dict[str, Any]:
    """What `--json` adds; a distance or size that does not exist is null."""
    distances = asdict(light.standoff)
    retina, limit = distances.pop("retina_w_cm2"), distances.pop("skin_limit_w_m2")
    lag = dialled_lag_deg(found, least, _SPILL_ELEVATION_DEG, DIRECTIONS_DEG[0])
    return {
        "loose_clear_deg": light.clear.loose_clear_deg,
        "guarded_radius_m": light.clear.guarded_m,
        "guarded_full_heat_radius_m": light.clear.guarded_full_m,
        "standoff_m": distances,
        "mirror_on_retina_w_cm2": retina,
        "skin_limit_w_m2": limit,
        "loose_light": {"cell_m": light.cell_m, "rays": light.rays, "by_lag": light.peaks},
        "guard_plate": {
            "needed_below_percent": NO_PLATE_PERCENT,
            "below_focus_m": optics.guard_below_focus_m,
            "sizes": [
                {
                    "least_percent": guard.percent,
                    "diameter_m": _finite(guard.diameter_m),
                    "by_elevation_m": {f"{e:g}": _finite(d) for e, d in guard.by_elevation_m.items()},
                }
                for guard in light.plates
            ],
        },
        "spill": {
            "lag_deg": lag,
            "elevation_deg": _SPILL_ELEVATION_DEG,
            "direction_deg": DIRECTIONS_DEG[0],
            "share": spill(optics, lag, _SPILL_ELEVATION_DEG, DIRECTIONS_DEG[0], light.rays),
        },
        "walk_off": [{"start_utc": f"{at:%Y-%m-%dT%H:%M:%SZ}", **_minutes(one)} for at, one in walked],
    }


def _minutes(one: WalkOff) -> dict[str, Any]:
    times = {"below_5_percent", "below_1_percent", "loose_ends", "back_loose", "back_on_pot", "back_nearest"}
    return {name + "_min" if name in times else name: value for name, value in asdict(one).items()}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def words(
    optics: Optics, light: LooseLight, walked: list[tuple[datetime, WalkOff]], clock: Any
) -> Iterator[str]:
    """Plain lines for the screen; times in the zone `clock`."""
    clear, off = light.clear, light.standoff
    yield "Light off the pot, in a beam of 1000 W/m2 (clear air high up gives up to a quarter more):"
    yield (
        f"Guarded volume: everything above 4 kW/m2 lies within {clear.guarded_full_m:.2f} m of the focus at "
        f"full heat, within {clear.guarded_m:.2f} m dialled down to {NO_PLATE_PERCENT:g} % "
        f"(cells of {light.cell_m * 100:.0f} cm, {light.rays} rays)."
    )
    yield f"No loose light above 4 kW/m2 from {clear.loose_clear_deg:.1f} deg off the sun. Nearer:"
    for row in light.peaks:
        if row["lag_deg"] >= 12.0:
            at = row["beyond_guarded_at_m"]
            far = math.sqrt(sum(part * part for part in at.values()))
            yield (
                f"  {row['lag_deg']:4.0f} deg off: up to {row['beyond_guarded_suns']:.3g} kW/m2 "
                f"(+-{row['beyond_guarded_suns_standard_error']:.1g}) {far:.2f} m from the focus, "
                f"4 kW/m2 as far as {row['farthest_4_kw_m2_m']:.2f} m"
            )
    yield (
        f"Keep bare skin {off.skin:.1f} m from the focus (beyond it, over 30 s to a second-degree burn), "
        f"{off.skin_no_discomfort:.1f} m to feel no harm."
    )
    yield (
        f"Without dark glasses keep {off.eye:.0f} m from a mirror that may show all its width full of sun; a "
        f"smooth dish shows a patch that can burn the eye to {off.eye_smooth_mirror:.1f} m, and leaves an "
        f"after-image to {off.after_image_smooth_mirror:.0f} m."
    )
    for guard in light.plates:
        yield _plate_words(guard.percent, guard.diameter_m, optics.guard_diameter_m)
    if not walked:
        yield "On this day the sun is never high enough to cook by: no times of a dead mount."
    for at, one in walked:
        yield _walk_words(at.astimezone(clock), one)


def _plate_words(percent: float, diameter_m: float, declared_m: float) -> str:
    if diameter_m <= declared_m:
        plate = f"the declared plate of {declared_m:g} m is enough" if declared_m else "it takes no plate"
        return f"Least heat {percent:g} %: {plate}."
    if math.isinf(diameter_m):
        return f"Least heat {percent:g} %: no guard plate is wide enough."
    return f"Least heat {percent:g} %: a guard plate {diameter_m:.2f} m wide."


def _walk_words(at: datetime, one: WalkOff) -> str:
    ends = "till sunset" if one.ends_by_sunset else f"{one.loose_ends:.0f} min"
    back = "not next day"
    if one.back_on_pot is not None:
        when = at + timedelta(minutes=one.back_on_pot)
        back = f"next day at {when:%H:%M}, {one.back_nearest_deg:.2f} deg off at nearest"
    return (
        f"Mount dead at {at:%H:%M} {one.lag_deg:.1f} deg behind: pot under 5 % after "
        f"{one.below_5_percent:.0f} min, 1 % after {one.below_1_percent:.0f}; "
        f"light loose {ends}; on the pot again {back}."
    )
