"""A class with one heir stands in it and does the same, in Python and in MicroPython; others stay classes."""

import ast
import textwrap

import pytest
from sunhob.errors import UserError
from sunhob.firmware_mixins import one_class
from sunhob.firmware_mpy import compile_small
from sunhob.firmware_parts import bundle
from sunhob_sim import wasm_home
from sunhob_sim.wasm_sun import run_micropython

from .test_firmware_bundle import answers

# Names that mean one thing in the heir's module and another where a class of its stood; what is imported
# within a method, from another folder; classes with classes of their own; two in one module.
PACKAGE = {
    "main": """
        from .core.heir import Heir, Late

        def start():
            one = Heir(3)
            one.depth = 4
            got = [one.run(2), one.depth, one.words(), one.near(5), one.far(), Heir.fixed(6), one.SHARE,
                   one.both(), one.root(), one.by_text("gone_"), Late().here(), Late().there()]
            return got + one.log
        """,
    "core/heir": """
        import math
        from . import other as tool
        from .one import (  # words
            STEP, GoneOne)
        from ..heat.two import GoneTwo  # words
        from .three import GoneThree

        _C = 100
        twice = 7


        class Heir(
                GoneTwo, GoneOne,
                GoneThree):  # words
            \"\"\"Words.\"\"\"
            SHARE = 2

            def __init__(self, n):
                self.n = n
                self.log = []

            def run(self, k):
                self._note("run", k)
                self._put_in_place(k)
                return self._reach(k) + _C + twice + math.floor(1.5) + tool.SIZE + STEP

            def by_text(self, first):
                return getattr(self, first + "asked")()


        class GoneSame:
            def here(self):
                return twice


        class Late(GoneSame):
            def there(self):
                return self.here() + 1
        """,
    "core/one": """
        import math
        from ..heat import other as tool
        from . import other
        from math import sqrt as root_of

        _C = 1000
        STEP = 20000
        LOG = []


        def twice(n):
            return n * 2


        class GoneOne:
            \"\"\"Words.\"\"\"

            UNIT = -1

            # the heir's state
            def _note(self, what, n, by=(1, -2)):
                self.log.append((what, twice(n), by, self.UNIT))

            def _put_in_place(self, k):
                self.log.append(twice(k) * _C)

            @property
            def depth(self):
                return self._depth * _C

            @depth.setter
            def depth(self, math):
                twice = math + tool.SIZE
                self._depth = twice

            def words(self):
                return (\"\"\"one
        two\"\"\")

            def root(self):
                return root_of(16.0) + math.floor(2.5), [_C + k for k in range(2)]
        """,
    "heat/two": """
        from .deeper import GoneDeeper

        _C = 5


        class GoneTwo(GoneDeeper):
            def _reach(self, k):
                return self.n * k * _C

            @staticmethod
            def fixed(n):
                def within(_C):
                    return _C + n
                return within(1)

            def near(self, k):
                from .late import late
                from . import other
                return late(k) + other.SIZE
        """,
    "heat/deeper": """
        from ..core.other import SIZE


        class GoneDeeper:
            def far(self):
                from ..core import other
                return SIZE + other.SIZE
        """,
    "core/three": """
        class GoneThree:
            def both(self):
                return self.far() + self.near(1)

            def gone_asked(self):
                return "by its name"
        """,
    "heat/late": """
        def late(k):
            return -k
        """,
    "heat/other": "SIZE = 3\n",
    "core/other": "SIZE = 50\n",
}
SOURCE = {name: textwrap.dedent(text) for name, text in PACKAGE.items()}
RIGHT = [30 + 100 + 7 + 1 + 50 + 20000, 7000, "one\ntwo", -2, 100, 7, 2, 102, (6.0, [1000, 1001]),
         "by its name", 7, 8, ("run", 4, (1, -2), -1), 4000]


def keep(name):
    return name == "gone_asked"


def classes(texts):
    return {node.name for text in texts.values() for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.ClassDef)}


def written(folder, package, texts):
    for name, text in texts.items():
        path = folder / package / f"{name}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


def test_a_class_that_stands_in_its_heir_does_the_same(tmp_path):
    made = one_class("whole", SOURCE, keep)
    assert classes(SOURCE) - classes(made) == {"GoneOne", "GoneTwo", "GoneThree", "GoneDeeper", "GoneSame"}
    assert made.keys() == SOURCE.keys() and one_class("whole", made, keep) == made
    written(tmp_path, "whole", SOURCE)
    written(tmp_path, "parts", made)
    assert answers(tmp_path, lambda main: main.start()) == [RIGHT, RIGHT]


def test_it_does_the_same_in_micropython_bundled():
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))
    got = bundle("whole", SOURCE, "main", {"main": ("start",)}, ["gone_asked"])
    assert sum(text.count("class ") for text in got.texts.values()) == 2
    files = {f"/sunhob_board/{name}.mpy": compile_small(text, name) for name, text in got.texts.items()}
    asked = "import sys\nsys.path.insert(0, '/')\nfrom sunhob_board.main import start\nprint(repr(start()))"
    assert run_micropython(asked, files, ()) == [repr(RIGHT)]


def test_a_method_of_such_a_class_is_put_where_the_heir_calls_it():
    got = bundle("whole", SOURCE, "main", {"main": ("start",)}, ["gone_asked"])
    told = {one for found in got.told.values() for one in found}
    assert "._note of Heir" in told and not [one for one in told if one.startswith("._put_in_place")]


PLAIN = {"main": """
    from .base import Base

    class Heir(Base):
        def run(self):
            return self.ask(1)

    def start():
        return Heir().run()
    """, "base": """
    import math

    top = 1

    class Base:
        def ask(self, n):
            return abs(n) + top
    """}
# What must stay as it is: (module, text of PLAIN, what stands there instead).
STAYS = {
    "it has a beginning of its own": ("base", "def ask", "def __init__(self):\n            self.n = 1\n\n"
                                      "        def ask"),
    "the heir has a name of it": ("main", "def run(self)", "def ask(self, n):\n            return 3\n\n"
                                  "        def run(self)"),
    "the heir's body reads a name of it": ("main", "def run", "got = ask\n\n        def run"),
    "a default of the heir is such a name": ("main", "def run(self)", "def run(self, by=ask)"),
    "the heir asks it for what it has": ("main", "return self", "super().ask(1)\n            return self"),
    "it asks for its own class": ("base", "abs(n) + top", "super().ask(n)"),
    "it asks which module it is in": ("base", "+ top", "+ len(__name__)"),
    "names of a class alone": ("base", "+ top", "+ self.__n"),
    "it is made by itself": ("main", "return Heir", "Base()\n        return Heir"),
    "it is asked whether it is one": ("main", "return Heir().run()", "return isinstance(Heir(), Base)"),
    "it has two heirs": ("main", "def start", "class Other(Base):\n        n = 1\n\n    def start"),
    "it is named by a text": ("main", "return Heir", "getattr(None, 'Base', 0)\n        return Heir"),
    "it is imported by another name": ("main", "import Base", "import Base as Heirs"),
    "it inherits from what is not known": ("base", "class Base:", "class Base(Exception):"),
    "it is made by a function": ("base", "class Base:", "@print\n    class Base:"),
    "the heir is made by a function": ("main", "class Heir", "@print\n    class Heir"),
    "a method is made by a function": ("base", "def ask", "@print\n        def ask"),
    "a default that is worked out": ("base", "self, n", "self, n=top"),
    "a list that all share": ("base", "def ask", "all = []\n\n        def ask"),
    "a value that is worked out": ("base", "def ask", "all = top + 1\n\n        def ask"),
    "more than names and methods": ("base", "def ask", "if top:\n            x = 1\n\n        def ask"),
    "a name that a function sets again": ("base", "class Base",
                                          "def f():\n        global top\n        top = 2\n\n    class Base"),
    "it sets a name of its module": ("base", "return abs",
                                     "global top\n            top = 2\n            return abs"),
    "the heir's module has taken a name of Python's": ("main", "def start", "abs = 3\n\n    def start"),
    "another base has the name": ("main", "class Heir(Base)",
                                  "class More:\n        def ask(self, n):\n            return 3\n\n"
                                  "    class Third(More):\n        n = 1\n\n    class Heir(Base, More)"),
    "another base is not known": ("main", "class Heir(Base)", "class Heir(Base, dict)"),
    "the heir's slots": ("main", "def run", "__slots__ = ()\n\n        def run"),
    "on one line": ("base", "class Base:\n        def ask(self, n):\n            return abs(n) + top",
                    "class Base: ask = 1"),
    "another depth": ("base", "        def ask(self, n):\n            return", "          def ask(self, n):\n"
                      "              return"),
    "an import that may fail": ("main", "from .base import Base", "try:\n        from .base import Base\n"
                                "    except ImportError:\n        pass"),
}


def test_the_plain_case_of_these_is_moved():
    texts = {name: textwrap.dedent(text) for name, text in PLAIN.items()}
    assert classes(one_class("whole", texts, lambda name: False)) == {"Heir"}
    assert one_class("whole", texts, lambda name: name == "Base") == texts


@pytest.mark.parametrize("what", STAYS)
def test_what_is_not_so_plain_stays_as_it_is(what):
    module, there, instead = STAYS[what]
    assert PLAIN[module].count(there) == 1, "the case is not what it says"
    texts = {name: textwrap.dedent(text.replace(there, instead) if name == module else text)
             for name, text in PLAIN.items()}
    if "import Base as" in instead:
        texts["main"] = texts["main"].replace("Heir(Base)", "Heir(Heirs)")
    assert one_class("whole", texts, lambda name: False) == texts


def test_of_two_bases_one_may_stay():
    texts = {name: textwrap.dedent(text) for name, text in PLAIN.items()}
    more = "class More:\n    def other(self):\n        return 9\n\nMADE = More()\n\nclass Heir(More, Base)"
    texts["main"] = texts["main"].replace("class Heir(Base)", more)
    got = one_class("whole", texts, lambda name: False)
    assert classes(got) == {"Heir", "More"} and "class Heir(More):" in got["main"]
