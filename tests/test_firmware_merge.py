"""Parts put into the one that asks for them do what they did apart, in files that are fewer and smaller."""

import importlib
import sys

import pytest
from sunhob.board.image import KINDS
from sunhob.firmware_build import OPTIONAL, board_files, board_texts, bundled, unused_parts
from sunhob.firmware_merge import merged
from sunhob.firmware_scopes import Unsafe
from sunhob.settings import load_cooker

APART = {
    "main": "import math\nhalf = 0.5\n",
    "core/app": "import math\nfrom ..main import half\n\n\ndef area(r):\n    return math.pi * r ** 2\n\n\n"
                "def both(r):\n    from .ring import ring; from ..far.rest import rest\n"
                "    return ring(r), rest(r)\n",
    "core/ring": "from math import pi\nfrom .app import area\nfrom ..main import half\n\n\n"
                 "def ring(r):\n    from .deep import deep\n    return deep(area(r) - area(half * r)) + pi\n",
    "core/deep": "def deep(x):\n    return x + 1000.0\n",
    "far/rest": "from ..core.app import area\nfrom ..main import half as h\n\n\n"
                "def rest(r):\n    from .own import own\n    return own(area(r)) * h\n",
    "far/own": "def own(x):\n    return x + 1.0\n",
}


def run(folder, name, texts):
    """What both(2) of core/app gives where these texts are a package."""
    for part, text in texts.items():
        path = folder / name / f"{part}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        (path.parent / "__init__.py").write_text("")
        path.write_text(text)
    return importlib.import_module(f"{name}.core.app").both(2)


@pytest.fixture
def on_path(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(str(tmp_path))
    before = set(sys.modules)
    yield tmp_path
    for name in set(sys.modules) - before:
        del sys.modules[name]


@pytest.mark.parametrize("inside", [{"core/ring"}, {"far/rest"}, {"core/ring", "far/rest"},
                                    {"core/ring", "core/deep", "far/rest", "far/own"}])
def test_put_together_they_do_the_same(on_path, inside):
    made = merged(APART, inside)
    assert set(APART) - set(made) == inside & {"core/ring", "far/rest"}  # others are asked for by these alone
    assert run(on_path, "apart", APART) == run(on_path, "together", made)
    assert "import ring" not in made["core/app"] or "core/ring" not in inside


def test_a_part_that_two_ask_for_stays_by_itself():
    asked = {**APART, "main": "def more(r):\n    from .core.ring import ring\n    return ring(r)\n"}
    assert merged(asked, {"core/ring"}) == asked


def test_a_name_that_would_mean_two_things_is_refused():
    ring = APART["core/ring"].replace("from math import pi", "from cmath import e as math")
    two = {**APART, "core/ring": ring}
    with pytest.raises(Unsafe, match="core/ring: math means two things where core/app takes it up"):
        merged(two, {"core/ring"})


@pytest.mark.parametrize("board", KINDS)
def test_a_board_gets_its_optional_parts_within_the_others(board):
    cooker = load_cooker()
    used = set(bundled(board).texts) & set(OPTIONAL) - unused_parts(cooker)
    texts = board_texts(board, cooker)
    assert "safety/sun_sight" in used and set(texts) == {"main", "core/app", "boards/pick", f"boards/{board}"}


def test_and_they_take_less_room_there():
    cooker = load_cooker()
    used = set(OPTIONAL) - unused_parts(cooker)
    apart = {name.removeprefix("sunhob_board/").removesuffix(".mpy"): len(body)
             for name, body in board_files("pico").items()}
    together = sum(map(len, board_files("pico", cooker).values()))
    assert together < sum(size for part, size in apart.items() if part not in OPTIONAL or part in used)
