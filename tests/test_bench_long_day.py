"""Days on the bench that go wrong slowly: the sun table's last day, and a sky of thin haze.

Units: degrees, seconds, UTC. Sites and cooks are invented; hazards are judged from the plant's true state.
"""

from datetime import UTC, datetime

import pytest
from sunhob_board.declared import interlocks, modes
from sunhob_board.sun.table import SunTable
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import run_scenario, table_of

ARMED = """
[[action]]
at = "{knob}"
do = "knob"
value = 100
[[action]]
at = "{arm}"
do = "arm"
"""
LAST_DAY = """
name = "last_day"
start = 2026-04-01T23:30:00Z
hours = 1.0
[base]
table_days = 1
[settings.site]
latitude_deg = 35.0
longitude_deg = 178.0
[settings.axis2]
home_deg = 33.0
""" + ARMED.format(knob="23:34", arm="23:35")
HAZE = """
name = "haze"
start = 2026-03-12T05:00:00Z
hours = 2.1
[settings.axis2]
home_deg = 19.15
[settings.site]
latitude_deg = 21.15
longitude_deg = 79.05
[settings.cook]
return_after_cloud = true
attendance_min = 240.0
[[sky.cloud]]
at = "05:30"
minutes = 96
through = 0.2
""" + ARMED.format(knob="05:05", arm="05:06")


def at(result, name, row):
    return [e["t_s"] for e in result.events if e["name"] == name and e["a"] == interlocks.INDEX[row]]


def entered(result, mode):
    return [e["t_s"] for e in result.events if e["name"] == "mode" and e["b"] == mode]


@pytest.mark.parametrize("days", [1, 2, 3, 4, 5, 700])
def test_the_benchs_table_ends_on_the_day_asked_for(days):
    table = SunTable(table_of(datetime(2026, 4, 1, 23, 30, tzinfo=UTC), days))
    assert table.last_day == 9587 + days - 1  # 2026-04-01 is 9587 days after 2000-01-01
    assert table.first_day <= 9587 - 30


@pytest.fixture(scope="module")
def last_day():
    return run_scenario(scenarios.parse(LAST_DAY), "cpython")


def test_the_end_of_the_sun_table_is_told_before_and_ends_the_meal(last_day):
    assert at(last_day, "trip", "table_ageing")[0] < 10.0
    cooking = entered(last_day, modes.COOKING)
    assert cooking and cooking[0] < 600.0
    (expired,) = at(last_day, "trip", "table_expired")
    assert 1800.0 <= expired < 1804.0  # midnight UTC; between two steps the sun is reckoned every 3.5 s
    leaving = [t for t in entered(last_day, modes.LEAVING) if t > cooking[0]]
    parked = [t for t in entered(last_day, modes.PARKED) if t > cooking[0]]
    assert leaving[0] == pytest.approx(expired, abs=1.0) and parked[0] < expired + 95.0
    assert not [t for t in entered(last_day, modes.COMING) if t > expired]


def test_the_end_of_the_sun_table_loosens_no_light(last_day):
    assert last_day.hazards == [] and last_day.stranded == []
    assert last_day.trace.separation_deg[-1] > 66.0


def test_under_thin_haze_the_returns_grow_rarer():
    got = run_scenario(scenarios.parse(HAZE), "cpython")
    assert got.hazards == []
    wanted = [e["a"] for e in got.events if e["name"] == "haze"]
    assert wanted == [360, 720, 1440]
    parked = [t for t in entered(got, modes.PARKED) if t > 1800.0]
    coming = [t for t in entered(got, modes.COMING) if t > 1800.0]
    waits = [c - p for p, c in zip(parked, coming, strict=False)]
    assert waits == pytest.approx([180, 360, 720, 1440], abs=60)


def test_a_bumped_base_is_seen_in_the_truth_and_not_blamed_on_the_firmware():
    bump = '[[action]]\nat = "23:45"\ndo = "bump"\nvalue = 3.0\n'
    text = LAST_DAY.replace("table_days = 1", "table_days = 9").replace("hours = 1.0", "hours = 0.4")
    got = run_scenario(scenarios.parse(text + bump), "cpython")
    on = got.trace.t_s > 600
    before, after = on & (got.trace.t_s < 898), on & (got.trace.t_s > 902) & (got.trace.t_s < 910)
    assert got.trace.separation_deg[before].max() < 0.2
    assert got.trace.separation_deg[after].min() > 1.0
    assert got.hazards == []  # nothing told the board; between two steps the sun sensor does, and it leaves
    assert [e["t_s"] for e in got.events if e["name"] == "doubt"] == pytest.approx([925], abs=25)
    assert got.trace.separation_deg[-1] > 75.0
    assert [d["words"] for d in got.actions if d["do"] == "bump"] == [
        "Somebody knocks the base +3.0 degrees round."]
