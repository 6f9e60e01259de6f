"""The board's sun on MicroPython gives what CPython gives. Units: udeg, days since 2000-01-01, ms."""

from __future__ import annotations

import json
import random
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sunhob import cli
from sunhob.errors import UserError
from sunhob.sun_table import build_table
from sunhob_board.sun.position import Sun
from sunhob_board.sun.table import SunTable
from sunhob_sim import wasm_home
from sunhob_sim.wasm_sun import run_micropython

TABLE = build_table(date(2026, 1, 1), 20)
SITE = (-1_286_400, 36_817_200, 1795.0, 81600.0, 24.0)
INSTANTS = [(9765, 9 * 3600000 + 24 * 60000), (9862, 12345678), (9863, 86399999), (16804, 30000000)]

# This build has double floats and agrees to their last digits; for single ones see test_sun_single_float.py.
ON_BOARD = """
import sys, json
sys.path.append('/')
from sunhob_board.sun.table import SunTable, TableError
from sunhob_board.sun.position import Sun
with open('/sun.table', 'rb') as f:
    data = f.read()
sun = Sun(SunTable(data), *%r)
out = []
for day, ms in %r:
    sun.update(day, ms)
    out.append([repr(sun.e), repr(sun.n), repr(sun.u), sun.dec_udeg, sun.ha_udeg])
spoilt = bytearray(data)
spoilt[77] ^= 4
codes = []
for bad in (None, data[:99], bytes(spoilt)):
    try:
        SunTable(bad)
    except TableError as error:
        codes.append(error.args[0])
for day in (1, 99999):
    try:
        sun.update(day, 0)
    except TableError as error:
        codes.append(error.args[0])
print(json.dumps([out, codes]))
"""


@pytest.fixture(scope="module", autouse=True)
def home() -> None:
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))


def test_micropython_gives_the_same() -> None:
    (line,) = run_micropython(ON_BOARD % (SITE, INSTANTS), {"/sun.table": TABLE})
    found, codes = json.loads(line)
    sun = Sun(SunTable(TABLE), *SITE)
    for (day, ms), (e, n, u, dec, ha) in zip(INSTANTS, found, strict=True):
        sun.update(day, ms)
        assert [float(e), float(n), float(u)] == pytest.approx([sun.e, sun.n, sun.u], abs=1e-12)
        assert [dec, ha] == [sun.dec_udeg, sun.ha_udeg]
    assert codes == ["missing", "short", "corrupt", "early", "expired"]


def cases_file(folder: Path, count: int) -> Path:
    """Any sites, any hours of twenty years."""
    rng = random.Random(7)
    lines = ["at_utc,latitude_deg,longitude_deg,altitude_m,pressure_pa,temp_c"]
    for _ in range(count):
        at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=rng.randrange(631_000_000))
        where = f"{rng.uniform(-89, 89):.4f},{rng.uniform(-180, 180):.4f},{rng.uniform(0, 4000):.0f}"
        lines.append(f"{at.isoformat()},{where},{rng.uniform(60000, 103000):.0f},{rng.uniform(-30, 45):.1f}")
    file = folder / "cases.csv"
    file.write_text("\n".join(lines) + "\n")
    return file


def test_sun_command_answers_from_micropython(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = cases_file(tmp_path, 400)
    told = {}
    for engine in ("cpython", "micropython"):
        assert cli.run(["sun", "--cases", str(file), "--engine", engine, "--json"]) == 0
        told[engine] = json.loads(capsys.readouterr().out)
        assert told[engine]["engine"] == engine
    assert len(told["micropython"]["cases"]) == 400
    up = [row["separation_deg"] for row in told["micropython"]["cases"] if row["spa"]["elevation_deg"] >= 0]
    assert len(up) > 100 and max(up) < 0.001
    for one, two in zip(told["cpython"]["cases"], told["micropython"]["cases"], strict=True):
        assert one["spa"] == two["spa"]
        assert one["board"]["elevation_deg"] == pytest.approx(two["board"]["elevation_deg"], abs=1e-9)


def test_sun_command_tells_what_micropython_refuses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "sun.tab"
    file.write_bytes(TABLE)
    words = ["sun", "--lat", "5", "--lon", "6", "--at", "2060-01-01", "--table", str(file)]
    told = []
    for engine in ("cpython", "micropython"):
        assert cli.run([*words, "--engine", engine]) == 2
        told.append(capsys.readouterr().err)
    assert told[0] == told[1] and "--table: expired" in told[0]


def test_sun_command_refuses_another_engine(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["sun", "--lat", "5", "--lon", "6", "--engine", "lua"]) == 2
    assert "--engine lua: give one of cpython, micropython" in capsys.readouterr().err
