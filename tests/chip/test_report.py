"""The report of a run on the emulated chip."""

from dataclasses import replace

import pytest

from .report import Figures, shortfalls, words

GOOD = Figures("1.28.0", 60.0, 2.5, 12.0, 25.0, 60_000, 90_000, 0.0004, 600.0, 0.02, 0.04)


def test_figures_within_their_budgets_fall_short_of_nothing():
    assert shortfalls(GOOD) == []
    assert "worst_tick_ms      12\n" in words(GOOD) and "micropython        1.28.0\n" in words(GOOD)


@pytest.mark.parametrize(("change", "told"), [
    ({"again_s": 3.5}, "install of an unchanged board: 3.5 s, at most 3 wanted"),
    ({"collection_ms": 69.0}, "worst tick and a collection: 81 ms, at most 80 wanted"),
    ({"heap_live_bytes": 65_537}, "live heap: 65537 bytes, at most 65536 wanted"),
    ({"sun_worst_deg": float("nan")}, "sun against SPA: nan deg, at most 0.001 wanted"),
    ({"pointing_p95_deg": 0.06}, "pointing, 95 %: 0.06 deg, at most 0.05 wanted"),
])
def test_what_falls_short_is_told(change, told):
    assert shortfalls(replace(GOOD, **change)) == [told]
