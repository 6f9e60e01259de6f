"""The board's own sun in real MicroPython: its modules as they are flashed, one interpreter for many cases.

Units: micro-degrees, days since 2000-01-01, ms, m, Pa, degC; unit vectors east, north, up; elevation in deg.
"""

import base64
import json
import subprocess
from collections.abc import Sequence

from sunhob.errors import UserError
from sunhob.sun_compare import Answer, Case, board_terms, refuse_table

from . import wasm_home
from .engine import compile_mpy, firmware_dir

_MODULES = ("__init__", "sun/__init__", "sun/table", "sun/position")
_WAIT_S = 600
_NODE = """
import fs from 'node:fs';
const {module, files, program} = JSON.parse(fs.readFileSync(0, 'utf8'));
const {loadMicroPython} = await import(module);
const stdout = (line) => fs.writeSync(1, line + '\\n');
const mp = await loadMicroPython({heapsize: 256 * 1024, stdout, linebuffer: true});
const parts = ['', '/sun', '/heat', '/safety', '/declared', '/core'];
for (const part of parts) mp.FS.mkdir('/sunhob_board' + part);
for (const [name, body] of Object.entries(files)) mp.FS.writeFile(name, Buffer.from(body, 'base64'));
mp.runPython(program);
"""
# One line of /cases at a time, so that any number of cases fits the heap; each answered by one line.
_ON_BOARD = """
import sys, json
sys.path.append('/')
from sunhob_board.sun.table import SunTable, TableError
from sunhob_board.sun.position import Sun
held = -1
with open('/cases') as cases:
    for line in cases:
        key, site, day, ms = json.loads(line)
        if key != held:
            with open('/%d.tab' % key, 'rb') as f:
                table = SunTable(f.read())
            held = key
        sun = Sun(table, *site)
        try:
            sun.update(day, ms)
            print(json.dumps([repr(sun.e), repr(sun.n), repr(sun.u), repr(sun.elevation_deg)]))
        except TableError as error:
            print(json.dumps(list(error.args)))
"""


def run_micropython(program: str, files: dict[str, bytes], modules: Sequence[str] = _MODULES) -> list[str]:
    """What a program prints, line by line, in MicroPython with modules (the sun's) under /sunhob_board."""
    node, build = wasm_home.ensure()
    folder = firmware_dir("sunhob_board")
    for name in modules:
        files = {**files, f"/sunhob_board/{name}.mpy": compile_mpy(folder / f"{name}.py", f"{name}.py")}
    first = {"module": (build / "micropython.mjs").as_uri(), "program": program,
             "files": {name: base64.b64encode(body).decode() for name, body in files.items()}}
    command = [str(node), "--input-type=module", "--eval", _NODE]
    try:
        ran = subprocess.run(command, input=json.dumps(first), capture_output=True, text=True,
                             timeout=_WAIT_S)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise UserError(f"engine micropython: {error}; run with --engine cpython") from None
    if ran.returncode:
        raise RuntimeError(f"MicroPython ended with an error:\n{ran.stderr}")
    return ran.stdout.splitlines()


def answers(cases: Sequence[Case], keys: Sequence[int], files: dict[int, bytes]) -> list[Answer]:
    """The board's sun for each case, by the sun table file that its key names."""
    lines = []
    for case, key in zip(cases, keys, strict=True):
        site, instant = board_terms(case)
        lines.append(json.dumps([key, site, *instant]))
    held = {f"/{key}.tab": data for key, data in files.items()}
    out: list[Answer] = []
    for line in run_micropython(_ON_BOARD, {**held, "/cases": "\n".join(lines).encode()}):
        got = json.loads(line)
        if len(got) == 2:
            raise refuse_table(*got)
        e, n, u, elevation_deg = (float(text) for text in got)
        out.append((e, n, u, elevation_deg))
    if len(out) != len(cases):
        raise RuntimeError(f"MicroPython answered {len(out)} of {len(cases)} cases")
    return out
