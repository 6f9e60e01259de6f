"""Stand-in for the board's `rp2`: state machines whose FIFO words go to the bench. Units: words, Hz.

A program is not run: asm_pio only keeps its settings. The bench knows the one program of the step
drivers, words of direction, steps and delay. As on the chip, restart() keeps the FIFO, a pull by exec
takes one word out of it, init() empties it.
"""

import wire

_DEPTH = 8


class PIO:
    IN_LOW = 0
    IN_HIGH = 1
    OUT_LOW = 2
    OUT_HIGH = 3
    SHIFT_LEFT = 0
    SHIFT_RIGHT = 1
    JOIN_NONE = 0
    JOIN_TX = 1
    JOIN_RX = 2


class _Program:
    def __init__(self, settings):
        self.settings = settings


def asm_pio(**settings):
    def keep(_source):
        return _Program(settings)

    return keep


class StateMachine:
    def __init__(self, id, program=None, freq=-1, **settings):
        self.id = id
        self.freq = freq
        if program is not None:
            self.init(program, freq, **settings)

    def init(self, program, freq=-1, **settings):
        if not isinstance(program, _Program):
            raise ValueError("program is not made by asm_pio")
        self._active = 0
        wire.put(wire.OP_ACTIVE, self.id, 0)
        wire.put(wire.OP_CLEAR, self.id, 0)
        wire.fifo[self.id] = 0

    def active(self, value=None):
        if value is not None:
            self._active = 1 if value else 0
            wire.put(wire.OP_ACTIVE, self.id, self._active)
        return self._active

    def put(self, value, shift=0):
        while wire.fifo[self.id] >= _DEPTH:
            wire.exchange(1000)
        wire.put(wire.OP_WORD, self.id, value << shift)
        wire.fifo[self.id] += 1

    def tx_fifo(self):
        return wire.fifo[self.id]

    def rx_fifo(self):
        return 0

    def restart(self):
        wire.put(wire.OP_RESTART, self.id, 0)

    def exec(self, instruction):
        if isinstance(instruction, str) and instruction.startswith("pull"):
            wire.put(wire.OP_PULL, self.id, 0)
            if wire.fifo[self.id]:
                wire.fifo[self.id] -= 1
