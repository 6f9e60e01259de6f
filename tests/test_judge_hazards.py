"""Every kind of hazard is found when it is there, and only then. Units: degrees, seconds."""

import dataclasses
from datetime import datetime

import numpy as np
import pytest
from sunhob_sim import pins
from sunhob_sim.judge import judge
from sunhob_sim.judge_leave import leave_s
from sunhob_sim.judge_loose import stranded
from sunhob_sim.judge_one_axis import OneAxis
from sunhob_sim.plant import Plant
from sunhob_sim.sky import Site, Sky
from sunhob_sim.truth import build, dec_ha_deg, elevation_deg, from_dec_ha, separation_deg, trailing

SITE = Site(24.6, 73.7, 600.0)  # an invented courtyard
SKY = Sky(SITE, 1_773_291_600, 7300.0)  # 2026-03-12 05:00 UTC, morning there
STILL = {"axis1.backlash_deg": 0.0, "axis2.backlash_deg": 0.0}


class Script:
    """Sets the true axes as told and lets the plant record it."""

    def __init__(self):
        self.plant = Plant(STILL, SKY)
        self.plant.outputs({pins.MOTOR_ENABLE: 1})

    def put(self, direction, moving=3):
        plant = self.plant
        goal = plant.mount.axes_for(direction, plant.axes_deg)
        plant._record()
        for axis, deg in zip(plant.axes, goal, strict=True):
            axis.motor_deg = axis.load_deg = deg
        plant._moving = moving
        plant.now_us += 200_000
        plant._record()
        plant._moving = 0
        plant._record()

    def behind(self, lag_deg):
        """Aim `lag_deg` behind the sun, at once."""
        sun = np.array(SKY.sun_at(self.plant.now_us / 1e6))
        self.put(trailing(sun, lag_deg, SITE))

    def wait(self, seconds):
        end = self.plant.now_us + int(seconds * 1e6)
        while self.plant.now_us < end:
            self.plant.advance(min(end, self.plant.now_us + 5_000_000))

    def cook(self, seconds, lag_deg=0.02):
        """Follow the sun."""
        for _ in range(int(seconds / 10)):
            self.behind(lag_deg)
            self.wait(9.8)

    def warn(self, seconds=3.0):
        self.plant.outputs({pins.BUZZER: 1})
        self.wait(seconds)
        self.plant.outputs({pins.BUZZER: 0})

    def arm(self):
        self.plant.press(pins.ARM, self.plant.now_us + 1000)
        self.wait(1.0)

    def kinds(self, **how):
        return [row["kind"] for row in judge(build(self.plant), **how)]


def pole():
    lat = np.radians(SITE.latitude_deg)
    return np.array([0.0, np.cos(lat), np.sin(lat)])


@pytest.fixture
def day():
    """Armed, warned and come to the sun."""
    script = Script()
    script.wait(30)
    script.arm()
    script.warn()
    script.behind(0.02)
    return script


def test_a_proper_session_has_none(day):
    day.cook(600)
    day.warn()
    day.cook(300, lag_deg=7.0)
    day.warn()
    day.put(pole())
    day.wait(300)
    assert day.kinds() == []
    assert stranded(build(day.plant)) == []


def test_coming_unarmed():
    script = Script()
    script.wait(30)
    script.warn()
    script.behind(0.02)
    script.cook(60)
    assert script.kinds() == ["unarmed_return"]
    assert script.kinds(armed_s=[20.0]) == []


def test_an_arming_ends_with_leave(day):
    day.plant.press(pins.LEAVE, day.plant.now_us + 1000)
    day.wait(2)
    day.put(pole())
    day.wait(60)
    day.warn()
    day.behind(0.02)
    assert day.kinds() == ["unarmed_return"]


def test_an_arming_ends_with_a_leave_that_a_host_asked_for(day):
    told_s = day.plant.now_us / 1e6
    day.put(pole())
    day.wait(60)
    day.warn()
    day.behind(0.02)
    assert day.kinds() == []
    assert day.kinds(ended_s=[told_s]) == ["unarmed_return"]


def test_dwelling_in_loose_light(day):
    day.cook(60)
    day.warn()
    day.behind(30.0)
    day.wait(400)
    assert day.kinds() == ["loose_light"]


@pytest.mark.parametrize(("pressed", "tarried_s", "kinds"), [
    (pins.LEAVE, 0, []), (pins.ASIDE, 0, []), (pins.CONFIRM, 0, ["loose_light"]),
    (pins.LEAVE, 20, ["loose_light"]), (pins.ASIDE, 20, ["loose_light"]), ("pot", 0, []),
    ("pot", 20, ["loose_light"]), ("board", 0, []), ("board", 20, ["loose_light"])])
def test_turned_back_on_its_way_to_the_sun_each_way_has_its_own_time(day, pressed, tarried_s, kinds):
    """50 deg each way in 20 s; from there a leave may take 16 s, from the edge 27, and 10 more."""
    day.warn()
    lags = np.arange(80.0, 25.0, -0.5)
    for lag in lags:
        day.behind(lag)
    day.wait(tarried_s)
    day.plant._moving = 3
    day.plant._record()
    row = len(build(day.plant).t_s) - 1
    if pressed not in ("pot", "board"):
        day.plant.set_input(pressed, 0)
    day.plant._moving = 0
    day.warn()
    for lag in lags[::-1]:
        day.behind(lag)
    truth = build(day.plant)
    if pressed == "board":
        truth.turned_s = [float(truth.t_s[row])]
    if pressed == "pot":  # lifted then
        truth.pot = {"on_hob": (np.arange(len(truth.t_s)) < row).astype(float),
                     "underside_c": np.full(len(truth.t_s), 20.0), "absorbed_w": np.zeros(len(truth.t_s))}
    assert [row["kind"] for row in judge(truth) if row["kind"] == "loose_light"] == kinds


def test_loose_light_under_cover_is_none(day):
    day.plant.covered = True
    day.behind(30.0)
    day.wait(400)
    assert day.kinds() == []


def test_told_and_powerless_is_stranded(day):
    day.plant.set_input(pins.STOP_CHAIN, 0)
    day.plant.outputs({pins.LAMP_FAULT: 1})
    day.wait(5400)
    assert day.kinds() == []
    assert [row["kind"] for row in stranded(build(day.plant))] == ["stranded"]


def test_powerless_and_not_told_is_a_hazard(day):
    day.plant.set_input(pins.STOP_CHAIN, 0)
    day.wait(5400)
    assert day.kinds() == ["loose_light"]


def both_dead(plant):
    plant.axes[0].dead = plant.axes[1].dead = True


def one_dead(plant):
    plant.axes[0].dead = True


def no_supply(plant):
    plant.supply = False


@pytest.mark.parametrize(("fault", "alarm", "kinds", "apart"), [
    (both_dead, 1, [], ["stranded"]), (both_dead, 0, ["loose_light"], []),
    (one_dead, 1, ["loose_light"], []),
    (no_supply, 0, [], ["stranded"]),  # no power is left to sound the alarm with
])
def test_what_cannot_move_is_stranded_if_it_was_told(day, fault, alarm, kinds, apart):
    fault(day.plant)
    day.plant.outputs({pins.LAMP_FAULT: alarm})
    day.wait(5400)
    assert day.kinds() == kinds
    assert [row["kind"] for row in stranded(build(day.plant))] == apart


def test_times_in_which_it_could_have_left_count(day):
    day.plant.set_input(pins.STOP_CHAIN, 0)
    day.plant.outputs({pins.LAMP_FAULT: 1})
    day.wait(4200)
    day.plant.set_input(pins.STOP_CHAIN, 1)
    day.wait(1200)  # a fifth of the stay, and many times what a leave takes
    assert day.kinds() == ["loose_light"]


@pytest.mark.parametrize(("slow", "kinds"), [(1, []), (3, ["loose_light"])])
def test_stopped_deep_in_it_has_the_time_of_a_leave_from_there(slow, kinds):
    """From 80 deg off the sun to 20 and back, on the side of the park, ten minutes of an open stop chain
    between: 14 s in loose light each way, in all less than a leave from 20 deg off may take and its 10 s."""
    script = Script()
    script.wait(15)
    script.plant.outputs({pins.LAMP_FAULT: 1})
    sun = np.array(SKY.sun_at(0.0))
    side = pole() - (pole() @ sun) * sun
    side /= np.linalg.norm(side)
    legs = np.repeat(np.arange(80.0, 20.0, -0.8), slow)

    def go(lags):
        for lag in np.radians(lags):
            script.put(np.cos(lag) * sun + np.sin(lag) * side)

    go(legs)
    script.plant.set_input(pins.STOP_CHAIN, 0)
    script.wait(600)
    script.plant.set_input(pins.STOP_CHAIN, 1)
    go(legs[::-1])
    assert [kind for kind in script.kinds() if kind == "loose_light"] == kinds


@pytest.mark.parametrize(("weak", "alarm", "slow", "kinds"), [
    ((), 1, 2.5, ["loose_light"]), (((1, 0.4, 0.0, 1e5), (2, 0.4, 0.0, 1e5)), 1, 2.5, []),
    (((1, 0.2, 0.0, 1e5), (2, 0.2, 0.0, 1e5)), 1, 5.0, []),
    (((1, 0.2, 0.0, 1e5), (2, 0.2, 0.0, 1e5)), 0, 5.0, ["loose_light"]),
    (((1, 0.4, 0.0, 10.0), (2, 0.4, 0.0, 10.0)), 1, 2.5, ["loose_light"]),
    (((1, 0.4, 0.0, 1e5), (2, 0.4, 0.0, 1e5)), 1, 6.0, ["loose_light"]),
])
def test_drives_that_lose_steps_leave_as_fast_as_they_can(weak, alarm, slow, kinds):
    """Parked beyond, moved into the light and out of it again as a leave goes, `slow` times as long. Counted
    apart where the drives keep but a share of their steps and the alarm was given."""
    script = Script()
    script.wait(15)
    sun = np.array(SKY.sun_at(0.0))
    side = pole() - (pole() @ sun) * sun
    side /= np.linalg.norm(side)
    script.put(sun)
    row = len(build(script.plant).t_s) - 1
    planned_s = leave_s(build(script.plant), row)
    script.plant.outputs({pins.LAMP_FAULT: alarm})
    script.plant.covered = True
    lags = np.radians(np.arange(20.0, 80.0, 0.5))
    script.put(np.cos(lags[0]) * sun + np.sin(lags[0]) * side)
    script.plant.covered = False
    for lag in lags:
        script.put(np.cos(lag) * sun + np.sin(lag) * side)
        script.wait(max(0.0, slow * planned_s / len(lags) - 0.2))
    found = [kind for kind in script.kinds(one=OneAxis(weak=weak)) if kind == "loose_light"]
    assert found == kinds
    apart = [one["kind"] for one in stranded(build(script.plant), one=OneAxis(weak=weak))]
    assert apart == (["cannot_leave"] if not kinds else [])


@pytest.mark.parametrize(("on_s", "off_s", "kinds"), [(3.0, 5397.0, ["loose_light"]), (3.0, 50.0, [])])
def test_one_beep_is_no_alarm(day, on_s, off_s, kinds):
    day.plant.set_input(pins.STOP_CHAIN, 0)
    for _ in range(int(5400 / (on_s + off_s))):
        day.plant.outputs({pins.BUZZER: 1})
        day.wait(on_s)
        day.plant.outputs({pins.BUZZER: 0})
        day.wait(off_s)
    assert day.kinds() == kinds


def test_stranded_wants_the_times_told_where_they_can_be(day):
    both_dead(day.plant)
    day.plant.outputs({pins.LAMP_FAULT: 1})
    day.wait(5400)
    loose_s = next(t for t, away in zip(*lags(day), strict=True) if t > 90.0 and away > 15.0)
    assert day.kinds(one=OneAxis()) == ["loose_light"]
    assert day.kinds(one=OneAxis(told=[(loose_s, 80, 300)])) == []
    assert day.kinds(one=OneAxis(told=[(loose_s - 7200.0, 80, 300)])) == ["loose_light"]  # of another stay
    assert day.kinds(one=OneAxis(unknowing=[(60.0, 9000.0)])) == []  # it knows neither place nor clock


def test_a_while_without_supply_owes_no_times_and_the_leave_after_it_has_its_own(day):
    """The rows of a leave are many, its seconds few: what counts is when nothing could turn."""
    no_supply(day.plant)
    day.wait(5400)
    day.plant.supply = True
    day.plant.outputs({pins.LAMP_FAULT: 1})
    day.warn()
    for lag in np.arange(25.0, 80.0, 0.5):
        day.behind(lag)  # 0.2 s
    assert day.kinds(one=OneAxis()) == []
    assert [row["kind"] for row in stranded(build(day.plant), one=OneAxis())] == ["stranded"]
    day.warn()
    day.behind(30.0)
    both_dead(day.plant)
    day.wait(600)  # with power, and nobody told when it ends
    assert day.kinds(one=OneAxis()) == ["loose_light"]


def lags(day):
    true = build(day.plant)
    return true.t_s, true.separation_deg


def test_without_supply_nothing_turns(day):
    no_supply(day.plant)
    before = day.plant.axes_deg
    day.plant.axes[0].turn(500, day.plant.powered, 1.0)
    assert day.plant.axes_deg == before and not day.plant.powered


def test_a_bump_is_judged_with_the_mount_that_stood_then(day):
    day.cook(120)
    bump_s = day.plant.now_us / 1e6
    mount = day.plant.mount
    day.plant.stand(dataclasses.replace(mount, north_deg=mount.north_deg + 40.0))
    day.wait(400)
    true = build(day.plant)
    assert true.separation_deg[(true.t_s > 40) & (true.t_s < bump_s)].max() < 0.1
    assert true.separation_deg[true.t_s > bump_s].min() > 15.0
    even = build(day.plant, np.arange(0.0, bump_s + 300.0))
    assert even.separation_deg[int(bump_s) - 2] < 0.1 and even.separation_deg[-1] > 15.0
    found = judge(true, untrue_s=[(bump_s, float("inf"))])
    assert [row["kind"] for row in found] == ["ahead_of_sun", "loose_light"]  # nobody ended it in a minute
    at = datetime.fromisoformat(found[0]["at_utc"]).timestamp() - SKY.start_unix
    assert at == pytest.approx(bump_s, abs=0.01)


def test_ahead_of_the_sun(day):
    day.cook(60)
    day.cook(60, lag_deg=-0.3)
    assert set(day.kinds()) == {"ahead_of_sun"}
    assert day.kinds(true_from_s=float("inf")) == []
    assert day.kinds(untrue_s=[(0.0, 1e5)]) == []
    assert day.kinds(untrue_s=[(0.0, 60.0)]) == day.kinds()
    day.cook(60, lag_deg=-4.0)
    assert day.kinds(untrue_s=[(0.0, 1e5)]) == []
    day.cook(90, lag_deg=-5.0)  # so far ahead, and longer than a minute: it should have been seen
    assert day.kinds(untrue_s=[(0.0, 1e5)]) == ["ahead_of_sun"]


@pytest.mark.parametrize(("off_deg", "kinds"), [(3.7, []), (4.3, ["ahead_of_sun"])])
def test_so_near_the_pole_nothing_is_ahead_of_the_sun(off_deg, kinds):
    """On a summer's morning: there its sun comes nearer by a degree an hour."""
    sky = Sky(SITE, 1_781_240_400, 7300.0)  # 2026-06-12 05:00 UTC
    script = Script()
    script.plant = Plant(STILL, sky)
    script.plant.outputs({pins.MOTOR_ENABLE: 1})
    sun = np.array(sky.sun_at(0.0))
    dec, ha = (float(x) for x in dec_ha_deg(sun, SITE.latitude_deg))
    script.put(from_dec_ha(90.0 - off_deg, ha + 90.0, SITE.latitude_deg))
    script.wait(5)
    true = build(script.plant)
    assert true.separation_deg[-1] < 75.0 and dec > 20.0
    assert [kind for kind in script.kinds() if kind == "ahead_of_sun"] == kinds
    later = separation_deg(true.aim[-1], np.array(sky.sun_at(3600.0)))
    assert 0.0 < true.separation_deg[-1] - later < np.radians(off_deg) * 15.1


@pytest.mark.parametrize(("fault", "alarm", "told", "kinds"), [
    (both_dead, 1, 1, []), (both_dead, 1, 0, ["ahead_of_sun"]), (both_dead, 0, 1, ["ahead_of_sun"]),
    (one_dead, 1, 1, ["ahead_of_sun"]), (no_supply, 0, 0, []),
])
def test_a_dish_that_nothing_can_turn_cannot_help_looking_ahead(day, fault, alarm, told, kinds):
    """Uncovered where it lies 8 deg ahead, dead: the sun goes over it, which takes half an hour."""
    day.cook(30)
    day.plant.covered = True
    day.behind(-8.0)
    fault(day.plant)
    day.plant.outputs({pins.LAMP_FAULT: alarm})
    day.wait(20)
    dead_s = day.plant.now_us / 1e6
    day.plant.covered = False
    day.wait(600)
    times = OneAxis(told=[(dead_s, 100, 300)] if told else ())
    assert [kind for kind in day.kinds(one=times) if kind == "ahead_of_sun"] == kinds
    day.plant.axes[0].dead = day.plant.axes[1].dead = False
    day.plant.supply = True
    day.wait(10)  # it could turn, and does not
    assert "ahead_of_sun" in day.kinds(one=times)


def test_half_a_deadband_ahead_is_no_hazard(day):
    day.cook(300, lag_deg=-0.04)
    assert day.kinds() == []


def test_motion_with_the_chain_open(day):
    day.cook(60)
    day.plant.set_input(pins.STOP_CHAIN, 0)
    day.behind(5.0)
    assert "motion_chain_open" in day.kinds()


@pytest.mark.parametrize(("drive", "moving", "went_deg", "after_s", "found"), [
    ("motor", 3, 0.2, 0.2, False), ("actuator", 1, 0.2, 0.2, False),
    ("stepper", 3, 0.2, 0.2, True), ("motor", 2, 0.2, 0.2, True),  # axis 1 stood as the chain was opened
    ("motor", 3, 4.0, 0.2, True), ("motor", 3, 0.2, 0.8, True),  # too far to run out, or too long
])
def test_a_motor_cut_off_runs_out_and_a_stepper_does_not(day, drive, moving, went_deg, after_s, found):
    plant = day.plant
    day.wait(10)
    plant._moving = moving
    plant._record()
    plant.set_input(pins.STOP_CHAIN, 0)
    plant.now_us += int(after_s * 1e6)
    plant.axes[0].motor_deg += went_deg
    plant.axes[0].load_deg += went_deg
    plant._moving = 1
    plant._record()
    plant._moving = 0
    day.wait(10)
    truth = build(plant)
    truth = dataclasses.replace(truth, flat={**truth.flat, "axis1.drive": drive})
    assert ("motion_chain_open" in [row["kind"] for row in judge(truth)]) == found


def test_no_warning_off_the_sun(day):
    day.cook(30)
    day.warn()
    day.put(pole())
    day.wait(60)
    day.put(trailing(np.array(SKY.sun_at(day.plant.now_us / 1e6)), 80.0, SITE))
    assert day.kinds() == ["no_warning"]


def test_a_leave_that_was_not_announced(day):
    """From the pot a step after the sun is silent; a whole leave is not."""
    day.cook(30)
    day.put(pole())
    assert day.kinds() == ["no_warning"]


def test_clicks_of_a_buzzer_are_no_warning(day):
    day.wait(15)
    for _ in range(12):
        day.warn(0.1)
        day.wait(0.5)
    day.put(pole())
    assert day.kinds() == ["no_warning"]


@pytest.mark.parametrize(("flashes", "mute", "found"), [
    (4, True, []), (1, True, ["no_warning"]), (4, False, ["no_warning"])])
def test_a_lamp_that_flashes_warns_in_place_of_a_dead_buzzer(day, flashes, mute, found):
    day.wait(15)
    for _ in range(flashes):
        day.plant.outputs({pins.LAMP_FAULT: 1})
        day.wait(0.4)
        day.plant.outputs({pins.LAMP_FAULT: 0})
        day.wait(0.4)
    day.put(pole())
    assert day.kinds(mute_s=[(0.0, 1e9)] if mute else []) == found


def test_a_drive_that_turns_unasked_excuses_no_other(day):
    day.cook(30)
    day.warn()
    day.put(pole())
    day.wait(60)
    at_s = day.plant.now_us / 1e6
    day.put(trailing(np.array(SKY.sun_at(at_s)), 80.0, SITE))
    astray = [(1, at_s - 5.0, at_s + 5.0), (2, at_s - 5.0, at_s + 5.0)]
    assert day.kinds(astray_s=astray) == []
    assert day.kinds(astray_s=astray[:1]) == day.kinds(astray_s=astray[1:]) == ["no_warning"]


@pytest.mark.parametrize(("seconds", "found"), [(3.0, False), (0.0, True)])
def test_the_other_axis_may_follow_late_in_a_motion_that_was_warned_of(day, seconds, found):
    """Axis 2 strays and is driven first; axis 1 goes 20 s after the warning, in the same motion."""
    day.wait(15)
    if seconds:
        day.warn(seconds)
    at_s = day.plant.now_us / 1e6
    for k, moving in ((1, 10), (0, 15)):
        day.plant._record()
        day.plant.axes[k].motor_deg = day.plant.axes[k].load_deg = day.plant.axes_deg[k] + 10.0
        for _ in range(10):
            day.plant._moving = moving
            day.plant.now_us += 2_000_000
            day.plant._record()
    day.plant._moving = 0
    day.plant._record()
    assert ("no_warning" in day.kinds(astray_s=[(2, at_s - 5.0, at_s + 60.0)])) == found


def test_pushing_a_stop(day):
    day.cook(30)
    day.plant.axes[1].pushing_s = 2.5
    day.plant._record()
    assert day.kinds() == ["pushing_stop"]


def test_hour_angle_and_declination_of_the_sun():
    # at the equinox the declination is near 0; the hour angle gains 15 deg an hour
    sky = Sky(SITE, 1_774_018_800, 7200.0)  # 2026-03-20 15:00 UTC, equinox 14:46
    dec, ha = dec_ha_deg(sky.sun_array([0.0, 3600.0]), SITE.latitude_deg)
    assert dec[0] == pytest.approx(0.0, abs=0.1)
    noonish = Sky(SITE, 1_773_291_600, 7200.0)
    _, ha = dec_ha_deg(noonish.sun_array([0.0, 3600.0]), SITE.latitude_deg)
    assert ha[1] - ha[0] == pytest.approx(15.0, abs=0.02)


def test_directions_go_there_and_back():
    dec, ha = dec_ha_deg(from_dec_ha([10.0, -20.0], [30.0, -70.0], -33.0), -33.0)
    assert dec == pytest.approx([10.0, -20.0])
    assert ha == pytest.approx([30.0, -70.0])


def test_the_trailing_point_is_where_the_sun_was():
    t = np.array([4000.0])
    sun = SKY.sun_array(t)
    then = SKY.sun_array(t - 1200.0)
    lag = separation_deg(sun, then)
    assert separation_deg(trailing(sun, lag, SITE), then)[0] < 0.01
    assert separation_deg(trailing(sun, 6.0, SITE), sun)[0] == pytest.approx(6.0, abs=0.01)
    assert elevation_deg(sun)[0] > 30.0


@pytest.mark.parametrize("beyond_deg", [60.0, -60.0])
def test_a_leave_that_the_sun_stands_in_the_way_of_goes_over_the_zenith(beyond_deg):
    """By hand, from speed and acceleration in the invented dish's settings; the park lies to the north."""
    script = Script()
    flat, lat = script.plant.flat, SITE.latitude_deg
    e, n, u = SKY.sun_at(0.0)
    az, el = float(np.degrees(np.arctan2(e, n))), float(np.degrees(np.arcsin(u)))
    for k, deg in enumerate((az + beyond_deg, el)):
        script.plant.set_axis(k, deg)

    def seconds(axis, *ways_deg):
        speed, accel = flat[f"axis{axis}.speed_deg_s"], flat[f"axis{axis}.accel_deg_s2"]
        return sum(abs(deg) / speed + speed / accel for deg in ways_deg)

    by_hand = seconds(1, az + beyond_deg)  # the park's bearing reads 0
    by_hand += seconds(2, 90.0 - el, 90.0 - lat) if beyond_deg > 0.0 else seconds(2, el - lat)
    assert leave_s(build(script.plant), -1) == pytest.approx(by_hand, abs=0.1)
