"""What the stand-in modules share: levels, times, queues, and the one exchange with the bench.

Units: us and ms of virtual time, ADC counts 0..65535. Runs on CPython and MicroPython.
Virtual time stands still between exchanges; each idle or sleep is one exchange. `host` is set by the
engine: exchange(wait_us, out), i2c_read(addr, reg, n), i2c_write(addr, reg, data),
spi(selected, n), flash(op, path, data).
"""

OP_PIN = 0  # pin, level
OP_WORD = 1  # state machine, word
OP_CLEAR = 2  # state machine, 0
OP_ACTIVE = 3  # state machine, 0 or 1
OP_PULL = 4  # state machine, 0: one word out of the FIFO unused
OP_RESTART = 5  # state machine, 0: the word being run is dropped
OP_UART = 6  # port, bytes
OP_WATCHDOG = 7  # timeout ms (0: feed), 0
OP_RESET = 8  # 0, 0
OP_RMT = 9  # channel, [pin, clock divider] of a new one, or None: it is given up
OP_TRAIN = 10  # channel, [levels, durations in ticks]: begins now
OP_HARD = 11  # pin, 0: it interrupts whatever keeps the processor busy

host = None
machine = ""
out = []
pins = 0  # input levels, bit n = pin n
known = 0  # pins the bench drives
pulls = 0  # pins pulled up by the board
seen = 0  # levels as the board reads them
low = 0  # pins the board drives low
levels = [0] * 40  # what the board drives
adc = [0] * 5
fifo = [0] * 8  # words waiting for each state machine
rx = {}  # port -> bytearray
rx_limit = {}  # port -> bytes held
rx_lost = 0
tx_drains = True  # False: the line is held up and takes nothing
ticks_ms = 0  # wraps at 2**30
sub_us = 0
reset_cause = 1
timers = []  # armed ones
pin_irqs = {}  # pin -> Pin with a handler
hard = 0  # those that interrupt whatever keeps the processor busy
uart_irqs = {}  # port -> UART with a handler
spins = 0  # reads of the clock since the last exchange

_SPIN_LIMIT = 2000


def put(op, a, b):
    out.append(op)
    out.append(a)
    out.append(b)


def start(got_host, cause, board="Raspberry Pi Pico with RP2040"):
    """Called by the engine before anything of the firmware is loaded; board: as os.uname() tells it."""
    global host, reset_cause, machine
    host = got_host
    reset_cause = cause
    machine = board
    exchange(0)


def exchange(wait_us):
    """Hand the outputs over, let up to wait_us pass, take the inputs of the moment; returns us passed."""
    global pins, known, ticks_ms, sub_us, adc, spins
    spins = passed = changed = 0
    busy = True
    while busy:
        by, ticks_ms, sub_us, new_pins, new_known, new_adc, new_fifo, got, busy = host.exchange(wait_us, out)
        passed += by
        if out:
            out.clear()
        if new_adc is not None:
            adc = new_adc
        if new_fifo is not None:
            fifo[: len(new_fifo)] = new_fifo
        now = pins ^ new_pins
        if now or known != new_known:
            known = new_known
            pins = new_pins
            look()
        if busy:
            _edges(now & hard)
            now &= ~hard  # the others wait until the processor is free
        changed |= now
    if changed and pin_irqs:
        _edges(changed)
    if got:
        _received(got)
    if timers and passed:
        _timers(passed)
    return passed


def look():
    """Take the levels that the board reads: what the bench drives, else the pulls."""
    global seen
    seen = pins & known | pulls & ~known


def since_ms(ticks):
    """Milliseconds since a reading of ticks_ms; below 0 before it."""
    return ((ticks_ms - ticks + (1 << 29)) & ((1 << 30) - 1)) - (1 << 29)


def idle():
    """Sleep to the next armed timer, input edge or received byte; without a timer, 1 ms."""
    exchange(_to_timer() if timers else 1000)


def sleep_us(us):
    """Timers that come due meanwhile are served in time."""
    while us > 0:
        wait = _to_timer() if timers else us
        us -= exchange(wait if wait < us else us)


def _to_timer():
    wait = timers[0].left_us
    if len(timers) > 1:
        wait = min([timer.left_us for timer in timers])
    return wait if wait > 1 else 1


def spin():
    """A loop that only watches the clock must see it go: 1 ms a couple of thousand looks."""
    global spins
    spins += 1
    if spins > _SPIN_LIMIT:
        exchange(1000)


def _edges(changed):
    for n in sorted(pin_irqs):
        if changed >> n & 1 and n in pin_irqs:  # a handler may have let go of another pin
            pin_irqs[n].edge(pins >> n & 1)


def _received(got):
    global rx_lost
    for port, data in got:
        held = rx.get(port)
        if held is None:
            continue
        room = rx_limit[port] - len(held)
        if room < len(data):
            rx_lost += len(data) - room
            data = data[:room]
        held.extend(data)
        if port in uart_irqs:
            uart_irqs[port].received()


def _timers(passed):
    due = None
    for timer in timers:
        timer.left_us -= passed
        due = due or timer.left_us <= 0
    while due:
        due = None
        for timer in timers:
            if timer.left_us <= 0 and (due is None or timer.left_us < due.left_us):
                due = timer
        if due is not None:
            due.fire()
