"""In a doubt the counts are kept by the encoders: where the axes stand, and what share of its way each turns.

Units: degrees, as micro-degrees where the firmware has them. The vote of count, encoder and sun is
two against one; common practice, no source.
"""

from types import SimpleNamespace

import pytest
from sunhob_board.core.settings import defaults
from sunhob_board.core.whereabouts import BY_DRIVE, BY_ENCODER, BY_SUN
from sunhob_board.declared import interlocks as table
from sunhob_board.mount.mount import Mount
from sunhob_board.safety.place_check import PlaceCheck

DEG = 1_000_000


class FakeAxis:
    """Counts what it is driven; by_time and measured as a drive with pulses has them."""

    homes, measured, by_time, turned = True, False, False, False
    home_udeg = 0

    def __init__(self, deg):
        self.position_udeg = deg * DEG

    def here_udeg(self, _now_ms):
        return self.position_udeg

    def shift(self, udeg):
        self.position_udeg += udeg

    seen = shift


class Yard:
    """Axis 1 at 40 and axis 2 at 50 deg by their counts and, at first, by their encoders."""

    def __init__(self):
        s = defaults()
        self.axes = [FakeAxis(40), FakeAxis(50)]
        self.x = SimpleNamespace(absolute_udeg=[40 * DEG, 50 * DEG],
                                 silent_ms=SimpleNamespace(absolute=0), same=[0, 0])
        self.stops, self.said, self.vote = 0, [], 0
        mount = SimpleNamespace(axes=self.axes, now_ms=0, stretch=[1.0, 1.0], goals=[100 * DEG, 50 * DEG],
                                stop=self.stop)
        self.check = PlaceCheck(s, None, mount, self.x)
        self.mount = mount
        self.c = SimpleNamespace(
            dead=0, astray=0, sun_axes=[0, 0], _flags=0, rough=False, cond=SimpleNamespace(doubt=BY_ENCODER),
            watch=SimpleNamespace(sees=True, sight=SimpleNamespace(votes=lambda _k, _at: self.vote)),
            _stands=self.stands, lame=lambda *row: self.said.append(row), goes_again=self.again)

    def stop(self):
        self.stops += 1

    def stands(self, k, udeg):
        self.axes[k].position_udeg = udeg

    def again(self):
        self.said.append("again")

    def deg(self):
        return [axis.position_udeg / DEG for axis in self.axes]

    def go(self, by, turns, times=8, k=0):
        """An axis is driven so many degrees each time, and turns so many; told at each."""
        for _ in range(times):
            self.axes[k].position_udeg += int(by * DEG)
            self.x.absolute_udeg[k] += int(turns * DEG)
            self.check.keeps(self.c, 1 << k)


def began(read_deg=47.0, doubt=BY_ENCODER):
    yard = Yard()
    yard.x.absolute_udeg[0] = int(read_deg * DEG)
    yard.c.cond.doubt = doubt
    return yard


def test_a_count_that_its_encoder_gainsays_is_taken_from_it():
    yard = began()
    assert yard.check.places(yard.c, 0) == 3 and yard.deg() == [47.0, 50.0]
    assert yard.c.sun_axes[0] == 47 * DEG
    yard = began(doubt=BY_SUN)  # of the other axis nothing is known then
    assert yard.check.places(yard.c, 0) == 1 and yard.deg() == [47.0, 50.0]


def test_where_the_sun_bears_an_encoder_out_the_other_axis_stands_where_it_was_counted():
    """That one's count and encoder agree: a sun far off, badly placed, says nothing of it."""
    yard = began(doubt=BY_SUN)
    yard.check._sure = True
    assert yard.check.places(yard.c, 0) == 3 and yard.deg() == [47.0, 50.0]
    yard.check.anew()
    yard.x.absolute_udeg[0] = 55 * DEG
    assert yard.check.places(yard.c, 0) == 1 and yard.deg() == [55.0, 50.0]  # the next doubt has its own


def test_where_the_sun_is_seen_where_it_is_counted_the_encoder_is_the_wrong_one():
    yard = began()
    yard.vote, yard.c.dead, yard.axes[0].turned = -1, 1, True
    assert yard.check.places(yard.c, 1) == 0 and yard.deg() == [40.0, 50.0]
    assert yard.check.blamed == 1 and yard.c.dead == 0 and not yard.axes[0].turned
    assert yard.check.led(0) is None and yard.check.kept == 2


def test_an_encoder_that_is_silent_leads_nothing():
    yard = began()
    yard.x.silent_ms.absolute = 300
    assert yard.check.places(yard.c, 0) == 0 and yard.deg() == [40.0, 50.0] and yard.check.kept == 0


@pytest.mark.parametrize(("turns", "row"), [(0.0, "drive_stalled"), (0.1, "drive_stalled"),
                                            (-1.0, "drive_backwards"), (1.0, ""), (0.5, "")])
def test_an_axis_that_does_not_turn_as_it_is_driven_is_told_in_four_degrees(turns, row):
    yard = began(40.0, BY_DRIVE)
    assert yard.check.places(yard.c, 0) == 0 and yard.check.notes() == 3
    yard.go(1.0, turns, 6)
    assert yard.said == ([(1, table.INDEX[row])] if row else [])


def test_one_that_turns_half_its_way_is_counted_so_and_driven_twice_as_far():
    yard = began(40.0)
    yard.check.notes()
    yard.go(1.0, 0.5, 20)
    assert yard.axes[0].position_udeg == pytest.approx(50 * DEG, abs=3 * DEG)
    assert yard.mount.stretch == [pytest.approx(2.0, abs=0.2), 1.0] and yard.stops == 0
    yard.check.anew()
    assert yard.mount.stretch == [1.0, 1.0]


def test_what_turns_past_its_goal_is_stopped():
    yard = began(40.0)
    yard.check.notes()
    yard.mount.goals[0] = 44 * DEG
    yard.go(1.0, 1.0, 4)
    assert yard.stops == 0
    yard.go(1.0, 1.0, 3)
    assert yard.stops > 0


def test_of_a_base_that_was_pushed_the_encoders_tell_how_the_counts_change_from_there():
    yard = began(60.0, BY_SUN)  # the sun has just told that the count is 40
    yard.check.blamed = 0
    yard.check._since[0] = None
    yard.x.absolute_udeg[0] = 60 * DEG
    yard.check.notes()
    assert yard.check.places(yard.c, 0) == 3 and yard.deg() == [40.0, 50.0]
    yard.go(1.0, 1.0, 10)
    assert yard.said == [] and yard.deg()[0] == pytest.approx(50.0, abs=0.1)


def test_pulses_that_tell_another_place_than_the_encoder_are_not_shifted_but_gone_on_from():
    yard = began(40.0)
    yard.check.notes()
    yard.axes[0].measured = True
    yard.go(3.0, 1.0, 12)
    assert "again" in yard.said and yard.axes[0].position_udeg == 76 * DEG


@pytest.mark.parametrize(("flags", "starts"), [(0, True), (1, False)])
def test_with_no_count_it_begins_by_what_encoders_have_that_no_flag_gainsays(flags, starts):
    yard = Yard()
    yard.c._flags = flags
    yard.axes[0].position_udeg = yard.axes[1].position_udeg = 0
    assert yard.check.starts(yard.c) is starts and yard.c.rough is starts
    assert yard.deg() == ([40.0, 50.0] if starts else [0.0, 0.0])
    assert not yard.check.starts(yard.c) or flags  # once


def test_a_way_of_an_axis_that_turns_half_is_ordered_twice_as_far():
    asked = []

    def axis(at):
        return SimpleNamespace(position_udeg=at, placed=True, drive=None, clamp=lambda a: a, wide=1,
                               way_ms=lambda a, b: abs(b - a) // 1000,
                               move_to=lambda a, p: asked.append(a) or True)
    mount = Mount((axis(10 * DEG), axis(20 * DEG)), None)
    mount.stretch[0] = 2.0
    mount.move_to(30 * DEG, 40 * DEG)
    assert asked == [50 * DEG, 40 * DEG] and mount.goals == [30 * DEG, 40 * DEG]
