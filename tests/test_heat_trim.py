"""Trim of the dial from the warm-up rate, on an invented pot and an invented heat curve. Units: W, s, deg."""

from types import SimpleNamespace

import numpy as np
import pytest
from sunhob_board.core.settings import defaults
from sunhob_board.core.tracking import Tracker
from sunhob_board.heat.boil import boil_mc
from sunhob_board.heat.trim import Trim

from .two_node_pot import TwoNodePot

LAG_DEG = np.array([0.0, 2.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0])
SHARE = np.array([1.0, 1.0, 0.95, 0.82, 0.66, 0.47, 0.30, 0.05])


def share(lag_deg):
    return float(np.interp(lag_deg, LAG_DEG, SHARE))


def lag_of(permille):
    """First lag at which the curve gives no more than this, micro-degrees."""
    if permille >= 1000:
        return 0
    return int(float(np.interp(-permille / 1000.0, -SHARE[1:], LAG_DEG[1:])) * 1e6)


def cooked(off_deg, asked=600, trimmed=True, beam=900.0, kg=5.0, loss_w_k=3.0, full_s=900):
    """Full heat for `full_s`, then dialled for 20 min: (heat at the end as share of full, what was asked)."""
    s = defaults()
    trim, pot = Trim(s, boil_mc(s.site_pressure_pa)), TwoNodePot(kg, loss_w_k, True, 25.0)
    seen, true, full_w = 25_000, 1.0, 900
    for t in range(full_s + 1200):
        wish = 1000 if t < full_s else asked
        lag = lag_of(wish) - (trim.lag_udeg if trimmed and wish < 985 else 0)
        true = share(max(0.0, lag / 1e6 + off_deg))
        believed = int(share(lag / 1e6) * 1000)
        pot.step(true * full_w * beam / 1000.0, 1.0)
        seen += (pot.reading_mc() - seen) // 4
        trim.tick(1000, seen, believed, beam, full_w, lag_of)
    return true, trim


@pytest.mark.parametrize("off_deg", [-0.6, -0.2, 0.2, 0.6])
@pytest.mark.parametrize("asked", [500, 700])
def test_an_error_of_aim_is_found_and_taken_off(off_deg, asked):
    plain, _ = cooked(off_deg, asked, trimmed=False)
    better, trim = cooked(off_deg, asked)
    before, after = abs(plain - asked / 1000.0), abs(better - asked / 1000.0)
    assert trim.seen >= 2
    assert after < max(0.04, 0.5 * before)


def test_a_true_aim_is_left_alone():
    better, trim = cooked(0.0)
    assert abs(better - 0.6) < 0.04 and abs(trim.lag_udeg) < 250_000


@pytest.mark.parametrize("loss_w_k", [1.0, 6.0])
def test_a_loss_it_does_not_know_does_little_harm(loss_w_k):
    """A large pot well warmed at full heat tells its loss from its capacity; the settings say 3 W/K."""
    better, trim = cooked(0.0, loss_w_k=loss_w_k, kg=7.0, full_s=1500)
    assert abs(better - 0.6) < 0.05
    assert (trim.loss_mw_k > 3000) == (loss_w_k > 3.0)


def test_nothing_is_learned_without_full_heat_first_in_cloud_or_at_the_boil():
    s = defaults()
    for start_mc, permille, beam in ((50_000, 600, 900.0), (50_000, 1000, 100.0), (97_000, 1000, 900.0)):
        trim = Trim(s, boil_mc(s.site_pressure_pa))
        for t in range(900):
            trim.tick(1000, start_mc + 20 * t, permille, beam, 900, lag_of)
        assert trim.lag_udeg == 0 and trim.seen == 0
        assert not trim.capacity


def test_it_stays_within_its_bounds():
    _, trim = cooked(2.4, asked=500)
    assert abs(trim.lag_udeg) <= 1_500_000


def test_the_tracker_takes_the_trim_off_but_never_leads_nor_goes_beyond_the_least_heat():
    s = defaults()
    aims = SimpleNamespace(ready=True, lag_udeg=lag_of)
    tracker = Tracker(s, None, None, aims)
    tracker.want(700)
    plain = tracker.wanted_udeg
    tracker.trim_udeg = 300_000
    tracker.want(700)
    assert tracker.wanted_udeg == plain - 300_000
    tracker.want(1000)
    assert tracker.wanted_udeg == 0
    tracker.trim_udeg = -1_500_000
    tracker.want(420)
    assert tracker.wanted_udeg == lag_of(400)
    tracker.trim_udeg = 9_000_000
    tracker.want(700)
    assert tracker.wanted_udeg == 0
