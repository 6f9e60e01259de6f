"""Drives, gears and sensors of the bench's plant. Units: degrees, seconds, us, steps."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize
from sunhob_sim import pins
from sunhob_sim.pio_queue import pack_word
from sunhob_sim.plant import Plant
from sunhob_sim.plant_geometry import TrueMount
from sunhob_sim.plant_settings import flat_settings, park_axes
from sunhob_sim.sky import Site, Sky

SKY = Sky(Site(24.6, 73.7, 600.0), 1_765_000_000, 7200)  # an invented courtyard
STEP_DEG = 360.0 / 288000


def moved(plant, sm, steps, period_us=101):
    """Give `steps` (signed) to an axis and let them run out."""
    left = abs(steps)
    while left:
        n = min(left, 2048)
        plant.motion(sm, [pack_word(steps > 0, n, period_us)])
        plant.advance(plant.now_us + n * period_us + 10)
        left -= n


def ready(**changes):
    settings = {"axis1.backlash_deg": 0.0, "axis2.backlash_deg": 0.0, **changes}
    plant = Plant(settings, SKY, start_deg=(100.0, 40.0))
    plant.outputs({pins.MOTOR_ENABLE: 1})
    return plant


def test_steps_turn_the_axis_by_its_gearing():
    plant = ready()
    moved(plant, 0, 8000)
    moved(plant, 1, -800)
    assert plant.axes_deg == pytest.approx((110.0, 39.0), abs=1e-9)
    assert plant.motor_s[0] == pytest.approx(8000 * 101e-6, abs=0.06)


def test_reversed_wiring_turns_the_other_way():
    plant = ready(**{"axis1.reversed": True})
    moved(plant, 0, 800)
    assert plant.axes_deg[0] == pytest.approx(99.0)


@pytest.mark.parametrize("pin", [pins.MOTOR_ENABLE, pins.STOP_CHAIN])
def test_no_power_no_motion_and_the_steps_are_lost(pin):
    plant = ready()
    if pin == pins.STOP_CHAIN:
        plant.set_input(pin, 0)
    else:
        plant.outputs({pin: 0})
    moved(plant, 0, 800)
    assert plant.axes_deg[0] == 100.0
    assert plant.axes[0].lost_steps == 800


def test_dragged_load_lags_by_the_play():
    plant = ready(**{"axis1.backlash_deg": 0.2})  # approach 1: nothing holds the load
    moved(plant, 0, 800)
    assert plant.axes_deg[0] == pytest.approx(100.9)
    moved(plant, 0, -160)  # 0.2 deg back only crosses the play
    assert plant.axes_deg[0] == pytest.approx(100.9)
    moved(plant, 0, -80)
    assert plant.axes_deg[0] == pytest.approx(100.8)


def test_load_held_by_weight_has_no_play():
    plant = ready(**{"axis2.backlash_deg": 0.2})  # approach 0
    moved(plant, 1, 80)
    moved(plant, 1, -160)
    assert plant.axes_deg[1] == pytest.approx(39.9)


def test_hard_stop_loses_steps_and_counts_the_pushing():
    plant = ready()
    moved(plant, 1, 52000, 51)
    assert plant.axes_deg[1] == pytest.approx(93.5)
    assert plant.axes[1].lost_steps == pytest.approx((105.0 - 93.5) / STEP_DEG, abs=2)
    assert plant.record()["push2_s"].max() == pytest.approx(9200 * 51e-6, abs=0.1)


def test_home_flag_changes_at_home():
    plant = ready()
    assert plant.inputs()[pins.HOME[1]] == 1
    moved(plant, 1, -32001, 51)
    assert plant.inputs()[pins.HOME[1]] == 0


def test_wind_shoves_only_where_there_is_play_and_is_seeded():
    def swing(seed, gust):
        plant = Plant({"axis1.backlash_deg": 0.4}, SKY, wind_m_s=gust / 2, gust_m_s=gust, seed=seed)
        plant.advance(600_000_000)
        return plant.record()["axis1_deg"]

    assert np.ptp(swing(3, 0.0)) == 0.0
    assert np.ptp(swing(3, 14.0)) == pytest.approx(0.4)
    assert np.array_equal(swing(3, 14.0), swing(3, 14.0))
    assert not np.array_equal(swing(3, 14.0), swing(4, 14.0))


def test_buttons_are_low_while_pressed_and_wake_the_board():
    plant = ready()
    plant.press(pins.ARM, 1_000_000)
    assert plant.next_edge_us() == 1_000_000
    plant.advance(1_200_000)
    assert plant.inputs()[pins.ARM] == 0
    plant.advance(2_000_000)
    assert plant.inputs()[pins.ARM] == 1
    assert plant.presses == [(1.0, pins.ARM)]


def test_tube_sees_the_beam_only_near_the_sun():
    plant = ready()
    plant.advance(3_600_000_000)
    sun = np.asarray(SKY.sun_at(3600.0))
    one = np.degrees(np.arctan2(sun[0], sun[1])) % 360
    two = np.degrees(np.arcsin(sun[2]))
    assert plant.adc()[0] == 0
    near = Plant({}, SKY, start_deg=(one, two))
    near.advance(3_600_000_000)
    assert near.separation_deg() < 0.01
    assert near.adc()[0] == pytest.approx(SKY.beam_w_m2(3600.0) / 1500.0 * 65535, abs=2)


@pytest.mark.parametrize("lat", [24.6, -33.0, 0.5])
@pytest.mark.parametrize("kind", ["altaz", "polar"])
def test_park_is_the_elevated_pole(lat, kind):
    flat = flat_settings({"site": {"latitude_deg": lat}, "mount": {"kind": kind}})
    aim = TrueMount(kind, lat).enu(*park_axes(flat))
    pole = [0.0, np.sign(lat) * np.cos(np.radians(lat)), np.sin(np.radians(abs(lat)))]
    assert aim == pytest.approx(pole, abs=1e-6)


def test_altaz_axes_are_azimuth_and_elevation():
    assert TrueMount().enu(90.0, 0.0) == pytest.approx([1.0, 0.0, 0.0])
    assert TrueMount(north_deg=10.0).enu(80.0, 0.0) == pytest.approx([1.0, 0.0, 0.0])
    assert TrueMount(tilt_east_deg=2.0).enu(0.0, 90.0)[0] == pytest.approx(np.sin(np.radians(2.0)))
    assert TrueMount(tilt_north_deg=2.0).enu(0.0, 90.0)[1] == pytest.approx(np.sin(np.radians(2.0)))


def test_polar_noon_is_the_meridian():
    noon = TrueMount("polar", 30.0).enu(180.0, 0.0)
    assert noon == pytest.approx([0.0, -np.sin(np.radians(30)), np.cos(np.radians(30))])
    west = TrueMount("polar", 30.0).enu(270.0, 0.0)
    assert west == pytest.approx([-1.0, 0.0, 0.0], abs=1e-12)


def test_firmware_geometry_agrees_with_the_plant():
    geometry = pytest.importorskip("sunhob_board.mount.geometry")

    class S:
        axis1_low_deg, axis1_high_deg, axis2_low_deg, axis2_high_deg = -20.0, 380.0, -2.0, 92.0
        axis1_home_deg, axis2_home_deg, axis1_zero_deg, axis2_zero_deg = -5.0, 0.0, 0.7, -0.4
        axis1_speed_deg_s, axis2_speed_deg_s, site_latitude_deg = 4.0, 3.0, 24.6
        mount_kind, mount_square_deg, mount_north_deg = "altaz", 0.8, 11.0
        mount_tilt_east_deg, mount_tilt_north_deg = 1.5, -2.0

    for S.mount_kind in ("altaz", "polar"):
        true = TrueMount(S.mount_kind, 24.6, 11.0, 1.5, -2.0, 0.8, (0.7, -0.4))
        board = geometry.Geometry(S)
        out = [0.0, 0.0, 0.0]
        for one, two in ((0.0, 0.0), (77.0, 30.0), (210.0, 60.0), (359.0, 88.0)):
            board.enu_from_axes(int(one * 1e6), int(two * 1e6), out)
            assert out == pytest.approx(true.enu(one, two), abs=1e-6)


def test_axes_for_a_direction_invert_the_mount():
    true = TrueMount("altaz", 24.6, 11.0, 1.5, -2.0, 0.8, (0.7, -0.4))
    assert true.axes_for(true.enu(210.0, 60.0), (200.0, 50.0)) == pytest.approx((210.0, 60.0), abs=1e-5)
    assert true.axes_for(true.enu(-10.0, 30.0), (355.0, 50.0)) == pytest.approx((350.0, 30.0), abs=1e-5)


@given(st.floats(-100.0, 100.0), st.sampled_from((0.0, 0.1, 0.3, 0.7, 1.0)), st.booleans(),
       st.floats(1e-6, 40.0))
def test_the_time_to_an_edge_is_scipys_root(speed, duty, forward, ahead):
    """Newton from the side it cannot leave, against Brent's method on the same exponential."""
    one = ready(**{"axis1.drive": "motor", "axis1.speed_deg_s": 4.0}).axes[0]
    one.powered, one.duty, one.forward, one.speed = True, duty, forward, speed
    sign, aim, tau = one._pull()
    if not sign:
        return
    found = one._when(one.q + sign * ahead)

    def gone(t):
        return sign * (aim * t + (speed - aim) * tau * (1.0 - math.exp(-t / tau))) - ahead

    end = 5.0 if aim * sign >= 0.0 or not speed else min(5.0, tau * math.log((speed - aim) / -aim))
    if math.isinf(found):
        assert gone(end) < 1e-9
    else:
        assert found == pytest.approx(optimize.brentq(gone, 0.0, end + 1e-9, xtol=1e-10), abs=1e-6)
