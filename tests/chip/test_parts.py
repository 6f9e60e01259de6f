"""Pins, UART, buses and step pulses of the emulated chip, by small programs and its registers. Units: us, s.

Register addresses and bits: RP2040 data sheet (RP-008371), 2.3.1.7 SIO, 2.19 GPIO, 4.2 UART, 4.3 I2C,
4.4 SPI, 3.7 PIO.
"""

import struct

import pytest
from rp2040py.utils import assembler as thumb
from sunhob_board.core import panel as keys
from sunhob_sim import pins
from sunhob_sim.devices.ads1115 import ADS1115
from sunhob_sim.devices.ds3232 import DS3232
from sunhob_sim.devices.max31855 import MAX31855
from sunhob_sim.pio_queue import OVERHEAD_US, pack_word

from .emulator import Chip
from .parts import I2cBus, SpiBus, StepMachines
from .uf2 import Part
from .usb_device import IDLE_PROGRAM
from .world import World

RAM, SIO, PIO = 0x2000_0000, 0xD000_0000, 0x5020_0000
IO_BANK0, PADS = 0x4001_4000, 0x4001_C000
UART, I2C, SPI = 0x4003_4000, 0x4004_4000, 0x4004_0000
GPIO_IN, OUT_SET, OUT_CLR, OE_SET = 0x04, 0x14, 0x18, 0x24
SET, CLEAR = 0x2000, 0x3000  # aliases of a register that set and clear bits
FUNCTION_SIO, PAD_IN = 5, 0x56


def program(code, constants=()):
    """Thumb code and the words that its loads name, after it."""
    code = code + [thumb.opcode_nop()] * (len(code) % 2)
    return [Part(0, struct.pack(f"<{len(code)}H", *code) + struct.pack(f"<{len(constants)}I", *constants))]


@pytest.fixture
def chip():
    return Chip([Part(0, IDLE_PROGRAM)])


def output(chip, pin, level):
    """What gpio_init, gpio_put and gpio_set_dir write."""
    chip.mcu.write_uint32(PADS + 4 + 4 * pin, PAD_IN)
    chip.mcu.write_uint32(IO_BANK0 + 4 + 8 * pin, FUNCTION_SIO)
    chip.mcu.write_uint32(SIO + (OUT_SET if level else OUT_CLR), 1 << pin)
    chip.mcu.write_uint32(SIO + OE_SET, 1 << pin)


def test_a_program_reads_its_own_output_back():
    pin = pins.BUZZER
    words = (PADS + 4 + 4 * pin, IO_BANK0 + 4 + 8 * pin, SIO, 1 << pin, RAM)
    loads = [thumb.opcode_ldr_lit(n, 0) & 0xFF00 for n in range(5)]  # r0..r4, offsets below
    code = [*loads, thumb.opcode_movs(5, PAD_IN), thumb.opcode_str(5, 0, 0),
            thumb.opcode_movs(5, FUNCTION_SIO), thumb.opcode_str(5, 1, 0),
            thumb.opcode_str(3, 2, OE_SET),
            thumb.opcode_ldr_imm(6, 2, GPIO_IN), thumb.opcode_str(6, 4, 0),
            thumb.opcode_str(3, 2, OUT_SET),
            thumb.opcode_ldr_imm(6, 2, GPIO_IN), thumb.opcode_str(6, 4, 4),
            thumb.opcode_str(3, 2, OUT_CLR),
            thumb.opcode_ldr_imm(6, 2, GPIO_IN), thumb.opcode_str(6, 4, 8),
            thumb.opcode_wfi(), thumb.opcode_b_t2(-4)]
    pool = (len(code) + len(code) % 2) * 2
    for n in range(5):  # a load counts from the word after next
        code[n] |= (pool + 4 * n - ((2 * n + 4) & ~3)) // 4
    chip = Chip(program(code, words))
    told = []
    chip.on_output.append(lambda at, level: told.append((at, level)))
    chip.run(1e-4)
    seen = struct.unpack_from("<3I", chip.mcu.sram)
    assert [word >> pin & 1 for word in seen] == [0, 1, 0]
    assert told == [(pin, 0), (pin, 1), (pin, 0)]


def test_emulated_time_is_that_of_the_cores_own_cycles():
    """Cortex-M0+ reference manual (ARM DDI 0484C), table 3-1: an addition 1 cycle, a branch taken 2."""
    code = [thumb.opcode_movs(0, 0), thumb.opcode_adds2(0, 1), thumb.opcode_b_t2(-6)]
    chip = Chip(program(code))
    chip.run(2e-3)
    assert chip.seconds == pytest.approx(2e-3, rel=1e-3)
    assert chip.mcu.core.registers[0] == pytest.approx(2e-3 * 125e6 / 3, rel=1e-3)


def test_a_pin_that_something_outside_holds_reads_so_until_the_chip_drives_it(chip):
    pin = pins.HOME[0]
    chip.mcu.write_uint32(PADS + 4 + 4 * pin, PAD_IN)
    for level in (1, 0, 1):
        chip.drive(pin, level)
        assert chip.mcu.read_uint32(SIO + GPIO_IN) >> pin & 1 == level
    output(chip, pin, 0)
    assert chip.mcu.read_uint32(SIO + GPIO_IN) >> pin & 1 == 0
    chip._bitten()
    chip.mcu.write_uint32(PADS + 4 + 4 * pin, PAD_IN)
    assert chip.mcu.read_uint32(SIO + GPIO_IN) >> pin & 1 == 1


def test_the_uarts_transmit_interrupt_comes_with_a_byte_and_goes_when_cleared(chip):
    masked, clear, transmit = UART + 0x40, UART + 0x44, 1 << 5
    chip.mcu.write_uint32(UART + 0x30, 0x301)
    chip.mcu.write_uint32(UART + 0x38, transmit | 1 << 4)
    assert chip.mcu.read_uint32(masked) == 0
    chip.mcu.write_uint32(UART, ord("x"))
    assert chip.mcu.read_uint32(masked) == transmit
    chip.mcu.write_uint32(clear, transmit)
    assert chip.mcu.read_uint32(masked) == 0


class Master:
    """Writes what the chip's I2C driver writes: DATA_CMD with read, restart and stop bits."""

    def __init__(self, chip):
        self.chip = chip
        self.w = chip.mcu.write_uint32
        self.r = chip.mcu.read_uint32

    def go(self, address, written, count):
        """Bytes read after `written`; None where nobody answers."""
        self.w(I2C + 0x6C, 0)
        self.w(I2C + 0x04, address)
        self.w(I2C + 0x6C, 1)
        self.r(I2C + 0x54)
        for n, value in enumerate(written):
            self.w(I2C + 0x10, value | (0x200 if n == len(written) - 1 and not count else 0))
        got = []
        for n in range(count):
            last = 0x200 if n == count - 1 else 0
            self.w(I2C + 0x10, 0x100 | (0x400 if n == 0 else 0) | last)
            self.chip.run(2e-4)
            if self.r(I2C + 0x34) & 0x40:
                return None
            got.append(self.r(I2C + 0x10) & 0xFF)
        self.chip.run(2e-4 * (len(written) + 1))
        return None if self.r(I2C + 0x34) & 0x40 else bytes(got)


def test_chips_on_the_i2c_bus_answer_as_their_models_do(chip):
    clock = DS3232(86_400.0 * 9_000 + 3_723.0)
    light = ADS1115(lambda us: (1.0, 2.0, 0.0, 3.3))
    I2cBus(chip, {0x68: clock, 0x48: light})
    master = Master(chip)
    assert master.go(0x68, b"\x00", 3) == bytes((0x03, 0x02, 0x01))  # 01:02:03 in BCD
    assert master.go(0x68, b"\x14keep", 0) == b""
    assert master.go(0x68, b"\x14", 4) == b"keep" == clock.read(0x14, 4, 0)
    master.go(0x48, b"\x01\xc3\xe3", 0)  # one conversion of input 0, full scale 4.096 V
    chip.run(0.01)
    assert int.from_bytes(master.go(0x48, b"\x00", 2), "big") == 8000  # 1 V of 4.096 in 32768
    assert master.go(0x50, b"\x00", 1) is None
    light.silent = True
    assert master.go(0x48, b"\x00", 2) is None and master.go(0x68, b"\x00", 1) == b"\x03"


def test_a_byte_on_the_i2c_bus_takes_its_time(chip):
    I2cBus(chip, {0x68: DS3232(0.0)})
    for register, value in ((0x6C, 0), (0x04, 0x68), (0x6C, 1)):
        chip.mcu.write_uint32(I2C + register, value)
    for value in (0x00, 0x500, 0x300):
        chip.mcu.write_uint32(I2C + 0x10, value)
    ready = next(n for n in range(1, 100) if chip.run(1e-5) or chip.mcu.read_uint32(I2C + 0x78) == 2)
    assert 110 <= 10 * ready <= 130  # address, register, address, two bytes: five times nine bits at 400 kHz


def test_the_selected_chip_on_the_spi_bus_gives_its_frame(chip):
    probes = {22: MAX31855(lambda us: 100.0, noise_c=0.0), 27: MAX31855(lambda us: "open", noise_c=0.0)}
    SpiBus(chip, probes)
    for pin in probes:
        output(chip, pin, 1)
    chip.mcu.write_uint32(SPI, 7)
    chip.mcu.write_uint32(SPI + 4, 2)

    def frame():
        got = []
        for _ in range(4):
            chip.mcu.write_uint32(SPI + 8, 0xFF)
            chip.run(2e-5)
            got.append(chip.mcu.read_uint32(SPI + 8))
        return int.from_bytes(bytes(got), "big")

    assert frame() == 0xFFFFFFFF
    output(chip, 22, 0)
    hot = frame()
    output(chip, 22, 1)
    output(chip, 27, 0)
    assert (hot >> 18) / 4 == pytest.approx(100.0, abs=1.0) and not hot >> 16 & 1
    assert frame() & 0x10001 == 0x10001  # a fault, and which: open


def test_words_for_the_step_machines_become_steps_in_their_time(chip):
    queues = {}
    StepMachines(chip, queues)
    chip.mcu.write_uint32(PIO + 0xD0, 0x4000_0000)
    for word in (pack_word(True, 100, 405), pack_word(False, 40, 1005)):
        chip.mcu.write_uint32(PIO + 0x10, word)
    assert chip.mcu.read_uint32(PIO + 0x0C) == 2  # both wait: the machine is not on
    chip.mcu.write_uint32(PIO + SET, 1)
    chip.run(2e-2)
    assert queues[0].steps_done(chip.us) == (20_000 - OVERHEAD_US) // 405 + 1
    assert chip.mcu.read_uint32(PIO + 0x0C) == 1
    chip.run(0.1)
    assert queues[0].steps_done(chip.us) == 60
    assert chip.mcu.read_uint32(PIO + 0x04) >> 24 & 1  # empty


def test_the_sdk_s_way_to_empty_the_queue(chip):
    # pico-sdk, hardware_pio: pio_sm_clear_fifos() turns FJOIN_RX over twice; atomic XOR alias at + 0x1000
    queues = {}
    StepMachines(chip, queues)
    for _ in range(3):
        chip.mcu.write_uint32(PIO + 0x10, pack_word(True, 10, 405))
    for _ in range(2):
        chip.mcu.write_uint32(PIO + 0x1000 + 0xD0, 0x8000_0000)
    assert chip.mcu.read_uint32(PIO + 0x0C) == 0


def test_a_stop_throws_the_words_away_and_the_next_ones_run(chip):
    queues = {}
    StepMachines(chip, queues)
    chip.mcu.write_uint32(PIO + SET, 2)
    for _ in range(9):
        chip.mcu.write_uint32(PIO + 0x14, pack_word(True, 1000, 1005))
    assert chip.mcu.read_uint32(PIO + 0x04) >> 17 & 1  # full: one runs and eight wait
    chip.run(0.01)
    chip.mcu.write_uint32(PIO + CLEAR, 2)
    for _ in range(8):
        chip.mcu.write_uint32(PIO + 0xF0, 0x8080)
    chip.mcu.write_uint32(PIO + SET, 2 << 4)
    chip.mcu.write_uint32(PIO + SET, 2)
    done = queues[1].steps_done(chip.us)
    chip.run(0.1)
    assert queues[1].steps_done(chip.us) == done == 10
    chip.mcu.write_uint32(PIO + 0x14, pack_word(False, 3, 1005))
    chip.run(0.1)
    assert queues[1].steps_done(chip.us) == 7


DAY = """
name = "chip"
about = "An invented cook's dish at rest."
start = 2026-03-12T05:00:00Z
hours = 1
timezone = "Asia/Kolkata"
"""


def test_the_benchs_cooker_hangs_on_the_chips_pins(chip):
    world = World(chip, DAY)
    plant = world.bench.plant
    for pin in pins.AT_REST:
        chip.mcu.write_uint32(PADS + 4 + 4 * pin, PAD_IN)
    seen = chip.mcu.read_uint32(SIO + GPIO_IN)
    assert all(seen >> pin & 1 == level for pin, level in plant.inputs().items())
    world.knob(50.0)
    chip.run(0.02)
    assert chip.mcu.adc.channel_values[2] == pytest.approx(2048, abs=1)
    held = []
    pin = pins.BUTTONS["arm"]
    plant_set, plant.set_input = plant.set_input, lambda at, level: (held.append((at, level)),
                                                                     plant_set(at, level))
    bytes_come = chip.clock.create_alarm(chip.halt)
    bytes_come.schedule(1e6)
    began = chip.seconds
    world.press(keys.ARM)
    assert (pin, 0) in held and (pin, 1) in held
    assert chip.seconds - began == pytest.approx(0.5, abs=1e-3), "however often the run is broken off"
    before = plant.axes_deg[1]
    output(chip, pins.MOTOR_ENABLE, 1)
    chip.mcu.write_uint32(PIO + SET, 2)
    steps = 2000
    chip.mcu.write_uint32(PIO + 0x14, pack_word(True, steps, 405))
    chip.run(1.0)
    assert plant.powered
    assert plant.axes_deg[1] - before == pytest.approx(
        steps * 360.0 / plant.axes[1].data.steps_per_turn, abs=plant.axes[1].data.backlash_deg + 1e-6)
    chip._bitten()
    chip.run(0.01)
    assert not plant.powered
