"""The board's sun on MicroPython gives what CPython gives. Units: udeg, days since 2000-01-01, ms."""

from __future__ import annotations

import base64
import json
import subprocess
from datetime import date
from pathlib import Path

import pytest
import sunhob_board
from sunhob.errors import UserError
from sunhob.sun_table import build_table
from sunhob_board.sun.position import Sun
from sunhob_board.sun.table import SunTable
from sunhob_sim import wasm_home

FOLDER = Path(next(iter(sunhob_board.__path__)))
FILES = ("__init__.py", "sun/__init__.py", "sun/table.py", "sun/position.py")
TABLE = build_table(date(2026, 1, 1), 20)
SITE = (-1_286_400, 36_817_200, 1795.0, 81600.0, 24.0)
INSTANTS = [(9765, 9 * 3600000 + 24 * 60000), (9862, 12345678), (9863, 86399999), (16804, 30000000)]

# This build has double floats and agrees to their last digits; for single ones see test_sun_single_float.py.
NODE = """
const {loadMicroPython} = await import(%s);
const stdout = (line) => console.log(line);
const mp = await loadMicroPython({heapsize: 256 * 1024, stdout, linebuffer: true});
mp.FS.mkdir('/sunhob_board'); mp.FS.mkdir('/sunhob_board/sun');
for (const [name, body] of Object.entries(%s)) mp.FS.writeFile(name, Buffer.from(body, 'base64'));
mp.runPython(%s);
"""
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


@pytest.fixture(scope="module")
def home() -> tuple[Path, Path]:
    try:
        return wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))


def test_micropython_gives_the_same(home: tuple[Path, Path]) -> None:
    node, build = home
    files = {f"/sunhob_board/{name}": (FOLDER / name).read_bytes() for name in FILES}
    files["/sun.table"] = TABLE
    coded = {name: base64.b64encode(body).decode() for name, body in files.items()}
    program = NODE % (
        json.dumps((build / "micropython.mjs").as_uri()),
        json.dumps(coded),
        json.dumps(ON_BOARD % (SITE, INSTANTS)),
    )
    words = [str(node), "--input-type=module", "-"]
    ran = subprocess.run(words, input=program, capture_output=True, text=True, timeout=60, check=True)
    found, codes = json.loads(ran.stdout)
    sun = Sun(SunTable(TABLE), *SITE)
    for (day, ms), (e, n, u, dec, ha) in zip(INSTANTS, found, strict=True):
        sun.update(day, ms)
        assert [float(e), float(n), float(u)] == pytest.approx([sun.e, sun.n, sun.u], abs=1e-12)
        assert [dec, ha] == [sun.dec_udeg, sun.ha_udeg]
    assert codes == ["missing", "short", "corrupt", "early", "expired"]
