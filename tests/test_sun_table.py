"""The sun table file: what the board reads and what it refuses. Units: days since 2000-01-01, ms, udeg."""

from __future__ import annotations

import struct
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob.errors import UserError
from sunhob.sun_compare import table_worst
from sunhob.sun_table import DAY0_UNIX, build_table, date_of, day2000, geocentric
from sunhob_board.sun.table import HEADER, HEADER_BYTES, SunTable, TableError, fold_udeg, table_crc

TWENTY = build_table(date(2026, 1, 1), 20)
ONE = build_table(date(2026, 1, 1), 1)


def code_of(data: bytes | None) -> str:
    with pytest.raises(TableError) as refused:
        SunTable(data)
    return refused.value.args[0]


def test_twenty_years_fit_in_16_kb() -> None:
    table = SunTable(TWENTY)
    assert len(TWENTY) <= 16384
    assert table.step_days == 4
    assert date_of(table.first_day) == date(2026, 1, 1)
    assert date_of(table.last_day) >= date(2045, 12, 31)


def test_interpolation_is_near_spa() -> None:
    table = SunTable(TWENTY)
    rng = np.random.default_rng(3)
    days = rng.integers(table.first_day, table.last_day + 1, 3000)
    ms = rng.integers(0, 86400000, 3000)
    declination, gha, _ = geocentric(DAY0_UNIX + 86400.0 * days + ms / 1000.0)
    for i in range(3000):
        table.at(int(days[i]), int(ms[i]))
        assert abs(table.dec_udeg - declination[i] * 1e6) < 70
        assert abs(fold_udeg(round(table.gha_udeg - gha[i] * 1e6))) < 70


def test_no_jump_at_an_hour_a_day_or_a_row() -> None:
    table = SunTable(TWENTY)
    for day in range(table.first_day, table.first_day + 9):
        for ms in (*range(3600000, 86400000, 3600000), 86400000):
            table.at(day, ms - 1)
            dec, gha = table.dec_udeg, table.gha_udeg
            table.at(day, ms)
            assert abs(table.dec_udeg - dec) <= 3
            assert 0 <= fold_udeg(table.gha_udeg - gha) <= 8


def test_ms_beyond_the_day_is_the_next_day() -> None:
    table = SunTable(ONE)
    table.at(9600, 86400000 + 5000)
    here = table.dec_udeg, table.gha_udeg
    table.at(9601, 5000)
    assert here == (table.dec_udeg, table.gha_udeg)


@pytest.mark.parametrize("data", [None, b""])
def test_missing(data: bytes | None) -> None:
    assert code_of(data) == "missing"


@given(st.integers(1, len(ONE) - 1))
def test_short_wherever_it_is_cut(size: int) -> None:
    assert code_of(ONE[:size]) == "short"


@given(st.integers(0, len(ONE) * 8 - 1))
def test_any_flipped_bit_is_refused(bit: int) -> None:
    spoilt = bytearray(ONE)
    spoilt[bit // 8] ^= 1 << bit % 8
    assert code_of(bytes(spoilt)) in ("corrupt", "short")


@given(st.integers(0, HEADER_BYTES * 8 - 1))
def test_any_flipped_bit_of_the_header_is_refused(bit: int) -> None:
    spoilt = bytearray(ONE)
    spoilt[bit // 8] ^= 1 << bit % 8
    assert code_of(bytes(spoilt)) in ("corrupt", "short")


@given(st.binary(min_size=1, max_size=200))
def test_other_files_are_refused(data: bytes) -> None:
    assert code_of(data) in ("corrupt", "short")


@given(st.binary(min_size=1, max_size=50))
def test_anything_after_the_rows_is_refused(tail: bytes) -> None:
    assert code_of(ONE + tail) == "corrupt"


@pytest.mark.parametrize("step", [0, 5, 400])
def test_a_step_the_board_cannot_hold_is_refused_though_its_sum_is_right(step: int) -> None:
    magic, form, _, row0, rows, _ = struct.unpack_from(HEADER, ONE)
    bare = struct.pack(HEADER, magic, form, step, row0, rows, 0) + ONE[HEADER_BYTES:]
    whole = struct.pack(HEADER, magic, form, step, row0, rows, table_crc(bare)) + ONE[HEADER_BYTES:]
    assert code_of(whole) == "corrupt"


def test_early_and_expired_days_are_refused_and_the_ends_served() -> None:
    table = SunTable(ONE)
    table.at(table.first_day, 0)
    table.at(table.last_day, 86399999)
    for day, code in ((table.first_day - 1, "early"), (table.last_day + 1, "expired")):
        with pytest.raises(TableError) as refused:
            table.at(day, 0)
        assert refused.value.args[0] == code
    table.at(table.last_day, 0)  # a refusal leaves the table usable


def test_the_same_day_gives_the_same_bytes() -> None:
    assert build_table(date(2026, 1, 1), 1) == ONE


@pytest.mark.parametrize(
    ("day", "years"), [(date(2026, 1, 1), 0), (date(2026, 1, 1), 23), (date(1900, 1, 1), 1)]
)
def test_builder_refuses(day: date, years: float) -> None:
    with pytest.raises(UserError):
        build_table(day, years)


def test_worst_of_twenty_years_is_told_with_its_place() -> None:
    found = table_worst(SunTable(TWENTY), per_site=200)
    assert 0 < found["worst_separation_deg"] < 0.0001
    assert found["elevation_deg"] >= 0
    assert found["directions"] > 1000


def test_a_table_of_a_wrong_sun_is_found_out() -> None:
    rows = np.frombuffer(TWENTY[HEADER_BYTES:], dtype="<i4").copy()
    rows[::2] += 5000  # declination 0.005 deg too great
    fields = struct.unpack_from(HEADER, TWENTY)[:5]
    bare = struct.pack(HEADER, *fields, 0) + rows.tobytes()
    table = SunTable(struct.pack(HEADER, *fields, table_crc(bare)) + rows.tobytes())
    assert table_worst(table, per_site=50)["worst_separation_deg"] == pytest.approx(0.005, abs=0.0002)


def test_days() -> None:
    assert day2000(date(2000, 1, 1)) == 0
    assert day2000(date(2000, 2, 29)) == 59
    assert date_of(366) == date(2001, 1, 1)
