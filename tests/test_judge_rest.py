"""Loose light about a resting dish: a hazard, unless the cover was asked for and nothing better could be had.

Units: degrees, seconds. The dish stands still at the pole of an invented site while the summer sun goes on.
"""

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from sunhob_board.declared import modes
from sunhob_sim import pins
from sunhob_sim.judge import judge
from sunhob_sim.judge_loose import cover_told
from sunhob_sim.judge_told import free_s
from sunhob_sim.plant import Plant
from sunhob_sim.scenario import Scenario
from sunhob_sim.scenario_parts import Action
from sunhob_sim.sky import Site, Sky
from sunhob_sim.truth import build

JUNE_10 = 1_781_049_600  # 2026-06-10 00:00 UTC; at 73.7 E the sun's noon is at 07:05 UTC


APRIL_20 = 1_776_643_200  # 2026-04-20


def stay(lat_deg, from_h, hours, april=False, **changed):
    """Truth of a dish left at the pole, uncovered."""
    day = APRIL_20 if april else JUNE_10
    sky = Sky(Site(lat_deg, 73.7, 100.0), day + from_h * 3600.0, hours * 3600.0)
    plant = Plant({"site.latitude_deg": lat_deg, **changed}, sky)
    plant.outputs({pins.MOTOR_ENABLE: 1})
    for second in np.arange(10.0, hours * 3600.0, 10.0):
        plant.advance(int(second * 1e6))
    return build(plant)


def kinds(truth, told):
    return [r["kind"] for r in judge(truth, cover_s=told)], [r["kind"] for r in cover_told(truth, told)]


ALL = [(0.0, float("inf"))]


@pytest.mark.parametrize(("lat", "from_h", "hours", "told", "want"), [
    (24.6, 2.2, 1.0, ALL, ([], ["cover_told"])),  # early: the horizon is clear, but no way to it
    (24.6, 2.2, 1.0, [], (["loose_light"], [])),
    (24.6, 2.2, 1.0, [(3000.0, 3600.0)], (["loose_light"], [])),  # told late
    (24.6, 5.0, 0.25, ALL, ([], ["cover_told"])),  # noon: still within the patience
    (24.6, 5.0, 1.5, ALL, (["loose_light"], [])),  # the horizon was clear and the way open all the time
    (24.6, 9.0, 1.5, ALL, (["loose_light"], [])),
    (48.0, 5.0, 2.0, ALL, ([], ["cover_told"])),  # no place is clear
    (70.0, 17.0, 3.0, ALL, ([], ["cover_told"])),  # polar day, the sun in the north
    (70.0, 17.0, 3.0, [], (["loose_light"], [])),
])
def test_only_what_was_told_and_could_not_be_spared_counts_apart(lat, from_h, hours, told, want):
    assert kinds(stay(lat, from_h, hours), told) == want


@pytest.mark.parametrize(("told", "parked", "found"), [
    ([], ALL, True), (ALL, ALL, False), ([], [], False), ([(0.0, 1800.0)], ALL, True),
    ([(20.0, 3600.0)], ALL, False), ([], [(0.0, 10.0)], False)])
def test_between_the_two_angles_the_parked_dish_must_ask_for_its_cover(told, parked, found):
    """April: the sun 79 to 80 deg from the pole; nothing loose about the pot, but places until 90 deg."""
    truth = stay(24.6, 5.0, 1.0, april=True)
    kinds_found = [row["kind"] for row in judge(truth, cover_s=told, parked_s=parked)]
    assert kinds_found == ["cover_untold"] * found
    truth.held["covered"][:] = 1.0
    assert judge(truth, cover_s=told, parked_s=parked) == []


def test_a_travel_without_the_horizon_spares_nothing():
    truth = stay(24.6, 5.0, 1.5, **{"axis1.low_deg": -90.0, "axis1.high_deg": 90.0})
    assert kinds(truth, ALL) == ([], ["cover_told"])


def test_a_dish_that_stopped_on_its_way_has_not_left_whatever_it_says():
    """Locked some 50 deg off the sun, its cover asked for, no place clear: loose light all the same."""
    lat_deg = 48.0
    sky = Sky(Site(lat_deg, 73.7, 100.0), JUNE_10 + 5.0 * 3600.0, 3600.0)
    plant = Plant({"site.latitude_deg": lat_deg}, sky, start_deg=(100.0, 15.0))
    for second in range(10, 3600, 10):
        plant.advance(second * 1_000_000)
    truth = build(plant)
    assert 40.0 < truth.separation_deg.min() < 66.0
    assert kinds(truth, ALL) == (["loose_light"], [])


def test_a_covered_dish_is_neither():
    truth = stay(24.6, 5.0, 1.5)
    truth.held["covered"][:] = 1.0
    assert kinds(truth, ALL) == ([], [])


def chain_bench(*after):
    """A parked board whose stop chain was open from 100 to 130 s, LEAVE pressed at 200 s; then `after`:
    (second, deed, seconds held)."""
    start = datetime(2026, 6, 10, 5, tzinfo=UTC)
    deeds = tuple(Action(at=(start + timedelta(seconds=at_s)).isoformat(), do=do, hold_s=held_s)
                  for at_s, do, held_s in after)
    scenario = Scenario(name="chain", start=start, hours=1.0, action=deeds)
    done = [{"t_s": 100.0, "do": "chain_open"}, {"t_s": 130.0, "do": "chain_close"}]
    presses = [(200.0, pins.LEAVE)] + [(float(s), pins.ARM) for s, do, _ in after if do == "arm"]
    modes_told = [{"name": "mode", "t_s": t, "a": 0, "b": b} for t, b in (
        (100.0, modes.LOCKED), (200.0, modes.LEAVING), (220.0, modes.PARKED))]
    return SimpleNamespace(scenario=scenario, cook=SimpleNamespace(done=done),
                           plant=SimpleNamespace(presses=presses), uplink=SimpleNamespace(events=modes_told))


@pytest.mark.parametrize(("after", "moves_from_s"), [
    ([], []), ([(900.0, "confirm", 0.5)], []), ([(900.0, "confirm", 3.5)], [900.0]),
    ([(900.0, "link_clear", 0.5)], [900.0]), ([(900.0, "arm", 0.5)], [900.0]), ([(110.0, "arm", 0.5)], []),
])
def test_after_the_stop_chain_a_parked_dish_moves_on_only_once_a_person_has_cleared_it(after, moves_from_s):
    assert free_s(chain_bench(*after)) == [(0.0, 100.0), *((a, np.inf) for a in moves_from_s)]


def test_a_way_that_opens_to_a_dish_that_may_not_move_spares_nothing():
    truth = stay(24.6, 5.0, 1.5)
    assert [row["kind"] for row in cover_told(truth, ALL, [(0.0, 60.0)])] == ["cover_told"]
    assert judge(truth, cover_s=ALL, free_s=[(0.0, 60.0)]) == []
    assert [row["kind"] for row in judge(truth, cover_s=ALL, free_s=[(0.0, 2400.0)])] == ["loose_light"]
