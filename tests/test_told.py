"""What is shown of a board's answer: its order and words. Units as in the keys."""

from sunhob.told import told_lines


def test_the_order_is_the_same_however_the_board_gives_it():
    got = {"tripped": ["lid", "wind"], "zeta": 1, "ms": 1500, "mode": "PARKED", "day": 9668, "alpha": None,
           "clock_known": True, "words": "parked", "play_up": [True, False], "axis1_deg": 0.5}
    lines = told_lines(got)
    assert lines == told_lines(dict(reversed(got.items())))
    assert [line.split()[0] for line in lines] == [
        "mode", "words", "utc", "clock_known", "axis1_deg", "play_up", "alpha", "zeta", "tripped"]
    assert lines[2].endswith("2026-06-21T00:00:01.500Z") and lines[5].endswith("yes, no")
    assert lines[-1].endswith("lid, wind") and lines[6].endswith("-")


def test_a_time_that_is_not_known_is_not_told():
    assert told_lines({"day": 0, "ms": 7, "clock_known": False}) == ["clock_known        no"]
