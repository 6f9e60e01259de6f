"""The heat table file: what the host writes the board reads, and what is wrong with it is refused by name.

Units: udeg for angles, shares in the table's own unit, deg and W as named.
"""

import json
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob.cli import run
from sunhob.heat_table import WORST_ALLOWED, build_heat_table, facts, worst_error
from sunhob.optics.geometry import optics_fingerprint, optics_of
from sunhob.optics.intercept import cached_intercept
from sunhob.settings import load_cooker
from sunhob_board.heat import table as board
from sunhob_board.heat.table import HeatTable, HeatTableError

COOKER = load_cooker()
MARK = optics_fingerprint(COOKER)
TRACE = cached_intercept(optics_of(COOKER))
GOOD = build_heat_table(COOKER)
TABLE = HeatTable(GOOD, MARK)


def refused(data, mark=MARK):
    with pytest.raises(HeatTableError) as caught:
        HeatTable(data, mark)
    assert caught.value.args[0] in board.CODES
    return caught.value.args


def sealed(data):
    """The bytes with a true CRC, whatever they hold."""
    out = bytearray(data)
    struct.pack_into("<I", out, board.CRC_AT, board.table_crc(bytes(out)))
    return bytes(out)


def test_the_board_reads_what_was_traced():
    found = worst_error(TABLE, TRACE)
    assert found["worst_error_of_full_heat"] < WORST_ALLOWED / 4
    assert TABLE.full_dw / 10 == pytest.approx(TRACE.full_heat_w_at_1000, abs=0.05)
    assert len(GOOD) < 5_000


def test_grid_points_come_back_to_the_rounding_of_the_file():
    full = TRACE.absorbed[0].max()
    for i, j, k in ((0, 0, 0), (5, 3, 2), (10, 8, 7), (20, 4, 4)):
        at = (round(TRACE.lag_deg[i] * 1e6), round(TRACE.elevation_deg[j] * 1e6), 45_000_000 * k)
        # at the upper end of a grid the weight stops 1/4096 short
        assert TABLE.share(*at) / board.UNIT == pytest.approx(TRACE.absorbed[i, j, k] / full, abs=3e-4)
        assert TABLE.stray(*at) / board.STRAY_UNIT == pytest.approx(TRACE.stray[i, j, k], abs=0.005)


@given(st.integers(0, 90_000_000), st.integers(-90_000_000, 90_000_000), st.integers(-(10**9), 10**9))
def test_any_attitude_has_a_heat_and_a_whole_turn_changes_nothing(lag, elevation, direction):
    share = TABLE.share(lag, elevation, direction)
    assert 0 <= share <= 65_535
    assert share == TABLE.share(lag, elevation, direction % 360_000_000)
    assert 0 <= TABLE.stray(lag, elevation, direction) <= 255


@given(st.integers(0, len(GOOD) * 8 - 1))
def test_any_flipped_bit_is_refused(bit):
    data = bytearray(GOOD)
    data[bit // 8] ^= 1 << (bit % 8)
    refused(bytes(data))


@given(st.integers(0, len(GOOD) - 1))
def test_any_cut_is_refused_as_missing_or_short(length):
    assert refused(GOOD[:length])[0] == ("short" if length else "missing")


@given(st.binary(min_size=1, max_size=300))
def test_noise_and_what_hangs_on_is_refused(data):
    refused(data)
    assert refused(GOOD + data)[0] == "corrupt"


def test_another_format_is_told_with_both_numbers():
    data = bytearray(GOOD)
    struct.pack_into("<H", data, 4, board.FORMAT + 1)
    code, words = refused(sealed(data))
    assert code == "format" and str(board.FORMAT) in words and str(board.FORMAT + 1) in words


@pytest.mark.parametrize(("at", "value"), [(22, 5), (24, 0), (24, 9_999)])
def test_a_sealed_table_on_a_grid_that_does_not_rise_from_0_is_refused(at, value):
    data = bytearray(GOOD)
    struct.pack_into("<H", data, at, value)
    assert refused(sealed(data))[0] == "corrupt"


def test_a_table_of_other_optics_is_refused_with_both_fingerprints():
    code, words = refused(GOOD, MARK ^ 0x1234)
    assert code == "other" and f"{MARK:08x}" in words and f"{MARK ^ 0x1234:08x}" in words


def test_the_head_tells_what_it_is():
    told = facts(GOOD)
    assert told["optics_fingerprint"] == f"{MARK:08x}" and told["greatest_lag_deg"] == TRACE.lag_deg[-1]
    assert told["lags"] * told["elevations"] * told["directions"] == np.size(TRACE.absorbed)


def test_the_command_builds_and_judges(tmp_path, capsys):
    file = tmp_path / "heat.tab"
    assert run(["table", "heat", str(file), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["bytes"] == file.stat().st_size
    assert run(["table", "heat", str(file), "--check", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["ok"]
    file.write_bytes(GOOD[:-1])
    assert run(["table", "heat", str(file), "--check"]) == 2
    assert "heat.tab" in capsys.readouterr().err
    off = bytearray(GOOD)
    off[1000] ^= 0x20
    file.write_bytes(sealed(off))
    assert run(["table", "heat", str(file), "--check", "--json"]) in (0, 1)
    off[100:1500] = bytes(1400)
    file.write_bytes(sealed(off))
    assert run(["table", "heat", str(file), "--check", "--json"]) == 1
    assert run(["table", "heat", str(tmp_path / "none"), "--check"]) == 2
