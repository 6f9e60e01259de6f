"""The board's settings file proves itself or is refused (units in the names)."""

import json
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob import settings as host
from sunhob.optics.geometry import optics_fingerprint
from sunhob_board.core import settings as board
from sunhob_board.declared import settings as declared

GOOD = host.board_bytes(host.load_cooker())


def sealed(values, optics, mark=None):
    """A file with a true CRC whatever it holds."""
    mark = (mark or board.fingerprint()).encode()
    body = json.dumps([values, optics]).encode()
    return board.MAGIC + b" " + mark + b" " + b"%08x" % zlib.crc32(mark + body) + b"\n" + body


def good_values():
    return [declared.board_default(row) for row in declared.board_rows()]


def test_host_bytes_give_the_board_defaults():
    optics = {"optics_fingerprint": optics_fingerprint(host.load_cooker())}
    assert board.load(GOOD).__dict__ == board.defaults().__dict__ | optics


def test_crc_check_value():
    assert board.crc32(b"123456789") == 0xCBF43926  # CRC-32/ISO-HDLC, crcmod and zlib


@pytest.mark.parametrize("data", [b"", None])
def test_missing(data):
    with pytest.raises(board.SettingsError) as caught:
        board.load(data)
    assert caught.value.code == "missing"


@given(st.integers(0, len(GOOD) * 8 - 1))
def test_any_flipped_bit_is_refused(bit):
    data = bytearray(GOOD)
    data[bit // 8] ^= 1 << (bit % 8)
    with pytest.raises(board.SettingsError) as caught:
        board.load(bytes(data))
    assert caught.value.code == "corrupt"


@given(st.integers(1, len(GOOD) - 1))
def test_any_cut_is_refused(length):
    with pytest.raises(board.SettingsError):
        board.load(GOOD[:length])


@given(st.binary(max_size=200))
def test_noise_is_refused(data):
    with pytest.raises(board.SettingsError):
        board.load(data)


def test_other_table():
    with pytest.raises(board.SettingsError) as caught:
        board.load(sealed(good_values(), 7, mark="0" * 8))
    assert caught.value.code == "other_table"


@pytest.mark.parametrize("at", range(len(good_values())))
@pytest.mark.parametrize("wrong", [None, "x", 1e9, -1e9, [], {}])
def test_sealed_but_out_of_limits_is_refused(at, wrong):
    values = good_values()
    values[at] = wrong
    with pytest.raises(board.SettingsError):
        board.load(sealed(values, 7))


@pytest.mark.parametrize("optics", [None, True, 0.5, "00000000", [7], {}])
def test_a_fingerprint_that_is_no_number_is_refused(optics):
    with pytest.raises(board.SettingsError):
        board.load(sealed(good_values(), optics))


def test_every_row_is_well_formed():
    keys = [row[0] for row in declared.SETTINGS]
    assert len(set(keys)) == len(keys)
    for key, kind, default, low, high, unit, sentence, on_board in declared.SETTINGS:
        assert sentence.endswith(".") and isinstance(on_board, bool) and isinstance(unit, str), key
        if kind in ("float", "int", "angle"):
            assert low <= default <= high, key
            assert board._fits((key, kind, default, low, high), declared.board_default((key, kind, default)))


def test_standard_atmosphere():
    # ISO 2533 table: 1000 m 89 875 Pa, 3000 m 70 109 Pa (from memory)
    assert board.pressure_pa(0.0) == 101325.0
    assert board.pressure_pa(1000.0) == pytest.approx(89875, rel=2e-4)
    assert board.pressure_pa(3000.0) == pytest.approx(70109, rel=2e-4)
