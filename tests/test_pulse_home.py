"""Where a pulse axis finds its home, wherever the flag lies among the pulses. Units: degrees, pulses.

The truth is the bench's motor: its place along the pulses when the load stands at the flag. What it cannot
show to the board is how uneven a reed's two edges are: half of that is allowed, and 0.06 of a pulse beside it
(20 ms, the time between two looks at a flag, at the pass's speed of some 1.5 pulses a second, twice over).
"""

import pytest
from sunhob_sim import scenario
from sunhob_sim.bench import Bench
from sunhob_sim.bench_figures import finish

# closes and opens, of a pulse from the magnet's middle: common practice, no source
REEDS = [(0.10, 0.14), (0.18, 0.22), (0.30, 0.36)]


def bench_with(place, reed, hours, **air):
    """The shipped day, its flags moved by a share of some 0.2 deg, as many hours of it."""
    one = scenario.load("two_actuators")
    given = {name: dict(section) for name, section in one.settings.items()}
    given["axis1"]["home_deg"] += 0.2 * place
    given["axis2"]["home_deg"] -= 0.2 * (5.0 * place % 1.0)
    bench = Bench(one.model_copy(update={
        "hours": hours, "settings": given, "air": one.air.model_copy(update=air),
        "action": tuple(a for a in one.action if one.offset_s(a.at) <= hours * 3600.0)}), "cpython")
    for axis in bench.plant.axes:
        axis.reed = reed
        axis._place()
    return bench


def off_pulses(axis, plant, q_start):
    """By how much the board's place of home is wrong, in pulses; edges taken at their mean places."""
    closes, opens = plant.reed
    edges = sorted(m + x for m in range(int(q_start) - 2, int(q_start) + 3) for x in (opens, 1.0 - closes))
    first = next(k for k, edge in enumerate(edges) if edge > q_start)  # its count is 1
    line = 0.5 * (edges[first] + edges[first + 1] - 0.5)
    counts = axis.scale.counts(axis.home_udeg) + axis._zero
    truly = plant._sense * plant._pulses(plant.data.home_deg + plant.half)  # the motor pushes from below
    return line + 0.5 * (counts - 1.0) - truly


@pytest.mark.parametrize("reed", REEDS)
def test_home_is_found_between_the_pulses(reed):
    for k in range(6):
        bench = bench_with(k / 6.0, reed, 0.014)
        starts = [axis.q for axis in bench.plant.axes]
        bench.run()
        axes = bench.engine.app.mount.axes
        bench.close()
        for axis, plant, start in zip(axes, bench.plant.axes, starts, strict=True):
            assert axis.placed
            assert abs(off_pulses(axis, plant, start)) < 0.06 + 0.5 * abs(0.5 - sum(reed))


@pytest.mark.parametrize("reed", REEDS)
@pytest.mark.parametrize("place", [0.2, 0.5, 0.8])
def test_the_pointing_is_good_wherever_the_flag_lies(place, reed):
    wind = {"wind_m_s": 4.0, "gust_m_s": 8.0} if place == 0.5 else {}
    bench = bench_with(place, reed, 1.3, **wind)
    bench.run()
    result = finish(bench)
    bench.close()
    assert result.tracking["seconds"] > 2000 and result.hazards == []
    assert result.tracking["p95_deg"] <= 0.2
