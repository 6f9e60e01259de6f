"""Sizing against handbook numbers and closed forms. Sources beside each check; SI units, degrees."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob import cli
from sunhob.leave_times import LeaveTimes
from sunhob.settings import load_cooker
from sunhob.sizing import drives, gears, judge, motion, supply, torque, wind
from sunhob_sim import scenario


@pytest.mark.parametrize(("altitude_m", "density"), [(0, 1.225), (1750, 1.032), (2500, 0.957)])
def test_air_density_of_the_standard_atmosphere(altitude_m, density):
    # ISO 2533:1975 standard atmosphere
    assert wind.air_density_kg_m3(altitude_m) == pytest.approx(density, abs=0.001)


@pytest.mark.parametrize(
    ("speed", "pressure"), [(5, 15.3), (8, 39.2), (10, 61.2), (12, 88.2), (15, 137.8), (20, 245), (25, 383)]
)
def test_dynamic_pressure(speed, pressure):
    # q = rho v^2 / 2 at 1.225 kg/m3, arithmetic
    assert float(wind.pressure_pa(speed)) == pytest.approx(pressure, rel=2e-3)


def test_wind_coefficients_stay_within_what_is_told_of_paraboloids():
    # ranges told of Cohen/Vellozzi/Suh 1964, JPL 78-16 and SAND92-7009, from memory
    attack = np.arange(0.0, 181.0, 5.0)
    axial, _, moment = wind.coefficients(attack)
    assert 1.4 <= axial.max() <= 1.6 and -1.1 <= axial.min() <= -0.9
    assert 1.0 <= wind.lift(attack).max() <= 1.3
    assert 30 <= attack[wind.lift(attack).argmax()] <= 60
    assert 0.10 <= moment.max() <= 0.20 and 110 <= attack[moment.argmax()] <= 135
    assert wind.drag(0.0) == pytest.approx(1.42, abs=0.15)  # hollow hemisphere 1.42, Data Book p. 95


@pytest.mark.parametrize(("friction", "lead"), [(0.10, 5.91), (0.15, 8.83), (0.20, 11.70)])
def test_self_locking_screw_of_an_actuator(friction, lead):
    # tan(lead) <= mu / cos(15 deg), trapezoidal thread of ISO 2901, machine design text, arithmetic
    assert gears.self_locks_below_deg(friction, screw=True) == pytest.approx(lead, abs=0.01)


def test_a_wind_along_the_dish_axis_turns_nothing():
    upright, level = torque.wind_moments(np.array([0.0]), 1.4, 0.55, 100.0)
    straight = wind.coefficients(0.0)
    assert straight[1] == 0.0 and straight[2] == 0.0
    assert upright[0] > 0.0
    assert level[0] == pytest.approx(0.0, abs=1e-9)  # a level wind cannot tip a dish that looks level


def test_a_builders_own_wind_scales_the_wind_and_nothing_else():
    cooker, own = load_cooker(), load_cooker()
    own.build = own.build.model_copy(update={"wind_factor": 1.3})
    plain, more = torque.torques(cooker, 8.0), torque.torques(own, 8.0)
    for n in (1, 2):
        assert np.allclose(more.total(n) - plain.total(n), 0.3 * getattr(plain, f"wind{n}_n_m"))
    assert plain.wind2_n_m.max() > 0.0


def test_weight_about_axis_2_is_the_closed_form():
    cooker = load_cooker()
    one = torque.torques(cooker, 0.0)
    b = cooker.build
    by_hand = b.lifted_kg * 9.80665 * abs(b.lifted_along_m)
    assert one.weight2_n_m[0] == pytest.approx(by_hand)
    assert one.wind2_n_m.max() == 0.0


def test_torque_grows_with_the_square_of_the_wind():
    cooker = load_cooker()
    slow, fast = torque.torques(cooker, 5.0), torque.torques(cooker, 10.0)
    assert np.allclose(fast.wind1_n_m, 4.0 * slow.wind1_n_m)


@pytest.mark.parametrize(("friction", "lead"), [(0.05, 3.05), (0.10, 6.07), (0.15, 9.07)])
def test_self_locking_worm(friction, lead):
    # tan(lead) <= mu / cos(20 deg), machine design text, arithmetic
    assert gears.self_locks_below_deg(friction) == pytest.approx(lead, abs=0.01)


@pytest.mark.parametrize(
    ("angle", "length", "mm_per_deg"),
    [(30, 0.252170, 6.921), (60, 0.458258, 6.597), (90, 0.640312, 5.452), (100, 0.692430, 4.965)],
)
def test_actuator_on_a_triangle(angle, length, mm_per_deg):
    # law of cosines with a = 0.5 m, b = 0.4 m, worked numbers
    assert float(gears.length_m(angle, 0.5, 0.4)) == pytest.approx(length, abs=1e-6)
    assert float(gears.lever_m(angle, 0.5, 0.4)) * math.pi / 180 * 1000 == pytest.approx(mm_per_deg, abs=1e-3)


@given(st.floats(5.0, 175.0), st.floats(0.1, 2.0), st.floats(0.1, 2.0))
def test_lever_is_the_slope_of_the_length(angle, a, b):
    h = 1e-4
    slope = (gears.length_m(angle + h, a, b) - gears.length_m(angle - h, a, b)) / np.radians(2 * h)
    assert float(gears.lever_m(angle, a, b)) == pytest.approx(float(slope), rel=1e-4, abs=1e-6)


@pytest.mark.parametrize(
    ("way", "speed", "accel", "seconds"),
    [(90, 2, 1, 47), (4, 2, 1, 4), (1, 2, 1, 2), (0.25, 2, 1, 1), (180, 5, 2.5, 38), (10, 0.5, 0.25, 22)],
)
def test_time_of_a_move(way, speed, accel, seconds):
    # trapezoid of speed, worked numbers
    assert motion.move_s(way, speed, accel) == pytest.approx(seconds)


def test_chase_beside_the_zenith():
    # 0.66 deg at 0.5 deg/s on a pass 0.05 deg from the zenith, computed apart from this code
    assert motion.zenith_chase_deg(0.05, 0.5) == pytest.approx(0.66, abs=0.02)
    assert motion.zenith_chase_deg(0.05, 8.0) < 0.1


def test_supply_balances():
    cooker = load_cooker()
    e = supply.energy(cooker)
    assert e["day_wh"] == pytest.approx(e["motors_wh"] + e["rest_wh"] + e["board_wh"])
    kept = e["battery_wh"] - e["days_alone"] * e["day_wh"]
    assert kept == pytest.approx(e["one_leave_wh"])  # one full leave is always left


def test_size_of_the_invented_cooker(capsys, tmp_path):
    picture = tmp_path / "torque.png"
    assert cli.run(["size", "--json", "--plot", str(picture)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["good"] and len(found["findings"]) >= 12
    assert all(f["has"] >= 0 for f in found["findings"])
    assert picture.read_bytes()[:4] == b"\x89PNG"


def test_a_strong_wind_falls_short_and_says_what_to_mend(capsys):
    assert cli.run(["size", "--wind", "18"]) == 1
    told = capsys.readouterr()
    assert "axis 1: torque to turn" in told.err and "gear1_ratio" in told.err
    assert "Nearest to its limit: axis" in " ".join(told.out.split())


def test_bad_wind_is_one_line(capsys):
    assert cli.run(["size", "--wind", "90"]) == 2
    assert capsys.readouterr().err.splitlines()[-1].startswith("sunhob: --wind = 90")


@pytest.mark.parametrize(("change", "step"), [
    ({"drive": "stepper", "steps_per_turn": 288_000}, 0.00125),
    ({"drive": "motor", "pulses_per_turn": 7200.0, "channels": 1}, 0.025),  # 14400 edges a turn
    ({"drive": "motor", "pulses_per_turn": 7200.0, "channels": 2}, 0.0125),
    # a 0.5 m, b 0.4 m, 30 to 100 deg: 4.965 mm a degree at the coarsest, 2 edges to a millimetre
    ({"drive": "actuator", "low_deg": -10.0, "high_deg": 60.0, "pulses_per_mm": 1.0}, 0.5 / 4.965),
])
def test_what_a_drive_can_tell_apart(change, step):
    axis = load_cooker().axis2.model_copy(update=change)
    assert gears.step_deg(axis) == pytest.approx(step, rel=1e-3)


@pytest.mark.parametrize(("foot", "good"), [(0.5, False), (1.2, True)])
def test_an_actuator_that_could_not_be_built_is_told(foot, good):
    cooker = load_cooker()
    change = {"drive": "actuator", "foot_m": foot, "pulses_per_mm": 10.0}
    cooker.axis2 = cooker.axis2.model_copy(update=change)
    found = {f.name: f for f in (*drives.drive_findings(cooker), *judge.fineness_findings(cooker, 0.3))}
    rod = found["axis 2: length of the actuator drawn in beyond its stroke"]
    angles = np.radians([38.0, 132.0])  # -2 to 92 deg with 40 deg between foot and head at 0
    short, long = np.sqrt(foot**2 + 0.16 - 0.8 * foot * np.cos(angles))
    assert rod.has == pytest.approx(2.0 * short - long, abs=1e-6) and rod.good is good
    assert "triangle_deg" in rod.mend and found["axis 2: one count of its pulses"].good


def test_size_takes_the_actuator_of_the_axis_settings():
    axis = load_cooker().axis2.model_copy(update={"drive": "actuator", "low_deg": -10.0, "high_deg": 60.0})
    found = gears.actuator(axis, 100.0)  # a 0.5 m, b 0.4 m, 30 to 100 deg: worked by hand
    assert found["stroke_m"] == pytest.approx(0.692430 - 0.252170, abs=1e-5)
    assert gears.actuator(load_cooker().axis2, 100.0) is None


def rod(axis=2, **change):
    """The invented cooker with an actuator on one axis: a 0.5 m, b 0.4 m, 30 to 100 deg between them."""
    cooker = load_cooker()
    like = {"drive": "actuator", "low_deg": -10.0, "high_deg": 60.0, "pulses_per_mm": 1.0, **change}
    setattr(cooker, f"axis{axis}", getattr(cooker, f"axis{axis}").model_copy(update=like))
    return cooker


def test_force_of_an_actuator_over_its_travel():
    # 100 N m on the levers of the law of cosines: dL/dtheta 6.921 mm a degree at 30 deg, 4.965 at 100
    found = gears.actuator(rod().axis2, 100.0)
    assert found["greatest_force_n"] == pytest.approx(100.0 / (4.965e-3 * 180.0 / math.pi), rel=1e-3)
    assert found["greatest_force_at_deg"] == pytest.approx(60.0)
    reading, force = gears.forces(rod().axis2, 100.0)
    assert np.interp(-10.0, reading, force) == pytest.approx(100.0 / (6.921e-3 * 180.0 / math.pi), rel=1e-3)


def test_an_actuator_is_judged_by_force_speed_and_screw():
    cooker = rod(speed_deg_s=3.0)
    names = {f.name.split(": ")[1]: f for f in drives.drive_findings(cooker) if f.name.startswith("axis 2")}
    assert not [name for name in names if "torque" in name or "worm" in name]
    fast = names["speed of the actuator, for axis2.speed_deg_s"]
    steepest = 0.4 * math.pi / 180.0 * 1000.0  # mm a degree where foot and rod make a right angle: the head
    assert fast.needed == pytest.approx(3.0 * steepest, rel=1e-3) and not fast.good
    at_60 = np.interp(60.0, *weight_and_wind(cooker))
    force = names["force of the actuator in the working wind, 1.5 times over"]
    assert force.needed >= 1.5 * at_60 / (4.965e-3 * 180.0 / math.pi) * 0.999
    cooker.build = cooker.build.model_copy(update={"rod2_force_n": 1.0})
    weak = [f for f in drives.drive_findings(cooker) if "force of the actuator in the working" in f.name]
    assert not weak[0].good and "head_m" in weak[0].mend


def weight_and_wind(cooker):
    one = torque.torques(cooker, cooker.build.working_wind_m_s * cooker.build.gust_factor)
    return one.elevation_deg, one.total(2)


def test_power_is_torque_times_speed():
    cooker = load_cooker()
    power = next(f for f in drives.drive_findings(cooker) if f.name.startswith("axis 1: power"))
    most = float(torque.torques(cooker, 10.5).total(1).max())
    assert power.needed == pytest.approx(most * math.radians(cooker.axis1.speed_deg_s) / 0.35)


def test_a_declination_axis_counts_where_the_sun_is():
    # readings of -28.44 to 28.44 deg: 33.56 deg between foot and head at the coarse end, not 152 at the pole
    axis = rod(low_deg=-28.44, high_deg=90.0, triangle_deg=62.0, foot_m=1.0, head_m=0.36).axis2
    sine, cosine = math.sin(math.radians(33.56)), math.cos(math.radians(33.56))
    lever = 0.36 * sine / math.sqrt(1.0 + 0.36**2 - 0.72 * cosine)
    all_over = gears.step_deg(axis)
    assert gears.step_deg(axis, polar_axis2=True) == pytest.approx(0.5 / (lever * math.pi / 0.18), rel=5e-3)
    assert all_over > 1.8 * gears.step_deg(axis, polar_axis2=True)


def test_the_nearest_limit_is_the_one_with_least_to_spare():
    most = judge.at_most("x", 10.0, 9.9, "", "")
    least = judge.at_least("y", 10.0, 20.0, "", "")
    assert most.spare == pytest.approx(10.0 / 9.9) and least.spare == 2.0
    assert judge.at_most("z", 10.0, 0.0, "", "").spare == math.inf


@pytest.mark.parametrize("name", ["demo", "polar_seasonal", "two_actuators", "season_by_hand"])
def test_the_mounts_of_the_bench_can_be_built(name):
    # their times of leaving are checked where leaving is; here drives, actuators, fineness, supply
    cooker = scenario.cooker_of(scenario.load(name))
    found = judge.size(cooker, LeaveTimes(), 0.4)
    assert [f["name"] for f in found["findings"] if not f["good"]] == []


def test_hours_that_one_axis_alone_cannot_leave_are_told(capsys):
    assert cli.run(["size"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Axis 2 dead or not driven, axis 1 alone: of" in told
    assert "Ah at 12.8 V" in told


def test_an_actuator_gets_a_picture_of_its_force(capsys, tmp_path):
    mine, picture = tmp_path / "mine.toml", tmp_path / "force.png"
    assert cli.run(["new", str(mine)]) == 0
    text = mine.read_text()
    axis2 = text.index("[axis2]")
    mine.write_text(text[:axis2] + text[axis2:].replace('drive = "stepper"', 'drive = "actuator"', 1))
    assert cli.run(["size", str(mine), "--plot", str(picture)]) == 1
    assert picture.read_bytes()[:4] == b"\x89PNG"
    assert "actuator drawn in" in capsys.readouterr().err


@given(st.floats(20.0, 130.0), st.floats(0.2, 0.6))
def test_a_triangle_that_is_proposed_can_be_built(travel, head):
    foot, start = gears.triangle_for(travel, head)
    angle = np.radians(np.linspace(start, start + travel, 500))
    length = np.sqrt(foot**2 + head**2 - 2.0 * foot * head * np.cos(angle))  # law of cosines
    assert 2.0 * length.min() - length.max() >= 0.0999  # drawn in: stroke and 0.1 m
    assert (foot * head * np.sin(angle) / length).min() >= 0.2999 * head
    assert start >= 10.0 and start + travel <= 170.1


def test_no_triangle_gives_most_of_a_turn():
    assert gears.triangle_for(165.0, 0.36) is None


def test_the_proposed_triangle_is_good_once_it_is_set():
    cooker = rod(low_deg=-20.0, high_deg=90.0)
    mend = next(f.mend for f in drives.drive_findings(cooker) if "drawn in" in f.name)
    words = mend.replace(",", " ").split()
    foot, triangle = (float(words[words.index(key) + 2]) for key in ("axis2.foot_m", "axis2.triangle_deg"))
    again = rod(low_deg=-20.0, high_deg=90.0, foot_m=foot, triangle_deg=triangle)
    assert next(f for f in drives.drive_findings(again) if "drawn in" in f.name).good


def test_a_cooker_without_a_battery_is_told_what_it_would_take(capsys, tmp_path):
    mine = tmp_path / "mine.toml"
    assert cli.run(["new", str(mine)]) == 0
    mine.write_text(mine.read_text().replace("battery_ah = 12.0", "battery_ah = 0.0"))
    assert cli.run(["size", str(mine)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "no battery is declared" in told and "a battery of at least" in told
