"""The report of a day, against an invented result: words, figures, pictures, one-file HTML."""

import re
from datetime import UTC, datetime

import numpy as np
import pytest
from sunhob import report, report_story
from sunhob.run_result import RunResult, Trace, events_sum, utc_text
from sunhob_board.declared import events, interlocks, modes


def _event(second, name, a=0, b=0):
    when = datetime(2026, 3, 12, 3, 0, second, tzinfo=UTC)
    return {"at_utc": utc_text(when), "name": name, "a": a, "b": b,
            "detail": report_story.words_of(name, a, b)}


@pytest.fixture
def result():
    t = np.arange(0.0, 3600.0, 10.0)
    flat = np.ones_like(t)
    trace = Trace(t, 90 + t / 240, 30 + t / 300, 90 + t / 240, 30 + t / 300, 0.03 * flat,
                  np.where(t > 600, 0.03, np.nan), 0.6 * flat, 0.6 * flat, 500 * flat, 850 * flat,
                  np.where(t > 600, modes.COOKING, modes.PARKED))
    return RunResult(
        scenario="made", about="An invented day.", engine="cpython",
        start=datetime(2026, 3, 12, 3, tzinfo=UTC),
        timezone="Asia/Kolkata", simulated_s=3600.0, wall_s=1.0,
        tracking={"p50_deg": 0.03, "p95_deg": 0.04, "max_deg": 0.05, "seconds": 3000.0}, hazards=[],
        events=[_event(1, "boot"), _event(5, "mode", modes.PARKED, modes.COMING)], energy_j=3600.0,
        motor_j=1200.0, heat={"delivered_j": 1.8e6, "dial_error_rms": 0.02},
        firmware={"worst_tick_ms": 12.0, "heap_peak_bytes": 40000.0}, trace=trace,
        actions=[{"at_utc": "2026-03-12T03:00:03.000Z", "do": "arm", "words": "Presses ARM."}],
    )


@pytest.mark.parametrize("name", [row[0] for row in events.EVENTS])
def test_every_event_has_plain_words(name):
    rows = len(interlocks.ROWS) if name in ("trip", "over", "cleared") else 1
    for a in range(rows):
        words = report_story.words_of(name, a, 1)
        assert words and words != name
        assert "{" not in words
        assert words.endswith(".")


def test_timeline_is_in_order_and_in_local_time(result):
    lines = report_story.timeline_text(result).splitlines()
    assert [line[:8] for line in lines] == ["08:30:01", "08:30:03", "08:30:05"]
    assert "cook" in lines[1]
    assert "coming to the sun from behind" in lines[2]


def test_pictures_and_one_file_report(result, tmp_path):
    images = report.pictures(result, tmp_path)
    assert len(images) == 4, "no pot, no picture of a pot"
    for image in images:
        assert image.read_bytes().startswith(b"\x89PNG")
    page = report.html_report(result, images, tmp_path / "made.html").read_text("utf-8")
    assert page.count("data:image/png;base64,") == 4
    assert not re.search(r'(src|href)="?http', page)
    for caution in report.CAUTIONS:
        assert caution in page
    assert result.events_sha256 in page


@pytest.fixture
def meal(result):
    """The same hour with a pot: it boils at 1000 s, is held at 90 degC from 1500 s, boxed at 3000 s."""
    trace, t = result.trace, result.trace.t_s
    trace.contents_c = np.interp(t, [0, 1000, 1200, 1500, 3000, 3600], [30, 98, 98, 90, 90, 85])
    trace.underside_c = trace.contents_c + 3.0
    trace.water_kg, trace.boiled_kg = 3.0 - t / 7200, t / 7200
    trace.cooked, trace.scorch = t / 2000, np.zeros_like(t)
    trace.full_heat_w = np.full_like(t, 800.0)
    trace.set_c = np.where((t > 1250) & (t < 3000), 90.0, np.nan)
    trace.hand_heat_w, trace.hand_contents_c = 0.9 * trace.heat_w, trace.contents_c - 9
    trace.hand_cooked = t / 9e3
    result.pot = {"boil_c": 98.0, "air_c": 29.0}
    result.by_hand = {"every_min": 10.0, "touches": 6.0, "delivered_j": 1.5e6}
    asked = _event(1, "asked", 2, 90_000) | {"t_s": 1250.0}
    result.events.append(asked | {"at_utc": utc_text(result.at(1250.0))})
    result.actions.append({"at_utc": utc_text(result.at(3000.0)), "t_s": 3000.0, "do": "box", "value": 1.0,
                           "words": "Takes the pot into the insulated box."})
    result.actions[0]["t_s"] = 3.0
    return result


def test_the_story_tells_what_became_of_the_pot(meal):
    told = {label: t for t, label, _ in report_story.pot_events(meal) if label}
    assert told == {"boils": 1000.0, "cooked": 2000.0, "held": pytest.approx(1470, abs=20),
                    "into the box": 3001.0}
    text = report_story.timeline_text(meal)
    assert "It boils: 98.0 °C" in text and "85 °C." in text.splitlines()[-1]
    assert text.splitlines()[0].split()[1:3] == ["30", "°C"]


def test_dish_and_hand_stand_side_by_side(meal, tmp_path):
    rows = {what: (own, hand) for what, own, hand in report.comparison(meal)}
    assert rows["Meal 1 boils"] == ("08:46", "never")
    assert rows["Meal 1 cooked"] == ("09:03", "never")
    assert rows["Held at 90 °C"] == ("90 to 91 °C", "81 to 82 °C")
    images = report.pictures(meal, tmp_path)
    assert len(images) == 5
    page = report.html_report(meal, images, tmp_path / "meal.html").read_text("utf-8")
    assert "Beside a hand on the dish every 10 minutes" in page


def _mode(second, a, b):
    return _event(0, "mode", a, b) | {"t_s": second, "at_utc": f"2026-03-12T03:{second // 60:02d}:00.000Z"}


def test_many_rests_are_told_in_one_line(meal):
    meal.events = [_mode(60, modes.COMING, modes.COOKING)]
    for k in range(4):
        turns = ((modes.COOKING, modes.RESTING), (modes.RESTING, modes.COMING), (modes.COMING, modes.COOKING))
        meal.events += [_mode(300 + 600 * k + 60 * i, *turn) for i, turn in enumerate(turns)]
    told = [words for _, who, words in report_story.timeline(meal) if who == "dish"]
    assert len(told) == 2 and "4 times until 09:07" in told[1] and "between" in told[1]


def test_small_turns_of_the_dial_are_not_told(meal):
    meal.events = [_event(k, "dial", heat, 0) for k, heat in enumerate((480, 500, 520, 590, 0, 400))]
    told = [words for _, who, words in report_story.timeline(meal) if who == "dish"]
    assert [words.split()[2] for words in told] == ["48", "59", "none", "40"]


def test_sum_of_events_depends_on_each_value(result):
    other = [dict(one) for one in result.events]
    assert events_sum(other) == result.events_sha256
    other[1]["b"] = 3
    assert events_sum(other) != result.events_sha256


def test_the_json_has_the_agreed_keys(result):
    got = result.as_dict()
    assert {"engine", "simulated_s", "wall_s", "tracking", "hazards", "events", "events_sha256", "energy_j",
            "motor_j", "heat", "firmware"} <= set(got)
    assert {"p50_deg", "p95_deg", "max_deg", "seconds"} <= set(got["tracking"])
    assert {"delivered_j", "dial_error_rms"} <= set(got["heat"])
    assert {"worst_tick_ms", "heap_peak_bytes"} <= set(got["firmware"])
