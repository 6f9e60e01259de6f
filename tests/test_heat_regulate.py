"""Holding a pot temperature, on an invented pot of two nodes. Units: degC, kg, W/K, W/m2, s, permille."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sunhob_board.core.settings import defaults, pressure_pa
from sunhob_board.heat.boil import boil_mc
from sunhob_board.heat.regulate import Regulator

from .two_node_pot import TwoNodePot, held

BOILING = Path(__file__).with_name("data") / "water_boiling.csv"


@pytest.mark.parametrize("row", list(csv.DictReader(BOILING.read_text().splitlines())), ids=str)
def test_boiling_point_follows_the_altitude(row):
    """IAPWS-IF97 saturation at the pressure of the standard atmosphere (iapws 1.5.5)."""
    assert boil_mc(float(row["pressure_pa"])) / 1000 == pytest.approx(float(row["boiling_degc"]), abs=0.08)
    assert pressure_pa(float(row["altitude_m"])) == pytest.approx(float(row["pressure_pa"]), rel=3e-4)


@pytest.mark.parametrize(("kg", "loss_w_k", "lid", "dni"), [
    (2.0, 2.0, True, 1000), (2.0, 4.0, False, 750), (5.0, 3.0, True, 900), (8.0, 2.0, True, 400),
    (8.0, 8.0, False, 1000), (10.0, 4.0, True, 700),
])
def test_cold_pot_is_brought_and_held(kg, loss_w_k, lid, dni):
    got = held(defaults(), kg, loss_w_k, lid, dni, hours=4.0 if kg < 8 else 5.0)
    assert got.reached_s is not None
    assert got.peak_k <= 3.0
    assert got.in_band >= 0.95
    assert got.most_moves_in_an_hour <= 40


SKIES = st.lists(st.tuples(st.integers(20, 900), st.sampled_from([0, 30, 250, 600, 950])), min_size=1,
                 max_size=8)
READINGS = st.lists(st.tuples(st.integers(5, 600), st.none() | st.integers(-20_000, 160_000)), min_size=1,
                    max_size=12)


def spread(parts):
    """(seconds, value) pairs as one value a second."""
    return [value for seconds, value in parts for _ in range(seconds)]


@settings(max_examples=25)
@given(READINGS, SKIES, st.integers(30, 96))
def test_whatever_it_is_told_it_stays_within_the_dial_and_rests_its_motors(readings, sky, set_c):
    s = defaults()
    r = Regulator(s)
    assert r.begin(set_c * 1000) == ""
    beams = spread(sky)
    moves, last = [], r.permille
    for t, mc in enumerate(spread(readings)):
        said = r.tick(1000, mc, None, beams[t % len(beams)], 900)
        assert said == 0 or r.least <= said <= 1000
        if said != last:
            moves.append(t)
            last = said
    assert r.changes == len(moves)
    assert all(b - a >= 30 for a, b in pairwise(moves))
    assert all(sum(a <= b < a + 3600 for b in moves) <= s.heat_moves_per_hour for a in moves)
    assert 0 <= r.loss_mw <= 1_500_000 and 3_000 <= r.capacity <= 50_000


def test_readings_that_swing_for_an_hour_get_no_more_moves_than_are_allowed():
    s = defaults()
    r = Regulator(s)
    assert r.begin(85_000) == ""
    for t in range(3600):
        r.tick(1000, 75_000 if t // 60 % 2 else 95_000, None, 900, 900)
    assert 20 < r.changes <= s.heat_moves_per_hour


@pytest.mark.parametrize("long_s", [900, 7200])
def test_nothing_winds_up_in_cloud_or_at_the_end_of_the_dial(long_s):
    """After a long cloud, and after hours at full heat too weak to hold, it overshoots no more than ever."""
    got = held(defaults(), 5.0, 3.0, True, 900, hours=1.0 + long_s / 3600 + 1.5,
               cloud=lambda t: 3600 <= t < 3600 + long_s)
    assert got.reached_s is not None and got.reached_s < 3600 and got.peak_k <= 3.0


def test_a_beam_too_weak_to_hold_leaves_no_debt():
    weak = held(defaults(), 4.0, 8.0, False, 400, hours=2.0)
    assert weak.reached_s is None and weak.said == {1000}
    r = Regulator(defaults())
    r.begin(85_000)
    for _ in range(7200):
        r.tick(1000, 70_000, None, 300, 900)
    assert r.permille == 1000
    before = r.loss_mw
    assert before <= 1_000 * 270 + 60_000, "the loss learned is what went in, not what it had wished for"


def test_cold_water_poured_in_is_brought_back():
    r, pot, dial, last_off = Regulator(defaults()), TwoNodePot(4.0, 3.0, True, 84.0), 0.0, 0.0
    r.begin(85_000)
    seen = pot.reading_mc()
    for t in range(7200):
        if t == 3000:
            pot.water_c -= 12.0
        seen += (pot.reading_mc() - seen) // 4
        dial = r.tick(1000, seen, None, 900 if dial else 0, 1000) / 1000.0
        pot.step(dial * 900.0, 1.0)
        last_off = max(last_off, abs(pot.water_c - 85.0)) if t > 4200 else 0.0
    assert last_off <= 2.0


@pytest.mark.parametrize(("altitude_m", "set_c", "taken"), [
    (0.0, 98.5, True), (0.0, 99.5, False), (3000.0, 88.5, True), (3000.0, 89.5, False), (600.0, 29.0, False)])
def test_boiling_is_not_held_by_temperature(altitude_m, set_c, taken):
    s = defaults()
    s.site_pressure_pa = pressure_pa(altitude_m)
    words = Regulator(s).begin(int(set_c * 1000))
    assert (words == "") == taken
    assert taken or ("water boils at" in words and f"{set_c:.1f}" in words)


def test_a_lost_probe_first_lowers_and_then_leaves_the_heat():
    r = Regulator(defaults())
    r.begin(85_000)
    for _ in range(200):
        r.tick(1000, 50_000, None, 900, 900)
    assert r.permille == 1000
    r.tick(1000, None, None, 900, 900)
    assert r.permille == r.least
    for _ in range(130):
        r.tick(1000, None, None, 900, 900)
    assert r.permille == 0
