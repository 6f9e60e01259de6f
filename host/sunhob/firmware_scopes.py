"""Which scope each name in a firmware source belongs to, by Python's own rules. Rows from 1, columns from 0.

Serves the bundler: it renames and moves names only where it knows whose they are. Sources must be ASCII, so
that a column is a byte and a character alike; what these rules leave open is refused with file and line.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from .errors import UserError

_COMPREHENSIONS = (ast.ListComp, ast.SetComp, ast.DictComp, ast.GeneratorExp)
Node = ast.AST


class Unsafe(UserError):
    """The source does something that cannot be bundled without a risk; the text names file and line."""


@dataclass(eq=False)
class Scope:
    """kind: 'module', 'class' or 'function'. bound: name -> how many names were met before it was bound."""

    kind: str
    parent: Scope | None
    name: str = ""
    bound: dict[str, int] = field(default_factory=dict)
    outer: set[str] = field(default_factory=set)  # declared global
    arguments: list[str] = field(default_factory=list)
    children: list[Scope] = field(default_factory=list)


@dataclass(frozen=True)
class Use:
    """A name at a place. how: load, store, def, arg, keyword, attr or attr_store; order: as it is run."""

    row: int
    col: int
    name: str
    how: str
    scope: Scope
    order: int


class Scopes(ast.NodeVisitor):
    """uses: every name of a source, with the scope it stands in; home() tells the scope it belongs to.
    classes: each class with its own scope."""

    def __init__(self, text: str, shown: str) -> None:
        if not text.isascii():
            raise Unsafe(f"{shown}: its text is not plain ASCII; write it so")
        self.shown = shown
        self.lines = text.splitlines()
        self.tree = ast.parse(text)
        self.top = Scope("module", None)
        self.uses: list[Use] = []
        self.aliases: list[tuple[ast.Import | ast.ImportFrom, Scope]] = []
        self.classes: list[tuple[ast.ClassDef, Scope]] = []
        self._scope = self.top
        self.visit(self.tree)

    def home(self, use: Use) -> Scope:
        """The scope a name belongs to; the module's where nothing nearer binds it (builtins too)."""
        scope: Scope | None = use.scope
        if scope is not None and scope.kind == "class" and use.name in scope.bound:
            if use.how != "load" or scope.bound[use.name] < use.order:
                return scope
            scope = scope.parent  # a class body reads a name that it binds further down: the outer one
        while scope is not None and scope.parent is not None:
            if use.name in scope.outer:
                return self.top
            if use.name in scope.bound and (scope.kind == "function" or scope is use.scope):
                return scope
            scope = scope.parent
        return self.top

    def refuse(self, node: Node, why: str) -> Unsafe:
        """An error that names the place."""
        return Unsafe(f"{self.shown}:{getattr(node, 'lineno', 1)}: {why}")

    # --- inside --------------------------------------------------------------------------
    def _bind(self, name: str) -> None:
        if name not in self._scope.outer:
            self._scope.bound.setdefault(name, len(self.uses))

    def _use(self, row: int, col: int, name: str, how: str) -> None:
        self.uses.append(Use(row, col, name, how, self._scope, len(self.uses)))

    def _inside(self, kind: str, name: str, nodes: list[Node], args: ast.arguments | None = None) -> None:
        outer, self._scope = self._scope, Scope(kind, self._scope, name)
        outer.children.append(self._scope)
        if args is not None:
            for one in (*args.posonlyargs, *args.args, *args.kwonlyargs, args.vararg, args.kwarg):
                if one is not None:
                    self._bind(one.arg)
                    self._scope.arguments.append(one.arg)
                    self._use(one.lineno, one.col_offset, one.arg, "arg")
        for node in nodes:
            self.visit(node)
        self._scope = outer

    def _defined(self, node: ast.FunctionDef | ast.ClassDef) -> None:
        line = self.lines[node.lineno - 1]
        col = re.compile(r"(def|class)\s+").match(line, node.col_offset).end()  # type: ignore[union-attr]
        self._bind(node.name)
        self._use(node.lineno, col, node.name, "def")

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for one in (*node.decorator_list, *node.args.defaults, *filter(None, node.args.kw_defaults)):
            self.visit(one)
        self._defined(node)
        self._inside("function", node.name, list(node.body), node.args)

    def visit_Lambda(self, node: ast.Lambda) -> None:
        for one in (*node.args.defaults, *filter(None, node.args.kw_defaults)):
            self.visit(one)
        self._inside("function", "", [node.body], node.args)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for one in (*node.decorator_list, *node.bases, *node.keywords):
            self.visit(one)
        self._defined(node)
        self._inside("class", node.name, list(node.body))
        self.classes.append((node, self._scope.children[-1]))

    def _comprehension(self, node: ast.ListComp | ast.SetComp | ast.DictComp | ast.GeneratorExp) -> None:
        first, *rest = node.generators
        self.visit(first.iter)
        parts: list[Node] = [first.target, *first.ifs]
        for one in rest:
            parts += [one.iter, one.target, *one.ifs]
        made = [node.key, node.value] if isinstance(node, ast.DictComp) else [node.elt]
        self._inside("function", "", [*parts, *made])

    visit_ListComp = visit_SetComp = visit_DictComp = visit_GeneratorExp = _comprehension

    def visit_Global(self, node: ast.Global) -> None:
        line = self.lines[node.lineno - 1]
        self._scope.outer.update(node.names)
        for name in node.names:
            col = re.compile(rf"\b{name}\b").search(line, node.col_offset).start()  # type: ignore[union-attr]
            self._use(node.lineno, col, name, "load")

    def visit_ExceptHandler(self, node: ast.ExceptHandler) -> None:
        if node.type is not None:
            self.visit(node.type)
        if node.name is not None:
            line = self.lines[node.lineno - 1]
            end = node.type.end_col_offset if node.type is not None else node.col_offset
            col = re.compile(r"\s+as\s+").match(line, end or 0).end()  # type: ignore[union-attr]
            self._bind(node.name)
            self._use(node.lineno, col, node.name, "store")
        for one in node.body:
            self.visit(one)

    def visit_Assign(self, node: ast.Assign) -> None:
        for one in (node.value, *node.targets):  # in the order in which they are run
            self.visit(one)

    def visit_Name(self, node: ast.Name) -> None:
        if isinstance(node.ctx, ast.Store | ast.Del):
            self._bind(node.id)
        self._use(node.lineno, node.col_offset, node.id,
                  "load" if isinstance(node.ctx, ast.Load) else "store")

    def visit_Attribute(self, node: ast.Attribute) -> None:
        self.visit(node.value)
        row, end = node.end_lineno or 0, node.end_col_offset or 0
        self._use(row, end - len(node.attr), node.attr,
                  "attr" if isinstance(node.ctx, ast.Load) else "attr_store")

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg is None:
            raise self.refuse(node.value, "a call with ** hides which names it hands over")
        self._use(node.lineno, node.col_offset, node.arg, "keyword")
        self.visit(node.value)

    def _import(self, node: ast.Import | ast.ImportFrom) -> None:
        for one in node.names:
            if one.name == "*":
                raise self.refuse(node, "import * hides which names come in; name them")
            bound = one.asname or one.name.partition(".")[0]
            self._bind(bound)
        self.aliases.append((node, self._scope))

    visit_Import = visit_ImportFrom = _import

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        raise self.refuse(node, "the names in an f-string cannot be told apart; use %")

    def _unknown(self, node: Node) -> None:
        raise self.refuse(node, f"{type(node).__name__} is not served by the bundler; write it otherwise")

    visit_AsyncFunctionDef = visit_NamedExpr = visit_Nonlocal = visit_Match = visit_AnnAssign = _unknown


def numbers(line: ast.stmt) -> Iterator[tuple[str, ast.expr | int]]:
    """(name, value) of what an assignment sets to whole numbers: A = 1 << 3; A, B = range(2); A, B = 1, 2."""
    if not isinstance(line, ast.Assign) or len(line.targets) != 1:
        return
    target, value = line.targets[0], line.value
    if isinstance(target, ast.Name) and whole(value):
        yield target.id, value
    if not isinstance(target, ast.Tuple) or not all(isinstance(one, ast.Name) for one in target.elts):
        return
    names = [one.id for one in target.elts if isinstance(one, ast.Name)]
    if isinstance(value, ast.Tuple) and len(value.elts) == len(names) and all(map(whole, value.elts)):
        yield from zip(names, value.elts, strict=True)
    elif (isinstance(value, ast.Call) and isinstance(value.func, ast.Name) and value.func.id == "range"
          and len(value.args) == 1 and whole(value.args[0])):
        yield from zip(names, range(len(names)), strict=True)


def whole(node: ast.expr) -> bool:
    """Whether an expression is made of whole numbers alone."""
    return all(isinstance(one, ast.UnaryOp | ast.BinOp | ast.operator | ast.unaryop)
               or (isinstance(one, ast.Constant) and type(one.value) is int) for one in ast.walk(node))
