"""The pot in the plant: light at the true attitude, hands, probes, record, judge. Units: deg, W, s, deg C."""

import dataclasses
import math

import numpy as np
import pytest
from sunhob.errors import UserError
from sunhob.optics.geometry import level_offset, optics_of
from sunhob.optics.intercept import cached_intercept, intercept
from sunhob.run_result import Trace
from sunhob.settings import load_cooker
from sunhob_sim import scenario as sc
from sunhob_sim.hob import Hob
from sunhob_sim.hold_band import hold_band
from sunhob_sim.judge import judge
from sunhob_sim.plant import Plant
from sunhob_sim.pot import Pot
from sunhob_sim.pot_light import PotLight, lag_direction, lag_directions
from sunhob_sim.probes import Probe
from sunhob_sim.sky import Site, Sky, enu
from sunhob_sim.truth import build

SITE = Site(24.6, 73.7, 600.0)  # an invented courtyard
SKY = Sky(SITE, 1_773_291_600, 7300.0)  # 2026-03-12 05:00 UTC, morning there
OPTICS = optics_of(load_cooker())


@pytest.fixture(scope="module")
def light():
    return PotLight(OPTICS)


def attitudes(count=40):
    rng = np.random.default_rng(5)
    azimuth, height = rng.uniform(0, 360, count), rng.uniform(15, 75, count)
    axis = enu(azimuth, height)
    sun = enu(azimuth + rng.uniform(-12, 12, count), height + rng.uniform(-10, 10, count))
    return axis, sun


def test_light_is_that_of_the_ray_trace(light):
    axis, sun = attitudes()
    traced = cached_intercept(OPTICS)
    for a, s in zip(axis, sun, strict=True):
        lag, elevation, direction = lag_direction(a, s)
        share = float(np.ravel(traced.at(lag, elevation, direction, "absorbed"))[0])
        expected = 900.0 * OPTICS.returned * OPTICS.aperture_m2 * share
        assert sum(light.watts(a, s, 900.0)) == pytest.approx(expected, abs=0.5)
    assert light.shares(axis, sun) * 900.0 * light.w_per_share == pytest.approx(
        [sum(light.watts(a, s, 900.0)) for a, s in zip(axis, sun, strict=True)], abs=0.5)
    assert light.watts(axis[0], -axis[0], 900.0) == (0.0, 0.0)
    assert light.watts(axis[0], sun[0], 0.0) == (0.0, 0.0)


def test_lag_and_direction_by_hand():
    # dish looks north at 40 deg up: a sun 5 deg higher is straight up, one more clockwise is to the right
    axis = enu(0.0, 40.0)
    suns = ((0.0, 45.0, 0.0), (0.0, 35.0, 180.0), (6.0, 40.0, 90.0), (-6.0, 40.0, 270.0))
    for azimuth, height, direction in suns:
        lag, elevation, way = lag_direction(axis, enu(azimuth, height))
        assert elevation == pytest.approx(40.0)
        assert (way - direction + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=2.5)
        assert lag == pytest.approx(5.0 if azimuth == 0.0 else 6.0 * math.cos(math.radians(40.0)), abs=0.01)
    several = lag_directions(np.stack([axis]), np.stack([enu(6.0, 40.0)]))
    assert [float(one[0]) for one in several] == pytest.approx(lag_direction(axis, enu(6.0, 40.0)), abs=1e-6)


def test_a_pot_set_down_beside_the_focus(light):
    beside = PotLight(OPTICS, 15.0, 70.0)
    east_north = 0.015 * math.sin(math.radians(70.0)), 0.015 * math.cos(math.radians(70.0))
    apart = []
    for azimuth, height, lag in ((120.0, 50.0, 8.0), (200.0, 40.0, 7.0), (70.0, 40.0, 9.0)):
        moved = level_offset((*east_north, 0.0), azimuth)
        axis, sun = enu(azimuth, height), enu(azimuth, height + lag)
        traced = intercept(OPTICS, [lag], [height], [0.0], rays=1 << 14, offset_m=moved, jobs=1)
        expected = 900.0 * OPTICS.returned * OPTICS.aperture_m2 * float(traced.absorbed[0, 0, 0])
        full = 0.9 * beside.true.full_heat_w_at_1000
        assert sum(beside.watts(axis, sun, 900.0)) == pytest.approx(expected, abs=0.025 * full)
        apart.append(abs(sum(light.watts(axis, sun, 900.0)) - expected) / full)
    assert max(apart) > 0.06  # the offset matters, so the check above could fail


def test_a_probe_follows_with_its_lag():
    # first-order lag: 63.2 % of a step after one time constant
    probe = Probe(20.0, 8.0, 0.0, seed=1)
    for k in range(1, 9):
        probe.follow(100.0, k * 1_000_000)
    assert probe.read(8_000_000) == pytest.approx(20.0 + 80.0 * (1.0 - math.exp(-1.0)), abs=1e-6)
    noisy = Probe(50.0, 8.0, 0.2, seed=1)
    told = [noisy.read(k * 500_000) for k in range(1000)]
    assert np.std(told) == pytest.approx(0.2, rel=0.1)
    noisy.fault = "short"
    assert noisy.read(0) == "short"


def plant_with(light, **pot):
    hob = Hob(Pot(**pot), light, 25.0, seed=3)
    plant = Plant({}, SKY, hob=hob)
    sun = np.array(SKY.sun_at(0.0))
    for axis, deg in zip(plant.axes, plant.mount.axes_for(sun, plant.axes_deg), strict=True):
        axis.motor_deg = axis.load_deg = deg
    return plant, hob


def test_a_dish_left_standing_heats_until_the_sun_has_walked_off(light):
    plant, hob = plant_with(light, water_kg=4.0)
    plant.advance(7_200_000_000)
    row = hob.record()
    assert row["absorbed_w"][1] > 500.0
    assert row["absorbed_w"][-1] < 5.0
    assert row["contents_c"].max() > 40.0 > row["contents_c"][0]
    book = hob.pot.ledger
    # the record's own light, summed by trapezoids, is what the pot booked
    assert np.trapezoid(row["absorbed_w"], row["t_s"]) == pytest.approx(book.absorbed_j, rel=2e-3)
    assert abs(hob.pot.imbalance_j()) < 1e-3 * book.absorbed_j


def test_a_lifted_pot_gets_no_light_and_its_probes_are_open(light):
    plant, hob = plant_with(light, water_kg=2.0)
    plant.advance(300_000_000)
    assert isinstance(plant.probe_c(0, plant.now_us), float)
    hob.place(plant, False)
    warm, booked = hob.pot.contents_c, hob.pot.ledger.absorbed_j
    assert (plant.probe_c(0, plant.now_us), plant.probe_c(1, plant.now_us)) == ("open", "open")
    plant.advance(600_000_000)
    assert hob.pot.ledger.absorbed_j == booked
    assert hob.pot.contents_c < warm + 1.0  # its hot metal may still warm it a little
    hob.place(plant, True)
    plant.probes[1].fault = "frozen"
    assert plant.probe_c(1, plant.now_us) == "frozen"
    plant.advance(660_000_000)
    assert hob.pot.ledger.absorbed_j > booked


def test_the_box_as_a_stage_after(light):
    plant, hob = plant_with(light, water_kg=5.0, start_c=95.0)
    hob.deed("box", 1.0)
    plant.advance(3_600_000_000)
    # 5 kg and the metal lose 1 W/K to 25 degC: T = Ta + (T0 - Ta) exp(-t UA / C)
    heat_j_k = 5.0 * 4208.0 + 1350.0 + 20.0
    assert hob.box.temp_c == pytest.approx(25.0 + 70.0 * math.exp(-3600.0 / heat_j_k), abs=0.1)
    assert hob.record()["absorbed_w"][-1] == 0.0
    hob.place(plant, True)
    assert hob.box is None
    assert hob.pot.contents_c == pytest.approx(70.0 * math.exp(-3600.0 / heat_j_k) + 25.0, abs=0.1)
    assert abs(hob.pot.imbalance_j()) < 100.0


def test_an_overheated_pot_is_a_hazard_only_while_it_is_heated(light):
    plant, _ = plant_with(light, water_kg=2.0)
    plant.advance(600_000_000)
    truth = build(plant)
    assert not [h for h in judge(truth) if h["kind"] == "pot_too_hot"]
    hot = truth.pot | {"underside_c": np.full(len(truth.t_s), 260.0)}
    found = judge(dataclasses.replace(truth, pot=hot))
    assert [h["kind"] for h in found].count("pot_too_hot") == 1
    cold = hot | {"absorbed_w": np.zeros(len(truth.t_s))}
    assert not [h for h in judge(dataclasses.replace(truth, pot=cold)) if h["kind"] == "pot_too_hot"]


def test_mistakes_about_the_pot_are_listed_with_line_value_and_limit():
    text = """name = "a"
start = 2026-03-12T05:00:00Z
hours = 1

[pot]
food = "gravel"
water_kg = -1
finish = "green"

[[action]]
at = "05:01"
do = "serve"

[[action]]
at = "05:02"
do = "add_water"
value = 900

[[action]]
at = "05:03"
do = "stir"
value = 2
"""
    with pytest.raises(UserError) as caught:
        sc.parse(text)
    said = str(caught.value)
    for words in ("line 6: pot.food = gravel", "line 7: pot.water_kg = -1", "line 8: pot.finish = green",
                  "serve needs value = 1 to 100 percent", "value 900 of add_water is not 0.01 to 20 kg",
                  "stir takes no value"):
        assert words in said, said
    with pytest.raises(UserError, match="food_kg is missing; give the kg of rice"):
        sc.parse('name = "a"\nstart = 2026-03-12T05:00:00Z\nhours = 1\n[pot]\nfood = "rice"\n')


def held(contents_c, beam_w_m2, events=()):
    count = len(contents_c)
    blank = np.zeros(count)
    trace = Trace(np.arange(count, dtype=float), *([blank] * 9), np.asarray(beam_w_m2, dtype=float), blank,
                  np.asarray(contents_c, dtype=float))
    return hold_band(trace, [{"do": "link_pot", "t_s": 0.0, "value": 80.0}], list(events), 250.0)


def test_the_band_is_counted_from_when_it_is_reached_and_under_sun():
    # 100 s of warming, 300 s at the wish, 100 s of cloud below the band, 100 s of sun below it
    contents = [60.0] * 100 + [80.5] * 300 + [75.0] * 200
    beam = [900.0] * 400 + [50.0] * 100 + [900.0] * 100
    turn = {"name": "dial", "t_s": 250.0, "a": 400, "b": 0}
    got = held(contents, beam, [turn | {"t_s": 50.0, "a": 1000}, turn, turn | {"t_s": 300.0}])
    assert got["hold_reached_s"] == 100.0
    assert got["hold_in_band"] == pytest.approx(300.0 / 400.0)
    assert got["hold_overshoot_k"] == 0.5
    assert got["hold_moves_per_hour"] == pytest.approx(3600.0 / 499.0, abs=0.06)


def test_a_pot_that_comes_down_to_the_wish_overshoots_once_it_was_there():
    got = held([95.0 - 0.1 * k for k in range(160)] + [79.0, 81.2, 80.0], [900.0] * 163)
    assert got["hold_overshoot_k"] == pytest.approx(1.2)


def test_a_wish_never_reached_and_none_at_all():
    got = held([60.0] * 50, [900.0] * 50)
    assert got["hold_in_band"] == 0.0 and math.isnan(got["hold_reached_s"])
    trace = Trace(*([np.zeros(3)] * 12))
    assert hold_band(trace, [], [], 250.0) == {}
