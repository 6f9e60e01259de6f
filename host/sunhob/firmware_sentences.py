"""Which texts of the firmware are sentences for people: on a board marks stand for them (firmware_marks.py).

A sentence is a text of more than 16 letters with a blank among them, if all that the firmware does with it is
to put values in by %, to choose between it and others, to ask whether there is one, and to hand it out: in an
exception, in an answer (a value of a dictionary) or to the loader. It is followed through names, attributes,
rows, arguments and what functions give back. What is compared, cut, searched, put beside another text by +,
or goes anywhere else (onto the display) stays as it is.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from .firmware_marks import VALUE, code_of, mark_of
from .firmware_scopes import Unsafe

_SHORT = 16  # letters: what is no longer is no sentence
_KEPT = {"failed"}  # of the loader: it keeps the words for the host as they are


def by_code(sources: Iterable[str]) -> dict[str, str]:
    """Code -> sentence, for every text of these sources that may be one; Unsafe where two have one code."""
    out: dict[str, str] = {}
    for source in sources:
        for _node, text in _sentences(ast.parse(source)):
            other = out.setdefault(code_of(text), text)
            if other != text:
                raise Unsafe(f"two sentences have the code {code_of(text)}: {other!r} and {text!r}; change a "
                             "word of one")
    return out


def marked(texts: Mapping[str, str]) -> dict[str, str]:
    """The sources of a package with marks in place of sentences, each row where it was."""
    program = _Program(texts)
    return {name: _put(text, program.sentences(name)) for name, text in texts.items()}


def _sentences(tree: ast.AST) -> Iterator[tuple[ast.Constant, str]]:
    """Texts that may be sentences for people; what is done with them decides."""
    words = {one.value for one in ast.walk(tree) if isinstance(one, ast.Expr)}  # on the program itself
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) and node not in words else None
        if (isinstance(node, ast.Constant) and isinstance(text, str) and len(text) > _SHORT and " " in text
                and text.isprintable() and text.isascii() and "%" not in VALUE.sub("", text)):
            yield node, text


def _put(source: str, sentences: Iterable[tuple[ast.Constant, str]]) -> str:
    lines = source.splitlines()
    for node, text in sorted(sentences, key=lambda one: (-one[0].lineno, -one[0].col_offset)):
        mark = repr(mark_of(text))
        first, last = node.lineno - 1, (node.end_lineno or 0) - 1
        head, tail = lines[first][:node.col_offset], lines[last][node.end_col_offset:]
        if len(mark) - 2 >= len(text) or any(one.endswith("\\") for one in lines[first:last]):
            continue
        if first == last:
            lines[first] = head + mark + tail
        else:
            lines[first:last + 1] = [head + mark, *[""] * (last - first - 1), tail]
    return "\n".join(lines) + "\n"


class _Touched(Exception):
    """Something more is done with it than to hand it on."""


@dataclass(frozen=True)
class _Place:
    """Where a text is kept: a name of a function, a class or the top of a module, or an attribute (holder
    None). row: it is one of a row there; raw: values are to be put in yet; own: class of the attribute, where
    that has no kin."""

    name: str
    holder: ast.AST | None
    row: bool
    raw: bool
    own: ast.AST | None = None


class _Program:
    """Follows texts through the sources of a package, by names: of two things with one name, each counts."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.trees = {name: ast.parse(text) for name, text in texts.items()}
        self.parent: dict[ast.AST, ast.AST] = {}
        self.made: dict[str, list[ast.FunctionDef | ast.ClassDef]] = defaultdict(list)
        self.names: dict[str, list[ast.Name]] = defaultdict(list)
        self.attributes: dict[str, list[ast.expr]] = defaultdict(list)
        self.bases: set[str] = set()
        self.seen: set[_Place] = set()
        for tree in self.trees.values():
            for node in ast.walk(tree):
                self._note(node)

    def _note(self, node: ast.AST) -> None:
        for child in ast.iter_child_nodes(node):
            self.parent[child] = node
        if isinstance(node, ast.Call):
            asked = node.args[1] if _name(node.func) == "getattr" and len(node.args) > 1 else None
            if isinstance(asked, ast.Constant):
                self.attributes[str(asked.value)].append(node)
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            self.made[node.name].append(node)
            if isinstance(node, ast.ClassDef):
                self.bases |= {_name(one) for one in node.bases}
        elif isinstance(node, ast.Name) and self._is_read(node):
            self.names[node.id].append(node)
        elif isinstance(node, ast.Attribute) and self._is_read(node):
            self.attributes[node.attr].append(node)

    def _is_read(self, node: ast.Name | ast.Attribute) -> bool:
        """Whether what a name had counts: `a += b` reads a."""
        return isinstance(node.ctx, ast.Load) or isinstance(self.parent[node], ast.AugAssign)

    def sentences(self, name: str) -> Iterator[tuple[ast.Constant, str]]:
        """Those of a module that a mark may stand for."""
        for node, text in _sentences(self.trees[name]):
            self.seen.clear()
            try:
                self._follow(node, "%" in text)
            except _Touched:
                continue
            yield node, text

    def _follow(self, node: ast.AST, raw: bool) -> None:
        """_Touched where more is done with this expression; raw: its values are to be put in yet."""
        up = self.parent[node]
        if isinstance(up, ast.BinOp) and isinstance(up.op, ast.Mod) and up.left is node:
            if not raw:
                raise _Touched
            self._follow(up, False)
        elif isinstance(up, ast.IfExp | ast.BoolOp):
            if not (isinstance(up, ast.IfExp) and up.test is node):
                self._follow(up, raw)
        elif isinstance(up, ast.If | ast.While | ast.Assert | ast.Expr) or (
                isinstance(up, ast.UnaryOp) and isinstance(up.op, ast.Not)):
            pass
        elif isinstance(up, ast.Compare) and all(isinstance(op, ast.Is | ast.IsNot) for op in up.ops):
            pass  # None or not
        elif isinstance(up, ast.Assign) and up.value is node:
            for target in up.targets:
                self._kept(target, False, raw)
        elif isinstance(up, ast.Tuple | ast.List) and isinstance(self.parent[up], ast.Assign):
            for target in self.parent[up].targets:  # type: ignore[attr-defined]
                self._kept(target, True, raw)
        elif raw:
            raise _Touched  # values must be put in first
        elif isinstance(up, ast.BinOp) and isinstance(up.op, ast.Mod):
            self._follow(up, False)
        elif isinstance(up, ast.Tuple) and isinstance(self.parent[up], ast.BinOp) and (
                isinstance(self.parent[up].op, ast.Mod)):  # type: ignore[attr-defined]
            self._follow(self.parent[up], False)
        elif isinstance(up, ast.Return):
            self._given_back(up)
        elif isinstance(up, ast.Call) and up.func is not node:
            self._handed(up, node)
        elif not (isinstance(up, ast.Dict) and any(one is node for one in up.values)
                  and isinstance(self._holder(up), ast.FunctionDef)):
            raise _Touched

    def _kept(self, target: ast.expr, row: bool, raw: bool) -> None:
        if isinstance(target, ast.Attribute):
            self._all(_Place(target.attr, None, row, raw, self._class_of(target)))
        elif isinstance(target, ast.Name):
            self._all(_Place(target.id, self._holder(target), row, raw))
        else:
            raise _Touched

    def _holder(self, node: ast.AST) -> ast.AST:
        """The function, class or module that a name stands in."""
        up = self.parent[node]
        while not isinstance(up, ast.FunctionDef | ast.ClassDef | ast.Module):
            up = self.parent[up]
        return up

    def _all(self, place: _Place) -> None:
        """Follow all that reads a place."""
        if place not in self.seen:
            self.seen.add(place)
            for node in self._reads(place):
                self._read(node, place)

    def _reads(self, place: _Place) -> Iterator[ast.expr]:
        if place.holder is not None:
            yield from self._within(place.holder, place.name)
        if not isinstance(place.holder, ast.FunctionDef):
            for one in self.attributes[place.name]:
                if place.own is None or self._class_of(one) in (None, place.own):
                    yield one
        if isinstance(place.holder, ast.Module):
            for tree in self.trees.values():
                for node in ast.walk(tree):
                    if isinstance(node, ast.ImportFrom):
                        for alias in node.names:
                            if alias.name == place.name:
                                yield from self._within(tree, alias.asname or alias.name)

    def _within(self, holder: ast.AST, name: str) -> Iterator[ast.expr]:
        for node in ast.walk(holder):
            if isinstance(node, ast.Global) and name in node.names:
                raise _Touched  # it is not the function's own
            if isinstance(node, ast.Name) and node.id == name and self._is_read(node):
                yield node

    def _read(self, node: ast.expr, place: _Place) -> None:
        if not place.row:
            self._follow(node, place.raw)
            return
        up = self.parent[node]
        if isinstance(up, ast.Subscript) and up.value is node and not isinstance(up.slice, ast.Slice):
            self._follow(up, place.raw)
        elif not (isinstance(up, ast.Call) and isinstance(up.func, ast.Name) and up.func.id == "len"):
            raise _Touched

    def _given_back(self, node: ast.Return) -> None:
        """What a function gives back goes where it is called."""
        function = self._holder(node)
        if not isinstance(function, ast.FunctionDef) or function.decorator_list:
            raise _Touched
        named: list[ast.expr] = [*self.attributes[function.name]]
        if not isinstance(self._holder(function), ast.ClassDef):
            named += self.names[function.name]
        for one in named:  # a function that is handed on by itself gives it to nobody knows whom
            call = self.parent[one]
            if not (isinstance(call, ast.Call) and call.func is one):
                raise _Touched
            if function in self._meant(call):
                self._follow(call, False)
        if not named:
            raise _Touched

    def _handed(self, call: ast.Call, node: ast.AST) -> None:
        """An argument: of an exception, of the loader, or of functions that are followed."""
        name = _name(call.func)
        if isinstance(self.parent[call], ast.Raise) or name in _KEPT or (
                isinstance(call.func, ast.Name) and name == "bool"):
            return
        place = next((i for i, one in enumerate(call.args) if one is node), -1)
        meant = self._meant(call)
        if not meant or place < 0 or any(isinstance(one, ast.Starred) for one in call.args):
            raise _Touched
        for made in meant:
            if isinstance(made, ast.ClassDef) or made.decorator_list:
                raise _Touched
            taken = [one.arg for one in made.args.args]
            at = place + isinstance(self._holder(made), ast.ClassDef)
            if at >= len(taken):
                raise _Touched
            self._all(_Place(taken[at], made, False, False))

    def _meant(self, call: ast.Call) -> list[ast.FunctionDef | ast.ClassDef]:
        """What a call may call: all of that name, of one's own class alone where it has no kin."""
        made, own = self.made[_name(call.func)], self._class_of(call.func)
        return made if own is None else [one for one in made if self._holder(one) is own]

    def _class_of(self, node: ast.expr) -> ast.ClassDef | None:
        """The class of `self.name` in a method of it, where no other inherits from it, nor it from others."""
        method = self._holder(node)
        own = self._holder(method) if isinstance(method, ast.FunctionDef) else None
        if (not isinstance(node, ast.Attribute) or not isinstance(method, ast.FunctionDef)
                or not isinstance(own, ast.ClassDef) or own.bases or own.name in self.bases
                or method.decorator_list or not method.args.args):
            return None
        return own if ast.unparse(node.value) == method.args.args[0].arg else None


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""
