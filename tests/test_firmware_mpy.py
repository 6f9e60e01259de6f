"""The compiled form taken apart, made smaller and run in real MicroPython. Units: bytes."""

import random
from collections import Counter

import pytest
from sunhob import firmware_mpy
from sunhob.errors import UserError
from sunhob.firmware_build import bundled
from sunhob.firmware_mpy import compile_small, read, without_class_notes, write
from sunhob.mpy import compile_text
from sunhob_sim import wasm_home
from sunhob_sim.wasm_sun import run_micropython

from . import test_firmware_bundle as packages
from .test_firmware_bundle import answers, made

# Closures, generators, handlers, defaults, many arguments, constants of each kind.
FORMS = '''
import math
class Kind(Exception):
    """Words."""
    unit = "m"
    class Within:
        far = 1
    @property
    def twice(self):
        return self.args[0] * 2
    @staticmethod
    def still(a, b=(1, None, True, ...), *, c=2.5, **more):
        return a, b, c, more
class Tall(Kind):
    def __init__(self, *rest):
        super().__init__(*rest)
        self.rest = rest
def many(a, b, c, d, e, f, g, h, i, j, k, l, m, n, o, p, q, r, s, *t):
    def within(u):
        nonlocal_sum = [a + u, b, t]
        return lambda v=u: (nonlocal_sum, v, s)
    return within(b"\\x00\\xff")() if a > 300000000 else within(123456789012345)()
def each(n):
    for one in range(n):
        try:
            if one % 3 == 0:
                continue
            yield {one: "long text that is no name", "": -1}
        except ValueError as err:
            raise Kind("x") from err
        finally:
            n -= 1
def start():
    with open("/main.mpy", "rb") as file:
        head = file.read(1)
    try:
        raise Tall(3)
    except Kind as error:
        found = error.twice, error.rest, type(error).__name__, Kind.Within.__name__, Kind.Within.far
    return (head, found, Kind.still(1, c=3, z=4), many(*range(21)), list(each(7)),
            [x for x in range(99999, 100003)], sorted({1, 2}), "%s" % Tall, math.floor(1e3), -5, 2 ** 40)
'''


@pytest.fixture(scope="module")
def home():
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))


def on_board(text, compiled, call="start()"):
    """What a call gives in MicroPython, by its own compiler and from the compiled form made smaller."""
    asked = f"import sys\nsys.path.insert(0, '/')\nfrom main import start\nprint(repr({call}))"
    own = run_micropython(f"{text}\nprint(repr({call}))", {"/main.mpy": compiled}, ())
    return own, run_micropython(asked, {"/main.mpy": compiled}, ())


def test_what_is_made_smaller_runs_as_the_source_does(home):
    plain, small = compile_text(FORMS.encode(), "main.py"), compile_small(FORMS, "main.py")
    assert len(small) < len(plain)
    own, ours = on_board(FORMS, small)
    assert own == ours and "Tall" in own[0] and "Within" in own[0]


@pytest.mark.parametrize(("package", "given"), [(packages.KIN, ()), (packages.ASKED, (True,))])
def test_a_bundle_runs_in_micropython_as_the_package_does(tmp_path, home, package, given):
    text = made(tmp_path, package).texts["main"]
    whole, _parts = answers(tmp_path, lambda main: main.start(*given))
    call = f"start(*{given!r})"
    assert on_board(text, compile_small(text, "main.py"), call) == ([repr(whole)], [repr(whole)])


@pytest.mark.parametrize("seed", [1, 2])
def test_the_commonest_of_many_names_take_one_byte(home, seed):
    draw = random.Random(seed)
    names = [f"name{i}" for i in range(300)]
    said = draw.choices(names, weights=[1 / (1 + i) for i in range(300)], k=3000)
    lines = [f"    a.{one} = {i}" for i, one in enumerate(said)]
    text = "\n".join(["class A:", "    pass", "def fill(a):", *lines, "def start():", "    a = A()",
                      "    fill(a)", f"    return [getattr(a, n) for n in {sorted(set(said))!r}]"]) + "\n"
    small = read(compile_small(text, "main.py"))
    used = small.uses()
    common = [count for _name, count in Counter(said).most_common(100)]
    assert min(sorted(used.values(), reverse=True)[:100]) >= min(common) > 2
    assert sum(count for at, count in used.items() if at > 127) <= sum(sorted(used.values())[:-120])
    assert on_board(text, write(small))[0] == on_board(text, write(small))[1]


@pytest.mark.parametrize("board", ["pico", "esp32"])
def test_every_part_is_put_together_as_it_was_taken_apart(board):
    for part, text in bundled(board).texts.items():
        plain = compile_text(text.encode(), part + ".py")
        assert write(read(plain)) == plain
        small = compile_small(text, part + ".py")
        assert len(small) < len(plain) or ("class" not in text and len(small) == len(plain))
        told = read(small)
        assert write(told) == small == write(without_class_notes(told))


def test_machine_code_and_what_comes_behind_are_refused():
    plain = compile_text(b"x = 1\n", "x.py")
    at = plain.index(read(plain).top.code) - 1
    with pytest.raises(UserError, match="machine code"):
        read(plain[:at] + bytes([plain[at] | 1]) + plain[at + 1:])
    with pytest.raises(UserError, match="another form"):
        read(plain + b"\0")


def test_a_part_that_is_kept_is_not_counted_anew(monkeypatch, tmp_path):
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path))
    made = compile_small("kept = 1\n", "kept.py")
    monkeypatch.setattr(firmware_mpy, "_compile_small", None)
    assert compile_small("kept = 1\n", "kept.py") == made
