"""Raspberry Pi Pico (RP2040): every pin in one table, and the parts made from it.

Units: ms, ADC counts 0..65535. Buttons and flags close to ground with the pull-up on; the stop chain
is wired the other way: a healthy chain drives its input high, a cut wire reads as open.
"""

import time

import machine

from ..core import panel as keys
from ..drivers.light_ads1115 import Light
from ..drivers.rtc_ds3232 import Rtc
from ..drivers.stepper_pio import StepperPio
from ..drivers.thermocouple_max31855 import Thermocouple

PINS = {
    "uart_tx": 0, "uart_rx": 1,
    "step1": 2, "dir1": 3, "step2": 4, "dir2": 5, "motor_enable": 6,
    "buzzer": 7, "lamp_hands_in": 19, "lamp_armed": 9, "lamp_fault": 10,
    "home1": 11, "home2": 12, "stop_chain": 13,
    "leave": 14, "aside": 15, "arm": 16, "confirm": 17, "pot": 18,
    "i2c_sda": 20, "i2c_scl": 21,
    "spi_miso": 8, "spi_sck": 26, "select_contents": 22, "select_underside": 27, "adc_knob": 28,
}

# name, mask bit, level at which the thing is so
_INPUTS = (
    ("leave", keys.LEAVE, 0), ("aside", keys.ASIDE, 0), ("arm", keys.ARM, 0), ("confirm", keys.CONFIRM, 0),
    ("stop_chain", keys.CHAIN, 1), ("pot", keys.POT, 0), ("home1", keys.HOME1, 0), ("home2", keys.HOME2, 0),
)
OUTPUTS = ("motor_enable", "buzzer", "lamp_hands_in", "lamp_armed", "lamp_fault")
BAUD = 115_200
_WDT_MS = 8_000


class Board:
    """Pins, converters, link, clock chip, watchdog and the sleep between ticks. DATA: folder in flash."""

    NAME = "pico"
    DATA = "/data/"

    def __init__(self):
        pin = machine.Pin
        self.outputs = [pin(PINS[name], pin.OUT, value=0) for name in OUTPUTS]
        self._out = 0
        self.inputs = []
        for name, bit, level in _INPUTS:
            line = pin(PINS[name], pin.IN, pin.PULL_DOWN if level else pin.PULL_UP)
            line.irq(handler=self._edge, trigger=pin.IRQ_FALLING | pin.IRQ_RISING)
            self.inputs.append((line, bit, level))
        self.knob = machine.ADC(PINS["adc_knob"])
        self.uart = machine.UART(0, BAUD, tx=pin(PINS["uart_tx"]), rx=pin(PINS["uart_rx"]),
                                 rxbuf=1024, txbuf=1024, timeout=0)
        self.uart.irq(self._edge, machine.UART.IRQ_RXIDLE)
        i2c = machine.I2C(0, sda=pin(PINS["i2c_sda"]), scl=pin(PINS["i2c_scl"]), freq=400_000)
        self.rtc = Rtc(i2c)
        self.light = Light(i2c)
        self.contents, self.underside = self._probes()
        self._woken = False
        self._timer = machine.Timer(-1)
        self._wake = self._edge
        self.wdt = None

    def drives(self, s):
        """The two axis drives, wired as PINS says."""
        return (
            StepperPio(0, PINS["step1"], PINS["dir1"], bool(s.axis1_reversed)),
            StepperPio(1, PINS["step2"], PINS["dir2"], bool(s.axis2_reversed)),
        )

    @staticmethod
    def _probes():
        """The two thermocouple converters. They are only read from, but the bus takes a pin to write on:
        it gets the one that then turns back into the second select pin."""
        pin = machine.Pin
        spi = machine.SPI(1, baudrate=1_000_000, polarity=0, phase=0, sck=pin(PINS["spi_sck"]),
                          mosi=pin(PINS["select_underside"]), miso=pin(PINS["spi_miso"]))
        return (Thermocouple(spi, pin(PINS["select_contents"], pin.OUT, value=1)),
                Thermocouple(spi, pin(PINS["select_underside"], pin.OUT, value=1)))

    def _edge(self, _source):
        self._woken = True

    def start_watchdog(self):
        self.wdt = machine.WDT(timeout=_WDT_MS)

    def feed(self):
        if self.wdt is not None:
            self.wdt.feed()

    @staticmethod
    def ticks_ms():
        return time.ticks_ms()

    @staticmethod
    def reset_cause():
        return machine.reset_cause()

    def read_inputs(self):
        mask = 0
        for line, bit, level in self.inputs:
            if line.value() == level:
                mask |= bit
        return mask

    def write_outputs(self, mask):
        """Bit i of the mask drives OUTPUTS[i]."""
        if mask == self._out:
            return
        self._out = mask
        for i in range(len(self.outputs)):
            self.outputs[i].value(mask >> i & 1)

    def all_off(self):
        for line in self.outputs:
            line.value(0)

    def idle(self, ms):
        """Sleep up to `ms`, woken early by any input edge or by the link."""
        if ms <= 0 or self._woken:
            self._woken = False
            ms = 1
        self._timer.init(mode=machine.Timer.ONE_SHOT, period=ms, callback=self._wake)
        while not self._woken:
            machine.idle()
        self._woken = False
        self._timer.deinit()
