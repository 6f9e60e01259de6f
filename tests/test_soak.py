"""Days on end: a small share in every run, over New Year and the wrap of the ticks. Units: days, deg, s."""

import json
from datetime import date

import pytest
from sunhob import cli
from sunhob_sim.sky import Site, Sky
from sunhob_sim.soak import DAY_S, DaysSky, Soak, soak


@pytest.fixture(scope="module")
def new_year():
    return soak(1, first=date(2027, 12, 31))


def test_a_day_over_new_year_and_the_wrap_of_the_ticks_leaves_nothing_behind(new_year):
    assert new_year.faults() == []
    assert new_year.meals == new_year.meals_meant == 1
    assert new_year.tick_wraps == 1 and new_year.edges == ["2028-01"]
    assert new_year.warned_days == 29
    assert new_year.lost_deg < 0.02 and new_year.clock_s < 0.2 and new_year.off_sun_deg < 0.2


def test_whatever_falls_short_is_said(new_year):
    sound = {**new_year.as_dict()}
    sound.pop("faults")
    for name, value in (("meals", 0), ("grown_bytes", 9), ("lost_deg", 0.06), ("off_sun_deg", 0.4),
                        ("clock_s", 3.0), ("resets", 1), ("warned_days", 10), ("told", ["x"])):
        assert len(Soak(**{**sound, name: value}).faults()) == 1


def test_the_sky_made_day_by_day_is_the_one_made_whole():
    site = Site(21.15, 79.05, 310.0, 25.0)
    whole, daily = Sky(site, 1_767_000_000.0, 2.5 * DAY_S), DaysSky(site, 1_767_000_000.0, 3)
    for t_s in (0.0, 30_000.0, DAY_S - 1.0, DAY_S, DAY_S + 20_000.0, 2 * DAY_S + 9_000.5):
        assert daily.sun_at(t_s) == pytest.approx(whole.sun_at(t_s), abs=2e-6)
        assert daily.beam_w_m2(t_s) == pytest.approx(whole.beam_w_m2(t_s), abs=3.0)
        assert daily.open_w_m2(t_s) == pytest.approx(whole.open_w_m2(t_s), abs=3.0)


@pytest.mark.parametrize(("args", "words"), [
    (["--engine", "x"], "give one of micropython, cpython"), (["--full", "--days", "2"], "--days")])
def test_bad_use_is_told_in_a_line(capsys, args, words):
    assert cli.run(["bench", "soak", *args]) == 2
    said = capsys.readouterr()
    assert words in said.err and said.out == "" and said.err.count("\n") == 1


def test_json_holds_the_figures(new_year):
    assert {"days", "meals", "grown_bytes", "lost_deg", "clock_s", "faults"} <= set(
        json.loads(json.dumps(new_year.as_dict())))
