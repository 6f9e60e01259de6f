"""The hand-turned dish: the sun walks off between visits, never more heat than a dish held on the sun."""

import numpy as np
import pytest
from sunhob.optics.geometry import optics_of
from sunhob.settings import load_cooker
from sunhob_sim.by_hand import Day, hand_day
from sunhob_sim.hob import Hob
from sunhob_sim.pot import Pot
from sunhob_sim.pot_light import PotLight
from sunhob_sim.sky import Site, Sky
from sunhob_sim.wind import Wind

_SITE = Site(21.15, 79.05, 310.0, 29.0)
_START = 1773291600.0  # 2026-03-12 05:00 UTC


@pytest.fixture(scope="module")
def light():
    return PotLight(optics_of(load_cooker()))


def _day(light, every_min=10.0, asked=1.0, set_c=np.nan, deeds=(), hours=2.0):
    t = np.arange(0.0, 3600.0 * hours, 10.0)
    sky = Sky(_SITE, _START, 3600.0 * hours)
    day = Day(t, np.full_like(t, asked), np.full_like(t, set_c), np.ones_like(t), deeds)
    calm = Wind(0.0, 0.0, 3600.0 * hours, 1)
    got = hand_day(sky, day, Hob(Pot(water_kg=4.0), light, 29.0), calm, every_min)
    full = float(np.mean(sky.beam(t) * light.full_share(sky.sun_array(t)))) * light.w_per_share
    return got, asked * full * 3600.0 * hours


def test_ten_minutes_of_walk_cost_heat_and_oftener_costs_less(light):
    rare, held = _day(light, 20.0)
    usual, _ = _day(light, 10.0)
    often, _ = _day(light, 2.0)
    heats = [one.figures["delivered_j"] for one in (rare, usual, often)]
    assert heats[0] < heats[1] < heats[2] < 1.001 * held
    assert 12 <= usual.figures["touches"] <= 13


def test_nothing_is_asked_nothing_is_delivered(light):
    got, _ = _day(light, asked=0.0)
    assert got.figures["delivered_j"] == 0
    assert got.figures["touches"] == 0
    assert got.contents_c.max() < 29.1


def test_dialled_down_it_never_gets_more_than_was_asked(light):
    got, held = _day(light, asked=0.6)
    assert got.figures["delivered_j"] < 1.001 * held


def test_its_own_pot_warms_boils_and_is_boxed(light):
    got, _ = _day(light, deeds=[{"do": "box", "t_s": 5400.0, "value": 1.0}])
    at = np.arange(0.0, 7200.0, 10.0)
    assert got.contents_c[at < 5400.0].max() == pytest.approx(99.97, abs=0.05)  # at 101325 Pa, IAPWS-IF97
    assert got.heat_w[at > 5410.0].max() == 0.0
    assert 80.0 < got.contents_c[-1] < got.contents_c[at == 5400.0]


def test_asked_to_hold_it_hunts_about_the_temperature(light):
    got, _ = _day(light, asked=0.0, set_c=70.0, hours=3.0)
    later = got.contents_c[len(got.contents_c) // 2:]
    assert 60.0 < later.min() < 70.0 < later.max() < 90.0
    assert got.figures["touches"] > 4
