"""Lines of the link: what is true comes through, what was harmed does not. Units: bytes."""

import binascii

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
    # CRC-16/CCITT-FALSE, also named IBM-3740: check value of the RevEng CRC catalogue (from memory)
    assert frame.crc16(b"123456789") == 0x29B1


@given(st.binary(max_size=600))
def test_crc_is_the_one_of_the_standard_library(data):
    assert frame.crc16(data) == binascii.crc_hqx(data, 0xFFFF)


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


@given(TEXT, st.integers(0, 10_000), st.integers(1, 0xFFFF))
def test_any_burst_of_sixteen_bits_is_refused(body, where, pattern):
    """The algebra of a 16-bit CRC: no error polynomial shorter than the generator is a multiple of it."""
    number = int.from_bytes(body, "big")
    if len(body) < 2:
        return
    shift = where % (8 * len(body) - 15)
    harmed = (number ^ pattern << shift).to_bytes(len(body), "big")
    assert frame.crc16(harmed) != frame.crc16(body)
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
    """A lost or gained byte moves all that follows, so a 16-bit sum may miss one in 65536, no more."""
    line = frame.encode(body)[:-1]
    cases = [line[:i] + line[i + 1:] for i in range(len(line))]
    cases += [line[:i] + bytes([c]) + line[i:] for i in range(len(line) + 1) for c in range(256)
              if not (i == len(line) and c == 13)]
    missed = [c for c in cases if frame.decode(c) is not None]
    assert len(cases) > 10_000
    assert missed == []


@pytest.mark.parametrize("line", [
    b"", b"\r", b"#29B1", b" #FFFF"[1:], b"123456789#29B1", b"123456789 #29b1", b"123456789 29B1",
    b"123456789 #29B", b"123456789 #+9B1", b"123456789 # 9B1", b"Traceback (most recent call last):",
])
def test_what_is_no_line_is_refused(line):
    assert frame.decode(line) is None
    assert frame.decode(b"123456789 #29B1") == b"123456789"


@settings(max_examples=50)
@given(st.text(max_size=50))
def test_whatever_a_text_holds_it_stays_one_line(text):
    line = frame.notification("event", {"e": text})
    assert line.count(b"\n") == 1 and all(32 <= b <= 126 for b in line[:-1])
    assert frame.decode(line[:-1]) is not None
    assert frame.encode(text.encode()).count(b"\n") == 1


def test_control_characters_are_refused_even_with_a_true_crc():
    for body in (b"ab\x01", b"\x7fab", b"a\x00b", b"a\rb", "aé".encode()):
        assert frame.decode(body + b" #%04X" % binascii.crc_hqx(body, 0xFFFF)) is None
