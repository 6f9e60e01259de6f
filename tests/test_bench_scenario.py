"""Scenario files: the shipped ones load, mistakes are all listed with field, value, limit and line."""

import pytest
from sunhob.errors import UserError
from sunhob_sim import scenario as sc


@pytest.mark.parametrize("name", sc.shipped())
def test_shipped_scenarios_load_and_are_named_after_their_file(name):
    one = sc.load(name)
    assert one.name == name
    assert "nvented" in one.about


def test_all_mistakes_are_listed_with_line_value_and_limit():
    text = """name = "Bad Name"
start = 2026-03-12T05:00:00Z
hours = -2
timezone = "Mars/Base"
colour = "red"

[air]
wind_m_s = 99

[[action]]
at = "05:01"
do = "arm"

[[action]]
at = "05:02"
do = "dance"

[[action]]
at = "05:03"
do = "knob"
value = 130
"""
    with pytest.raises(UserError) as caught:
        sc.parse(text, "bad.toml")
    said = str(caught.value)
    assert "7 mistakes" in said
    for line, field in ((1, "name"), (3, "hours = -2"), (4, "timezone = Mars/Base"), (5, "colour = red"),
                        (8, "air.wind_m_s = 99"), (16, "action.2.do = dance"), (18, "action.3")):
        assert f"line {line}: {field}" in said, said
    assert "0 to 100 percent" in said


def test_an_action_outside_the_run_is_refused_with_its_line():
    text = """name = "a"
start = 2026-03-12T05:00:00Z
hours = 1
[[action]]
do = "arm"
at = "06:30"
"""
    with pytest.raises(UserError, match=r"line 6: action.1.at = 06:30: must lie within the run"):
        sc.parse(text)


def test_times_roll_over_midnight_and_iso_times_are_utc():
    one = sc.parse('name = "a"\nstart = 2026-12-31T23:00:00Z\nhours = 3\n')
    assert one.offset_s("00:30") == 5400
    assert one.offset_s("2026-12-31T23:10:00") == 600


@pytest.mark.parametrize("source, said", [("nowhere.toml", "no such file"), ("nothing", "one of: ")])
def test_unknown_scenario_names_what_there_is(source, said):
    with pytest.raises(UserError, match=said):
        sc.load(source)


def test_not_toml_is_said_in_one_line():
    with pytest.raises(UserError, match="not TOML"):
        sc.parse("name = ")


def test_settings_of_a_scenario_are_judged_by_the_declared_limits():
    text = ('name = "a"\nstart = 2026-03-12T05:00:00Z\nhours = 1\n'
            '[settings.site]\nlatitude_deg = 95.0\nplanet = 3\n')
    with pytest.raises(UserError) as caught:
        sc.parse(text)
    assert "line 5: settings.site.latitude_deg = 95.0: give -" in str(caught.value)
    assert "line 6: settings.site.planet = 3" in str(caught.value)


def test_settings_of_a_scenario_reach_the_cooker():
    assert sc.cooker_of(sc.load("demo")).site.latitude_deg == 21.15
