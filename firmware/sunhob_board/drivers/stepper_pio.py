"""One stepper axis on one PIO state machine: each word is a direction, a count of steps and a delay.

Units: steps, microseconds (the state machine runs at 1 MHz). Word, from bit 0: direction 1, steps - 1 in 11,
delay in 18 bits; one step takes 2 * delay + 5 us. An empty FIFO leaves STEP low: starved is stopped.
The direction stands 6 us before the first step: boxed drives with opto-couplers ask for 5.
"""

# pyright: reportUndefinedVariable=false
# (the names of the PIO assembler come from asm_pio)
import rp2
from machine import Pin

_DEPTH = 8
_CLOCK_HZ = 1000000
MOST_STEPS = 2048
LEAST_PERIOD_US = 5
MOST_PERIOD_US = 2 * 0x3FFFF + 5


@rp2.asm_pio(sideset_init=rp2.PIO.OUT_LOW, out_init=rp2.PIO.OUT_LOW, out_shiftdir=rp2.PIO.SHIFT_RIGHT,
             fifo_join=rp2.PIO.JOIN_TX)
def segment():
    pull(block).side(0)
    out(pins, 1).side(0)
    out(x, 11).side(0)
    out(isr, 18).side(0)[3]
    label("step")
    mov(y, isr).side(1)
    label("high")
    jmp(y_dec, "high").side(1)
    mov(y, isr).side(0)
    label("low")
    jmp(y_dec, "low").side(0)
    jmp(x_dec, "step").side(0)


class StepperPio:
    """push() never blocks if free() is not 0; a word beyond the depth is refused."""

    wide = 5  # words so much longer are as good: 8 of them last through a stall of the loop

    def __init__(self, sm_id, step_pin, dir_pin, reversed=False):
        self._flip = 1 if reversed else 0
        self._sm = rp2.StateMachine(sm_id, segment, freq=_CLOCK_HZ, sideset_base=Pin(step_pin, Pin.OUT),
                                    out_base=Pin(dir_pin, Pin.OUT))
        self._sm.active(1)

    def free(self):
        """Words the FIFO still takes."""
        return _DEPTH - self._sm.tx_fifo()

    def push(self, forward, steps, period_us):
        """Queue steps (1 to 2048) with a period [us]; False if the FIFO is full or the count is none."""
        if steps < 1 or steps > MOST_STEPS or self._sm.tx_fifo() >= _DEPTH:
            return False
        delay = (max(LEAST_PERIOD_US, min(MOST_PERIOD_US, period_us)) - 5) // 2
        self._sm.put((self._flip ^ (1 if forward else 0)) | (steps - 1) << 1 | delay << 12)
        return True

    def clear(self):
        """Stop at once: throw away what is queued, leave STEP low, wait for new words."""
        sm = self._sm
        sm.active(0)
        for _ in range(_DEPTH):
            if sm.tx_fifo() == 0:
                break
            sm.exec("pull(noblock)")
        sm.restart()
        sm.exec("nop()")
        sm.active(1)
