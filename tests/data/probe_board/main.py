"""Loop of the probe: says over the UART what it sees. Units: ms, us."""

import json
import os
import time

import machine
import rp2

from . import part
from .part import up


@rp2.asm_pio(sideset_init=rp2.PIO.OUT_LOW)
def segment():
    pull(block).side(0)  # noqa: F821


class App:
    def __init__(self):
        self.woken = ""
        self.lamp = machine.Pin(15, machine.Pin.OUT, value=0)
        self.button = machine.Pin(2, machine.Pin.IN, machine.Pin.PULL_UP)
        self.button.irq(self._edge, machine.Pin.IRQ_FALLING)
        self.loose = machine.Pin(9, machine.Pin.IN, machine.Pin.PULL_UP)
        self.light = machine.ADC(machine.Pin(26))
        self.bus = machine.I2C(0)
        self.port = machine.UART(0, 115200, rxbuf=512)
        self.port.irq(self._got, machine.UART.IRQ_RXIDLE)
        self.timer = machine.Timer(-1)
        self.steps = rp2.StateMachine(0, segment, freq=1000000)
        self.steps.active(1)
        self.dog = machine.WDT(timeout=2000)
        self.done = False
        self.wait_ms = 700
        self.say({"boot": machine.reset_cause(), "up": up(), "part": part.count, "t": time.ticks_ms()})

    def say(self, what):
        self.port.write(json.dumps(what) + "\n")

    def _edge(self, pin):
        self.woken += "e"

    def _got(self, port):
        self.woken += "u"

    def _due(self, timer):
        self.woken += "t"

    def idle(self, ms):
        self.woken = ""
        self.timer.init(mode=machine.Timer.ONE_SHOT, period=ms, callback=self._due)
        while not self.woken:
            machine.idle()
        self.timer.deinit()

    def cycle(self):
        self.dog.feed()
        self.lamp.toggle()
        if self.port.any():
            self.command(self.port.read().decode().strip())
        self.idle(self.wait_ms)

    def command(self, word):
        if word == "look":
            self.say(
                [
                    self.button.value(),
                    self.loose.value(),
                    self.light.read_u16(),
                    list(self.bus.readfrom_mem(0x68, 0, 7)),
                    self.steps.tx_fifo(),
                ]
            )
        elif word == "missing":
            try:
                self.bus.readfrom_mem(0x20, 0, 1)
            except OSError as err:
                self.say(err.args[0])
        elif word == "run":
            for _ in range(6):
                self.steps.put(1 | (99 << 1) | (997 << 12))
        elif word == "keep":
            with open("/data/kept", "wb") as f:
                f.write(b"first")
                f.write(b"second")
            self.say(sorted(os.listdir("/data")))
        elif word == "read":
            with open("/data/kept", "rb") as f:
                self.say(f.read().decode())
        elif word == "hang":
            while True:
                time.sleep_ms(10)
        elif word == "spin":
            t0 = time.ticks_ms()
            while time.ticks_diff(time.ticks_ms(), t0) < 5:
                pass
            self.say("spun")
        elif word == "fail":
            raise ValueError("asked to fail")
        elif word == "ticks":
            self.say([time.ticks_ms(), time.ticks_us()])


def start():
    return App()
