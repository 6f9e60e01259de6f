"""What every board does with its pins, made from the tables of its own file.

Units: ms, ADC counts 0..65535. Buttons and flags close to ground with the pull-up on; the stop chain is
wired the other way: a healthy chain drives its input high, a cut wire reads as open.
A board file holds NAME, PINS (what each GPIO carries), OUTSIDE (resistors the chip lacks, in words) and the
few methods in which its chip differs. Nothing else knows pins.
"""

import gc
import os
import time

import machine

from ..core import panel as keys
from ..drivers.console import Console, Doors
from ..drivers.light_ads1115 import Light
from ..drivers.rtc_ds3232 import Rtc
from ..drivers.thermocouple_max31855 import Thermocouple

# name, mask bit, level at which the thing is so
INPUTS = (
    ("leave", keys.LEAVE, 0), ("aside", keys.ASIDE, 0), ("arm", keys.ARM, 0), ("confirm", keys.CONFIRM, 0),
    ("stop_chain", keys.CHAIN, 1), ("pot", keys.POT, 0), ("home1", keys.HOME1, 0), ("home2", keys.HOME2, 0),
)
OUTPUTS = ("motor_enable", "buzzer", "lamp_hands_in", "lamp_armed", "lamp_fault")
BAUD = 115_200
_WDT_MS = 8_000
_BITE_MS, _BITE_WAIT_MS = 300, 1_500


class CommonBoard:
    """Pins, converters, link, clock chip, watchdog, sleep between ticks. DATA, CODE: folders in flash.

    A board's own class adds NAME, PINS, OUTSIDE, SPARED (below), TIMER (number of the timer that ends a
    sleep), LINK (of the link's UART), _stepper(n, step_pin, dir_pin, back) and, where lines hang elsewhere,
    _output and _line.

    A motor or actuator has its PWM on the step pin and its direction on the direction pin. Its pulse lines
    have the pins of SPARED in turn, a rotary knob the next two: what is named there is then not fitted.
    """

    DATA = "/data/"
    CODE = "/lib/"
    BURST = 1000  # bytes the link may hand over at once
    PINS = {}
    OUTSIDE = {}
    SPARED = ("pulse1", "pulse2")
    TIMER = -1
    LINK = 0

    def __init__(self):
        self._bus(400_000)
        self._wired()
        self.outputs = [(1 << i, self._output(OUTPUTS[i])) for i in range(len(OUTPUTS))]
        self._out = 0
        self._bridges = []
        self._woken = False
        self._wake = self._edge
        self.console = None
        self.inputs = [(self._line(name, level), bit, level) for name, bit, level in INPUTS]
        self.uart = self._uart()
        self.rtc = Rtc(self.i2c)
        self.light = Light(self.i2c)
        self.knob = self.light.beam  # nobody heeds it before drives() makes the true one
        self.second = self.wind = self.tilt = self.spare = None
        self.absolute = (None, None)
        self.contents, self.underside = self._probes()
        self._timer = machine.Timer(self.TIMER)
        self.wdt = None

    def _bus(self, hz):
        """The bus at this clock, for all that holds it already as well: the chip has one of it."""
        pin, pins = machine.Pin, self.PINS
        self.i2c = machine.I2C(0, sda=pin(pins["i2c_sda"]), scl=pin(pins["i2c_scl"]), freq=hz)

    def sensors(self, s):
        """The further sensors that the settings say are fitted, all on the bus; None for what is not.

        On the bus: converters 0x48 (light) and 0x49 (sun sensor, supply), clock 0x68, accelerometers 0x18
        (base) and 0x19 (dish), encoder 0x36, the anemometer's counter 0x50, display 0x3C, air 0x4A, pots on
        other cookers from 0x60. absolute: one for each axis.
        """
        if s.sensor_wind_hz_per_m_s > 0 or s.sensor_spare_probes:
            self._bus(100_000)  # their chips bear no faster clock
        encoder = dish = None
        if s.sensor_sun or s.sensor_supply_ratio > 0:  # a driver that is not wanted takes no memory
            from ..drivers.sun_ads1115 import SunAndSupply
            self.second = SunAndSupply(self.i2c, 4 if s.sensor_supply_ratio > 0 else 3)
        if s.sensor_wind_hz_per_m_s > 0:
            from ..drivers.wind_pcf8583 import WindCounter
            self.wind = WindCounter(self.i2c)
        if s.sensor_base_tilt or s.sensor_axis2_tilt:
            from ..drivers.accel_lis3dh import AxisTilt, BaseTilt
            self.tilt = BaseTilt(self.i2c) if s.sensor_base_tilt else None
            dish = AxisTilt(self.i2c) if s.sensor_axis2_tilt else None
        if s.sensor_axis1_encoder:
            from ..drivers.encoder_as5600 import Encoder
            encoder = Encoder(self.i2c)
        self.absolute = (encoder, dish)
        if s.sensor_air or s.sensor_spare_probes:
            from ..drivers.spare_probes import SpareProbes
            self.spare = SpareProbes(self.i2c, s.sensor_air, s.sensor_spare_probes)
        if s.cook_display:
            from ..drivers.oled_ssd1306 import Oled
            self.display = Oled(self.i2c)

    def _wired(self):
        """The bus is there, nothing else: what a board's own lines hang on."""

    def _output(self, name):
        """One of OUTPUTS, off."""
        return machine.Pin(self.PINS[name], machine.Pin.OUT, value=0)

    def _line(self, name, level):
        """One of INPUTS, that ends a sleep; level: at which the thing is so."""
        pin = machine.Pin
        if name in self.OUTSIDE:
            line = pin(self.PINS[name], pin.IN)
        else:
            line = pin(self.PINS[name], pin.IN, pin.PULL_DOWN if level else pin.PULL_UP)
        line.irq(handler=self._edge, trigger=pin.IRQ_FALLING | pin.IRQ_RISING)
        return line

    def drives(self, s):
        """The two axis drives and the heat knob, wired as PINS says, each of its kind."""
        spare = list(self.SPARED)
        found = (self._drive(s, 1, spare), self._drive(s, 2, spare))
        if s.cook_knob_rotary:
            from ..drivers.rotary_knob import RotaryKnob

            self.knob = RotaryKnob(self._spared(spare.pop(0)), self._spared(spare.pop(0)))
        else:
            self.knob = self._knob(spare)
        return found

    def _knob(self, _spare):
        """A potentiometer, on input 2 of the light converter."""
        return self.light.add_knob()

    def _drive(self, s, n, spare):
        kind = getattr(s, "axis%d_drive" % n)
        if kind == "hand":
            return None
        step_pin, dir_pin = self.PINS["step%d" % n], self.PINS["dir%d" % n]
        back = bool(getattr(s, "axis%d_reversed" % n))
        if kind == "stepper":
            return self._stepper(n, step_pin, dir_pin, back)
        from ..drivers.bridge_pulse import BridgePulse

        lines = [self._spared(spare.pop(0)) for _ in range(getattr(s, "axis%d_channels" % n))]
        bridge = BridgePulse(step_pin, dir_pin, lines, back, self._listen)
        self._bridges.append(bridge)
        return bridge

    def _stepper(self, n, step_pin, dir_pin, back):
        raise NotImplementedError("each board makes its own step pulses")

    @staticmethod
    def _listen(line, call):
        """Have every edge of a pulse line told, at once where the chip can do that."""
        line.irq(handler=call, trigger=machine.Pin.IRQ_FALLING | machine.Pin.IRQ_RISING)

    def _spared(self, name):
        """The number of a pin that is given up by what is named."""
        return self.PINS[name]

    def _uart(self):
        """The port of the link on its own two pins."""
        pin, pins = machine.Pin, self.PINS
        uart = machine.UART(self.LINK, BAUD, tx=pin(pins["uart_tx"]), rx=pin(pins["uart_rx"]), rxbuf=1024,
                            txbuf=1024, timeout=0)
        uart.irq(self._edge, machine.UART.IRQ_RXIDLE)
        return uart

    def _probes(self):
        """The two thermocouple converters. They are only read from, but the bus takes a pin to write on:
        it gets the one that then turns back into the second select pin."""
        pin, pins = machine.Pin, self.PINS
        spi = machine.SPI(1, baudrate=1_000_000, polarity=0, phase=0, sck=pin(pins["spi_sck"]),
                          mosi=pin(pins["select_underside"]), miso=pin(pins["spi_miso"]))
        return (Thermocouple(spi, pin(pins["select_contents"], pin.OUT, value=1)),
                Thermocouple(spi, pin(pins["select_underside"], pin.OUT, value=1)))

    def share_console(self):
        """From here the link speaks on the console's port too (the board's USB socket)."""
        self.console = Console()
        self.uart = Doors(self.uart, self.console)

    def _edge(self, _source):
        self._woken = True

    def start_watchdog(self):
        self.wdt = machine.WDT(timeout=_WDT_MS)

    def bite(self):
        """Let the watchdog bite, everything off. Comes back only if it does not."""
        self.all_off()
        machine.WDT(timeout=_BITE_MS)
        time.sleep_ms(_BITE_WAIT_MS)

    def feed(self):
        if self.wdt is not None:
            self.wdt.feed()

    @staticmethod
    def about():
        """What it runs on, and room [bytes]: told in `hello`. Only MicroPython tells of its heap."""
        flash = os.statvfs("/")
        free = getattr(gc, "mem_free", None)
        return {"micropython": os.uname().release, "flash_free": flash[0] * flash[3],
                "heap_free": free and free()}

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
        for bit, line in self.outputs:
            line.value(mask & bit)

    def read_back(self, tries):
        """Mask of OUTPUTS whose pins do not stand as they were last driven. tries: the buzzer is turned over
        for some us, too short to be heard: else a dead one would be found by a warning that nobody hears."""
        off = 0
        for bit, line in self.outputs:
            if tries and bit == 2:
                on = self._out & bit
                line.value(not on)
                if bool(line.value()) == bool(on):
                    off |= bit
                line.value(on)
            if bool(line.value()) != bool(self._out & bit):
                off |= bit
        return off

    def all_off(self):
        self._out = 0
        for bridge in self._bridges:
            bridge.stop()
        for _, line in self.outputs:
            line.value(0)

    def idle(self, ms):
        """Sleep up to `ms`, woken early by any input edge or by the link."""
        if ms <= 0 or self._woken:
            self._woken = False
            ms = 1
        self._timer.init(mode=machine.Timer.ONE_SHOT, period=ms, callback=self._wake)
        while not self._woken and not (self.console is not None and self.console.any()):
            machine.idle()
        self._woken = False
        self._timer.deinit()
