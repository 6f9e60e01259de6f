"""The sky of a scenario: clear, listed or seeded clouds, or measured light. Units: s, W/m2, degrees."""

from sunhob.errors import UserError
from sunhob.settings import Cooker

from .scenario import Scenario
from .sky import RandomClouds, Series, Site, Sky


def site_of(cooker: Cooker) -> Site:
    """The cooker's site."""
    one = cooker.site
    return Site(one.latitude_deg, one.longitude_deg, one.altitude_m, one.temp_c)


def sky_of(scenario: Scenario, cooker: Cooker) -> Sky:
    """Sun and light over the whole run, a minute beyond its end."""
    kind, part = scenario.sky.kind, scenario.sky
    seconds = scenario.seconds + 60.0
    listed = [(scenario.offset_s(c.at), c.minutes * 60.0, c.through) for c in part.cloud]
    clouds: RandomClouds | Series | list[tuple[float, float, float]]
    if kind == "clouds":
        clouds = listed + RandomClouds(part.cover, scenario.seed).over(seconds)
    elif kind in ("hourly", "minute"):
        clouds = _measured(scenario)
    else:
        clouds = listed
    return Sky(site_of(cooker), scenario.start.timestamp(), seconds, clouds, part.turbidity)


def _measured(scenario: Scenario) -> Series:
    from . import weather

    source = scenario.sky.source
    if not source:
        raise UserError(f"{scenario.name}: sky.source is missing; name the {scenario.sky.kind} data")
    return weather.series(scenario.sky.kind, source, scenario.start)
