"""The pulse lines of a motor while the processor is kept busy: an RP2040 counts on, and stops the motor.

That such a handler may run in the interrupt itself, and must take no memory there, is as MicroPython's manual
has it ("Writing interrupt handlers", docs.micropython.org); that an ESP32's pins have no such word (`hard`)
is read from its port (ports/esp32/machine_pin.c of 1.25: trigger and wake). Units: us, edges.
"""

import json

import pytest
from sunhob.errors import UserError
from sunhob_sim.board_host import VirtualBoard
from sunhob_sim.engine import compile_mpy, firmware_dir
from sunhob_sim.engine_cpython import Loader
from sunhob_sim.esp32_board import Esp32Board
from sunhob_sim.wasm_sun import run_micropython

from .bench_plant import BarePlant

PWM, DIR, LINE, KEY = 2, 3, 10, 11
_LOCKED = """
import sys, json, micropython
sys.path.insert(0, '/stand')
import machine, time
sys.path.append('/')
from bridge_pulse import BridgePulse
def drive_on(lines, end):
    machine.levels[:] = [1, 1]
    drive = BridgePulse(2, 3, [0, 1][:lines], False, lambda line, call: None)
    drive.go(1, end)
    drive.power(1000, 3)
    edge = drive._edge
    micropython.heap_lock()
    for n in range(12):
        time.now += 20
        machine.levels[0 if lines == 1 or n & 1 == 0 else 1] ^= 1
        edge(None)
    drive.stands()
    time.now += 20
    machine.levels[0] ^= 1
    edge(None)  # pushed
    micropython.heap_unlock()
    return [drive.count, drive.off, drive.strays]
told = [drive_on(lines, end) for lines in (1, 2) for end in (4, 40)]  # it stops within, or does not
print(json.dumps(told))
"""
_MACHINE = b"""
levels = [1, 1]
def disable_irq():
    return 1
def enable_irq(held):
    pass
class Pin:
    IN = OUT = PULL_UP = 0
    def __init__(self, n, *_, value=None):
        self.n = n
    def value(self, x=None):
        return levels[self.n & 1]
class PWM:
    def __init__(self, pin, freq, duty_u16):
        self.duty = duty_u16
    def duty_u16(self, value):
        self.duty = value
"""
_TIME = b"""
now = 0
def ticks_ms():
    return now
def ticks_diff(a, b):
    return a - b
"""


class Rig:
    """The driver and a key on the stand-in modules, wired by the board's own _listen."""

    def __init__(self, kind, part):
        self.plant = BarePlant()
        self.plant.levels = {LINE: 1, KEY: 1}
        self.board = VirtualBoard(self.plant)
        self.board.machine = kind.machine
        loader = Loader(firmware_dir("sunhob_board"), [])
        self.wire = loader.load("wire")
        self.wire.start(self.board, 1, self.board.machine)
        listen = vars(loader.load("sunhob_board.boards." + part))
        listen = listen["Rp2Board" if part == "rp2" else "Board"]._listen
        driver = loader.load("sunhob_board.drivers.bridge_pulse")
        self.drive = driver.BridgePulse(PWM, DIR, [LINE], False, listen)
        self.pressed = []
        pin = loader.load("machine").Pin
        pin(KEY, pin.IN).irq(handler=lambda _: self.pressed.append(self.wire.ticks_ms))
        self.wire.exchange(0)

    def busy(self, ms):
        self.board.stall_us = ms * 1000
        self.wire.exchange(1000)


def test_a_busy_rp2040_counts_each_edge_at_its_time_and_switches_off_at_the_end():
    rig = Rig(VirtualBoard, "rp2")
    rig.drive.go(1, 5)
    rig.drive.power(1000, 3)
    rig.wire.exchange(0)
    duty = []
    rig.plant.outputs = lambda changes: duty.append((rig.board.now_us, changes))
    rig.plant.edges = [(100_000 * k, LINE, k & 1 ^ 1) for k in range(1, 8)]
    rig.plant.edges += [(250_000, KEY, 0), (260_000, KEY, 1), (270_000, KEY, 0)]
    rig.plant.edges.sort()
    rig.busy(3000)
    assert rig.drive.off and rig.drive.count == 7, "it runs on by two edges, and those are counted"
    assert [at for at, changes in duty if changes.get(PWM) == 0] == [500_000]
    assert rig.drive.at_ms == 700
    assert rig.pressed == [3001], "what is no pulse waits, and is told once"


def test_no_edge_comes_between_when_the_loop_looks_at_the_line_itself(monkeypatch):
    rig = Rig(VirtualBoard, "rp2")
    rig.drive.go(1, 5)
    told, edge = [], rig.drive._edge
    scope = type(rig.drive).look.__globals__
    monkeypatch.setitem(scope, "disable_irq", lambda: told.append("held") or 7)
    monkeypatch.setitem(scope, "enable_irq", told.append)
    monkeypatch.setattr(rig.drive, "_edge", lambda line: told.append("edge") or edge(line))
    rig.drive.look()
    assert told == ["held", "edge", 7]


def test_a_busy_esp32_sees_its_edges_once_it_is_free():
    rig = Rig(Esp32Board, "esp32")
    rig.drive.go(1, 5)
    rig.drive.power(1000, 3)
    rig.wire.exchange(0)
    rig.plant.edges = [(100_000 * k, LINE, k & 1 ^ 1) for k in range(1, 8)]
    rig.busy(3000)
    assert not rig.drive.off and rig.drive.count <= 1
    with pytest.raises(TypeError, match="extra keyword"):
        rig.drive._lines[0].irq(handler=rig.drive._edge, hard=True)


def test_an_edge_takes_no_memory_in_micropython():
    driver = firmware_dir("sunhob_board") / "drivers" / "bridge_pulse.py"
    files = {"/bridge_pulse.mpy": compile_mpy(driver, "bridge_pulse.py"),
             "/sunhob_board/machine.py": _MACHINE, "/sunhob_board/time.py": _TIME}
    try:
        told = run_micropython(_LOCKED.replace("/stand", "/sunhob_board"), files, [])
    except UserError as err:
        pytest.skip(str(err))
    assert json.loads(told[-1]) == [[11, True, 1], [11, False, 1], [13, True, 1], [13, False, 1]]
