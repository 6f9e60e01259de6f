"""Whole meals on the bench with the real firmware: what the pot does, and what the board's guards make of it.

Units: s, deg C, kg, J. Without probes no guard steps in; with them the same mishap ends in time.
"""

import functools
import math

import numpy as np
import pytest
from sunhob.errors import UserError
from sunhob_board.declared import interlocks, modes
from sunhob_sim import scenario as sc
from sunhob_sim.bench import run_scenario

NO_PROBES = {"probe": {"contents": False, "underside": False}}


@functools.cache
def day(name, probes=False):
    one = sc.load(name)
    settings = one.settings if probes else one.settings | NO_PROBES
    return run_scenario(one.model_copy(update={"settings": settings}), "cpython")


def trips(result):
    return {interlocks.ROWS[e["a"]][0]: e["t_s"] for e in result.events if e["name"] == "trip"}


def kinds(result):
    return [hazard["kind"] for hazard in result.hazards]


def test_five_kilograms_come_to_the_boil_of_the_place():
    result = day("boil")
    assert kinds(result) == []
    # IAPWS-IF97 at 310 m in the standard atmosphere: 98.95 degC by interpolation between 0 and 500 m
    assert result.pot["boil_c"] == pytest.approx(98.95, abs=0.03)
    assert np.nanmax(result.trace.contents_c) == pytest.approx(result.pot["boil_c"], abs=0.05)
    # published: such dishes bring 10 to 55 % of the light on their aperture into the water
    first = result.trace.t_s < result.pot["boiled_at_s"]
    on = first & (result.trace.heat_w > 100.0)
    light_j = float(result.trace.dni_w_m2[on].sum()) * math.pi / 4.0 * 1.4**2
    useful = 5.0 * 4186.0 * (result.pot["boil_c"] - 20.0) / light_j
    assert 0.10 < useful < 0.55


def test_heat_in_the_books_is_the_heat_of_the_trace():
    result = day("boil")
    assert float(result.trace.heat_w.sum()) == pytest.approx(result.heat["delivered_j"], rel=5e-3)
    pot = result.pot
    warmed = 1.5 * 900.0 * (pot["underside_c"] - 20.0) + pot["water_kg"] * 4200.0 * (pot["contents_c"] - 20.0)
    gone = pot["boiled_off_kg"] * 4186.0 * 20.0  # what the steam's water held when it went in
    assert pot["absorbed_j"] == pytest.approx(pot["lost_j"] + pot["steam_j"] + warmed - gone, rel=5e-3)


def test_the_pot_is_told_minute_by_minute():
    result = day("boil")
    series = result.as_dict()["pot_series"]
    assert len(series["t_s"]) == round(result.simulated_s / 60.0)
    assert {len(column) for column in series.values()} == {len(series["t_s"])}
    gone = series["water_kg"][0] - series["water_kg"][-1]
    assert gone == pytest.approx(result.pot["boiled_off_kg"], abs=0.01)


def test_porridge_burns_when_left_and_not_when_stirred():
    left, stirred = day("porridge_unguarded", probes=True), day("porridge_stirred")
    assert left.pot["scorch"] > 1.0 and "scorched_at_s" in left.pot
    assert stirred.pot["scorch"] < 0.5
    assert stirred.pot["cooked"] >= 1.0
    assert left.trace.underside_c.max() > 150.0


def test_a_pot_that_boils_dry_runs_away_and_is_judged():
    result = day("boils_dry")
    dry = result.trace.t_s > result.pot["dry_at_s"] + 300.0
    assert result.trace.underside_c[dry].max() > 200.0
    assert "pot_too_hot" in kinds(result)


def test_a_lifted_pot_takes_no_light():
    result = day("pot_lifted")
    lifted = {a["do"]: a["t_s"] for a in result.actions}
    away = (result.trace.t_s > lifted["pot_lift"] + 1.0) & (result.trace.t_s < lifted["pot_set"] - 1.0)
    assert result.trace.heat_w[away].max() == 0.0
    assert result.trace.heat_w.max() > 500.0
    cooling = result.trace.contents_c[away]
    assert cooling[0] > cooling[-1]


def test_85_degrees_are_held_through_a_measured_broken_sky():
    # the aim set for the product: within 2 K of the wish for 95 % of the sunny time, at most 3 K above it
    try:
        result = run_scenario(sc.load("hold85"), "cpython")
    except UserError as error:
        pytest.skip(f"measured light is not at hand: {error}")
    assert kinds(result) == []
    assert result.heat["hold_in_band"] >= 0.95
    assert result.heat["hold_overshoot_k"] <= 3.0
    assert result.heat["hold_moves_per_hour"] <= 40.0
    late = result.trace.t_s > result.trace.t_s[-1] - 2.0 * 3600.0
    broken = result.trace.dni_w_m2[late]
    assert (broken < 250.0).any() and (broken > 800.0).any()  # the sky was broken indeed


def test_black_beside_bright():
    black, bright = day("black_pot"), day("bright_pot")
    share = bright.heat["delivered_j"] / black.heat["delivered_j"]
    assert share == pytest.approx(0.3 / 0.9, rel=0.02)  # handbook absorptances, bare to matt black
    assert bright.pot["boiled_at_s"] > 2.0 * black.pot["boiled_at_s"]


def test_with_probes_the_dry_pot_is_left_in_time():
    result = day("boils_dry", probes=True)
    assert kinds(result) == []
    assert 0.0 < trips(result)["dry_pot"] - result.pot["dry_at_s"] < 60.0
    assert result.trace.underside_c.max() < day("boils_dry").trace.underside_c.max() - 50.0


def test_with_probes_the_porridge_is_turned_down_before_it_is_burnt():
    result = day("porridge", probes=True)
    assert "scorch" in trips(result)
    assert result.pot["scorch"] < 1.0 < day("porridge_unguarded", probes=True).pot["scorch"]
    assert result.pot["cooked"] >= 1.0
    assert "scorch" not in trips(day("boil", probes=True))  # plain water never scorches


def test_a_lifted_pot_turns_the_dish_aside():
    result = day("pot_lifted", probes=True)
    assert kinds(result) == []
    lifted = next(a["t_s"] for a in result.actions if a["do"] == "pot_lift")
    assert 0.0 < trips(result)["pot_lifted"] - lifted < 3.0
    aside = [e["t_s"] for e in result.events if e["name"] == "mode" and e["b"] == modes.ASIDE]
    assert aside and aside[0] - lifted < 5.0
    again = [e["t_s"] for e in result.events if e["name"] == "mode" and e["b"] == modes.COOKING]
    assert again[-1] > lifted + 300.0  # on again at the cook's wish
