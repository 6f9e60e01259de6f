"""A cooker with every further sensor, on the bench: nothing trips in a breeze, each row by its own cause."""

import dataclasses

import pytest
from sunhob_board.declared.interlocks import INDEX, ROWS
from sunhob_sim import scenario as sc
from sunhob_sim.bench import Bench

FITTED = {"axis1_encoder": True, "axis1_zero_deg": 37.0, "axis2_tilt": True, "base_tilt": True,
          "wind_hz_per_m_s": 4.0, "supply_ratio": 6.0}
THEIRS = {"wind", "wind_sensor", "base_moved", "base_sensor", "position_off", "position_sensor", "sun_sensor",
          "sun_disagrees", "supply_low", "drive_stalled", "drive_backwards", "drive_runaway"}


def fitted(wind_m_s, gust_m_s, spoils=lambda _bench: None, spoil_s=200.0, hours=0.2):
    """Rows tripped, by name and when [s], and the bench, with something spoilt after a while."""
    one = sc.load("short")
    air = one.air.model_copy(update={"wind_m_s": wind_m_s, "gust_m_s": gust_m_s})
    bench = Bench(one.model_copy(update={
        "hours": hours, "air": air, "settings": {**one.settings, "sensor": FITTED}}), "cpython")
    assert set(bench.fitted.devices) == {0x18, 0x19, 0x36, 0x49, 0x50}
    bench.engine.boot()
    while bench.board.now_us < hours * 3.6e9:
        if spoils is not None and bench.board.now_us > spoil_s * 1e6:
            spoils(bench)
            spoils = None
        bench.engine.cycle()
    bench.close()
    events = bench.uplink.events
    return {ROWS[e["a"]][0]: e["t_s"] for e in events if e["name"] == "trip"}, events


def test_a_cooker_with_every_sensor_comes_to_the_sun_in_a_breeze():
    tripped, events = fitted(3.0, 5.0)
    assert not THEIRS & set(tripped)
    assert any(e["name"] == "settled" for e in events)


def test_in_a_gale_it_does_not_come():
    tripped, events = fitted(14.0, 22.0)
    assert tripped["wind"] < 30.0 and THEIRS & set(tripped) == {"wind"}
    gust_m_s = next(e["b"] for e in events if e["name"] == "trip" and e["a"] == INDEX["wind"]) / 10.0
    assert 12.0 < gust_m_s < 25.0
    assert not any(e["name"] in ("armed", "settled") for e in events)


def lean(bench):
    bench.plant.stand(dataclasses.replace(bench.plant.mount, tilt_east_deg=3.0))


def silence(name):
    return lambda bench: setattr(getattr(bench.fitted, name), "silent", True)


def slip(bench):
    true = bench.fitted.encoder.angle
    bench.fitted.encoder.angle = lambda us: true(us) + 8.0


@pytest.mark.parametrize(("row", "spoils", "within_s"), [
    ("wind_sensor", silence("wind"), 60.0), ("base_sensor", silence("base_tilt"), 60.0),
    ("position_sensor", silence("encoder"), 30.0), ("position_sensor", silence("dish_tilt"), 30.0),
    ("position_sensor", lambda b: setattr(b.fitted.encoder, "magnet", False), 30.0),
    ("base_moved", lean, 15.0), ("position_off", slip, 15.0),
    ("supply_low", lambda b: setattr(b.fitted.supply, "sag_v", 4.0), 60.0),
])
def test_what_is_wrong_with_a_fitted_sensor_or_felt_by_it_trips_its_row(row, spoils, within_s):
    tripped, _ = fitted(3.0, 5.0, spoils, hours=0.08)
    assert 200.0 < tripped[row] < 200.0 + within_s
    assert row in THEIRS
