"""What the board's code takes on MicroPython: flash, heap while it is loaded and once it is. Units: bytes, s.

The WebAssembly build has 32-bit objects like a board, so its heap is close to one's. It collects garbage only
between two pieces of code: what is held as loading ends is with all the garbage, the most a board can need.
"""

import base64
import json
import subprocess
import tempfile
import time
from pathlib import Path

from firmware_size import BUILDS, cooker_of
from sunhob.board.image import KINDS, all_files
from sunhob.board.install import Install
from sunhob.firmware_build import PACKAGE, board_files, board_source, bundled, unused_parts
from sunhob.mpy import compile_text
from sunhob.settings import load_cooker
from sunhob_sim import wasm_home
from sunhob_sim.console_board import ConsoleBoard
from sunhob_sim.engine import SHIMS

BOARD = "pico"
_NODE = """
import fs from 'node:fs';
const {module, files, before, load, after} = JSON.parse(fs.readFileSync(0, 'utf8'));
const {loadMicroPython} = await import(module);
const stdout = (line) => fs.writeSync(1, line + '\\n');
const mp = await loadMicroPython({heapsize: 1 << 19, stdout, linebuffer: true});
const made = new Set();
for (const [name, body] of Object.entries(files)) {
  const parts = name.split('/').slice(1, -1);
  let folder = '';
  for (const part of parts) {
    folder += '/' + part;
    if (!made.has(folder)) { mp.FS.mkdir(folder); made.add(folder); }
  }
  mp.FS.writeFile(name, Buffer.from(body, 'base64'));
}
for (const code of [before, load, after]) mp.runPython(code);
"""
_BEFORE = """
import sys, gc
sys.path.insert(0, '/shims')
sys.path.insert(1, '/board')
import wire, machine, rp2, time, os
gc.collect()
"""
_IMPORT = """
bare = gc.mem_alloc()
for name in %r:
    __import__(name)
most = gc.mem_alloc() - bare
gc.collect()
"""
_TELL = """
print(most, gc.mem_alloc() - bare)
"""


def loaded(files: dict[str, bytes]) -> tuple[int, int]:
    """Heap that the modules hold [bytes] as loading ends, and after a collection."""
    node, build = wasm_home.ensure()
    names = [name.removesuffix(".mpy").replace("/", ".").removesuffix(".__init__") for name in files]
    shims = {f"/shims/{path.name[:-3]}.mpy": compile_text(path.read_bytes(), path.name)
             for path in SHIMS.glob("*.py") if path.stem != "__init__"}
    every = {**shims, **{f"/board/{name}": body for name, body in files.items()}}
    told = {"module": (build / "micropython.mjs").as_uri(), "before": _BEFORE, "load": _IMPORT % names,
            "after": _TELL, "files": {name: base64.b64encode(body).decode() for name, body in every.items()}}
    done = subprocess.run([str(node), "--input-type=module", "-e", _NODE], input=json.dumps(told),
                          capture_output=True, text=True, check=True)
    most, held = done.stdout.split()
    return int(most), int(held)


def one_by_one(build: str) -> dict[str, bytes]:
    """The same modules as in a build, each in a file of its own: what bundling is measured against."""
    made, unused = bundled(BOARD), unused_parts(cooker_of(build))
    names = [name for part, inside in made.modules.items() if part not in unused for name in inside]
    names += sorted(path.relative_to(PACKAGE).with_suffix("").as_posix()
                    for path in PACKAGE.rglob("__init__.py"))
    return {f"{PACKAGE.name}/{name}.mpy": compile_text(board_source(PACKAGE / f"{name}.py"), name + ".py")
            for name in names}


def figures() -> dict[str, tuple[int, int, int]]:
    """Build and board -> bytes in flash, heap as loading ends, heap held; the last is the first unbundled."""
    first = next(iter(BUILDS))
    sets = {f"{build}, {board}": board_files(board, cooker_of(build)) for build in BUILDS for board in KINDS}
    sets[f"{first}, {BOARD}, a file a module"] = one_by_one(first)
    return {name: (sum(map(len, files.values())), *loaded(files)) for name, files in sets.items()}


def install_s() -> tuple[float, float, int]:
    """Seconds that `board install` takes on an empty board, then with nothing changed, on the emulated link,
    and bytes sent first. The controller's own start and its word that it runs well are part of both."""
    cooker = load_cooker()
    took, sent = [], 0
    with tempfile.TemporaryDirectory() as folder:
        board = ConsoleBoard(Path(folder))
        for _ in range(2):
            began = time.perf_counter()
            answer = Install("desk", board.open).run(lambda kind: all_files(kind, cooker))
            took.append(time.perf_counter() - began)
            sent = sent or int(answer["bytes_sent"])
        board.off()
    assert answer["sent"] == 0
    return took[0], took[1], sent
