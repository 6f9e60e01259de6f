"""Ways off the sun and back: hour-angle-behind all along, any site and day. Units: deg, ms, micro-degrees.

The sun here is the mean one of mount_fakes (no air); the paths are run on the axes themselves and judged at
every 100 ms with vectors, not with the planner's own samples.
"""

import math
from datetime import date

import pytest
from hypothesis import assume, given
from hypothesis import settings as profile
from hypothesis import strategies as st
from sunhob.sun_table import build_table
from sunhob_board.mount.axis import Axis
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.mount import Mount
from sunhob_board.mount.planner import COME, LEAVE, Planner
from sunhob_board.sun.position import Sun
from sunhob_board.sun.table import SunTable

from .mount_fakes import FakeDrive, MeanSun, settings

_SUN_DEG_PER_S = 15.041 / 3600


_KINDS = st.sampled_from(["altaz", "polar"])


def travel(lat_deg, kind="altaz", high_deg=92.0):
    """Invented settings whose cut in axis 1 lies where the sun does not cross it at noon."""
    if kind == "polar":
        return settings(site_latitude_deg=lat_deg, mount_kind=kind, axis2_low_deg=-30.0,
                        axis1_approach=1 if lat_deg >= 0 else -1)
    if lat_deg >= 0:
        return settings(site_latitude_deg=lat_deg, axis2_high_deg=high_deg)
    return settings(site_latitude_deg=lat_deg, axis2_high_deg=high_deg,
                    axis1_approach=-1, axis1_low_deg=-200.0, axis1_high_deg=200.0, axis1_home_deg=-190.0)


def rig(s):
    drives = FakeDrive(), FakeDrive()
    return Mount((Axis(drives[0], 1, s), Axis(drives[1], 2, s)), Geometry(s)), drives


def park(mount, lat_deg, kind="altaz"):
    out = [0, 0]
    if kind == "polar":
        return [180_000_000, 90_000_000]
    lat = math.radians(lat_deg)
    pole = (0.0, math.copysign(math.cos(lat), lat), abs(math.sin(lat)))
    mount.geometry.near[0] = 90_000_000  # the turn on which leaving ends
    assert mount.geometry.axes_from_enu(*pole, out)
    return out


def plan(mount, sun, s, target, purpose):
    planner = Planner(mount, sun, s)
    planner.begin(*target, purpose)
    steps = 0
    while not planner.step():
        steps += 1
        assert steps < 600
    return planner, steps


def place(mount, drives, axes):
    mount.set_position(*axes)
    mount.geometry.near[0], mount.geometry.near[1] = axes
    for drive, axis, at in zip(drives, mount.axes, axes, strict=True):
        drive.position = axis.steps(at)


def judge(mount, drives, sun, legs, pole_enu):
    """Run the legs; (worst lead [deg], seconds until 20 deg off, seconds in all)."""
    start_ha, lead, now, clear, enu, pair = sun.ha_udeg, 0.0, 0, None, [0.0] * 3, [0, 0]
    mount.follow(legs)
    while mount.moving:
        mount.tick(now)
        for d in drives:
            d.run(100_000)
        now += 100
        ha = start_ha / 1e6 + now / 1000 * _SUN_DEG_PER_S
        moved = MeanSun(math.degrees(sun.lat), sun.dec_udeg / 1e6, ha)
        shafts = [a.udeg(d.position) for a, d in zip(mount.axes, drives, strict=True)]
        mount.geometry.enu_from_axes(*shafts, enu)
        moved.dec_ha_from_enu(*enu, pair)
        apart = moved.separation_udeg(*enu) / 1e6
        if clear is None and apart >= 20:
            clear = now / 1000
        if math.dist(enu, pole_enu) > 2 * math.sin(math.radians(1.5)):
            behind = moved.behind_udeg(*enu) / 1e6
            if behind < 0 and apart < 160:
                lead = max(lead, -behind)
    return lead, clear, now / 1000


def stand(lat, dec, ha, kind="altaz", high=92.0):
    """Mount on the mean sun; None for a sun below 10 deg or beyond the axis."""
    s = travel(lat, kind, high)
    mount, drives = rig(s)
    sun = MeanSun(lat, dec, ha)
    on = [0, 0]
    mount.geometry.near[0] = 180_000_000 if lat >= 0 or kind == "polar" else 0
    ok = sun.elevation_deg >= 10 and mount.geometry.axes_from_enu(sun.e, sun.n, sun.u, on)
    if ok:
        place(mount, drives, on)
    return (s, mount, drives, sun, on) if ok else None


# Known defect, held below by a test that is expected to fail: nearer the zenith than this an altaz mount that
# cannot pass it may find no way off, or one that leads between the planner's samples.
_HIGHEST_DEG = 75.0


@profile(deadline=None, max_examples=100, derandomize=True)
@given(st.floats(-66, 66), st.floats(-23.44, 23.44), st.floats(-110, 110), _KINDS)
def test_leaving_is_behind_all_the_way(lat, dec, ha, kind):
    case = stand(lat, dec, ha, kind)
    assume(case is not None and case[3].elevation_deg <= _HIGHEST_DEG)
    s, mount, drives, sun, _ = case
    planner, _ = plan(mount, sun, s, park(mount, lat, kind), LEAVE)
    assert planner.legs is not None, planner.reason
    lead, clear, total = judge(mount, drives, sun, planner.legs, mount.geometry.pole)
    assert lead < 0.3  # of the motor; of its take-up of 0.25 deg the load follows only 0.05
    assert clear == pytest.approx(planner.pot_clear_ms / 1000, abs=1.0)
    assert total == pytest.approx(planner.time_ms / 1000, abs=1.0)


@pytest.mark.xfail(reason="the planner's samples are too far apart beside the zenith", strict=True)
def test_leaving_beside_the_zenith_is_behind():
    s, mount, drives, sun, _ = stand(0.0, 2.0, -3.0, "altaz")
    planner, _ = plan(mount, sun, s, park(mount, 0.0, "altaz"), LEAVE)
    assert judge(mount, drives, sun, planner.legs, mount.geometry.pole)[0] < 0.3


@profile(deadline=None, max_examples=100, derandomize=True)
@given(st.floats(-66, 66), st.floats(-23.44, 23.44), st.floats(-110, 110), _KINDS)
def test_coming_is_behind_all_the_way(lat, dec, ha, kind):
    case = stand(lat, dec, ha, kind)
    assume(case is not None and case[3].elevation_deg <= _HIGHEST_DEG)
    s, mount, drives, sun, on = case
    place(mount, drives, park(mount, lat, kind))
    mount.geometry.axes_from_enu(sun.e, sun.n, sun.u, on)
    planner, _ = plan(mount, sun, s, on, COME)
    assert planner.legs is not None, planner.reason
    lead, _, _ = judge(mount, drives, sun, planner.legs, mount.geometry.pole)
    assert lead < 0.3  # of the motor; of its take-up of 0.25 deg the load follows only 0.05


def leaves(lat, kind, high):
    """(elevation, planner, steps of planning) for hours and days spread over the year."""
    for dec in (-23.44, -12.0, 0.0, 8.0, 16.0, 23.44):
        for ha in range(-105, 106, 5):
            case = stand(lat, dec, ha, kind, high)
            if case is None:
                continue
            s, mount, _, sun, _ = case
            planner, steps = plan(mount, sun, s, park(mount, lat, kind), LEAVE)
            assert planner.legs is not None, (lat, dec, ha, planner.reason)
            yield sun.elevation_deg, planner, steps


@pytest.mark.parametrize(("lat", "kind", "high", "least"), [
    (-33.0, "altaz", 92.0, 20), (8.0, "altaz", 92.0, 40), (24.6, "altaz", 92.0, 40),
    (24.6, "altaz", 165.0, 20), (45.0, "altaz", 92.0, 20), (60.0, "altaz", 92.0, 20),
    (24.6, "polar", 92.0, 20), (-33.0, "polar", 92.0, 20)])
def test_worst_leave_of_the_year(lat, kind, high, least):
    """Within 20 s, but for a sun above 75 deg just after noon on an altaz that cannot pass the zenith:
    there axis 1 has to turn a quarter before any aim is behind (the cure is travel past the zenith).
    Parking ends on the turn of axis 1 from which the morning sun can be reached, which costs up to 30 s."""
    found = list(leaves(lat, kind, high))
    clear = max(p.pot_clear_ms for _, p, _ in found) / 1000
    lower = max(p.pot_clear_ms for up, p, _ in found if up < 75) / 1000
    total = max(p.time_ms for _, p, _ in found) / 1000
    steps = max(n for _, _, n in found)
    print(f"{kind} to {high:.0f}, latitude {lat:5.1f}: pot clear {clear:.1f} s "
          f"(sun below 75 deg {lower:.1f} s), "
          f"parked {total:.1f} s, {steps} steps of planning")
    assert lower <= 20 and clear <= least
    assert total <= 120


@pytest.mark.parametrize("lat", [-66.0, -30.0, 5.0, 24.6, 66.0])
def test_the_pole_can_be_reached(lat):
    mount, _ = rig(travel(lat))
    assert park(mount, lat)[1] == pytest.approx(abs(lat) * 1e6, abs=5)


def test_ahead_of_the_sun_it_still_leaves_and_never_nearer():
    s, mount, drives, sun, _ = stand(24.6, 0.0, -30.0)
    ahead = [0.0] * 3
    sun.trailing_aim(-8_000_000, ahead)
    on = [0, 0]
    assert mount.geometry.axes_from_enu(*ahead, on)
    place(mount, drives, on)
    planner, _ = plan(mount, sun, s, park(mount, 24.6), LEAVE)
    assert planner.legs is not None, planner.reason


def test_without_a_sun_it_leaves_but_does_not_come():
    s = travel(24.6)
    mount, drives = rig(s)
    place(mount, drives, (150_000_000, 50_000_000))
    assert plan(mount, None, s, (0, 24_600_000), LEAVE)[0].legs == [(0, 24_600_000)]
    refused = plan(mount, None, s, (0, 24_600_000), COME)[0]
    assert refused.legs is None and "sun" in refused.reason


@pytest.mark.parametrize(("lat", "lon"), [(24.6, 73.7), (-1.286, 36.817)])
def test_with_the_board_s_own_sun(lat, lon):
    """Leave and come back at each hour of a solstice and an equinox, with air and parallax."""
    s = travel(lat)
    table = SunTable(build_table(date(2026, 1, 1), 2))
    sun = Sun(table, round(lat * 1e6), round(lon * 1e6), 1000.0, 90_000.0, 20.0)
    mount, drives = rig(s)
    home = park(mount, lat)
    on, hours = [0, 0], 0
    for day in (9576, 9668, 9850):  # days since 2000-01-01
        for hour in range(24):
            sun.update(day, hour * 3_600_000)
            if sun.elevation_deg < 10 or not mount.geometry.axes_from_enu(sun.e, sun.n, sun.u, on):
                continue
            hours += 1
            place(mount, drives, on)
            left = plan(mount, sun, s, home, LEAVE)[0]
            assert left.legs is not None, (day, hour)
            place(mount, drives, left.legs[-1])
            evening = sun.ha_udeg > 0
            if evening:  # the way back is asked for at the same hour next morning
                sun.update(day + 1, (hour * 3_600_000 - 2 * sun.ha_udeg * 86_400 // 360_000) % 86_400_000)
                mount.geometry.axes_from_enu(sun.e, sun.n, sun.u, on)
            assert plan(mount, sun, s, on, COME)[0].legs is not None, (day, hour)
    assert hours > 20
