"""What a campaign says of its episodes: known reasons, times to safety, faults tried singly. Units: s.

A small sample of real episodes stands at the end; `.ci/run` runs five of each fault.
"""

import dataclasses
import math
import types

import numpy as np
import pytest
from scipy import stats
from sunhob.settings import load_cooker
from sunhob_board.declared import modes
from sunhob_board.declared.interlocks import INDEX
from sunhob_sim.campaign import episode, explained
from sunhob_sim.campaign.draw import blocks_of, episode_text, without
from sunhob_sim.campaign.episode import NO_FAULT, TOGETHER, run_episode
from sunhob_sim.campaign.rate import rule_of_three, upper_limit
from sunhob_sim.campaign.results import summary
from sunhob_sim.campaign.to_safe import NEVER, expected, sign_of, to_safe
from sunhob_sim.faults.library import FAULTS
from sunhob_sim.faults.plan import deaf_of, planned_of, weak_of
from sunhob_sim.scenario import parse

from .test_campaign import row

REASON = "a reason of some length that says why"


# --- the limit on the rate ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("hazards", "runs"), [(0, 59), (1, 93), (0, 299), (0, 2995)])
def test_the_sample_sizes_of_the_success_run_tables(hazards, runs):
    # 95 % confidence: 59 good ones of 59 show 95 %, 299 of 299 99 %, 2995 of 2995 99.9 %; one bad of 93 95 %
    # (tables of demonstration test sizes, binomial; from memory)
    share = {59: 0.05, 93: 0.05, 299: 0.01, 2995: 0.001}[runs]
    assert upper_limit(hazards, runs) <= share < upper_limit(hazards, runs - 1)


@pytest.mark.parametrize(("runs", "exact", "three"), [
    (10, 0.26, 0.30), (20, 0.14, 0.15), (30, 0.095, 0.10), (50, 0.058, 0.06), (100, 0.030, 0.03),
])
def test_the_rule_of_three_beside_the_exact_limit_as_published(runs, exact, three):
    # Hanley & Lippman-Hand, "If nothing goes wrong, is everything all right?", JAMA 249 (1983) 1743: maximum
    # risk in %, exact and by 3/n, 95 % confidence; from memory
    assert upper_limit(0, runs) == pytest.approx(exact, abs=0.005 if exact > 0.1 else 0.0005)
    assert rule_of_three(runs) == pytest.approx(three)
    assert summary([row()] * runs, 1)["rule_of_three"] == pytest.approx(three)


def test_the_worked_example_of_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 7.2.4.2: 4 bad of 20, exact limits of 90 % two-sided; its upper one, 0.401029
    # by goal seeking in a spreadsheet, from memory
    assert upper_limit(4, 20) == pytest.approx(0.401029, abs=2e-6)


@pytest.mark.parametrize(("hazards", "runs"), [(0, 500), (3, 505), (40, 505), (7, 20_000), (504, 505)])
def test_the_limit_is_that_of_scipys_exact_test(hazards, runs):
    exact = stats.binomtest(hazards, runs).proportion_ci(0.90, method="exact").high
    assert upper_limit(hazards, runs) == pytest.approx(exact, rel=1e-9)


# --- reasons ------------------------------------------------------------------------------------------------


def rule(**values):
    return explained.Rule(**{"hazards": ("loose_light",), "reason": REASON, **values})


def test_a_rule_holds_for_its_fault_kind_and_for_what_was_noticed():
    slip = rule(faults=("axis?_slips",))
    bad = row(faults="axis1_slips", hazards="loose_light")
    assert slip.holds("loose_light", bad) and not slip.holds("crash", bad)
    assert not slip.holds("loose_light", row(faults="gust", hazards="loose_light"))
    unseen = dataclasses.replace(bad, detected=False)
    assert not slip.holds("loose_light", unseen)
    assert rule(faults=("axis?_slips",), undetected=True).holds("loose_light", unseen)


def test_of_a_pair_the_one_that_brings_it_alone_counts_and_together_needs_a_rule_of_its_own():
    slip = rule(faults=("axis?_slips",))
    by_slip = row(faults="axis1_slips+gust", hazards="loose_light", because="axis1_slips")
    both = dataclasses.replace(by_slip, because=TOGETHER)
    assert slip.holds("loose_light", by_slip) and not slip.holds("loose_light", both)
    assert rule(pair=("gust", "axis1_*")).holds("loose_light", both)
    assert not rule(pair=("gust", "axis2_*")).holds("loose_light", both)
    assert not slip.holds("loose_light", dataclasses.replace(by_slip, because=NO_FAULT))


def test_an_episode_is_explained_when_each_of_its_hazards_is(monkeypatch):
    monkeypatch.setattr(explained, "rules", lambda: (rule(faults=("gust",)),))
    one = row(faults="gust", hazards="crash+loose_light")
    assert explained.reasons(one) == {"crash": "", "loose_light": REASON} and not explained.is_explained(one)
    assert explained.is_explained(dataclasses.replace(one, hazards="loose_light"))
    assert explained.is_explained(row())


def test_the_rules_that_are_kept_name_faults_and_hazards_that_exist():
    from fnmatch import fnmatchcase

    kinds = {"loose_light", "ahead_of_sun", "unarmed_return", "motion_chain_open", "pushing_stop",
             "no_warning", "pot_too_hot", "cover_untold", "crash"}
    for one in explained.rules():
        assert set(one.hazards) <= kinds and bool(one.faults) != bool(one.pair)
        for name in (*one.faults, *(one.pair or ())):
            assert any(fnmatchcase(fault.name, name) for fault in FAULTS) or name == NO_FAULT, name


def test_the_summary_lists_hazards_by_pair_with_what_brought_them():
    rows = [row(1, "gust+restart"), row(2, "gust+pot_gone", "crash", True, because="gust")]
    found = summary(rows, 1)
    assert found["unexplained"] == 1 and found["by_engine"] == {"cpython": 2}
    (one,) = found["by_pair"]
    assert one["pair"] == "gust+pot_gone" and one["because"] == "gust" and one["reason"] == {"crash": ""}
    assert one["replay"] == "sunhob bench episode 2 --fault gust --fault pot_gone --engine cpython"


def test_a_hazard_is_tried_again_with_fewer_faults(monkeypatch):
    text, names = episode_text(5, ("gust", "pot_gone")), ("gust", "pot_gone")
    assert len(blocks_of(without(text, ("gust",)))[1]) == len(blocks_of(text)[1]) - 1
    assert '"gust"' not in without(text, ("gust",)) and '"pot_gone"' in without(text, ("gust",))

    def because(bad):
        monkeypatch.setattr(episode, "run_text", lambda trial, _: row(hazards="crash" if bad(trial) else ""))
        return episode._because(text, names, row(hazards="crash"))

    assert because(lambda trial: True) == NO_FAULT
    assert because(lambda trial: '"gust"' in trial) == "gust"
    assert because(lambda trial: '"gust"' in trial or '"pot_gone"' in trial) == "gust+pot_gone"
    assert because(lambda trial: False) == TOGETHER


# --- times to safety ----------------------------------------------------------------------------------------


def truth(away_deg, covered=0.0, step_s=1.0):
    flat = {f"{s}.{k}": v for s, part in load_cooker(None).as_dict().items() for k, v in part.items()}
    n = len(away_deg)
    held = {name: np.zeros(n) for name in ("moving", "covered")} | {"covered": np.full(n, covered)}
    return types.SimpleNamespace(
        t_s=step_s * np.arange(n), separation_deg=np.asarray(away_deg, dtype=float), flat=flat, held=held,
        sun_elevation_deg=np.full(n, 45.0), dni_w_m2=np.full(n, 800.0))


def event(t_s, name, a=0, b=0):
    return {"t_s": t_s, "name": name, "a": a, "b": b}


LEAVE = [0.0] * 20 + list(np.arange(0.0, 90.0, 3.0)) + [90.0] * 20  # from 20 s on 3 deg a second


def test_from_the_leave_until_pot_and_light_are_clear():
    told = [event(15.0, "trip", INDEX["pot_hot"]), event(18.0, "mode", modes.COOKING, modes.LEAVING)]
    found = to_safe(truth(LEAVE), told, 10.0)
    # 20 deg (pot clear) and 75 deg (loose clear) are reached 7 and 25 s after motion begins at 20 s
    assert (found.sign, found.noticed_s) == ("pot_hot", 5.0)
    assert found.pot_s == pytest.approx(20 + 7 - 18, abs=1.0)
    assert found.light_s == pytest.approx(20 + 25 - 18, abs=1.0)
    assert 15.0 < found.loose_s < 25.0


@pytest.mark.parametrize(("fault", "deaf", "weak"), [
    ("leave_high", True, False), ("leave_low", True, False), ("leave_bounces", False, False),
    ("axis2_weak", False, True), ("axis1_stalled", False, False)])
def test_what_a_fault_takes_from_the_cook_and_from_a_drive(fault, deaf, weak):
    """A key whose line never changes lets no press through, whichever way it stays."""
    scenario = parse(episode_text(7, (fault,)), "episode")
    begins_s = planned_of(scenario)[0].start_s
    assert [at for at, _to in deaf_of(scenario)] == [begins_s] * deaf
    found = weak_of(scenario)
    assert bool(found) is weak
    if weak:
        axis, share, from_s, _to_s = found[0]
        assert axis == 2 and 0.3 <= share <= 0.95 and from_s == begins_s


def test_what_happened_before_the_fault_or_under_the_cover_counts_for_nothing():
    told = [event(2.0, "trip", INDEX["pot_hot"]), event(18.0, "mode", modes.COOKING, modes.LEAVING)]
    found = to_safe(truth(LEAVE), told, 60.0)
    assert (found.sign, found.noticed_s, found.pot_s, found.loose_s) == ("", NEVER, NEVER, 0.0)
    covered = to_safe(truth(LEAVE, covered=1.0), told, 10.0)
    assert (covered.pot_s, covered.light_s, covered.loose_s) == (NEVER, NEVER, 0.0)


def test_what_the_cook_or_the_sky_brings_is_not_taken_for_the_faults_sign():
    told = [event(12.0, "stop_chain"), event(13.0, "trip", INDEX["light_low"]),
            event(15.0, "trip", INDEX["pot_hot"])]
    cloudy = parse('name = "e"\nstart = 2026-03-01T08:00:00Z\nhours = 1\n[sky]\nkind = "clouds"\n'
                   'cover = 0.5\n[[action]]\nat = "2026-03-01T08:00:11Z"\ndo = "chain_open"\n')
    assert expected(cloudy) == [("stop_chain", 11.0, 41.0), ("light_low", 0.0, math.inf)]
    assert to_safe(truth(LEAVE), told, 10.0, expected(cloudy)).sign == "pot_hot"
    assert to_safe(truth(LEAVE), told, 10.0).sign == "stop_chain"


def test_every_days_trips_are_no_sign():
    assert sign_of(event(1.0, "trip", INDEX["sun_low"])) == "" and sign_of(event(1.0, "dial")) == ""
    assert sign_of(event(1.0, "trip", INDEX["pot_hot"])) == "pot_hot"
    assert sign_of(event(1.0, "boot")) == "boot"


# --- episodes for real --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("seed", "faults", "engine"), [
    (31, ("pot_gone",), "single"), (32, ("clock_silent", "link_garbage"), "cpython"),
    (33, ("restart",), "cpython"),
])
def test_a_small_sample_has_no_hazard_that_is_not_explained(seed, faults, engine):
    got = run_episode(seed, faults, engine)
    assert explained.is_explained(got), got.detail
    assert got.detected and got.noticed_s >= 0.0 and got.engine == engine
