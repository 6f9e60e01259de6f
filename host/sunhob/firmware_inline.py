"""A method that is called from one place alone stands in that place: a function costs 20 bytes, and heap.

It is put there as text, before anything is bundled: `self._warm(now)` becomes the lines of `_warm`, their own
names changed where the caller has the same, arguments that are no plain names or constants given first. Only
where that does the same by Python's rules: the call is a statement of its own, in another method of the same
class, and gives nothing back; or the method gives something back at its end alone, and that is assigned; or
the caller gives back what it gives. What is not so plain stays a method.
"""

from __future__ import annotations

import ast
import functools
import itertools
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

_SCOPES = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda, ast.ClassDef, ast.ListComp, ast.SetComp,
           ast.DictComp, ast.GeneratorExp, ast.Yield, ast.YieldFrom, ast.Global, ast.Nonlocal, ast.Import,
           ast.ImportFrom, ast.NamedExpr, ast.Delete, ast.JoinedStr)  # what a method put in place has not
_LOCALS = 16  # more than that take two bytes each


@dataclass(frozen=True)
class Place:
    """A statement that calls a method of its own class; ends: the caller has nothing to do after it."""

    caller: ast.FunctionDef
    node: ast.stmt
    call: ast.Call
    ends: bool


@dataclass(frozen=True)
class Facts:
    """What a source says: names after a dot, names that are made, names that stand alone."""

    tree: ast.Module
    asked: Counter[str]
    made: Counter[str]
    alone: frozenset[str]


def put_in_place(texts: Mapping[str, str], keep: Callable[[str], bool]) -> dict[str, str]:
    """The sources of a package with such methods where they are called. keep: whether a name is used from
    elsewhere."""
    out = dict(texts)
    wait = sorted(out)
    while wait:
        facts = [_facts(text) for text in out.values()]
        asked = sum((one.asked for one in facts), Counter[str]())
        made = sum((one.made for one in facts), Counter[str]())
        alone = frozenset().union(*(one.alone for one in facts))
        once = {name for name, count in made.items() if count == asked[name] == 1 and name not in alone
                and not keep(name) and not name.startswith("__")}
        again = []
        for name in wait:
            changed = _one(out[name], once)
            if changed is not None:
                out[name] = changed
                again.append(name)
        wait = again
    return out


@functools.lru_cache(maxsize=1024)
def _facts(text: str) -> Facts:
    tree = ast.parse(text)
    asked: Counter[str] = Counter()
    made: Counter[str] = Counter()
    alone: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            asked[node.attr] += 1
            made[node.attr] += not isinstance(node.ctx, ast.Load)
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            made[node.name] += 1
        elif isinstance(node, ast.Name):
            alone.add(node.id)
        elif isinstance(node, ast.keyword | ast.arg):
            alone.add(node.arg or "")
    return Facts(tree, asked, made, frozenset(alone))


def _one(text: str, once: set[str]) -> str | None:
    """The source with one method put in place; None if there is none to put."""
    lines = text.splitlines()
    for node in _facts(text).tree.body:
        methods = {one.name: one for one in getattr(node, "body", ()) if isinstance(one, ast.FunctionDef)}
        if isinstance(node, ast.ClassDef):
            for caller in methods.values():
                for place in _places(caller):
                    assert isinstance(place.call.func, ast.Attribute)
                    name = place.call.func.attr
                    if name in once and name in methods and methods[name] is not caller:
                        written = _written(lines, methods[name], place)
                        if written is not None:
                            return _replaced(lines, methods[name], place, written)
    return None


def _places(caller: ast.FunctionDef) -> Iterator[Place]:
    if not caller.args.args or any(ast.unparse(one) != "property" for one in caller.decorator_list):
        return
    own = caller.args.args[0].arg
    if any(isinstance(one, ast.Name) and one.id == own and not isinstance(one.ctx, ast.Load)
           for one in ast.walk(caller)):
        return

    def within(block: list[ast.stmt], ends: bool) -> Iterator[Place]:
        for node in block:
            last = ends and node is block[-1]
            if isinstance(node, ast.Expr | ast.Assign | ast.Return) and isinstance(node.value, ast.Call):
                call = node.value
                if (isinstance(call.func, ast.Attribute) and isinstance(call.func.value, ast.Name)
                        and call.func.value.id == own):
                    yield Place(caller, node, call, last)
            elif isinstance(node, ast.If | ast.For | ast.While | ast.With | ast.Try):
                for part in ("body", "orelse", "finalbody"):
                    yield from within(getattr(node, part, []), last and isinstance(node, ast.If))
                for handler in getattr(node, "handlers", ()):
                    yield from within(handler.body, False)

    yield from within(caller.body, True)


def _written(lines: list[str], method: ast.FunctionDef, place: Place) -> list[str] | None:
    """The lines that stand for a call; None if that would not do the same."""
    body = method.body[1:] if ast.get_docstring(method) is not None else method.body
    taken, call = method.args, place.call
    plain = not (taken.posonlyargs or taken.kwonlyargs or taken.vararg or taken.kwarg or taken.defaults
                 or method.decorator_list or call.keywords or len(taken.args) != len(call.args) + 1)
    if not plain or not body or not _is_plain(lines, body, place.node):
        return None
    ending = _ending(lines, body, place)
    names = _names(lines, method, place) if ending is not None else None
    if ending is None or names is None:
        return None
    given, change = names
    shift = place.node.col_offset - body[0].col_offset
    out = list(lines[:body[-1].end_lineno])
    for node in sorted((one for part in body for one in ast.walk(part) if isinstance(one, ast.Name)),
                       key=lambda one: (-one.lineno, -one.col_offset)):
        if node.id in change:
            line = out[node.lineno - 1]
            out[node.lineno - 1] = (line[:node.col_offset] + change[node.id]
                                    + line[node.col_offset + len(node.id):])
    out, behind = ending(out)
    moved = [_moved(line, shift) for line in out[body[0].lineno - 1:]]
    return [*(" " * place.node.col_offset + one for one in given), *moved,
            *(" " * place.node.col_offset + one for one in behind)]


def _is_plain(lines: list[str], body: list[ast.stmt], node: ast.stmt) -> bool:
    """Whether the body and the call have lines of their own, and the body has no scope and no text over
    several lines."""
    for one in (*body, node):
        before = lines[one.lineno - 1][:one.col_offset]
        behind = lines[(one.end_lineno or 0) - 1][one.end_col_offset:].strip()
        if before.strip() or (behind and not behind.startswith("#")):
            return False
    inner = [one for part in body for one in ast.walk(part)]
    shown = "\n".join(lines[body[0].lineno - 1:body[-1].end_lineno])
    return (not any(isinstance(one, _SCOPES) or (isinstance(one, ast.ExceptHandler) and one.name)
                    or (isinstance(one, ast.Name) and one.id in ("super", "locals")) for one in inner)
            and '"""' not in shown and "'''" not in shown and "\\\n" not in shown)


Ending = Callable[[list[str]], tuple[list[str], list[str]]]


def _ending(lines: list[str], body: list[ast.stmt], place: Place) -> Ending | None:
    """What becomes of what the method gives back: (lines, the last of them the body's) -> (lines, more)."""
    given = [one for part in body for one in ast.walk(part) if isinstance(one, ast.Return)]
    last = body[-1]
    if isinstance(place.node, ast.Return):
        closed = isinstance(last, ast.Return | ast.Raise) or place.ends
        return lambda out: (out, [] if closed else ["return"])
    if isinstance(place.node, ast.Expr):
        nothing = all(one.value is None or ast.unparse(one.value) == "None" for one in given)
        return (lambda out: (out, [])) if not given or (nothing and place.ends) else None
    if len(given) != 1 or given[0] is not last or given[0].value is None:
        return None
    head = lines[place.node.lineno - 1][place.node.col_offset:place.call.col_offset]
    if place.call.lineno != place.node.lineno or not head.rstrip().endswith("="):
        return None

    def assigned(out: list[str]) -> tuple[list[str], list[str]]:
        line = out[last.lineno - 1]
        out[last.lineno - 1] = line[:last.col_offset] + head.rstrip() + line[last.col_offset + len("return"):]
        return out, []

    return assigned


def _names(lines: list[str], method: ast.FunctionDef, place: Place
           ) -> tuple[list[str], dict[str, str]] | None:
    """(statements that give arguments, name in the method -> what stands for it)."""
    caller = place.caller
    used = {one.id for one in ast.walk(caller) if isinstance(one, ast.Name)}
    bound = _bound(caller)
    own = _bound(method)
    read = {one.id for one in ast.walk(method) if isinstance(one, ast.Name)}
    stored = {one.id for one in ast.walk(method) if isinstance(one, ast.Name)
              and not isinstance(one.ctx, ast.Load)}
    first, *arguments = [one.arg for one in method.args.args]
    if first in stored or (read - own) & bound:
        return None
    change = {first: caller.args.args[0].arg}
    given: list[tuple[str, str]] = []
    for name, value in zip(arguments, place.call.args, strict=True):
        shown = lines[value.lineno - 1][value.col_offset:value.end_col_offset]
        if value.lineno != value.end_lineno or isinstance(value, ast.Starred | ast.GeneratorExp):
            return None
        is_local = isinstance(value, ast.Name) and value.id in bound
        is_number = isinstance(value, ast.Constant) and (value.value is None or isinstance(value.value, int))
        if name not in stored and (is_local or is_number):
            change[name] = shown
        else:
            given.append((name, shown))
    taken = used | bound | (read - own)
    for name in sorted(own - change.keys()):
        new = next(one for one in itertools.chain([name], (f"{name}_{i}" for i in itertools.count(2)))
                   if one not in taken)
        taken.add(new)
        change[name] = new
    if len(bound) + len(own - {first}) > _LOCALS:
        return None
    return [f"{change[name]} = {shown}" for name, shown in given], change


def _bound(function: ast.FunctionDef) -> set[str]:
    """Names that belong to a function, or to one within it."""
    out = set()
    for node in ast.walk(function):
        if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load):
            out.add(node.id)
        elif isinstance(node, ast.arg):
            out.add(node.arg)
        elif isinstance(node, ast.ExceptHandler) and node.name:
            out.add(node.name)
        elif isinstance(node, ast.alias):
            out.add(node.asname or node.name.partition(".")[0])
        elif isinstance(node, ast.FunctionDef | ast.ClassDef) and node is not function:
            out.add(node.name)
    return out


def _moved(line: str, by: int) -> str:
    inside = len(line) - len(line.lstrip())
    return " " * max(0, inside + by) + line.lstrip() if line.strip() else ""


def _replaced(lines: list[str], method: ast.FunctionDef, place: Place, written: list[str]) -> str:
    """The source without the method, and with its lines in place of the call."""
    out = list(lines)
    call = (place.node.lineno - 1, place.node.end_lineno or 0, written)
    gone: tuple[int, int, list[str]] = (method.lineno - 1, method.end_lineno or 0, [])
    for first, last, new in sorted((call, gone), key=lambda one: -one[0]):
        out[first:last] = new
    return "\n".join(out) + "\n"
