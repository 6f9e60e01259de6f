"""Many firmware modules made into few: for a board every file repeats the names it shares with the others.

A part is what comes at once: the entry `main`, and each module that some function imports, with all that it
imports at its top. What two parts need lies in the one that is always loaded, else in a part of its own. A
part is one text: its modules one behind the other in the order in which they would be imported, the import
statements between them gone, every name of a module's top resolved to the module that made it. Nothing is
written anew from the tree (MicroPython makes a tuple where that puts a bracket): words change in place.
What this cannot do without a risk it refuses: Unsafe names file and line.
"""

from __future__ import annotations

import ast
import posixpath
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from .firmware_scopes import Scope, Scopes, Unsafe, Use

MAKES = ("store", "def", "alias")
_BLIND = {"globals", "locals", "vars", "eval", "exec", "__file__", "__path__"}


@dataclass(frozen=True)
class Symbol:
    """A name that a module makes at its top."""

    module: str
    name: str


@dataclass(frozen=True)
class Outside:
    """What a module takes from outside the package: 'import module' or 'from module import what'."""

    module: str
    what: str
    name: str


@dataclass(frozen=True)
class Word:
    """A stretch of a line and what it stands for: a Symbol, Outside, ('attr', name), ('keyword', name),
    ('local', scope, name), ('builtin', name) or ('text', what to write). how: as Use has it; 'lazy' where an
    import within a function brought it; 'alias <name>' in an import from outside that may fail."""

    row: int
    col: int
    end: int
    means: object
    how: str
    scope: Scope


@dataclass(eq=False)
class Item:
    """Lines that stand or go together: a statement at the top of a module, or a method of a class there."""

    module: str
    first: int
    last: int
    makes: frozenset[str]
    root: bool
    method: str = ""
    holder: Item | None = None


@dataclass
class Module:
    """One source: its words and items; static, lazy: modules that its top, its functions import."""

    name: str
    scopes: Scopes
    imports: dict[tuple[Scope, str], tuple[str, str]] = field(default_factory=dict)
    outside: dict[str, Outside] = field(default_factory=dict)
    static: list[str] = field(default_factory=list)
    lazy: list[str] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    replaced: list[tuple[ast.stmt, Scope]] = field(default_factory=list)  # imports within functions


def reached(package: str, module: str, node: ast.ImportFrom) -> str | None:
    """Folder or module of the package that an import reaches into; None for one from outside."""
    path = node.module.split(".") if node.module else []
    if node.level:
        folder = module.split("/")[:-node.level]
        return "/".join(folder + path)
    return "/".join(path[1:]) if path and path[0] == package else None


def way_to(part: str, other: str) -> str:
    """How a module or part names another in an import: '..core.app'."""
    steps = posixpath.relpath(other, posixpath.dirname(part) or ".").split("/")
    up = steps.count("..")
    return "." * (up + 1) + ".".join(steps[up:])


class Program:
    """All modules of a package, read and resolved. texts: 'core/app' -> source; dynamic: modules that the
    firmware imports by a name made at run time."""

    def __init__(self, package: str, texts: Mapping[str, str], dynamic: Iterable[str]) -> None:
        self.package = package
        self.dynamic = set(dynamic)
        self.modules: dict[str, Module] = {}
        for name, text in sorted(texts.items()):
            scopes = Scopes(text, name + ".py")
            if name.rpartition("/")[2] != "__init__":
                self.modules[name] = Module(name, scopes)
            elif len(scopes.tree.body) > 1 or (scopes.tree.body and not _words_only(scopes.tree.body[0])):
                raise scopes.refuse(scopes.tree.body[-1], "code in an __init__ would run unseen; move it")
        for module in self.modules.values():
            for node, scope in module.scopes.aliases:
                self._import(module, node, scope)
        for module in self.modules.values():
            module.words = sorted(self._words(module), key=lambda one: (one.row, one.col))
            module.items = list(_items(module))

    def symbol(self, module: str, name: str, seen: tuple[str, ...] = ()) -> Symbol | Outside | None:
        """Whom a name at the top of a module stands for; None where it is not bound there."""
        found = self.modules[module]
        target = found.imports.get((found.scopes.top, name))
        if target is not None and target[1] and module not in seen:
            return self.symbol(target[0], target[1], (*seen, module))
        if target is None and name in found.outside:
            return found.outside[name]
        return Symbol(module, name) if target is None and name in found.scopes.top.bound else None

    def order(self, entries: Iterable[str], among: set[str] | None = None) -> list[str]:
        """Modules in the order in which importing these would run them; a circle of imports is refused."""
        done: list[str] = []

        def visit(name: str, way: tuple[str, ...]) -> None:
            if name in way:
                raise Unsafe("imports go in a circle: " + " -> ".join((*way[way.index(name):], name))
                             + "; put what both need into a module of its own")
            if name in done or (among is not None and name not in among):
                return
            for one in self.modules[name].static:
                visit(one, (*way, name))
            done.append(name)

        for entry in entries:
            visit(entry, ())
        return done

    # --- imports ---------------------------------------------------------------------------
    def _import(self, module: Module, node: ast.Import | ast.ImportFrom, scope: Scope) -> None:
        at_top = node in module.scopes.tree.body
        base = self._base(module, node)
        for alias in node.names:
            bound = alias.asname or alias.name.partition(".")[0]
            if base is None:
                if at_top:
                    what = alias.name if isinstance(node, ast.ImportFrom) else ""
                    source = node.module if isinstance(node, ast.ImportFrom) else alias.name
                    module.outside[bound] = Outside(source or "", what, bound)
                continue
            if scope is module.scopes.top and not at_top:
                raise module.scopes.refuse(node, "an import that may or may not happen; take the 'if' away")
            if scope.kind == "class":
                raise module.scopes.refuse(node, "an import inside a class")
            target = self._target(module, node, base, alias.name)
            if module.imports.setdefault((scope, bound), target) != target:
                raise module.scopes.refuse(node, f"{bound} is imported from two places")
            (module.static if at_top else module.lazy).append(target[0])
        if base is not None and not at_top:
            module.replaced.append((node, scope))

    def _base(self, module: Module, node: ast.Import | ast.ImportFrom) -> str | None:
        """Folder or module that an import reaches into; None for one from outside the package."""
        if isinstance(node, ast.Import):
            if any(one.name.partition(".")[0] == self.package for one in node.names):
                raise module.scopes.refuse(node, "import of the package by its name; use from ... import")
            return None
        return reached(self.package, module.name, node)

    def _target(self, module: Module, node: ast.stmt, base: str, name: str) -> tuple[str, str]:
        inside = f"{base}/{name}" if base else name
        if inside in self.modules:
            return inside, ""
        if base not in self.modules:
            raise module.scopes.refuse(node, f"there is no module {inside}")
        return base, name

    # --- words -----------------------------------------------------------------------------
    def _words(self, module: Module) -> Iterator[Word]:
        scopes = module.scopes
        through = {(n.value.lineno, n.value.col_offset): n for n in ast.walk(scopes.tree)
                   if isinstance(n, ast.Attribute) and isinstance(n.value, ast.Name)}
        stored = {(scopes.home(u), u.name) for u in scopes.uses if u.how in ("store", "def", "arg")}
        for key in module.imports:
            if key in stored:
                raise Unsafe(f"{scopes.shown}: {key[1]} is imported and set as well; use two names")
        taken: set[tuple[int, int]] = set()
        for use in scopes.uses:
            if use.how in ("attr", "attr_store", "keyword"):
                if (use.row, use.col) not in taken:
                    kind = "keyword" if use.how == "keyword" else "attr"
                    yield self._word(use, (kind, use.name))
                continue
            home = scopes.home(use)
            target = module.imports.get((home, use.name))
            if target is None:
                yield self._word(use, self._own(module, use, home))
                continue
            node = None if target[1] else through.get((use.row, use.col))
            found = self._reached(module, use, target, node)
            end = use.col + len(use.name)
            if node is not None:
                end = node.end_col_offset or 0
                taken.add((use.row, end - len(node.attr)))
            yield Word(use.row, use.col, end, found, "load" if home is scopes.top else "lazy", use.scope)
        for statement, scope in scopes.aliases:
            if scope is scopes.top and statement not in scopes.tree.body:  # from outside, in a try
                for one in statement.names:
                    yield Word(one.lineno, one.col_offset, one.end_col_offset or 0,
                               Symbol(module.name, one.asname or one.name), "alias " + one.name, scope)

    @staticmethod
    def _word(use: Use, means: object) -> Word:
        return Word(use.row, use.col, use.col + len(use.name), means, use.how, use.scope)

    def _own(self, module: Module, use: Use, home: Scope) -> object:
        if home is not module.scopes.top:
            return ("attr", use.name) if home.kind == "class" else ("local", home, use.name)
        if use.name in module.scopes.top.bound:
            return module.outside.get(use.name) or Symbol(module.name, use.name)
        if use.name == "__name__":
            return ("text", repr(f"{self.package}/{module.name}".replace("/", ".")))
        if use.name in _BLIND or (use.name == "__import__" and not self.dynamic):
            raise Unsafe(f"{module.scopes.shown}:{use.row}: {use.name} reaches what the bundler cannot see")
        return ("builtin", use.name)

    def _reached(
        self, module: Module, use: Use, target: tuple[str, str], node: ast.Attribute | None
    ) -> object:
        """What an imported name, or an attribute of an imported module, stands for."""
        where = f"{module.scopes.shown}:{use.row}"
        name = target[1]
        if not name:
            if node is None:
                raise Unsafe(f"{where}: the module {use.name} is handed on as a value; name what is wanted "
                             "of it")
            if not isinstance(node.ctx, ast.Load):
                raise Unsafe(f"{where}: {use.name}.{node.attr} is set from outside its module; give the "
                             "module a function for it")
            if node.end_lineno != use.row:
                raise Unsafe(f"{where}: {use.name}.{node.attr} runs over two lines")
            name = node.attr
        found = self.symbol(target[0], name)
        if found is None:
            raise Unsafe(f"{where}: {target[0]} has no {name}")
        if target[1] and isinstance(found, Symbol) and self._set_later(found):
            raise Unsafe(f"{where}: {name} of {found.module} is set again by a function there, and a name "
                         "imported would not follow; import the module")
        return found

    def _set_later(self, symbol: Symbol) -> bool:
        def declared(scope: Scope) -> bool:
            return symbol.name in scope.outer or any(declared(one) for one in scope.children)

        return declared(self.modules[symbol.module].scopes.top)


def _words_only(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


_PURE = {"range", "len", "tuple", "dict", "list", "bytes", "bytearray", "min", "max", "int", "float", "sum",
         "abs", "round", "calcsize", "radians", "sqrt"}


def _harmless(node: ast.expr) -> bool:
    """Whether working an expression out changes nothing else."""
    calls = [one.func for one in ast.walk(node) if isinstance(one, ast.Call)]
    names = [one.id if isinstance(one, ast.Name) else getattr(one, "attr", "") for one in calls]
    return set(names) <= _PURE


def _plain(node: ast.stmt) -> bool:
    """Whether a statement does no more than give names to things."""
    if isinstance(node, ast.Assign):
        return all(isinstance(n, ast.Name | ast.Tuple) for n in node.targets) and _harmless(node.value)
    if isinstance(node, ast.ClassDef):
        inner = (one for one in node.body if not isinstance(one, ast.FunctionDef))
        return not node.decorator_list and all(_plain(one) or _words_only(one) for one in inner)
    return isinstance(node, ast.FunctionDef) or _words_only(node)


def _first(node: ast.stmt) -> int:
    return min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", ()))])


def _items(module: Module) -> Iterator[Item]:
    for node in module.scopes.tree.body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            continue
        first, last = _first(node), node.end_lineno or node.lineno
        makes = frozenset(word.means.name for word in module.words if first <= word.row <= last
                          and isinstance(word.means, Symbol) and word.means.module == module.name
                          and word.how.partition(" ")[0] in MAKES)
        item = Item(module.name, first, last, makes, not _plain(node))
        yield item
        if isinstance(node, ast.ClassDef):
            for one in node.body:
                if isinstance(one, ast.FunctionDef):
                    last = one.end_lineno or one.lineno
                    yield Item(module.name, _first(one), last, frozenset(), False, one.name, item)
