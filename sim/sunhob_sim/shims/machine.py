"""Stand-in for the board's `machine`, as far as the firmware uses it. Units: ms, Hz, counts 0..65535."""

import wire

PWRON_RESET = 1
WDT_RESET = 3
HARD_RESET = 2
SOFT_RESET = 4


def idle():
    wire.idle()


def reset():
    wire.put(wire.OP_RESET, 0, 0)
    wire.exchange(0)


def reset_cause():
    return wire.reset_cause


def freq(hz=None):
    return 125000000


def unique_id():
    return b"sunhob00"


def disable_irq():
    return 0


def enable_irq(state):
    pass


class Pin:
    IN = 0
    OUT = 1
    OPEN_DRAIN = 2
    PULL_UP = 1
    PULL_DOWN = 2
    IRQ_FALLING = 4
    IRQ_RISING = 8

    def __init__(self, id, mode=-1, pull=-1, value=None):
        self.id = int(id[2:]) if isinstance(id, str) else id
        self.out = False
        self._handler = None
        self._trigger = 0
        self._flags = 0
        if mode != -1:
            self.init(mode, pull, value)

    def init(self, mode=-1, pull=-1, value=None):
        self.out = mode in (1, 2)
        if pull == 1:
            wire.pulls |= 1 << self.id
        elif pull is None or pull == 2:
            wire.pulls &= ~(1 << self.id)
        wire.look()
        if self.out:
            wire.levels[self.id] = -1
            self.value(0 if value is None else value)

    def value(self, x=None):
        n = self.id
        if x is None:
            if self.out and not wire.known >> n & 1:  # else something else holds the pin
                return wire.levels[n]
            return wire.seen >> n & 1
        x = 1 if x else 0
        if wire.levels[n] != x:
            wire.levels[n] = x
            if x:
                wire.low &= ~(1 << n)
            else:
                wire.low |= 1 << n
            wire.put(wire.OP_PIN, n, x)

    __call__ = value

    def on(self):
        self.value(1)

    def off(self):
        self.value(0)

    def toggle(self):
        self.value(1 - wire.levels[self.id])

    def irq(self, handler=None, trigger=12, **how):
        if how and (wire.machine[-5:] == "ESP32" or list(how) != ["hard"]):  # its port knows no such word
            raise TypeError("extra keyword arguments given")
        self._handler = handler
        if how and how["hard"]:
            wire.hard |= 1 << self.id
            wire.put(wire.OP_HARD, self.id, 0)
        self._trigger = trigger
        if handler is None:
            wire.pin_irqs.pop(self.id, None)
        else:
            wire.pin_irqs[self.id] = self
        return self

    def flags(self):
        return self._flags

    def edge(self, level):
        """From the wire: the input went to `level`."""
        self._flags = Pin.IRQ_RISING if level else Pin.IRQ_FALLING
        if self._flags & self._trigger:
            self._handler(self)


class PWM:
    """The bench is told the share of a period that the pin is high, 0 to 65535, as the pin's level."""

    def __init__(self, dest, freq=-1, duty_u16=-1):
        self.id = dest.id
        self.freq = freq
        self._duty = 0
        if duty_u16 >= 0:
            self.duty_u16(duty_u16)

    def duty_u16(self, value=None):
        if value is None:
            return self._duty
        if value != self._duty:
            self._duty = value
            wire.put(wire.OP_PIN, self.id, value)


class ADC:
    CORE_TEMP = 4

    def __init__(self, pin):
        n = pin.id if isinstance(pin, Pin) else pin
        self.channel = n - 26 if n >= 26 else n

    def read_u16(self):
        return wire.adc[self.channel]


class I2C:
    """One bus: a second object with another clock changes it for all, as on the chips.

    PCF8583 (0x50) and MCP9600 (0x60 on) end at 100 kHz (NXP PCF8583 rev. 6, dynamic characteristics, fSCL;
    Microchip DS20005426, serial interface timing): on a faster bus they do not answer here.
    """

    SLOW = (0x50, 0x60, 0x61, 0x62, 0x63)
    hz = 0

    def __init__(self, id=0, scl=None, sda=None, freq=400000, timeout=50000):
        self.id = id
        I2C.hz = freq

    def _heard(self, addr):
        return addr not in self.SLOW or I2C.hz <= 100000

    def readfrom_mem(self, addr, reg, n, addrsize=8):
        got = wire.host.i2c_read(addr, reg, n) if self._heard(addr) else None
        if got is None:
            raise OSError(5)
        return got

    def readfrom_mem_into(self, addr, reg, buf, addrsize=8):
        buf[:] = self.readfrom_mem(addr, reg, len(buf))

    def writeto_mem(self, addr, reg, data, addrsize=8):
        if not (self._heard(addr) and wire.host.i2c_write(addr, reg, bytes(data))):
            raise OSError(5)

    def scan(self):
        return [a for a in range(8, 120) if wire.host.i2c_read(a, 0, 1) is not None]


SoftI2C = I2C


class SPI:
    """A bus that is only read from: the bench answers for whatever pin is driven low to select a chip."""

    MSB = 0

    def __init__(self, id=0, baudrate=1000000, polarity=0, phase=0, bits=8, firstbit=0, sck=None, mosi=None,
                 miso=None):
        self.id = id

    def readinto(self, buf, write=0):
        buf[:] = wire.host.spi(wire.low, len(buf))


class UART:
    IRQ_RXIDLE = 16
    IRQ_RX = 1
    IRQ_TXIDLE = 32

    def __init__(self, id=0, baudrate=115200, **settings):
        self.id = id
        self._handler = None
        self._held = 0  # bytes that wait to be sent, as of _since
        self._since_ms = wire.ticks_ms
        wire.rx[id] = bytearray()
        wire.rx_limit[id] = 256
        self.init(baudrate, **settings)

    def init(self, baudrate=115200, rxbuf=256, txbuf=256, **settings):
        wire.rx_limit[self.id] = rxbuf
        self._room = txbuf
        self._bytes_s = baudrate // 10

    def any(self):
        return len(wire.rx[self.id])

    def read(self, n=-1):
        held = wire.rx[self.id]
        if not held:
            return None
        got = bytes(held if n < 0 else held[:n])
        wire.rx[self.id] = held[len(got) :]
        return got

    def readinto(self, buf, n=-1):
        size = len(buf) if n < 0 else min(n, len(buf))
        got = self.read(size)
        if got is None:
            return None
        buf[: len(got)] = got
        return len(got)

    def readline(self):
        end = wire.rx[self.id].find(b"\n")
        return self.read(end + 1 if end >= 0 else -1)

    def write(self, data):
        data = data.encode() if isinstance(data, str) else bytes(data)
        passed = (wire.ticks_ms - self._since_ms) & 0x3FFFFFFF
        gone = min(passed, 1000) * self._bytes_s // 1000 if wire.tx_drains else 0
        if gone or not self._held:
            self._since_ms = wire.ticks_ms
            self._held = max(0, self._held - gone)
        data = data[: self._room - self._held]
        if not data:
            return None
        self._held += len(data)
        wire.put(wire.OP_UART, self.id, data)
        return len(data)

    def txdone(self):
        return True

    def flush(self):
        pass

    def irq(self, handler=None, trigger=16, hard=False):
        self._handler = handler
        if handler is None:
            wire.uart_irqs.pop(self.id, None)
        else:
            wire.uart_irqs[self.id] = self
        return self

    def received(self):
        """From the wire: bytes came."""
        self._handler(self)


class WDT:
    def __init__(self, id=0, timeout=5000):
        if not 1 <= timeout <= 8388:
            raise ValueError("watchdog timeout is 1 to 8388 ms")
        wire.put(wire.OP_WATCHDOG, timeout, 0)

    def feed(self):
        wire.put(wire.OP_WATCHDOG, 0, 0)


class Timer:
    ONE_SHOT = 0
    PERIODIC = 1

    def __init__(self, id=-1, mode=1, period=-1, callback=None, freq=0, hard=False):
        self.left_us = 0
        if period >= 0 or freq:
            self.init(mode, period, callback, freq)

    def init(self, mode=1, period=-1, callback=None, freq=0, hard=False):
        self.deinit()
        self.mode = mode
        self.period_us = int(1000000 / freq) if freq else max(1, period) * 1000
        self.callback = callback
        self.left_us = self.period_us
        wire.timers.append(self)

    def deinit(self):
        if self in wire.timers:
            wire.timers.remove(self)

    def fire(self):
        """From the wire: the deadline has come."""
        if self.mode == 0:
            wire.timers.remove(self)
        else:
            self.left_us += self.period_us
        if self.callback is not None:
            self.callback(self)
