"""Lines of the link: what is true comes through, what was harmed does not. Units: bytes."""

import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sunhob_board.link import frame

TEXT = st.binary(min_size=1, max_size=200).map(lambda b: bytes(32 + x % 95 for x in b))
REAL = (
    b'{"jsonrpc": "2.0", "method": "leave", "id": 7}',
    b'{"jsonrpc": "2.0", "method": "heat", "params": {"percent": 60}, "id": 8}',
    b'{"jsonrpc": "2.0", "method": "nudge", "params": {"axis": 1, "rate_percent": -100, "hold_ms": 300, '
    b'"covered": true}, "id": 9}',
)


def test_check_value_of_the_crc():
    # CRC-32/ISO-HDLC: check value of the RevEng CRC catalogue (from memory)
    assert frame.encode(b"123456789") == b"123456789 #CBF43926\n"


@given(TEXT)
def test_crc_is_the_one_of_another_library(body):
    assert frame.encode(body) == body + b" #%08X\n" % zlib.crc32(body)


@given(TEXT)
def test_a_line_comes_back_as_it_was(body):
    line = frame.encode(body)
    assert line.endswith(b"\n") and line.count(b"\n") == 1
    assert frame.decode(line[:-1]) == body
    assert frame.decode(line[:-1] + b"\r") == body


@given(TEXT, st.data())
def test_any_one_byte_changed_is_refused(body, data):
    line = bytearray(frame.encode(body)[:-1])
    at = data.draw(st.integers(0, len(line) - 1))
    line[at] ^= data.draw(st.integers(1, 255))
    if line.endswith(b"\r") or b"\n" in line:
        return
    assert frame.decode(bytes(line)) is None


@given(TEXT, st.integers(0, 10_000), st.integers(1, 0xFFFFFFFF))
def test_any_burst_of_32_bits_is_refused(body, where, pattern):
    """The algebra of a 32-bit CRC: no error polynomial shorter than the generator is a multiple of it."""
    number = int.from_bytes(body, "big")
    if len(body) < 4:
        return
    shift = where % (8 * len(body) - 31)
    harmed = (number ^ pattern << shift).to_bytes(len(body), "big")
    assert zlib.crc32(harmed) != zlib.crc32(body)
    assert frame.decode(harmed + frame.encode(body)[len(body):-1]) is None


@pytest.mark.parametrize("body", REAL)
def test_no_bit_of_a_line_or_of_its_check_sum_may_be_another(body):
    line = frame.encode(body)[:-1]
    for at in range(8 * len(line)):
        harmed = bytearray(line)
        harmed[at // 8] ^= 1 << at % 8
        assert frame.decode(bytes(harmed)) is None, at


@pytest.mark.parametrize("body", REAL)
def test_every_deletion_and_insertion_in_real_lines(body):
    """A lost or gained byte moves all that follows, so a 32-bit sum may miss one in 2**32, no more."""
    line = frame.encode(body)[:-1]
    cases = [line[:i] + line[i + 1:] for i in range(len(line))]
    cases += [line[:i] + bytes([c]) + line[i:] for i in range(len(line) + 1) for c in range(256)
              if not (i == len(line) and c == 13)]
    missed = [c for c in cases if frame.decode(c) is not None]
    assert len(cases) > 10_000
    assert missed == []


@pytest.mark.parametrize("line", [
    b"", b"\r", b"#CBF43926", b" #00000000", b"123456789#CBF43926", b"123456789 #cbf43926",
    b"123456789 CBF43926", b"123456789 #CBF4392", b"123456789 #+BF43926", b"123456789 # BF43926",
    b"Traceback (most recent call last):",
])
def test_what_is_no_line_is_refused(line):
    assert frame.decode(line) is None
    assert frame.decode(b"123456789 #CBF43926") == b"123456789"


@settings(max_examples=50)
@given(st.text(max_size=50))
def test_whatever_a_text_holds_it_stays_one_line(text):
    line = frame.notification("event", {"e": text})
    assert line.count(b"\n") == 1 and all(32 <= b <= 126 for b in line[:-1])
    assert frame.decode(line[:-1]) is not None
    assert frame.encode(text.encode()).count(b"\n") == 1


def test_control_characters_are_refused_even_with_a_true_crc():
    for body in (b"ab\x01", b"\x7fab", b"a\x00b", b"a\rb", "aé".encode()):
        assert frame.decode(body + b" #%08X" % zlib.crc32(body)) is None
