"""The hand-turned dish: the sun walks off between visits, never more heat than a dish held on the sun."""

import numpy as np
import pytest
from sunhob.heat_curve import heat_curve_permille
from sunhob_sim.by_hand import hand_heat
from sunhob_sim.sky import Site, Sky

_SITE = Site(21.15, 79.05, 310.0, 29.0)
_START = 1773291600.0  # 2026-03-12 05:00 UTC


@pytest.fixture(scope="module")
def curve():
    permille = np.array(heat_curve_permille(1.4, 0.55, 0.16, 4.0))
    return np.arange(len(permille)) * 0.25, permille / permille[0]


def _got(curve, every_min, asked=1.0):
    t = np.arange(0.0, 7200.0, 10.0)
    sky = Sky(_SITE, _START, 7200.0)
    got = hand_heat(sky, t, np.full_like(t, asked), curve[0], curve[1], 700.0, every_min)
    held = asked * 700.0 * float(np.mean(sky.beam(t))) / 1000.0 * 7200.0
    return got, held


def test_ten_minutes_of_walk_cost_heat_and_oftener_costs_less(curve):
    rare, held = _got(curve, 20.0)
    usual, _ = _got(curve, 10.0)
    often, _ = _got(curve, 2.0)
    assert rare["delivered_j"] < usual["delivered_j"] < often["delivered_j"] < 1.001 * held
    assert 12 <= usual["touches"] <= 13


def test_nothing_is_asked_nothing_is_delivered(curve):
    got, _ = _got(curve, 10.0, asked=0.0)
    assert got["delivered_j"] == 0
    assert got["touches"] == 0


def test_dialled_down_it_never_gets_more_than_was_asked(curve):
    got, held = _got(curve, 10.0, asked=0.6)
    assert got["delivered_j"] < 1.001 * held
