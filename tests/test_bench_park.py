"""Where the dish rests in summer, on the bench with the real firmware: no hazard, and the cover told.

Units: degrees, UTC, hours. Sites and cooks are invented; the sun is the bench's own, from SPA. The cook keeps
the dish covered while it homes: the way there is not planned.
"""

from dataclasses import dataclass, field

import pytest
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import run_scenario

SOUTH = {"low_deg": -170.0, "high_deg": 190.0, "home_deg": 182.0, "approach": -1}
PARK_BRIGHT = 15


@dataclass
class Day:
    """Where and when; covered until it has homed, then cooking for some minutes, then LEAVE."""

    lat: float
    lon: float
    start: str
    hours: float
    axis1: dict = field(default_factory=dict)
    cook_min: int = 7
    uncover: bool = True


def run(day):
    hour, minute = int(day.start[11:13]), int(day.start[14:16])

    def at(later_min):
        total = hour * 60 + minute + later_min
        return f"{total // 60 % 24:02d}:{total % 60:02d}"

    text = (f'name = "park"\nstart = {day.start}\nhours = {day.hours}\n[settings.site]\n'
            f"latitude_deg = {day.lat}\nlongitude_deg = {day.lon}\naltitude_m = 100.0\n"
            f"[settings.axis2]\nhome_deg = {abs(day.lat) - 2.0:.3f}\n[settings.axis1]\n")
    text += "".join(f"{key} = {value}\n" for key, value in day.axis1.items())
    deeds = [(0, "cover"), *[(2, "uncover")] * day.uncover]
    if day.cook_min:
        deeds += [(3, "arm"), (3 + day.cook_min, "leave")]
    text += f'[[action]]\nat = "{at(0)}"\ndo = "knob"\nvalue = 100\n'
    text += "".join(f'[[action]]\nat = "{at(later)}"\ndo = "{do}"\n' for later, do in deeds)
    result = run_scenario(scenarios.parse(text), "cpython")
    assert result.hazards == [] and result.stranded == []
    return result


def told(result):
    return [e for e in result.events if e["name"] == "trip" and e["a"] == PARK_BRIGHT]


def rested_deg(result):
    """Azimuth and elevation of the true dish, and its least angle from the sun in the last five minutes."""
    trace = result.trace
    last = slice(-300, None)
    return trace.dish_azimuth_deg[-1], trace.dish_elevation_deg[-1], trace.separation_deg[last].min()


@pytest.mark.parametrize(("day", "azimuth"), [
    (Day(24.6, 73.7, "2026-06-10T06:40:00Z", 0.3), 180.0),
    (Day(-30.0, 25.0, "2026-12-10T10:00:00Z", 0.3, SOUTH), 0.0),
    (Day(0.0, 30.0, "2026-06-15T08:20:00Z", 0.3), 180.0),
    (Day(0.0, 30.0, "2026-12-15T08:20:00Z", 0.3), 0.0),
], ids=["tropic_noon", "south_summer", "equator_june", "equator_december"])
def test_a_summer_noon_ends_at_rest_clear_of_the_sun(day, azimuth):
    """At the equator in December the pole itself is the northern horizon, and clear."""
    result = run(day)
    at, up, apart = rested_deg(result)
    assert abs((at - azimuth + 180.0) % 360.0 - 180.0) < 0.5 and abs(up) < 2.0
    assert apart > 75.0 and all(row["b"] > 750 for row in told(result)) and result.cover_told == []
    assert result.tracking["seconds"] > 200


def test_a_leave_in_the_morning_goes_to_the_pole_and_on_when_the_way_opens():
    result = run(Day(24.6, 73.7, "2026-06-10T02:50:00Z", 0.55))
    names = [e["name"] for e in result.events]
    moved = names.index("park_moved")
    assert names.count("park_moved") == 1 and names[moved + 1 : moved + 3] == ["mode", "warn"]
    assert "no_path" not in names
    at, up, apart = rested_deg(result)
    assert at == pytest.approx(180.0, abs=0.5) and up == pytest.approx(-1.5, abs=0.3) and apart > 75.0
    assert told(result) and [row["kind"] for row in result.cover_told] == ["cover_told"] * 2


@pytest.mark.parametrize("bare", [True, False])
def test_a_polar_day_wants_the_cover_and_says_so(bare):
    """70 N at midnight in June: the sun does not set, every resting place is short, the pole is the best."""
    result = run(Day(70.0, 25.0, "2026-06-15T22:00:00Z", 0.3, cook_min=0, uncover=bare))
    _, up, nearest = rested_deg(result)
    assert up == pytest.approx(70.0, abs=0.3) and nearest == pytest.approx(66.7, abs=0.3)
    assert len(told(result)) == 1 and told(result)[0]["b"] == pytest.approx(664, abs=2)
    assert len(result.cover_told) == bare
