"""Short names and constants, for the board's memory: the compiler keeps every name as text in every module.

Done before compiling, the same for every module of the package:
- a private number, set once at the top of its file and read only there, becomes `const(...)`, which
  MicroPython's compiler puts in place and keeps no name for;
- every other private name (one leading underscore) becomes a short one, the most frequent the shortest.
What the host, the bench or a chip's own modules call by name is public, so it stays as it is. A fault on the
board names the short name; `short_names` tells whose it is.
"""

from __future__ import annotations

import ast
import functools
import io
import itertools
import string
import tokenize
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

_LETTERS = string.ascii_lowercase + string.ascii_uppercase + string.digits
_NAMED = ("id", "attr", "name", "asname", "arg")  # fields of tree nodes that hold an identifier


def private(name: object) -> bool:
    """Whether a name has exactly one leading underscore and more behind it."""
    return isinstance(name, str) and name.startswith("_") and not name.startswith("__") and len(name) > 1


def _identifiers(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        for field in _NAMED:
            name = getattr(node, field, None)
            if isinstance(name, str):
                yield name
        if isinstance(node, ast.Global | ast.Nonlocal):
            yield from node.names


@functools.lru_cache(maxsize=8)
def _short_names(root: Path, _stamp: tuple[tuple[str, int], ...]) -> dict[str, str]:
    """Private name -> short name over all modules of the package."""
    count: Counter[str] = Counter()
    texts: set[str] = set()
    for path in sorted(root.rglob("*.py")):
        tree = ast.parse(path.read_bytes())
        count.update(set(_identifiers(tree)))  # a name is kept once a module
        texts |= {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
    taken = set(count) | texts
    fresh = ("_" + "".join(letters) for n in (1, 2, 3) for letters in itertools.product(_LETTERS, repeat=n))
    free = (short for short in fresh if short not in taken)
    wanted = [name for name in count if private(name) and name not in texts and len(name) > 2]
    return {name: next(free) for name in sorted(wanted, key=lambda one: (-count[one], one))}


def short_names(root: Path) -> dict[str, str]:
    """Private name -> short name over the package in the folder `root`."""
    stamp = tuple((p.as_posix(), p.stat().st_mtime_ns) for p in sorted(root.rglob("*.py")))
    return _short_names(root, stamp)


def _whole(node: ast.expr) -> bool:
    """Whether an expression is made of whole numbers alone."""
    return all(isinstance(one, ast.UnaryOp | ast.BinOp | ast.operator | ast.unaryop)
               or (isinstance(one, ast.Constant) and type(one.value) is int) for one in ast.walk(node))


def _constants(text: str, elsewhere: frozenset[str]) -> str:
    """Turn private whole numbers of the file into const(...), which needs no import."""
    tree = ast.parse(text)
    set_at = Counter(n.id for n in ast.walk(tree) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store))
    dynamic = {name for n in ast.walk(tree) if isinstance(n, ast.Global) for name in n.names}
    alone = {name for name, times in set_at.items()
             if times == 1 and private(name) and name not in dynamic and name not in elsewhere}
    lines = text.splitlines()
    for line in reversed(tree.body):
        found = _numbers(line, alone)
        if found and line.end_lineno is not None:
            new = [f"{name} = const({value})" for name, value in found]
            lines[line.lineno - 1 : line.end_lineno] = new
    return "\n".join(lines) + "\n"


def _numbers(line: ast.stmt, alone: set[str]) -> list[tuple[str, str]]:
    """(name, number) of each constant that a statement sets; none where it does anything else."""
    if not isinstance(line, ast.Assign) or len(line.targets) != 1:
        return []
    target, value = line.targets[0], line.value
    if isinstance(target, ast.Name) and target.id in alone and _whole(value):
        return [(target.id, ast.unparse(value))]
    if isinstance(target, ast.Tuple) and isinstance(value, ast.Call) and ast.unparse(value.func) == "range":
        names = [one.id for one in target.elts if isinstance(one, ast.Name)]
        if len(names) == len(target.elts) and set(names) <= alone and len(value.args) == 1:
            return [(name, str(i)) for i, name in enumerate(names)]
    return []


@functools.lru_cache(maxsize=8)
def _imported(root: Path, _stamp: tuple[tuple[str, int], ...]) -> frozenset[str]:
    """Private names that some file takes from another, or reads through a module or an object."""
    out: set[str] = set()
    for path in root.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(node, ast.alias):
                out.add(node.name)
            elif isinstance(node, ast.Attribute):
                out.add(node.attr)
    return frozenset(out)


def smaller(text: str, root: Path) -> str:
    """The text of one module of the package in `root`, with constants and short names.

    Names are put in word by word: a text made anew from the tree would put tuples where none are needed.
    """
    stamp = tuple((p.as_posix(), p.stat().st_mtime_ns) for p in sorted(root.rglob("*.py")))
    text = _constants(text, _imported(root, stamp))
    short = short_names(root)
    lines = text.splitlines()
    words = [t for t in tokenize.generate_tokens(io.StringIO(text).readline)
             if t.type == tokenize.NAME and t.string in short]
    for word in reversed(words):
        row, start = word.start
        line = lines[row - 1]
        lines[row - 1] = line[:start] + short[word.string] + line[word.end[1] :]
    return "\n".join(lines) + "\n"
