"""Short names and constants for the board's memory: each name is kept as text, in flash and on the heap.

Three kinds of names are told apart, so that one short text serves in each of them: names at the top of a
module, attributes, and parameters. What is used from outside keeps its name: what the chip's modules and
Python's own types call so, what a text of the firmware says (it may be asked for by `getattr`), settings.
Attributes that no one object has both share a name (firmware_families.py), so a few names serve most of them.
A whole number with a name takes the name's place, and so does what is named and used once. A fault on the
board names the short name; `Names.told` says whose it is.
"""

from __future__ import annotations

import array
import ast
import builtins
import io
import itertools
import keyword
import operator
import re
import string
from collections import Counter, defaultdict
from collections.abc import Callable, Container, Iterable, Iterator

from .chip_names import NAMES as CHIP_NAMES
from .firmware_bundle import MAKES, Item, Module, Outside, Program, Symbol, Word
from .firmware_families import families, makers
from .firmware_scopes import Scope, numbers

_LETTERS = string.ascii_lowercase + string.ascii_uppercase
_TYPES = (str, bytes, bytearray, memoryview, list, dict, set, tuple, int, float, bool, range, object, OSError,
          type, property, array.array, io.BufferedRandom, io.TextIOWrapper, io.BytesIO)
_DO: dict[type, Callable[[int, int], int]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.FloorDiv: operator.floordiv,
    ast.Mod: operator.mod, ast.LShift: operator.lshift, ast.RShift: operator.rshift, ast.BitOr: operator.or_,
    ast.BitAnd: operator.and_, ast.BitXor: operator.xor,
}


def outside_names() -> frozenset[str]:
    """Attributes of Python's own types and of the modules that MicroPython has for the chip."""
    return CHIP_NAMES.union(*(dir(one) for one in _TYPES))


def texts_asked_for(program: Program, gone: Container[tuple[str, int, int]]
                    ) -> tuple[frozenset[str], re.Pattern[str]]:
    """Texts that may be names of attributes: whole ones, and the shapes that getattr makes of pieces.
    gone: (module, row, column) of texts that do not come onto the board."""
    whole: set[str] = set()
    shapes = {"$."}  # matches nothing
    for module in program.modules.values():
        for node in ast.walk(module.scopes.tree):
            if (isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.isidentifier()
                    and (module.name, node.lineno, node.col_offset) not in gone):
                whole.add(node.value)
            if (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and len(node.args) > 1
                    and node.func.id in ("getattr", "setattr", "hasattr")):
                shapes |= set(_shapes(node.args[1]))
    return frozenset(whole), re.compile("|".join(sorted(shapes)))


def _shapes(node: ast.expr) -> Iterator[str]:
    """The shape of a text made by + or %: .* stands for what is put in."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        pieces = [re.escape(str(one.value)) if isinstance(one, ast.Constant) else ".*"
                  for one in (node.left, node.right)]
        yield "".join(pieces)
    elif isinstance(node, ast.BinOp) and isinstance(node.left, ast.Constant):
        yield re.sub("%.", ".*", str(node.left.value))


def values(program: Program, live: list[tuple[Item, list[Word]]], kept: set[Symbol]) -> dict[Symbol, str]:
    """What takes the place of a name: whole numbers, and other plain values that are used once."""
    made: Counter[Symbol] = Counter()
    used: Counter[Symbol] = Counter()
    for _item, words in live:
        for word in words:
            if isinstance(word.means, Symbol):
                (made if word.how.partition(" ")[0] in MAKES else used)[word.means] += 1
    found: dict[Symbol, int] = {}
    once: dict[Symbol, str] = {}
    before = -1
    while len(found) > before:
        before = len(found)
        for module in program.modules.values():
            at = {(word.row, word.col): word.means for word in module.words}
            for line in module.scopes.tree.body:
                got = {Symbol(module.name, name): value for name, value in numbers(line)}
                if all(made[one] == 1 and one not in kept for one in got):
                    _work_out(got, at, found)
                _once(module, line, once, lambda one: made[one] == used[one] == 1 and one not in kept)
    return {**once, **{one: f"({value})" if value < 0 else str(value) for one, value in found.items()}}


def _work_out(got: dict[Symbol, ast.expr | int], at: dict[tuple[int, int], object],
              found: dict[Symbol, int]) -> None:
    try:
        found.update({one: value if isinstance(value, int) else _value(value, at, found)
                      for one, value in got.items()})
    except KeyError:
        pass  # made of something else: it stays a name


def _value(node: ast.expr, at: dict[tuple[int, int], object], found: dict[Symbol, int]) -> int:
    if isinstance(node, ast.Constant) and type(node.value) is int:
        return node.value
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -_value(node.operand, at, found)
    if isinstance(node, ast.BinOp):
        return _DO[type(node.op)](_value(node.left, at, found), _value(node.right, at, found))
    means = at.get((node.lineno, node.col_offset))
    if isinstance(node, ast.Name | ast.Attribute) and isinstance(means, Symbol):
        return found[means]
    raise KeyError


def _once(module: Module, line: ast.stmt, once: dict[Symbol, str], wanted: Callable[[Symbol], bool]) -> None:
    """A text, number or row of such that has a name and one use."""
    if not isinstance(line, ast.Assign) or len(line.targets) != 1:
        return
    target, value = line.targets[0], line.value
    if not isinstance(target, ast.Name):
        return
    symbol = Symbol(module.name, target.id)
    parts = value.elts if isinstance(value, ast.Tuple) else [value]
    if (wanted(symbol) and all(isinstance(one, ast.Constant) for one in parts)
            and value.lineno == value.end_lineno):
        once[symbol] = module.scopes.lines[value.lineno - 1][value.col_offset:value.end_col_offset]


def _pool() -> Iterator[str]:
    for length in (1, 2, 3):
        for letters in itertools.product(_LETTERS, repeat=length):
            name = "".join(letters)
            if not keyword.iskeyword(name):
                yield name


class Names:
    """Short names for the words of a program that go onto a board. exported: symbols that keep theirs."""

    def __init__(self, program: Program, words: Iterable[tuple[Module, Word]], exported: set[Symbol],
                 keep: Callable[[str], bool], value: dict[Symbol, str]) -> None:
        self.value = value
        self.symbols: dict[Symbol, str] = {one: one.name for one in exported}
        self.attributes: dict[str, str] = {}
        self.parameters: dict[tuple[Scope, str], str] = {}
        held = [word for _module, word in words]
        self._fixed = {word.means[1] for word in held  # type: ignore[index]
                       if isinstance(word.means, tuple) and word.means[0] == "keyword"}
        self._within: dict[Scope, list[Word]] = defaultdict(list)
        for word in held:
            self._within[word.scope].append(word)
        count: Counter[object] = Counter(word.means for word in held)
        self._makers = makers(program)
        self._families = families(program, self._makers)
        self._name_attributes(held, count, keep)
        self._name_symbols(held, count)
        used = Counter(self.text(word) for word in held)
        self._order = sorted({*self.symbols.values(), *self.attributes.values()}, key=lambda n: (-used[n], n))
        for module in program.modules.values():
            self._name_parameters(module.scopes.top, set())

    def text(self, word: Word) -> str:
        """What stands in the place of a word."""
        means = word.means
        if isinstance(means, Symbol):
            short = self.value[means] if means in self.value else self.symbols[means]
            return f"{word.how[6:]} as {short}" if word.how.startswith("alias") else short
        if isinstance(means, Outside):
            return means.name
        assert isinstance(means, tuple)
        kind, *rest = means
        if kind == "local":
            scope, name = rest
            return self.parameters.get((scope, name), str(name))
        return self.attributes.get(rest[0], str(rest[0])) if kind == "attr" else str(rest[0])

    def told(self) -> dict[str, list[str]]:
        """Short name -> what it may stand for: 'core/app: App', '.tick of App, Axis'."""
        out: dict[str, list[str]] = defaultdict(list)
        for symbol, short in self.symbols.items():
            out[short].append(f"{symbol.module}: {symbol.name}")
        for name, short in self.attributes.items():
            classes = sorted({one.name for one in self._makers[name] if one is not None})
            out[short].append(f".{name} of {', '.join(classes)}" if classes else "." + name)
        return {short: sorted(found) for short, found in sorted(out.items())}

    # --- inside --------------------------------------------------------------------------------
    def _name_attributes(self, held: list[Word], count: Counter[object], keep: Callable[[str], bool]) -> None:
        means = [(word.means[1], word.how) for word in held
                 if isinstance(word.means, tuple) and word.means[0] == "attr"]
        made = {name for name, how in means if how in ("attr_store", "def", "store")}
        wanted = {name for name in made if not keep(name)}
        taken = {name for name, _how in means} - wanted
        pool = (name for name in _pool() if name not in taken)
        free: list[tuple[str, set[object]]] = []  # short name, families that have it
        for name in sorted(wanted, key=lambda one: (-count["attr", one], one)):
            has = self._families[name]
            found = next((i for i, (_short, others) in enumerate(free)
                          if has is not None and None not in others and not others & has), len(free))
            if found == len(free):
                free.append((next(pool), set()))
            free[found][1].update(has if has is not None else {None})
            self.attributes[name] = free[found][0]

    def _name_symbols(self, held: list[Word], count: Counter[object]) -> None:
        taken = {name for name in dir(builtins)} | set(self.symbols.values())
        for word in held:
            if isinstance(word.means, Outside):
                taken.add(word.means.name)
            elif isinstance(word.means, tuple) and word.means[0] == "local":
                if word.means[2] not in word.means[1].arguments or word.means[2] in self._fixed:
                    taken.add(word.means[2])
            elif isinstance(word.means, tuple) and word.means[0] == "builtin":
                taken.add(word.means[1])
        wanted = {word.means for word in held if isinstance(word.means, Symbol)}
        wanted -= self.symbols.keys() | self.value.keys()
        clash = self._in_classes(held)
        free = [name for name in itertools.islice(_pool(), 40_000) if name not in taken]
        for symbol in sorted(wanted, key=lambda one: (-count[one], one.module, one.name)):
            at = next(i for i, name in enumerate(free) if name not in clash[symbol])
            self.symbols[symbol] = free.pop(at)

    def _in_classes(self, held: list[Word]) -> dict[Symbol, set[str]]:
        """Names that the body of a class gives to its own, for each symbol that this body reads."""
        out: dict[Symbol, set[str]] = defaultdict(set)
        for word in held:
            if isinstance(word.means, Symbol) and word.scope.kind == "class":
                out[word.means] |= {self.attributes.get(name, name) for name in word.scope.bound}
        return out

    def _name_parameters(self, scope: Scope, outer: set[str]) -> None:
        """The commonest short names that mean nothing else in the function or in those within it."""
        taken = set(outer)
        if scope.kind == "function":
            words = list(self._below(scope))
            taken |= {self.text(word) for word in words if not isinstance(word.means, tuple)
                      or word.means[0] in ("builtin", "local")}
            for name in scope.arguments:
                if name not in self._fixed and not keyword.iskeyword(name):
                    short = next(one for one in self._order if one not in taken)
                    taken.add(short)
                    self.parameters[scope, name] = short
        for one in scope.children:
            self._name_parameters(one, taken if scope.kind == "function" else outer)

    def _below(self, scope: Scope) -> Iterator[Word]:
        yield from self._within[scope]
        for one in scope.children:
            yield from self._below(one)
