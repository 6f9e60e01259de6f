"""The firmware in single floats on CPython: what numpy's 32 bits give, and whole boards in them. No units."""

import math
import operator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob_sim import single_float
from sunhob_sim.bench import Bench
from sunhob_sim.campaign.run import single_jobs
from sunhob_sim.scenario import parse

FLOATS = st.floats(width=32, allow_nan=False, allow_infinity=False)
NAMES = single_float.names()


@given(FLOATS, FLOATS, st.sampled_from([("_Add", operator.add), ("_Sub", operator.sub),
                                        ("_Mult", operator.mul), ("_Div", operator.truediv)]))
def test_arithmetic_is_that_of_numpys_32_bits(a, b, how):
    name, act = how
    if name == "_Div" and b == 0.0:
        return
    with np.errstate(all="ignore"):
        wanted = float(act(np.float32(a), np.float32(b)))
    got = NAMES[name](a, b)
    assert got == wanted or (math.isnan(got) and math.isnan(wanted))


@given(st.integers(-(2**40), 2**40), FLOATS)
def test_a_whole_number_meets_a_float_as_a_single_one(whole, real):
    with np.errstate(all="ignore"):
        assert NAMES["_Add"](whole, real) == float(np.float32(whole) + np.float32(real))
    assert NAMES["_Mult"](whole, 3) == whole * 3 and type(NAMES["_Mult"](whole, 3)) is int


def ran(text, **more):
    room = {**NAMES, **more}
    exec(single_float.rewritten(text, "x"), room)
    return room


def test_rewritten_source_rounds_constants_sums_and_what_is_read():
    room = ran("a = 0.1\nb = float('0.1')\nc = [1]\nc[0] += 0.1\nd = sum([0.1, 0.2])\ne = 7 // 2\n"
               "f = '%d' % 3\ng = divmod(0.7, 0.1)\n")
    tenth = float(np.float32(0.1))
    assert room["a"] == room["b"] == tenth and room["c"] == [float(np.float32(1.1))]
    assert room["d"] == float(np.float32(room["d"])) and (room["e"], room["f"]) == (3, "3")
    assert all(part == float(np.float32(part)) for part in room["g"])
    kept = single_float.single_modules()
    assert kept["math"].sin(0.5) == float(np.float32(math.sin(0.5)))
    assert kept["json"].loads('{"x": [0.1, 2]}') == {"x": [tenth, 2]}


def test_a_board_of_single_floats_holds_no_other():
    bench = Bench(parse('name = "e"\nstart = 2026-03-01T08:00:00Z\nhours = 0.01\n'), "single")
    try:
        bench.run()
        app = bench.engine.app
        seen = [v for one in (app, app.controller, app.sun, app.mount, app.s) for v in vars(one).values()
                if type(v) is float]
    finally:
        bench.close()
    assert len(seen) > 20 and all(one == float(np.float32(one)) for one in seen)
    assert bench.uplink.events


@pytest.mark.parametrize(("engine", "kinds"), [("cpython", {"cpython", "single"}),
                                               ("micropython", {"micropython"})])
def test_a_tenth_of_a_campaign_runs_in_single_floats(engine, kinds):
    jobs = single_jobs(2000, 1, (), engine)
    assert {job[2] for job in jobs} == kinds
    share = sum(job[2] == "single" for job in jobs) / len(jobs)
    assert 0.07 < share < 0.13 or engine == "micropython"
    assert jobs == single_jobs(2000, 1, (), engine)
