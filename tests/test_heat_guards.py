"""Each guard of the pot: what trips it, and what looks alike and must not. Units: degC, W, s.

Guards and interlock table together, over hand-made hours of an invented kitchen at 600 m.
"""

from types import SimpleNamespace

import pytest
from sunhob_board.core.settings import defaults
from sunhob_board.declared import interlocks as table
from sunhob_board.declared import modes
from sunhob_board.drivers.thermocouple_max31855 import OK, OPEN, SHORT_GROUND, SILENT
from sunhob_board.heat.guards import Guards
from sunhob_board.safety.interlocks import Interlocks


class Kitchen:
    """Guards and interlocks in one; put() passes seconds with these readings."""

    def __init__(self, **settings):
        s = defaults()
        for name, value in settings.items():
            setattr(s, name, value)
        self.log = []
        self.locks = Interlocks(s, lambda code, row, _: self.log.append((code, table.ROWS[row][0])), "trip",
                                "over")
        self.guards = Guards(s, self.locks)
        self.contents = SimpleNamespace(mc=25_000, fault=OK, same_ms=0, rise_mk_s=0)
        self.underside = SimpleNamespace(mc=25_000, fault=OK, same_ms=0, rise_mk_s=0)
        self.light = SimpleNamespace(silent_ms=0)
        self.boil_c = self.guards.boil_mc / 1000

    def put(self, seconds, contents_c=None, under_c=None, watts=0, mode=modes.COOKING, pot=True):
        """Readings go straight from where they are to the new ones over these seconds."""
        for probe, to in ((self.contents, contents_c), (self.underside, under_c)):
            if to is not None and probe is not None:
                probe.rise_mk_s = int((to * 1000 - probe.mc) / seconds)
        for _ in range(int(seconds)):
            for probe in (self.contents, self.underside):
                if probe is not None and probe.mc is not None:
                    probe.mc += probe.rise_mk_s
            self.locks.begin()
            self.guards.judge(1000, mode, pot, self, watts)
            self.locks.tick(1000)
        for probe in (self.contents, self.underside):
            if probe is not None:
                probe.rise_mk_s = 0

    def tripped(self):
        return {row[0] for i, row in enumerate(table.ROWS) if self.locks.is_tripped(i)}


def boiling(kitchen, watts=900):
    kitchen.put(1200, kitchen.boil_c, kitchen.boil_c + 25, watts)
    kitchen.put(300, kitchen.boil_c, kitchen.boil_c + 25, watts)
    assert kitchen.tripped() == set()


def test_a_pot_brought_to_the_boil_trips_nothing():
    boiling(Kitchen())


def test_porridge_that_sticks_is_turned_down_and_then_left():
    k = Kitchen()
    k.put(900, 85, 105, 900)
    assert k.tripped() == set()
    k.put(120, 88, 135, 900)
    k.put(60, 88, 135, 900)
    assert k.tripped() == {"scorch"}
    k.put(200, 88, 122, 400)
    assert "scorch_stays" in k.tripped()


def test_turning_down_may_be_enough():
    k = Kitchen()
    k.put(900, 85, 105, 900)
    k.put(100, 88, 135, 900)
    k.put(60, 88, 135, 900)
    assert "scorch" in k.tripped()
    k.put(60, 88, 105, 400)
    k.put(240, 88, 105, 400)
    assert k.tripped() == set()


def test_a_boil_after_a_cloud_is_no_scorch():
    k = Kitchen()
    boiling(k)
    k.put(300, k.boil_c - 4, k.boil_c - 4, 40)
    k.put(60, k.boil_c - 3, k.boil_c + 30, 900)
    k.put(400, k.boil_c, k.boil_c + 30, 900)
    assert k.tripped() == set() and not k.log


def test_a_pot_still_warm_when_the_cloud_comes_is_no_scorch():
    k = Kitchen(interlock_scorch_k_per_w=0.06)
    k.put(900, 92, 140, 900)
    k.put(60, 92, 115, 0)
    k.put(200, 91, 92, 0)
    assert not k.log


def test_a_pot_boiled_dry_is_left():
    k = Kitchen()
    boiling(k)
    k.put(60, k.boil_c + 4, k.boil_c + 50, 900)
    assert "dry_pot" not in k.tripped()
    k.put(60, k.boil_c + 15, k.boil_c + 60, 900)
    k.put(20, k.boil_c + 15, k.boil_c + 60, 900)
    assert "dry_pot" in k.tripped()


def test_oil_for_frying_is_not_a_dry_pot():
    k = Kitchen()
    k.put(900, 180, 200, 900)
    k.put(600, 180, 200, 900)
    assert k.tripped() == set()


@pytest.mark.parametrize(("rise_c_s", "trips_from_c"), [(0.0, 220.0), (2.0, 208.0)])
def test_a_pot_too_hot_is_left_a_little_before(rise_c_s, trips_from_c):
    k = Kitchen()
    k.put(3600, 150, trips_from_c - 1.5, 900)
    k.underside.rise_mk_s = int(rise_c_s * 1000)
    k.locks.begin()
    k.guards.judge(100, modes.COOKING, True, k, 900)
    k.locks.tick(100)
    assert "pot_hot" not in k.tripped()
    k.underside.mc = int((trips_from_c + 0.5) * 1000)
    k.locks.begin()
    k.guards.judge(100, modes.COOKING, True, k, 900)
    k.locks.tick(100)
    assert "pot_hot" in k.tripped()
    assert not k.locks.clear(table.INDEX["pot_hot"])


def test_a_pot_gone_from_the_light_is_a_fault_that_needs_a_person():
    k = Kitchen()
    k.put(1, pot=False)
    assert k.tripped() == set(), "a switch that only rattles"
    k.put(2, pot=False)
    assert k.tripped() == {"pot_missing"}
    k.put(60, pot=True)
    assert k.tripped() == {"pot_missing"}
    assert k.locks.clear(table.INDEX["pot_missing"])


@pytest.mark.parametrize("first", ["switch", "probe"])
def test_a_pot_lifted_with_its_probe_only_turns_aside(first):
    k = Kitchen()
    if first == "probe":
        k.contents.fault = OPEN
        k.put(2)
    else:
        k.put(1, pot=False)
        k.contents.fault = OPEN
    k.put(3, pot=False)
    assert k.tripped() == {"pot_lifted"}
    k.put(5, mode=modes.ASIDE, pot=False)
    assert k.tripped() == {"pot_absent"}
    k.contents.fault = OK
    k.put(5, mode=modes.ASIDE)
    assert k.tripped() == set()


def test_a_probe_broken_long_ago_does_not_excuse_a_missing_pot():
    k = Kitchen()
    k.contents.fault = OPEN
    k.put(60)
    k.put(3, pot=False)
    assert "pot_missing" in k.tripped()


def test_no_pot_bars_coming_and_a_resting_dish_goes_aside():
    k = Kitchen()
    k.put(2, mode=modes.PARKED, pot=False)
    assert k.tripped() == {"pot_absent"} and k.locks.strongest == table.BAR
    k.put(2, mode=modes.RESTING, pot=False)
    assert "pot_lifted" in k.tripped() and k.locks.strongest == table.ASIDE


@pytest.mark.parametrize("fault", [OPEN, SHORT_GROUND, SILENT])
@pytest.mark.parametrize("which", ["contents", "underside"])
def test_a_broken_probe_turns_the_heat_down_and_heals(which, fault):
    k = Kitchen()
    getattr(k, which).fault = fault
    k.put(4)
    assert k.tripped() == set()
    k.put(2)
    assert k.tripped() == {f"probe_{which}"}
    assert k.locks.strongest == table.LOWER
    getattr(k, which).fault = OK
    k.put(11)
    assert k.tripped() == set()


@pytest.mark.parametrize(("watts", "trips"), [(600, True), (20, False)])
def test_a_frozen_probe_is_found_only_while_heat_flows(watts, trips):
    k = Kitchen()
    for _ in range(1000):
        k.underside.same_ms += 1000
        k.put(1, watts=watts)
    assert (k.tripped() == {"probe_stuck"}) == trips


def test_a_silent_light_sensor_leaves():
    k = Kitchen()
    k.light.silent_ms = 5_000
    k.put(29)
    assert k.tripped() == set()
    k.put(3)
    assert k.tripped() == {"light_sensor"} and k.locks.strongest == table.LEAVE


def test_without_probes_only_the_switch_is_judged():
    k = Kitchen()
    k.contents = k.underside = None
    k.put(2000, watts=900)
    assert k.tripped() == set()
    k.put(3, pot=False)
    assert k.tripped() == {"pot_missing"}
