"""Words of `sunhob check` on the light, from traced figures given here. Units: deg, m, percent."""

import math
from types import SimpleNamespace

import pytest
from sunhob import check_light
from sunhob.optics.loose import Clear


def judged(monkeypatch, clear=(18.6, 89.2, 0.34, 0.41), plate_m=0.0, least=40.0, guard=0.0, cover=90.0):
    """What check says when the trace finds these angles (deg), radii and plate (m)."""
    cooker = SimpleNamespace(
        dish=SimpleNamespace(pot_clear_deg=20.0, loose_clear_deg=75.0, cover_below_deg=cover),
        heat=SimpleNamespace(least_percent=least),
        guard=SimpleNamespace(diameter_m=guard),
    )
    monkeypatch.setattr(check_light, "optics_of", lambda _cooker: None)
    monkeypatch.setattr(check_light, "_traced", lambda _optics, _least: (Clear(*clear), plate_m))
    return check_light.judge_light(cooker)


def test_good_angles_pass_and_a_short_loose_angle_is_told(monkeypatch):
    found = judged(monkeypatch)
    assert found.falls_short == []
    (note,) = found.notes
    assert "dish.loose_clear_deg = 75.0 deg" in note and "89.2 deg" in note and "cover" in note
    assert judged(monkeypatch, (20.3, 75.2, 0.3, 0.4)).notes == []  # within the trace's own grain


def test_a_cover_asked_for_too_late_falls_short(monkeypatch):
    (line,) = judged(monkeypatch, cover=85.0).falls_short
    assert line.startswith("dish.cover_below_deg = 85.0 deg") and "give at least 90 deg" in line
    assert judged(monkeypatch, cover=88.8).falls_short == []  # within the trace's own grain


@pytest.mark.parametrize(
    ("pot_clear", "told"), ((23.2, "give at least 24 deg"), (None, "take a smaller pot"))
)
def test_a_pot_lit_beyond_the_declared_angle_falls_short(monkeypatch, pot_clear, told):
    (line,) = judged(monkeypatch, (pot_clear, 70.0, 0.3, 0.4)).falls_short
    assert line.startswith("dish.pot_clear_deg = 20.0 deg") and told in line


@pytest.mark.parametrize(
    ("needed", "have", "told"),
    ((0.95, 0.6, "a guard plate of 0.95 m, guard.diameter_m = 0.6 m"), (math.inf, 1.0, "no guard plate")),
)
def test_a_plate_too_small_falls_short(monkeypatch, needed, have, told):
    (line,) = judged(monkeypatch, plate_m=needed, least=20.0, guard=have).falls_short
    assert line.startswith("heat.least_percent = 20.0 %") and told in line
    assert judged(monkeypatch, plate_m=0.95, least=20.0, guard=1.0).falls_short == []
