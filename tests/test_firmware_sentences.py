"""Sentences that a board holds as marks read in full at the host; texts that the firmware works with stay."""

import ast
import itertools
import math
import re
import shutil
import textwrap
from datetime import UTC, datetime

import pytest
from sunhob import firmware_marks, link
from sunhob.board.image import KINDS
from sunhob.errors import UserError
from sunhob.firmware_build import bundled, sentences
from sunhob.firmware_marks import code_of, in_full, mark_of
from sunhob.firmware_mpy import compile_small
from sunhob.firmware_scopes import Unsafe
from sunhob.firmware_sentences import by_code, marked
from sunhob_board.declared import modes
from sunhob_sim import wasm_home
from sunhob_sim.bench import Uplink
from sunhob_sim.wasm_sun import run_micropython

# Sentences (they begin with "tell") by all the ways they are handed on, and texts that must stay ("stay").
SOURCE = textwrap.dedent('''
    ROWS = "stays one, stays two, stays three"
    WORDS = ("tell that it is cold today", "tell that it is warm today", "no")
    FORMS = ("tell the %s of it, all %d", "tell nothing of it at all %%, %s")
    _ONE = "tell of axis %d that it hangs"
    BOTH = (_ONE % 1, _ONE % 2)
    STAYS = "stays since a part is taken"  # words


    class Refusal(Exception):
        def __init__(self, code, text):
            super().__init__(code, text)
            self.text = text


    class Board:
        """tell nobody what is said here"""

        def __init__(self):
            self.trouble = self.why = ""
            self.dial = Dial()
            self.log = []

        def start(self, k):
            try:
                judge(k)
            except Refusal as err:
                self.trouble = "settings %s: %s" % (err.args[0], err.args[1])
            self.trouble = self.trouble or "tell that nothing was wrong"
            self.why = "stays since it is compared"
            if self.why == "stays since it is compared":
                self.log.append("stays since it goes to a list")

        def status(self, k):
            text = None
            if k > 1:
                text = ("tell in two pieces, " "the second on "
                        "a row of its own: %.1f, %g") % (k / 3, 1e-6)
            elif k:
                text = "tell of %s" " with %%"  % "some, or none"
            return {"words": WORDS[k % 3], "trouble": self.trouble, "text": text, "dial": self.dial.ask(k),
                    "form": FORMS[0] % ("|" + str(k), k) if k else FORMS[1] % "a|b|c",
                    "stays": "stays since it is joined, " + STAYS[3:] + ROWS.split(", ")[k % 3],
                    "both": BOTH[k % 2],
                    "error": self.error(k, "tell by a method of mine" if k else "tell it otherwise, please")}

        def error(self, code, text):
            return {"code": code, "message": text}


    class Dial:
        def ask(self, value):
            return self.begin(value) if value else "tell why not, it is nothing"

        def begin(self, value):
            if value < 2:
                return "tell how little it is: %08x" % value
            return ""


    def judge(k):
        if k > 1:
            raise Refusal("much", "tell that %d is too much of it" % k)
        if k:
            raise Refusal("less", "tell that %s" % ("tell a mark within one" if k < 2 else "it is two"))


    def start(k):
        board = Board()
        board.start(k)
        return board.status(k), board.log
    ''')


def texts_of(source):
    return [one.value for one in ast.walk(ast.parse(source))
            if isinstance(one, ast.Constant) and isinstance(one.value, str)]


def answer(source, k):
    space = {}
    exec(compile(source, "main", "exec"), space)
    return space["start"](k)


def known():
    return by_code([SOURCE])


def plain(told):
    """As in an answer of the link."""
    return [plain(one) for one in told] if isinstance(told, list | tuple) else (
        {key: plain(one) for key, one in told.items()} if isinstance(told, dict) else told)


def test_what_a_board_tells_by_marks_reads_in_full():
    made = marked({"main": SOURCE})["main"]
    assert not [text for text in texts_of(made) if text.startswith("tell") and len(text) > 16
                and not text.startswith("tell nobody")]
    stays = [text for text in texts_of(SOURCE) if text.startswith("stays")]
    assert len(set(stays)) == 6 and all(text in texts_of(made) for text in stays)
    assert made.count("\n") == SOURCE.count("\n")
    for k in range(4):
        told = plain(answer(made, k))
        assert "#" in str(told) and in_full(told, known) == plain(answer(SOURCE, k))


def test_it_does_in_micropython():
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))
    files = {"/main.mpy": compile_small(marked({"main": SOURCE})["main"], "main.py")}
    asked = "import sys\nsys.path.insert(0, '/')\nfrom main import start\n"
    asked += "for k in range(4):\n    print(repr(start(k)))"
    told = [plain(ast.literal_eval(line)) for line in run_micropython(asked, files, ())]
    assert [in_full(one, known) for one in told] == [plain(answer(SOURCE, k)) for k in range(4)]


PLAIN = {"main": """
    def start(n):
        words = "a text that somebody reads"
        raise ValueError(words)
    """}
# What else is done with the text, in place of the statement that raises it.
STAYS = {
    "compared": "return words == n", "searched": "return n in words", "split": "return words.split()",
    "a part of it": "return {1: words[2:]}", "its length": "return len(words)",
    "joined": "raise ValueError(words + n)",
    "joined behind": "raise ValueError(n + words)", "to something unknown": "n.show(words)",
    "added to": "words += n\n        raise ValueError(words)",
    "printed": "print(words)", "gone through": "for one in words:\n            n(one)",
    "a key": "return {words: 1}", "into a list": "n = [words]\n        raise ValueError(n)",
    "by a name of its own": "raise ValueError(text=words)",
    "given back to nobody": "return words", "into an item": "n[0] = words",
    "a value without its text": "raise ValueError(words % n)", "a module's": "global words",
    "compared behind a choice": "return (n or words) == 'yes'",
    "cut by a function": "cut(words)\n\n    def cut(text):\n        return text[:3]",
    "handed on as a function": "return words\n\n    def other(n):\n        n.call = start\n        start(n)",
}


@pytest.mark.parametrize("what", STAYS)
def test_a_text_that_more_is_done_with_stays(what):
    last = "raise ValueError(words)"
    source = textwrap.dedent(PLAIN["main"])
    assert mark_of("a text that somebody reads") in marked({"main": source})["main"]
    other = textwrap.dedent(PLAIN["main"].replace(last, STAYS[what]))
    ast.parse(other)
    assert marked({"main": other})["main"] == other


def test_an_attribute_or_a_row_that_another_module_works_with_stays():
    kept = "class A:\n    def f(self):\n        self.why = 'a text that somebody reads'\n"
    rows = "ROWS = ('a text that somebody reads', 'b')\n\n\ndef f(k):\n    raise ValueError(ROWS[k])\n"
    assert "#" in marked({"a": kept})["a"] and "#" in marked({"a": rows})["a"]
    for source, other in ((kept, "def g(a):\n    return a.why[:4]\n"),
                          (kept, "def g(a):\n    a.why += 'b'\n"),
                          (rows, "from a import ROWS as R\nS = R[0][1]\n"),
                          (kept, "def g(a):\n    return getattr(a, 'why').split()\n"),
                          (rows, "import a\n\n\ndef g(n):\n    return n in a.ROWS\n")):
        assert marked({"a": source, "b": other}) == {"a": source, "b": other}


def test_an_attribute_of_another_class_by_the_same_name_is_another():
    kept = "class A:\n    def f(self):\n        self.why = 'a text that somebody reads'\n"
    other = "class B:\n    def g(self):\n        self.why += 1\n"
    assert "#" in marked({"a": kept, "b": other})["a"]
    for kin in (other.replace("class B:", "class B(A):"), other + "class C(A, B):\n    pass\n",
                other.replace("def g(self)", "def g(self, a)").replace("self.why", "a.why")):
        assert marked({"a": kept, "b": kin})["a"] == kept


def test_two_sentences_with_one_code_are_refused():
    seen, two = {}, None
    for i in itertools.count():
        text = f"a sentence of the number {i}"
        other = seen.setdefault(code_of(text), text)
        if other != text:
            two = other, text
            break
    assert set(by_code([repr(two[0])[1:-1].join(("x = '", "'\n"))]).values()) == {two[0]}
    with pytest.raises(Unsafe, match=f"two sentences have the code {code_of(two[0])}"):
        by_code([f"x = {two[0]!r}\n", f"y = {two[1]!r}\n"])


TWO, ONE = "the %s of %s is no good", "no method '%s' is known"
NONE, NUMBER = "the dish is not here", "%d of %08x at %g"


@pytest.mark.parametrize(("told", "full"), [
    (mark_of(NONE), NONE), ("locked: " + mark_of(NONE) + ".", "locked: the dish is not here."),
    (mark_of(ONE) % "a|b|#", "no method 'a|b|#' is known"),
    (mark_of(ONE) % (mark_of(NONE)), "no method 'the dish is not here' is known"),
    (mark_of(TWO) % ("sum", "a|b"), "the sum of a|b is no good"),
    (mark_of(TWO) % (mark_of(ONE) % "x", mark_of(NONE)),
     "the no method 'x' is known of the dish is not here is no good"),
    (mark_of(TWO) % ("it", mark_of(TWO) % ("a", "b|c")), "the it of the a of b|c is no good is no good"),
    (mark_of(NUMBER) % (-5, 255, 1e-7), "-5 of 000000ff at 1e-07"),
    (mark_of(NUMBER) % (0, 0, math.nan), "0 of 00000000 at nan"),
    ("b: Error ('corrupt', '" + mark_of(NUMBER) % (1, 2, 2.5) + "')",
     "b: Error ('corrupt', '1 of 00000002 at 2.5')"),
    (mark_of(TWO), "the %s of %s is no good"),
    (mark_of(NUMBER.replace("%d", "%s")) % ("a|5|b", 1, 2), "a|5|b of 00000001 at 2"),
    # not understood: as it came
    ("#" + code_of(TWO) + "|one", "#" + code_of(TWO) + "|one"),
    ("#" + code_of(NUMBER) + "|5|zz|1", "#" + code_of(NUMBER) + "|5|zz|1"),
    ("#zzz|5|6", "#zzz|5|6 (words of another firmware than this program's)"),
    ("settings bad: #zzz", "settings bad: #zzz (words of another firmware than this program's)"),
    ("no method '#zzz'", "no method '#zzz'"), ("part #12, #1234 and #", "part #12, #1234 and #"),
    ({"a": [mark_of(NONE), 5, None, {"b": mark_of(NONE)}], "#c": True},
     {"a": [NONE, 5, None, {"b": NONE}], "#c": True}),
])
def test_a_mark_is_turned_back_wherever_it_stands(told, full):
    held = {code_of(one): one for one in (TWO, ONE, NONE, NUMBER, NUMBER.replace("%d", "%s"))}
    assert "zzz" not in held
    assert in_full(told, lambda: held) == full


def test_sentences_are_looked_for_only_where_there_is_a_mark():
    def never():
        raise AssertionError

    assert in_full({"mode": "PARKED", "n": [1, "#"]}, never) == {"mode": "PARKED", "n": [1, "#"]}


@pytest.mark.parametrize("board", sorted(KINDS))
def test_every_mark_of_a_board_is_turned_back_into_its_sentence(board):
    held = [text for part in bundled(board).texts.values() for text in texts_of(part)
            if re.fullmatch(r"#\w{3}(\|%[^|]+)*", text)]
    assert len(held) > 60
    values = {"s": "some|thing", "d": 12, "x": 0xAB, "g": 0.25, "f": 3.5}
    for mark in held:
        sentence = sentences()[mark[1:4]]
        assert mark == mark_of(sentence) and len(mark) < len(sentence)
        kinds = re.findall(r"%[^%|a-z]*([a-z])", mark)
        put = tuple(values[kind] if kind != "s" or i + 1 == len(kinds) else "some"
                    for i, kind in enumerate(kinds))
        assert in_full(mark % put if put else mark) == (sentence % put if put else sentence)
    whole = "\n".join(bundled(board).texts.values())
    assert "the dish is not on the sun" not in whole and "degC: give" not in whole
    assert "boot mode armed" in whole and "percent of full heat" in whole  # rows


def test_a_refusal_of_a_board_that_holds_marks_reads_in_full():
    if shutil.which("node") is None:
        pytest.skip("node is not installed: MicroPython cannot be run here")
    live = pytest.importorskip("sunhob_sim.live")
    heard = bytearray()
    port = live.open_port("short", "micropython")
    with link.Dish("bench", wire=port) as dish:
        read = port.read
        port.read = lambda size=1: heard.extend(got := read(size)) or got
        for name, asked, words in (
                ("cook", {"percent": 50}, "press ARM at the dish first"),
                ("heat", {"percent": 50}, "heat is changed from afar only while a cook attends"),
                ("clear", {"code": 200}, r"code: 200 is not 0\.\.\d+"),
                ("nudge", {"axis": 7, "rate_percent": 1, "hold_ms": 100, "covered": True},
                 r"axis: 7 is not within 1\.\.2 ")):
            with pytest.raises(link.BoardRefused, match=words):
                dish.call(name, **asked)
        assert dish.call("status")["words"] == modes.WORDS[modes.LEAVING]
    assert mark_of("press ARM at the dish first").encode() in heard and b"ARM at the dish" not in heard
    assert mark_of(modes.WORDS[modes.LEAVING]).encode() in heard


def test_what_the_bench_keeps_of_replies_reads_in_full():
    uplink = Uplink(datetime(2026, 3, 12, tzinfo=UTC))
    words = mark_of("press ARM at the dish first")
    uplink(0, link.encode({"jsonrpc": "2.0", "id": 1, "error": {"code": -32000, "message": words}}))
    assert uplink.replies[0]["error"]["message"] == "press ARM at the dish first"


def test_sentences_are_kept_and_read_where_nothing_can_be_kept(tmp_path, monkeypatch):
    for cache in (tmp_path / "new", tmp_path / "file" / "below"):
        (tmp_path / "file").write_text("no folder")
        monkeypatch.setenv("SUNHOB_CACHE", str(cache))
        for _ in range(2):
            firmware_marks.of_this_program.cache_clear()
            assert firmware_marks.of_this_program() == sentences()
    assert len(list((tmp_path / "new" / "sentences").iterdir())) == 1
