"""The four mounts through whole days: the cook's deeds are the demo's, and the kept figures are the bench's.

Units: degrees, UTC.
"""

import json
from collections import Counter
from pathlib import Path

import pytest
from sunhob_sim import mount_days
from sunhob_sim import scenario as scenarios

KEPT = json.loads((Path(__file__).parents[1] / "hardware_notes/mounts.json").read_text(encoding="utf-8"))
BY_LETTER = {one.letter: one for one in mount_days.MOUNTS}


@pytest.mark.parametrize("letter", BY_LETTER)
def test_the_cook_does_on_each_mount_what_the_demos_cook_does(letter):
    mount, demo = BY_LETTER[letter], scenarios.load("demo")
    day = mount_days.cooks_day(mount)
    scenarios.cooker_of(day)
    assert day.start == demo.start and day.sky == demo.sky and day.pot == demo.pot
    assert day.settings["site"] == demo.settings["site"]
    deeds = Counter((one.do, one.value) for one in day.action)
    asked = Counter((one.do, one.value) for one in demo.action if one.at <= mount.until)
    assert {do for do, _ in asked - deeds} <= {"clock", "north"}
    assert {do for do, _ in deeds - asked} <= {"cover", "season", "uncover"}
    at = [day.offset_s(one.at) - 60.0 * mount.later_min for one in day.action if one.do == "arm"]
    assert at == [demo.offset_s(one.at) for one in demo.action if one.do == "arm" and one.at <= mount.until]


def test_the_kept_figures_are_of_these_days_and_within_the_limits():
    assert KEPT["made_by"] == mount_days.COMMAND
    assert KEPT["fingerprint"] == mount_days.fingerprint(), f"measure anew: {mount_days.COMMAND}, make notes"
    assert [row["letter"] for row in KEPT["mounts"]] == list("abcd")
    for row in KEPT["mounts"]:
        part = "hour_p95_deg" if row["by_hand"] else "p95_deg"
        for day in ("cooks_day", "own_day"):
            assert row[day]["calm"][part] <= row["goal_deg"] == BY_LETTER[row["letter"]].goal_deg
            for air in mount_days.AIRS:
                assert row[day][air]["hazards"] == 0 and row[day][air]["hours"] > 3.0


@pytest.mark.parametrize(("letter", "part"), [("c", "p95_deg"), ("d", "hour_p95_deg")])
def test_a_cooks_day_gives_the_figure_that_is_kept(letter, part):
    mount = BY_LETTER[letter]
    got = mount_days.in_air(mount_days.cooks_day(mount), "calm")
    kept = next(row for row in KEPT["mounts"] if row["letter"] == letter)["cooks_day"]["calm"]
    assert got.hazards == [] and got.stranded == []
    assert got.tracking[part] <= mount.goal_deg
    assert got.tracking[part] == pytest.approx(kept[part], abs=0.02)
