"""Axis motion: trapezoid times, take-up, limits, the queue of the drive. Units: steps, ms, micro-degrees."""

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sunhob_board.mount.axis import Axis
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.mount import Mount
from sunhob_board.mount.profile import Profile, duration_ms, isqrt

from .mount_fakes import FakeDrive, settings

PER_DEG = 800
WIDE = 5  # as drivers/stepper_pio.py has it


class LongWords(FakeDrive):
    wide = WIDE


@pytest.mark.parametrize(
    ("deg", "speed", "accel", "seconds"),
    # t = d/v + v/a where d >= v^2/a, else 2 sqrt(d/a): uniformly accelerated motion, exact
    [(90, 2, 1, 47), (4, 2, 1, 4), (1, 2, 1, 2), (0.25, 2, 1, 1), (180, 5, 2.5, 38), (10, 0.5, 0.25, 22)],
)
def test_trapezoid_times(deg, speed, accel, seconds):
    found = duration_ms(int(deg * PER_DEG), speed * PER_DEG, accel * PER_DEG)
    assert found == pytest.approx(seconds * 1000, abs=2)


@hypothesis_settings(deadline=None)
@given(st.integers(0, 2**70))
def test_isqrt(n):
    r = isqrt(n)
    assert r * r <= n < (r + 1) ** 2


@hypothesis_settings(deadline=None)
@given(st.integers(0, 320_000), st.integers(1, 6400), st.integers(1, 6400))
def test_profile_never_goes_back_and_ends_right(d, v, a):
    p = Profile()
    p.start(d, v, a)
    seen = [p.at(t) for t in range(0, p.total_ms + 2, max(1, p.total_ms // 300))]
    assert seen == sorted(seen)
    assert p.at(p.total_ms) == d


def run(axis, drive, now=0, first=0):
    """Tick every 100 ms until at rest; returns (ticks, now)."""
    ticks = first
    while axis.moving:
        axis.tick(now)
        assert drive.ahead_us() <= 215_000
        drive.run(100_000)
        now = (now + 100) % 2**30
        ticks += 1
        assert ticks < 20_000
    return ticks, now


def make(n=1, start=90_000_000, **changes):
    drive = FakeDrive()
    axis = Axis(drive, n, settings(**changes))
    axis.set_position(start)
    drive.position = axis.steps(start)
    return axis, drive


def test_tracking_step_takes_few_ticks():
    axis, drive = make(2, 40_000_000)
    axis.move_to(40_080_000)
    ticks, _ = run(axis, drive)
    assert 3 <= ticks <= 5
    assert drive.position == axis.steps(40_080_000)


@hypothesis_settings(deadline=None)
@given(st.lists(st.tuples(st.integers(-20_000_000, 380_000_000), st.integers(1, 9)), min_size=1, max_size=4),
       st.sampled_from([-1, 0, 1]), st.integers(0, 2**30 - 1))
def test_every_move_ends_from_the_approach_side(moves, approach, now):
    axis, drive = make(axis1_approach=approach)
    for target, _ in moves:
        before = len(drive.sent)
        axis.move_to(target)
        _, now = run(axis, drive, now)
        assert axis.position_udeg == pytest.approx(target, abs=1250)
        assert drive.position == axis.steps(target)
        if approach and len(drive.sent) > before:
            assert drive.sent[-1][0] == approach


@hypothesis_settings(deadline=None)
@given(st.integers(1, 60), st.integers(-20_000_000, 380_000_000), st.integers(-20_000_000, 380_000_000))
def test_stopped_and_sent_elsewhere_it_still_arrives(ticks, first, second):
    axis, drive = make()
    axis.move_to(first)
    now = 0
    for _ in range(ticks):
        axis.tick(now)
        drive.run(100_000)
        now += 100
    axis.move_to(second)
    run(axis, drive, now)
    assert drive.position == axis.steps(second)
    assert axis.position_udeg == pytest.approx(second, abs=1250)


def test_stop_brakes_at_the_declared_rate():
    axis, drive = make()
    axis.move_to(300_000_000)
    for k in range(30):
        axis.tick(100 * k)
        drive.run(100_000)
    before = axis.position_udeg
    axis.stop()
    run(axis, drive, 3000)
    assert axis.position_udeg - before == pytest.approx(2_000_000, rel=0.02)  # v^2 / 2a
    assert axis.target_udeg == pytest.approx(before, abs=1)


def stalled(order, stall_ms=1500, every_ms=2000, wide=1):
    """Seconds and queue [us] of a move whose loop stalls so long, so often; wide: for one known late."""
    axis, drive = make()
    axis.wide = wide
    order(axis)
    now = most = 0
    while axis.moving:
        axis.tick(now)
        most = max(most, drive.ahead_us())
        gap = stall_ms if now % every_ms == 400 else 100
        drive.run(gap * 1000)
        now += gap
        assert now < 600_000
    assert drive.position == axis.steps(axis.position_udeg)
    return now / 1000, most


def test_a_loop_that_stalls_often_keeps_count_and_queues_no_further_ahead():
    assert stalled(lambda axis: axis.move_to(300_000_000))[1] <= 215_000
    assert stalled(lambda axis: axis.move_to(300_000_000), 100)[1] <= 215_000


def test_a_loop_known_to_stall_hardly_delays_a_move():
    whole_s = 210 / 2 + 2  # d/v + v/a
    took_s, most_us = stalled(lambda axis: axis.move_to(300_000_000), wide=WIDE)
    assert took_s < 1.1 * whole_s and most_us < 1_700_000
    assert stalled(lambda axis: axis.move_to(300_000_000))[0] > 1.5 * whole_s


@pytest.mark.parametrize("wide", [1, WIDE])
def test_a_search_for_a_flag_is_never_queued_far_ahead(wide):
    assert stalled(lambda axis: axis.seek(100_000_000, 1000), wide=wide)[1] <= 215_000


@pytest.mark.parametrize(("late", "drive", "wide"), [(True, LongWords, WIDE), (False, LongWords, 1),
                                                     (True, FakeDrive, 1)])
def test_only_a_drive_that_can_gets_long_words_and_only_while_the_loop_is_late(late, drive, wide):
    s = settings()
    mount = Mount((Axis(drive(), 1, s), Axis(drive(), 2, s)), Geometry(s))
    mount.set_position(90_000_000, 40_000_000)
    mount.late = late
    mount.move_to(100_000_000, 80_000_000)
    assert [axis.wide for axis in mount.axes] == [wide, wide]


def test_limit_clamps_and_tells():
    axis, drive = make()
    assert not axis.move_to(400_000_000)
    assert axis.at_limit
    run(axis, drive)
    assert axis.position_udeg == 380_000_000
    assert axis.move_to(10_000_000)
    assert not axis.at_limit


def cut(target):
    """An axis sent there from 90 deg, cut when it has turned for half a second."""
    axis, drive = make()
    axis.move_to(target)
    for k in range(6):
        axis.tick(100 * k)
        if k < 5:
            drive.run(100_000)
    axis.halt(500)
    return axis, drive


def test_cut_while_moving_forgets_the_place():
    axis, drive = cut(0)
    assert not axis.placed and not axis.moving and drive.free() == 8
    assert not axis.move_to(0)


def test_cut_in_a_step_of_tracking_knows_its_place_to_within_its_play():
    axis, drive = cut(90_240_000)
    assert axis.placed and not axis.moving and drive.free() == 8
    assert abs(axis.udeg(drive.position) - axis.position_udeg) < 100_000


def test_starved_queue_is_a_stop_not_a_jump():
    axis, drive = make()
    axis.move_to(100_000_000)
    now = 0
    while axis.moving:
        axis.tick(now)
        drive.run(700_000)
        now += 700
    assert drive.position == axis.steps(100_000_000)


def rig(start=(90_000_000, 40_000_000), **changes):
    s = settings(**changes)
    drives = FakeDrive(), FakeDrive()
    mount = Mount((Axis(drives[0], 1, s), Axis(drives[1], 2, s)), Geometry(s))
    mount.set_position(*start)
    for d, a, p in zip(drives, mount.axes, start, strict=True):
        d.position = a.steps(p)
    return mount, drives


def go(mount, drives, now=0, each=None):
    n = 0
    while mount.moving or n == 0:
        mount.tick(now)
        for d in drives:
            d.run(100_000)
        now += 100
        n += 1
        if each:
            each()
        assert n < 20_000
    return n


def test_straight_move_keeps_to_the_line():
    mount, drives = rig()
    worst = [0]

    def each():
        a, b = (d.position / PER_DEG for d in drives)
        worst[0] = max(worst[0], abs((a - 90) / 100 - (b - 40) / 50))

    mount.move_to(190_000_000, 90_000_000)
    ticks = go(mount, drives, each=each)
    assert worst[0] < 0.02
    assert ticks * 100 == pytest.approx(mount.axes[0].way_ms(90_000_000, 190_000_000), abs=400)


def test_play_to_be_taken_up_does_not_hold_up_the_other_axis():
    """Axis 1 stands where it shall, its motor in the play: it took minutes, at a thousandth of full speed."""
    mount, drives = rig()
    mount.axes[0]._motor -= mount.axes[0].steps(100_000)
    mount.move_to(90_000_000, 80_000_000)
    assert go(mount, drives) * 100 < mount.axes[1].way_ms(40_000_000, 80_000_000) + 1_000


def test_legs_follow_each_other():
    mount, drives = rig()
    mount.follow([(100_000_000, 40_000_000), (100_000_000, 80_000_000), (60_000_000, 10_000_000)])
    go(mount, drives)
    assert [d.position for d in drives] == [60 * PER_DEG, 10 * PER_DEG]


def seek_home(mount, drives, true, together=False):
    """Look for both flags from true readings [deg]: seconds, true readings then, the least on the way."""
    slack = 0.2 if mount.axes[0].approach else 0.0
    loads, least = list(true), list(true)
    offset = [d.position / PER_DEG - t for d, t in zip(drives, true, strict=True)]
    mount.home_start((1, 2), 0, together)
    for now in range(0, 400_000, 100):
        mount.tick(now)
        for d in drives:
            d.run(100_000)
        for i, play in enumerate((slack, 0.0)):
            motor = drives[i].position / PER_DEG - offset[i]
            high, low = (motor + play, motor) if mount.axes[0].approach > 0 else (motor, motor - play)
            loads[i] = min(max(loads[i], low), high)
            least[i] = min(least[i], loads[i])
        if mount.home_tick((1 if loads[0] <= -5 else 0) | (2 if loads[1] <= 0 else 0)):
            return now / 1000, loads, least
    raise AssertionError("home not found")


def test_by_a_rough_count_no_flag_is_looked_for_more_than_45_deg_from_home():
    """A drive that turns the other way would carry it all over its travel, onto the sun, against a stop."""
    def farthest(rough, flag):
        """Readings [deg] it comes to in vain, from 2 deg, the least and the greatest, and the last."""
        mount, drives = rig((2_000_000, 40_000_000), axis1_approach=0)
        mount.home_start((1,), 0, rough)
        driven = []
        for now in range(0, 400_000, 100):
            mount.tick(now)
            for d in drives:
                d.run(100_000)
            driven.append(drives[0].position / PER_DEG)
            if mount.home_tick(flag) or mount.homing.missed:
                break
        assert mount.homing.missed == 1
        return min(driven), max(driven), driven[-1]

    # home is at -5, the travel from -20 to 380; an active flag has it look upwards
    assert farthest(True, 0) == pytest.approx((-25.0, 2.0, 2.0), abs=1.0)
    assert farthest(True, 1) == pytest.approx((2.0, 40.0, 2.0), abs=1.0)
    # no count at all: as far from where it stands as there is travel on that side of home, and a little
    assert farthest(False, 1)[1] == pytest.approx(2.0 + 15.0 + 3.0, abs=1.0)
    assert farthest(False, 0)[0] == pytest.approx(2.0 - 385.0 - 3.0, abs=1.0)


@pytest.mark.parametrize("approach", [-1, 0, 1])
@pytest.mark.parametrize("wrong_deg", [-3.0, 0.0, 2.5])
def test_home_flag_puts_the_count_right(approach, wrong_deg):
    mount, drives = rig((30_000_000, 40_000_000), axis1_approach=approach)
    seconds, loads, _ = seek_home(mount, drives, [30.0 + wrong_deg, 40.0 + wrong_deg])
    for i in range(2):
        assert mount.axes[i].position_udeg / 1e6 == pytest.approx(loads[i], abs=0.02)
        assert mount.homing.searches[i].error / 1e6 == pytest.approx(wrong_deg, abs=0.03)
    assert seconds < 60


@pytest.mark.parametrize("approach", [-1, 1])
@pytest.mark.parametrize("wrong_deg", [-1.0, 0.0, 1.5, 6.0])
def test_beside_its_flag_it_takes_seconds_and_hardly_passes_home(approach, wrong_deg):
    """Beside the pole each second and each degree is loose light in summer; farther off than thought it still
    finds home."""
    mount, drives = rig((-3_000_000, 2_000_000), axis1_approach=approach)
    seconds, loads, least = seek_home(mount, drives, [-3.0 + wrong_deg, 2.0 + wrong_deg], True)
    for i in range(2):
        assert mount.axes[i].position_udeg / 1e6 == pytest.approx(loads[i], abs=0.02)
    if wrong_deg < 5.0:
        assert seconds < 14
        assert least[0] > -5.8 and least[1] > -0.8


def test_an_aim_across_the_end_of_the_travel_is_refused_and_a_way_is_wanted_where_the_dish_hardly_moves():
    s = settings()
    drives = (FakeDrive(), FakeDrive())
    mount = Mount((Axis(drives[0], 1, s), Axis(drives[1], 2, s)), Geometry(s))
    out = [0.0, 0.0, 0.0]
    mount.set_position(379_900_000, 60_000_000)
    mount.geometry.enu_from_axes(380_500_000, 60_000_000, out)  # only reached at 20.5 deg, a turn away
    assert not mount.aim(*out) and not mount.moving and not mount.swings(*out)
    mount.geometry.enu_from_axes(379_990_000, 60_000_000, out)
    assert mount.aim(*out) and not mount.swings(*out)
    mount.set_position(379_900_000, 88_500_000)
    mount.geometry.enu_from_axes(380_500_000, 88_500_000, out)  # beside the zenith: 3 deg
    assert not mount.aim(*out) and mount.swings(*out)
