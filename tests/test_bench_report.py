"""The report of a day, against an invented result: words, figures, pictures, one-file HTML."""

import re
from datetime import UTC, datetime

import numpy as np
import pytest
from sunhob import report
from sunhob.run_result import RunResult, Trace, events_sum, utc_text
from sunhob_board.declared import events, interlocks, modes


def _event(second, name, a=0, b=0):
    when = datetime(2026, 3, 12, 3, 0, second, tzinfo=UTC)
    return {"at_utc": utc_text(when), "name": name, "a": a, "b": b, "detail": report.words_of(name, a, b)}


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
        words = report.words_of(name, a, 1)
        assert words and words != name
        assert "{" not in words
        assert words.endswith(".")


def test_timeline_is_in_order_and_in_local_time(result):
    lines = report.timeline_text(result).splitlines()
    assert [line[:8] for line in lines] == ["08:30:01", "08:30:03", "08:30:05"]
    assert "cook" in lines[1]
    assert "coming to the sun from behind" in lines[2]


def test_pictures_and_one_file_report(result, tmp_path):
    images = report.pictures(result, tmp_path)
    assert len(images) == 4
    for image in images:
        assert image.read_bytes().startswith(b"\x89PNG")
    page = report.html_report(result, images, tmp_path / "made.html").read_text("utf-8")
    assert page.count("data:image/png;base64,") == 4
    assert not re.search(r'(src|href)="?http', page)
    for caution in report.CAUTIONS:
        assert caution in page
    assert result.events_sha256 in page


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
