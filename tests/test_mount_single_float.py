"""The mount on the board: geometry in single floats, the same steps on MicroPython. Units: degrees, steps."""

import base64
import json
import math
import subprocess
from pathlib import Path

import pytest
import sunhob_board
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st
from sunhob.errors import UserError
from sunhob_board.mount.geometry import Geometry
from sunhob_sim import wasm_home

from .mount_fakes import settings
from .single_float import Board

_FOLDER = Path(next(iter(sunhob_board.__path__)))
_FILES = ("__init__.py", "core/__init__.py", "core/ticks.py", "mount/__init__.py", "mount/axis.py",
          "mount/profile.py", "mount/geometry.py", "mount/mount.py", "mount/homing.py", "mount/ways.py",
          "mount/admission.py", "mount/walk.py", "mount/planner.py")
_NODE = """
const {loadMicroPython} = await import(%s);
const mp = await loadMicroPython({heapsize: 256 * 1024, stdout: (l) => console.log(l), linebuffer: true});
for (const name of ['', '/core', '/mount']) mp.FS.mkdir('/sunhob_board' + name);
for (const [name, body] of Object.entries(%s)) mp.FS.writeFile(name, Buffer.from(body, 'base64'));
mp.runPython(%s);
"""
_SCRIPT = """
import sys
sys.path.append('/')
from sunhob_board.mount.axis import Axis
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.mount import Mount
from sunhob_board.mount.planner import Planner, LEAVE
class S:
    pass
s = S()
for key, value in %r.items():
    setattr(s, key, value)
class Drive:
    total = 0
    words = 0
    def free(self):
        return 8
    def push(self, forward, steps, period_us):
        self.words += 1
        self.total = (self.total * 31 + steps * 7 + period_us + (5 if forward else 0)) %% 1000003
    def clear(self):
        pass
drives = (Drive(), Drive())
mount = Mount((Axis(drives[0], 1, s), Axis(drives[1], 2, s)), Geometry(s))
mount.set_position(90000000, 40000000)
now = 2**30 - 500
for target in ((90080000, 40000000), (250123456, 89000000), (-19000000, 1000000), (379990000, 90000000)):
    mount.move_to(*target)
    while mount.moving:
        mount.tick(now)
        now = (now + 100) %% 2**30
planner = Planner(mount, None, s)
planner.begin(0, 24600000, LEAVE)
found = [drives[0].total, drives[0].words, drives[1].total, drives[1].words, planner.legs[0][1]]
print(found)
"""


def apart_deg(a, b):
    return math.degrees(2 * math.asin(min(1.0, math.dist(a, b) / 2)))


_BOARD = Board()
_ROUGH = _BOARD.module("sunhob_board.mount.geometry")
_MOUNTS = st.builds(
    settings,
    site_latitude_deg=st.integers(-660, 660).map(lambda n: n / 10),
    mount_kind=st.sampled_from(["altaz", "polar"]),
    mount_north_deg=st.floats(-180, 180), mount_tilt_east_deg=st.floats(-10, 10),
    mount_square_deg=st.floats(-3, 3), axis2_low_deg=st.just(-60.0))  # fmt: skip


@profile(deadline=None, max_examples=60)
@given(_MOUNTS, st.integers(-20_000_000, 380_000_000), st.integers(-59_000_000, 90_000_000))
def test_round_trip_in_single_floats(s, a1, a2):
    _BOARD.big.clear()
    rough = _ROUGH.Geometry(s)
    true, aim, again, axes = [0.0] * 3, [0.0] * 3, [0.0] * 3, [0, 0]
    Geometry(s).enu_from_axes(a1, a2, true)
    rough.enu_from_axes(a1, a2, aim)
    assert apart_deg(true, aim) < 0.0004
    assert rough.axes_from_enu(*aim, axes)
    Geometry(s).enu_from_axes(*axes, again)
    assert apart_deg(true, again) < (0.002 if a2 < 89_000_000 else 0.06)  # the blind cone of a skew mount
    assert not _BOARD.big


def test_micropython_sends_the_same_steps(capsys):
    try:
        node, build = wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))
    coded = {f"/sunhob_board/{n}": base64.b64encode((_FOLDER / n).read_bytes()).decode() for n in _FILES}
    script = _SCRIPT % vars(settings())
    build_uri = (build / "micropython.mjs").as_uri()
    program = _NODE % (json.dumps(build_uri), json.dumps(coded), json.dumps(script))
    words = [str(node), "--input-type=module", "-"]
    ran = subprocess.run(words, input=program, capture_output=True, text=True, timeout=60, check=True)
    exec(script, {})
    here = capsys.readouterr().out
    assert json.loads(ran.stdout) == json.loads(here)
