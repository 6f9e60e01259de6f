"""The serial port: bounded whatever comes in, and never held up by a host that does not read.

Units: bytes, ms, baud.
"""

import json

from hypothesis import given
from hypothesis import strategies as st
from sunhob_board.link import frame, port

WRAP = 1 << 30


class Uart:
    """A port with all that came in waiting, and `room` bytes for what goes out."""

    def __init__(self, incoming=b"", room=10**9):
        self.incoming = bytearray(incoming)
        self.room = room
        self.sent = bytearray()

    def any(self):
        return len(self.incoming)

    def readinto(self, buf, count):
        count = min(count, len(self.incoming), len(buf))
        buf[:count] = self.incoming[:count]
        del self.incoming[:count]
        return count

    def write(self, data):
        count = min(self.room, len(data))
        self.sent += bytes(data[:count])
        self.room -= count
        return count or None


def drain(p):
    lines = []
    for _ in range(5000):
        line = p.poll(0)
        if line is not None:
            lines.append(line)
        elif not p.uart.any():
            return lines
    raise AssertionError("it never came to an end")


@given(st.lists(st.binary(min_size=1, max_size=700).map(lambda b: b.replace(b"\n", b".")), max_size=8))
def test_lines_come_out_as_they_went_in(lines):
    p = port.Port(Uart(b"".join(line + b"\n" for line in lines)))
    assert drain(p) == [line for line in lines if len(line) <= frame.MAX_IN]
    assert p.overlong == sum(len(line) > frame.MAX_IN for line in lines)


def test_memory_stays_the_same_under_garbage():
    p = port.Port(Uart(b"\xff" * 100_000 + b"\nok\n"))
    size = len(p._line), len(p._chunk)
    assert drain(p) == [b"ok"]
    assert (len(p._line), len(p._chunk)) == size and p.overlong == 1


def test_one_poll_reads_no_more_than_its_share():
    p = port.Port(Uart(b"x" * 100_000))
    assert p.poll(0) is None
    assert p.uart.any() >= 100_000 - 1100


@given(st.lists(st.tuples(st.sampled_from("ter"), st.integers(1, 400)), max_size=120))
def test_a_host_that_does_not_read_costs_only_telemetry_first(sends):
    p = port.Port(Uart(room=0))
    p.flush(0)
    for kind, size in sends:
        if kind == "t":
            p.send_telemetry({"x": "x" * size})
        elif kind == "e":
            p.send_event({"x": "x" * size})
        else:
            p.send_reply(frame.encode(b"x" * size))
        before = [k for k, _ in p._queue]
        p.flush(0)
        assert len(before) <= port.MAX_LINES
        assert p.queued_bytes == sum(len(line) for _, line in p._queue) <= port.MAX_BYTES
        assert p.uart.sent == b""


def test_telemetry_goes_before_events_and_events_before_replies():
    p = port.Port(Uart(room=0))
    for i in range(port.MAX_LINES // 2):
        p.send_reply(frame.encode(b"%d" % i))
        p.send_telemetry({"n": i})
    for i in range(port.MAX_LINES):
        p.send_event({"e": i})
    kinds = [k for k, _ in p._queue]
    assert kinds.count(port.REPLY) == port.MAX_LINES // 2 and port.TELEMETRY not in kinds
    assert json.loads(frame.decode(p._queue[-1][1][:-1]))["params"] == {"e": port.MAX_LINES - 1}
    assert p.dropped == port.MAX_LINES


@given(st.integers(0, WRAP - 1), st.lists(st.integers(0, 700), min_size=1, max_size=40), st.integers(1, 60))
def test_never_more_than_the_line_can_carry(start, steps, room):
    """No piece is larger than what the baud rate has carried away since, plus one burst; order is kept."""
    p = port.Port(Uart(), baud=9600, burst=256)
    wanted = b""
    for i in range(20):
        line = frame.encode(b"%d" % i * 30)
        wanted += line
        p.send_reply(line)
    now = passed = 0
    for step in steps:
        p.uart.room = room * 10
        p.flush((start + now) % WRAP)
        assert len(p.uart.sent) <= 256 + 960 * passed // 1000 + len(steps)
        now += step
        passed += step
    assert wanted.startswith(bytes(p.uart.sent))


def test_all_is_sent_in_the_end():
    p = port.Port(Uart())
    p.send_event({"e": "boot"})
    p.send_reply(frame.encode(b"x" * 1500))
    now = 0
    while p.busy:
        p.flush(now)
        now += 10
    assert now <= 200
    assert all(frame.decode(line) for line in bytes(p.uart.sent).splitlines())


def test_the_wrap_of_the_ticks_does_not_silence_it():
    p = port.Port(Uart(), baud=9600, burst=64)
    now = WRAP - 250
    for _ in range(60):
        p.send_event({"e": "boot"})
        p.flush(now % WRAP)
        now += 100
    p.flush((now + 5_000) % WRAP)
    assert p.dropped == 0 and len(p.uart.sent) >= 3000
