"""Many modules made into few: the same answers by Python's own import, and a refusal of what is not safe."""

import ast
import importlib
import importlib.util
import sys
import textwrap
from pathlib import Path

import pytest
from sunhob.chip_names import NAMES
from sunhob.firmware_parts import bundle
from sunhob.firmware_scopes import Unsafe

# Names that mean different things in different modules, classes, functions and comprehensions.
PACKAGE = {
    "__init__": "",
    "main": """
        from .deep import maths as m
        from .deep.maths import scale as s2

        TOP = 3

        def start(n):
            from .extra import gear
            from . import late

            def within(k):
                return gear.turn(k) + m.LIMIT

            return [within(i) for i in range(n)] + [s2(TOP, by=2), m.count(), m.count(), late.name(), m.KIND]
        """,
    "deep/__init__": '"""Words alone."""',
    "deep/maths": """
        import math
        try:
            from binascii import crc32
        except ImportError:
            def crc32(data):
                return 0
        LIMIT = 1 << 4
        LOW, HIGH = range(2)
        KIND = "one"
        TABLE = {}
        for _i in range(3):
            TABLE[_i] = _i * LIMIT
        _n = 0

        def scale(value, by=HIGH):
            return value * by * math.floor(1.5)

        def count():
            global _n
            _n += 1
            return (_n, TABLE[LOW + 1], crc32(b"a"))

        def never():
            return unheard_of
        """,
    "extra/gear": """
        from ..deep.maths import HIGH, scale
        from ..deep import maths

        class Gear:
            HIGH = HIGH
            step = 5
            twice = step * 2

            def __init__(self, teeth, *, slip=0):
                self.teeth = teeth
                self.slip = slip
                self.read = "kept"

            @property
            def ratio(self):
                return self.teeth * self.HIGH + self.twice - self.slip

            def do_far(self):
                return getattr(self, "do_" + "near")()

            def do_near(self):
                return hasattr(self, "read")

            def unused(self):
                return unheard_of

        def turn(k):
            gear = Gear(k, slip=1)
            step = scale(gear.ratio)
            return step + gear.do_far() + maths.LIMIT
        """,
    "late": """
        def name():
            try:
                raise ValueError("x", 2)
            except ValueError as err:
                return __name__, err.args[1]
        """,
}


def made(folder, texts, exports=None, main="main"):
    """Import a package of these texts, as it is and bundled; (modules of both, the bundle)."""
    texts = {name: textwrap.dedent(text) for name, text in texts.items()}
    got = bundle("whole", texts, main, exports or {"main": ("start",)})
    for package, files in (("whole", texts), ("parts", got.texts)):
        for name, text in files.items():
            path = folder / package / f"{name}.py"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
    return got


def answers(folder, call):
    """call(main module) of the package as it is, and of the bundle under the same name."""
    out = []
    for package in ("whole", "parts"):
        kept = {name: one for name, one in sys.modules.items() if name.partition(".")[0] == "whole"}
        for name in kept:
            del sys.modules[name]
        spec = importlib.util.spec_from_loader("whole", None, is_package=True)
        root = importlib.util.module_from_spec(spec)
        root.__path__ = [str(folder / package)]
        sys.modules["whole"] = root
        out.append(call(importlib.import_module("whole.main")))
    return out


def test_the_bundle_answers_as_the_package_does(tmp_path):
    got = made(tmp_path, PACKAGE)
    whole, parts = answers(tmp_path, lambda main: main.start(4))
    assert whole == parts and len(whole) == 9
    assert set(got.texts) == {"main", "extra/gear", "late"}
    assert got.modules["main"] == ("deep/maths", "main")


def test_what_nothing_reaches_is_left_out_and_what_is_asked_for_by_a_text_is_not(tmp_path):
    got = made(tmp_path, PACKAGE)
    text = "\n".join(got.texts.values())
    assert "unheard_of" not in text and "do_near" in text and "read" in text
    assert "LIMIT" not in text and "teeth" not in text
    told = {one for found in got.told.values() for one in found}
    assert "deep/maths: scale" in told and ".ratio of Gear" in told


# Attributes that share a short name, and those of one object, by inheritance or from outside, that may not.
KIN = {"main": """
    from .other import Cup, Lid

    class Base:
        def __init__(self):
            self.least = 1

    class Tall(Base):
        kind = 7

        def __init__(self):
            super().__init__()
            self.most = 2
            self.whole = None

        def both(self):
            def inner():
                self.late = 30
            inner()
            return self.least + self.most * 10 + self.late

    def start():
        tall, cup = Tall(), Cup()
        tall.given = 400
        cup.whole = tall
        lid = Lid.made(cup)
        return (tall.both(), tall.given, cup.depth, cup.whole.kind, cup.seen, lid.cup.depth, lid.turned)
    """, "other": """
    class Cup:
        def __init__(self):
            self.depth = 5
            self.seen = 6

    class Lid:
        def __init__(self, cup):
            self.cup = cup
            self = cup
            self.turned = 8

        @classmethod
        def made(kind, cup):
            kind.turned = 9
            return kind(cup)
    """}


def test_attributes_share_a_name_only_where_no_object_has_both(tmp_path):
    got = made(tmp_path, KIN)
    whole, parts = answers(tmp_path, lambda main: main.start())
    assert whole == parts == (51, 400, 5, 7, 6, 5, 9)
    short = {one[1:].partition(" of ")[0]: name for name, found in got.told.items()
             for one in found if one.startswith(".")}
    alone = {"given", "whole", "turned", "cup"}  # set on another than self, or where self is set
    shared = {"least", "most", "both", "late", "kind", "depth", "seen", "made"}
    assert set(short) == alone | shared
    assert all(short[one] != short[other] for one in alone for other in short if one != other)
    for kin in (("least", "most", "both", "late", "kind"), ("depth", "seen")):
        assert len({short[one] for one in kin}) == len(kin)
    assert len({short[one] for one in shared}) == 5


def test_a_short_name_tells_each_class_whose_it_is(tmp_path):
    told = {one for found in made(tmp_path, KIN).told.values() for one in found}
    assert {".least of Base", ".depth of Cup", ".given", ".whole of Tall"} <= told


# Tables asked by texts alone, under two names and from within a function; and those that must stay.
ASKED = {"main": """
    from . import rows
    from .rows import SHARED
    _C = rows.CODES

    def start(low):
        from .rows import LATE
        code = _C["gone_a"] + rows.CODES["gone_b" if low else
                                        "gone_c"] * 10
        rows.more()
        return (code, -_C["gone_c"] ** 2, LATE["gone_d"], [SHARED[one] for one in ("stays_a", "stays_b")],
                rows.GROWS["stays_c"], sorted(rows.READ), rows.TWICE["stays_f"], rows.keep()["stays_g"])
    """, "rows": """
    CODES = {"gone_a": 1, "gone_b": 2, "gone_c": -3}
    LATE = {"gone_d": 40}
    SHARED = {"stays_a": 5, "stays_b": 6}
    GROWS = {"stays_c": 7}
    READ = {"stays_d": 8, "stays_e": 9}
    TWICE = {"stays_f": 10}
    TWICE = {"stays_f": 11}
    HANDED = {"stays_g": 12}

    def more():
        GROWS["stays_c"] = READ["stays_d"] * 9

    def keep():
        return HANDED
    """}


@pytest.mark.parametrize("low", [True, False])
def test_tables_asked_by_texts_alone_become_numbers(tmp_path, low):
    got = made(tmp_path, ASKED)
    whole, parts = answers(tmp_path, lambda main: main.start(low))
    assert whole == parts == (21 if low else -29, -9, 40, [5, 6], 72, ["stays_d", "stays_e"], 11, 12)
    text = "\n".join(got.texts.values())
    assert "gone_" not in text and all(f"stays_{letter}" in text for letter in "abcdefg")


def test_a_part_is_not_loaded_before_it_is_asked_for(tmp_path):
    loaded = {**PACKAGE, "extra/gear": PACKAGE["extra/gear"] + "\n        print('loaded')\n"}
    made(tmp_path, loaded)
    known = answers(tmp_path, lambda main: list(sys.modules))[1]
    assert not [name for name in known if name.startswith("whole.") and "gear" in name]


def test_modules_run_in_the_order_of_their_imports(tmp_path):
    texts = {"main": "from . import a, b\nfrom .log import LOG\n\ndef start():\n    return list(LOG)\n",
             "log": "LOG = []\n", "a": "from .log import LOG\nfrom . import c\nLOG.append('a')\n",
             "b": "from .log import LOG\nLOG.append('b')\n", "c": "from .log import LOG\nLOG.append('c')\n"}
    got = made(tmp_path, texts)
    whole, parts = answers(tmp_path, lambda main: main.start())
    assert whole == parts == ["c", "a", "b"] and set(got.texts) == {"main"}


START = "def start():\n    return 1\n"
STRAYS = {
    "a star": ({"main": "from .a import *\n" + START, "a": "X = 1\n"}, r"main\.py:1: import \*"),
    "set from outside": ({"main": "from . import a\n\ndef start():\n    a.X = 2\n", "a": "X = 1\n"},
                         r"main\.py:4: a\.X is set from outside"),
    "a module as a value": ({"main": "from . import a\n\ndef start():\n    return [a]\n", "a": "X = 1\n"},
                            r"main\.py:4: the module a is handed on"),
    "a copy that goes stale": (
        {"main": "from .a import X\n\ndef start():\n    return X\n",
         "a": "X = 1\n\ndef f():\n    global X\n    X = 2\n"}, r"main\.py:4: X of a is set again"),
    "a circle": ({"main": "from . import a\n" + START, "a": "from . import b\n", "b": "from . import a\n"},
                 r"circle: a -> b -> a"),
    "perhaps": ({"main": "if 1:\n    from . import a\n" + START, "a": "X = 1\n"},
                r"main\.py:2: an import that may"),
    "nobody there": ({"main": "from . import a\n" + START}, r"main\.py:1: there is no module a"),
    "no such name": ({"main": "from .a import Y\n\ndef start():\n    return Y\n", "a": "X = 1\n"},
                     r"main\.py:4: a has no Y"),
    "both": ({"main": "from .a import X\nX = 2\n" + START, "a": "X = 1\n"}, r"X is imported and set as well"),
    "unseen names": ({"main": "def start():\n    return globals()\n"}, r"main\.py:2: globals reaches"),
    "a name made at run time": ({"main": "def start():\n    return __import__('a')\n"},
                                r"main\.py:2: __import__"),
    "by its name": ({"main": "import whole.a\n" + START, "a": "X = 1\n"},
                    r"main\.py:1: import of the package"),
    "a missing attribute": (
        {"main": "def start(d):\n    try:\n        d.x()\n    except AttributeError:\n        return 2\n"},
        r"main\.py:4: an attribute that is missing"),
    "a text that a table has not": (
        {"main": "from . import a\n\ndef start():\n    return a.T['y']\n", "a": "T = {'x': 1}\n"},
        r"main\.py:4: T has no y"),
    "code unseen": ({"main": START, "a/__init__": "X = 1\n"}, r"a/__init__\.py:1: code in an __init__"),
    "two stars": ({"main": "def start(d):\n    return dict(**d)\n"}, r"main\.py:2: a call with \*\*"),
    "f-string": ({"main": "def start(d):\n    return f'{d}'\n"}, r"main\.py:2: the names in an f-string"),
    "two meanings": (
        {"main": "from . import a\nfrom time import time as t\n\ndef start():\n    return t(), a.f()\n",
         "a": "import json as t\n\ndef f():\n    return t.loads('1')\n"}, r"the name t means two things"),
    "not ASCII": ({"main": START + "# \u00b0\n"}, r"main\.py: its text is not plain ASCII"),
    "not made": ({"main": "X = 1\n"}, r"main\.py: start is to be found there"),
}


@pytest.mark.parametrize("what", STRAYS)
def test_what_cannot_be_bundled_without_a_risk_is_refused_by_place(what):
    texts, words = STRAYS[what]
    with pytest.raises(Unsafe, match=words) as caught:
        bundle("whole", texts, "main", {"main": ("start",)})
    assert "\n" not in str(caught.value)


def test_the_names_of_the_chip_are_those_of_its_stubs():
    spec = importlib.util.find_spec("pyright")
    site = Path(spec.origin).parent.parent if spec and spec.origin else None
    if site is None or not (site / "machine.pyi").exists():
        pytest.skip("the stubs of the board are not installed")
    for module in ("machine", "micropython", "rp2/__init__", "time", "select", "neopixel", "framebuf", "gc"):
        found = set()
        for node in ast.walk(ast.parse((site / f"{module}.pyi").read_text())):
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                found.add(node.name)
            elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                found.add(node.target.id)
        assert {n for n in found if n[0] != "_" and not n.startswith("GP")} <= NAMES
