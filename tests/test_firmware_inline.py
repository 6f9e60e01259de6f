"""Methods put where they are called do the same, in Python and in MicroPython; others stay methods."""

import ast
import textwrap

import pytest
from sunhob.errors import UserError
from sunhob.firmware_inline import put_in_place
from sunhob.firmware_mpy import compile_small
from sunhob_sim import wasm_home
from sunhob_sim.wasm_sun import run_micropython

# Each class with what is put in place (gone_...) and what may not be (stays_...).
SOURCE = '''
LOG = []
limit = 3


class Plain:
    """Arguments given, changed by the method, named as other things of the caller."""

    def __init__(self, n):
        self.n = n
        self.gone_set(n + 1, 5, n)

    def gone_set(self, a, b, c):
        """Words."""
        for n in range(2):
            a += n  # its own n
        self.got = (a, b, c)
        if self.n > limit:
            self.far = True
        else:
            self.far = (
                False)

    def run(self, limit2):
        n = 10
        for i in range(3):
            self.gone_count(
                i, limit2)
        self.total = self.gone_sum(n, i * 2)
        return self.choose(), n, i

    def choose(self):
        if self.total:
            return self.gone_choose(self.total)
        return "nothing"

    def gone_count(this, k, top):
        i = k * 100
        while True:
            i += 1
            if i > 150 or i > top:
                break
            LOG.append(i)

    def gone_sum(self, a, b):
        n = a + b
        try:
            n //= self.n
        except ZeroDivisionError:
            n = -1
        return n

    def gone_choose(self, total):
        if total < 0:
            return "under"
        if total > limit:
            return "over"


class Ends:
    def __init__(self):
        self.log = []

    def tick(self, a):
        if a > 1:
            self.log.append("many")
            self.gone_early(a)
        elif a:
            self.gone_last()
        else:
            self.log.append("none")

    def gone_early(self, a):
        for one in range(a):
            if one == 2:
                return
            self.log.append(one)

    def gone_last(self):
        if self.log:
            return None
        self.log.append("first")

    def between(self, a):
        if a:
            self.stays_returns(a)
        self.log.append("after")

    def stays_returns(self, a):
        if a == 1:
            return
        self.log.append(a)

    def loop(self):
        for one in (1, 2):
            self.stays_in_loop(one)

    def stays_in_loop(self, one):
        if one == 1:
            return
        self.log.append(-one)


class Kept:
    def __init__(self):
        self.n = 4
        self.all = []

    def run(self, other):
        limit = 2
        self.stays_reads_limit()
        self.stays_twice()
        self.stays_twice()
        x = self.stays_returns_early(limit)
        y = 1 + self.stays_inside()
        self.stays_default(1)
        self.stays_named(a=2)
        self.stays_closure()
        other.stays_of_other(3)
        self.stays_kept()
        call = self.stays_a_value
        call()
        getattr(self, "stays_by_" + "text")()
        if x: self.stays_on_one_line()
        self.stays_over()
        return x, y

    def stays_reads_limit(self):
        self.all.append(limit)

    def stays_twice(self):
        self.all.append("twice")

    def stays_returns_early(self, a):
        if a == 2:
            return 7
        return 8

    def stays_inside(self):
        self.all.append("inside")
        return 9

    def stays_default(self, a, b=6):
        self.all.append((a, b))

    def stays_named(self, a):
        self.all.append(a)

    def stays_closure(self):
        self.all.append([a + self.n for a in range(2)])

    def stays_of_other(self, a):
        self.all.append(-a)

    def stays_kept(self):
        self.all.append("kept")

    def stays_a_value(self):
        self.all.append("value")

    def stays_by_text(self):
        self.all.append("text")

    def stays_on_one_line(self):
        self.all.append("line")

    def stays_over(self):
        self.all.append("over")


class Over(Kept):
    def stays_over(self):
        self.all.append("overridden")


def start():
    one, two, three, four = Plain(2), Plain(9), Ends(), Over()
    out = [one.got, one.far, two.got, two.far, one.run(120), two.run(500), Plain(0).run(7), LOG]
    for a in (1, 0, 1, 2, 5):
        three.tick(a)
    three.between(1), three.between(3), three.loop()
    return out + [three.log, four.run(four), four.all]
'''


def keep(name):
    return name in ("stays_kept", "stays_by_text")


def made():
    return put_in_place({"main": SOURCE}, keep)["main"]


def answer(text):
    space = {}
    exec(compile(text, "main", "exec"), space)
    return space["start"]()


def test_what_is_put_in_place_does_the_same():
    before, after = ({one.name for one in ast.walk(ast.parse(text)) if isinstance(one, ast.FunctionDef)}
                     for text in (SOURCE, made()))
    gone = {name for name in before if name.startswith("gone_")}
    assert before - after == gone and len(gone) == 6
    assert answer(made()) == answer(SOURCE)
    assert put_in_place({"main": made()}, keep)["main"] == made()


def test_it_does_the_same_in_micropython():
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))
    files = {"/main.mpy": compile_small(made(), "main.py")}
    asked = "import sys\nsys.path.insert(0, '/')\nfrom main import start\nprint(repr(start()))"
    assert run_micropython(asked, files, ()) == [repr(answer(SOURCE))]


def test_a_method_that_another_module_asks_for_stays():
    other = {"other": "def f(plain):\n    plain.gone_set(1, 2, 3)\n"}
    assert "def gone_set" in put_in_place({"main": SOURCE, **other}, keep)["main"]
    assert "def gone_count" not in put_in_place({"main": SOURCE, **other}, keep)["main"]


def test_a_method_goes_into_one_that_is_put_in_place_itself():
    text = textwrap.dedent("""
        class A:
            def run(self, a):
                self._first(a, 2)
                return a
            def _first(self, a, b):
                self._second(a + b)
            def _second(self, b):
                b *= 2
                self.got = b
        def start():
            a = A()
            return a.run(3), a.got
        """)
    got = put_in_place({"main": text}, keep)["main"]
    assert got.count("def ") == 2 and answer(got) == answer(text) == (3, 10)
