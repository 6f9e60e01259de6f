"""The watchdog proven: once a day after power-on it is left to bite, motors off, before anything moves.

Units: ms, days since 2000-01-01 UTC. The record lies in the clock chip's battery RAM: magic, state, day,
sum. A dish that was on the sun or moving is never kept waiting: there the last proof stands.
"""

OFFSET = 228
_SIZE = 6
_MAGIC = 0xB7
TRYING, PROVEN, FAILED = 1, 2, 3
_WATCHDOG = 3  # reset cause, the same number on every port of MicroPython that has one
_POWER_ON = 1


def record(state, day):
    """The bytes of a record."""
    body = bytes((_MAGIC, state, day & 255, day >> 8 & 255))
    total = sum(body) * 5 & 0xFFFF
    return body + bytes((total & 255, total >> 8))


def read(rtc):
    """(state, day), or (0, 0) where there is no whole record."""
    raw = rtc.ram_read(OFFSET, _SIZE)
    if raw is None or len(raw) != _SIZE or bytes(raw) != record(raw[1], raw[2] | raw[3] << 8):
        return 0, 0
    return raw[1], raw[2] | raw[3] << 8


def prove(board, calm):
    """Whether the watchdog bites. Does not come back while it is tried, unless it fails.

    calm: whether it may be tried now. board: rtc, reset_cause(), bite().
    """
    rtc = board.rtc
    state, then = read(rtc)
    now = rtc.read()
    day = now[0] if now else 0
    cause = board.reset_cause()
    if state == TRYING and cause == _WATCHDOG:
        rtc.ram_write(OFFSET, record(PROVEN, day))
        return True
    if state in (PROVEN, FAILED) and (cause != _POWER_ON or not calm or (state == PROVEN and then == day)):
        return state == PROVEN
    if not calm:
        return False
    rtc.ram_write(OFFSET, record(TRYING, day))
    if read(rtc)[0] != TRYING:
        return False  # nothing would remember it, and it would bite for ever
    board.bite()
    rtc.ram_write(OFFSET, record(FAILED, day))
    return False
