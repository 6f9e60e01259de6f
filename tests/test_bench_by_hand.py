"""The hand-turned dish: the sun walks off between visits, never more heat than a dish held on the sun."""

import numpy as np
import pytest
from sunhob.optics.geometry import optics_of
from sunhob.settings import load_cooker
from sunhob_sim.by_hand import hand_heat
from sunhob_sim.pot_light import PotLight
from sunhob_sim.sky import Site, Sky

_SITE = Site(21.15, 79.05, 310.0, 29.0)
_START = 1773291600.0  # 2026-03-12 05:00 UTC


@pytest.fixture(scope="module")
def light():
    return PotLight(optics_of(load_cooker()))


def _got(light, every_min, asked=1.0):
    t = np.arange(0.0, 7200.0, 10.0)
    sky = Sky(_SITE, _START, 7200.0)
    got = hand_heat(sky, t, np.full_like(t, asked), light, every_min)
    full = float(np.mean(sky.beam(t) * light.full_share(sky.sun_array(t)))) * light.w_per_share
    held = asked * full * 7200.0
    return got, held


def test_ten_minutes_of_walk_cost_heat_and_oftener_costs_less(light):
    rare, held = _got(light, 20.0)
    usual, _ = _got(light, 10.0)
    often, _ = _got(light, 2.0)
    assert rare["delivered_j"] < usual["delivered_j"] < often["delivered_j"] < 1.001 * held
    assert 12 <= usual["touches"] <= 13


def test_nothing_is_asked_nothing_is_delivered(light):
    got, _ = _got(light, 10.0, asked=0.0)
    assert got["delivered_j"] == 0
    assert got["touches"] == 0


def test_dialled_down_it_never_gets_more_than_was_asked(light):
    got, held = _got(light, 10.0, asked=0.6)
    assert got["delivered_j"] < 1.001 * held
