"""A class that one other class alone inherits from stands in that one: a class costs, and calls across two of
one object cannot be put in place (firmware_inline.py).

So a class too long to be read in one sitting may be cut into files, `class Controller(Wishes, Recovery)`, and
costs a board nothing. It is moved as text, before anything else is done: its methods go to the end of the
heir, names of its module's top are imported into the heir's by names that mean nothing else there. Only where
that does the same by Python's rules: the class is named nowhere but in the heir's head and its import,
inherits from nothing, and holds methods and constants alone, by names that neither the heir nor another base
of it has. What is not so plain stays a class of its own.
"""

from __future__ import annotations

import ast
import functools
import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from .firmware_bundle import reached
from .firmware_scopes import Scope, Scopes

_KINDS = ("property", "staticmethod", "classmethod")  # what makes a method another kind of one
Edit = tuple[int, int, int, str]  # row, first column, column behind the last, text


@dataclass(frozen=True)
class Held:
    """A class and the module it stands in."""

    module: str
    node: ast.ClassDef


@dataclass(frozen=True)
class Import:
    """A statement at the top of a module that gives `bound`: ('package', path, name) or ('outside', module,
    name), name '' where the module itself is meant."""

    bound: str
    way: tuple[str, str, str]

    def text(self, heir: str, name: str) -> str:
        """The same for another module, by another name."""
        kind, path, what = self.way
        if kind == "package":
            path = "." * (heir.count("/") + 1) + path.replace("/", ".")
        return f"from {path} import {what} as {name}" if what else f"import {path} as {name}"


def one_class(package: str, texts: Mapping[str, str], keep: Callable[[str], bool]) -> dict[str, str]:
    """The sources of a package with such classes in their heirs. texts: 'core/app' -> source; keep: whether a
    name is used from elsewhere."""
    out = dict(texts)
    while True:
        said = sum((_said(text) for text in out.values()), Counter[str]())
        classes = [Held(module, node) for module, text in sorted(out.items())
                   for node, _scope in _scopes(text, module).classes]
        named: dict[str, list[Held]] = {}
        for one in classes:
            named.setdefault(one.node.name, []).append(one)
        changed = next(filter(None, (_moved(package, out, heir, base, said, named)
                                     for heir in classes for base in _bases(heir, named)
                                     if not keep(base.node.name))), None)
        if changed is None:
            return out
        out.update(changed)


def _bases(heir: Held, named: Mapping[str, list[Held]]) -> Iterator[Held]:
    for one in heir.node.bases:
        if isinstance(one, ast.Name) and len(named.get(one.id, ())) == 1:
            yield named[one.id][0]


@functools.lru_cache(maxsize=1024)
def _said(text: str) -> Counter[str]:
    """How often each name stands in a source, as a name of anything or as a text."""
    out: Counter[str] = Counter()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Name):
            out[node.id] += 1
        elif isinstance(node, ast.Attribute):
            out[node.attr] += 1
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            out[node.name] += 1
        elif isinstance(node, ast.alias):
            out.update((*node.name.split("."), node.asname or ""))
        elif isinstance(node, ast.arg | ast.keyword):
            out[node.arg or ""] += 1
        elif isinstance(node, ast.Global):
            out.update(node.names)
        elif isinstance(node, ast.ExceptHandler):
            out[node.name or ""] += 1
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            out[node.value] += 1
    return out


@functools.lru_cache(maxsize=512)
def _scopes(text: str, module: str) -> Scopes:
    return Scopes(text, module + ".py")


# --- whether it does the same ----------------------------------------------------------------------------
def _moved(package: str, texts: Mapping[str, str], heir: Held, base: Held, said: Counter[str],
           named: Mapping[str, list[Held]]) -> dict[str, str] | None:
    """The two modules with one class in the other; None if that would not do the same."""
    there, here = (_scopes(texts[one.module], one.module) for one in (base, heir))
    name = base.node.name
    apart = heir.module != base.module
    brought = _brought_by(here.tree, package, heir, base) if apart else None
    if brought is None and (apart or base.node.lineno > heir.node.lineno):
        return None
    if said[name] != (2 if brought is None else 3) or not _is_plain(base.node, there):
        return None
    names = _scope_of(there, base.node).bound.keys()
    if not _takes(heir, here, names) or any(
            _has(one, names, named) for one in heir.node.bases if ast.unparse(one) != name):
        return None
    body = base.node.body[1:] if ast.get_docstring(base.node) is not None else base.node.body
    if body[0].col_offset != heir.node.body[0].col_offset:
        return None
    first, last = _first(body[0]), base.node.end_lineno or 0
    asked = _asked(there, first, last)
    if asked is None or any(one in here.top.bound or one.startswith("__")
                            for one in asked - there.top.bound.keys()):
        return None  # a name of Python's own that the heir's module has taken, or means another thing there
    edits: list[Edit] = []
    imports: list[str] = []
    if brought is not None:
        wanted = asked & there.top.bound.keys()
        change, imports = _imports(package, there, here, (base.module, heir.module), wanted)
        edits = [(use.row, use.col, use.col + len(use.name), change[use.name]) for use in there.uses
                 if first <= use.row <= last and use.how == "load" and there.home(use) is there.top
                 and use.name in change]
        folders = _lazy(package, there, base.module, heir.module, first, last)
        if folders is None:
            return None
        edits += folders
    text = _edited(there.lines, edits)[first - 1:last]
    return _written(texts, here, heir, base, (brought, imports), text)


def _brought_by(tree: ast.Module, package: str, heir: Held, base: Held) -> ast.ImportFrom | None:
    """The statement at the top of the heir's module that imports the base from where it is made."""
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and node.lineno < heir.node.lineno:
            for alias in node.names:
                if (alias.name == base.node.name and alias.asname is None
                        and reached(package, heir.module, node) == base.module):
                    return node
    return None


def _is_plain(node: ast.ClassDef, scopes: Scopes) -> bool:
    """Whether a class at the top of its module holds methods and constants alone, and nothing that asks which
    class it is."""
    if node not in scopes.tree.body or node.bases or node.keywords or node.decorator_list:
        return False
    body = node.body[1:] if ast.get_docstring(node) is not None else node.body
    own = _scope_of(scopes, node).bound.keys()
    if not body or body[0].lineno == node.lineno or any(one.startswith("__") for one in own):
        return False
    for one in body:
        if isinstance(one, ast.Assign):
            if not all(isinstance(target, ast.Name) for target in one.targets) or not _constant(one.value):
                return False
        elif not isinstance(one, ast.FunctionDef) or not all(map(_constant, _defaults(one.args))) or not all(
                ast.unparse(by) in _KINDS or (isinstance(by, ast.Attribute) and ast.unparse(by.value) in own)
                for by in one.decorator_list):
            return False
    return not own & set(_KINDS) and not _asks_class(node) and not any(
        isinstance(one, ast.Global) for one in ast.walk(node))


def _defaults(args: ast.arguments) -> Iterable[ast.expr]:
    return [*args.defaults, *filter(None, args.kw_defaults)]


def _constant(node: ast.expr) -> bool:
    try:
        value = ast.literal_eval(node)
    except ValueError:
        return False
    return not isinstance(value, list | dict | set)


def _asks_class(node: ast.ClassDef) -> bool:
    """Whether something in a class means another thing in another class: super, __class__, __name."""
    names = {one.id if isinstance(one, ast.Name) else one.attr if isinstance(one, ast.Attribute) else ""
             for one in ast.walk(node)}
    return bool(names & {"super", "__class__"}) or any(one[:2] == "__" != one[-2:] for one in names)


def _takes(heir: Held, scopes: Scopes, names: Iterable[str]) -> bool:
    """Whether a class may have these names beside its own."""
    node = heir.node
    if node not in scopes.tree.body or node.keywords or node.decorator_list or _asks_class(node):
        return False
    own = _scope_of(scopes, node)
    read = {use.name for use in scopes.uses if use.scope is own and use.how == "load"}
    return (node.body[0].lineno > node.lineno and "__slots__" not in own.bound
            and not set(names) & (own.bound.keys() | read) and not set(_KINDS) & own.bound.keys())


def _has(base: ast.expr, names: Iterable[str], named: Mapping[str, list[Held]]) -> bool:
    """Whether another base has one of these names; also where it cannot be told."""
    found = named.get(base.id, []) if isinstance(base, ast.Name) else []
    if len(found) != 1:
        return True
    node = found[0].node
    bound = {one.id for one in ast.walk(node) if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)}
    bound |= {one.name for one in ast.walk(node) if isinstance(one, ast.FunctionDef | ast.ClassDef)}
    return bool(bound & set(names)) or any(_has(one, names, named) for one in node.bases)


def _asked(scopes: Scopes, first: int, last: int) -> set[str] | None:
    """Names of the module's top, and of Python's own, that these rows read; None if they set one, or a
    function of the module does."""
    out: set[str] = set()
    for use in scopes.uses:
        if first <= use.row <= last and use.how in ("load", "store", "def") and (
                scopes.home(use) is scopes.top):
            if use.how != "load":
                return None
            out.add(use.name)

    def set_later(scope: Scope) -> set[str]:
        return scope.outer.union(*map(set_later, scope.children))

    return None if out & set_later(scopes.top) else out


def _scope_of(scopes: Scopes, node: ast.ClassDef) -> Scope:
    return next(scope for one, scope in scopes.classes if one is node)


# --- the text --------------------------------------------------------------------------------------------
def _tops(package: str, module: str, tree: ast.Module) -> dict[str, Import]:
    """What the imports at the top of a module give."""
    out = {}
    for node in tree.body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            base = reached(package, module, node) if isinstance(node, ast.ImportFrom) else None
            for alias in node.names:
                way: tuple[str, str, str]
                bound = alias.asname or alias.name.partition(".")[0]
                if base is not None:
                    way = ("package", base, alias.name)
                elif isinstance(node, ast.ImportFrom):
                    way = ("outside", node.module or "", alias.name)
                else:
                    way = ("outside", alias.name, "")
                out[bound] = Import(bound, way)
    return out


def _imports(package: str, there: Scopes, here: Scopes, modules: tuple[str, str], asked: set[str]
             ) -> tuple[dict[str, str], list[str]]:
    """(name in the base's module -> name in the heir's, statements that make them so)."""
    base, heir = modules
    given, known = (_tops(package, module, scopes.tree) for module, scopes in ((base, there), (heir, here)))
    words = [set(_said("\n".join(scopes.lines))) for scopes in (there, here)]
    change: dict[str, str] = {}
    out = []
    for name in sorted(asked):
        one = given.get(name, Import(name, ("package", base, name)))
        if name in known and known[name].way == one.way:
            continue  # it has the same there
        stem = f"{name}_of_{base.rpartition('/')[2]}"
        free = (new for new in itertools.chain([stem], (f"{stem}_{i}" for i in itertools.count(2)))
                if not any(new in said for said in words))
        new = name if name not in words[1] else next(free)
        change[name] = new
        out.append(one.text(heir, new))
    return change, out


def _lazy(package: str, scopes: Scopes, base: str, heir: str, first: int, last: int) -> list[Edit] | None:
    """Imports within functions reach from the heir's folder what they reached from the base's."""
    out = []
    for node, _scope in scopes.aliases:
        if first <= node.lineno <= last and isinstance(node, ast.ImportFrom):
            path = reached(package, base, node)
            line = scopes.lines[node.lineno - 1]
            found = re.compile(r"from\s+(\S+)\s+import\b").match(line, node.col_offset)
            if found is None:
                return None
            if path is not None:
                text = "." * (heir.count("/") + 1) + path.replace("/", ".")
                out.append((node.lineno, found.start(1), found.end(1), text))
    return out


def _edited(lines: list[str], edits: Iterable[Edit]) -> list[str]:
    out = list(lines)
    for row, col, end, text in sorted(edits, reverse=True):
        out[row - 1] = out[row - 1][:col] + text + out[row - 1][end:]
    return out


def _first(node: ast.stmt) -> int:
    return min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", ()))])


def _written(texts: Mapping[str, str], here: Scopes, heir: Held, base: Held,
             brought: tuple[ast.ImportFrom | None, list[str]], text: list[str]) -> dict[str, str] | None:
    """Both modules: the heir's with these rows and imports, the base's without the class."""
    out = {one.module: texts[one.module].splitlines() for one in (base, heir)}
    lines = out[heir.module]
    node, (statement, imports) = heir.node, brought
    end = node.end_lineno or 0
    lines[end:end] = ["", *text]
    start, stop = node.lineno - 1, _first(node.body[0]) - 1
    others = [ast.unparse(one) for one in node.bases if ast.unparse(one) != base.node.name]
    head = re.fullmatch(r"class\s+\w+\s*\([\w\s,.]*\)\s*:(\s*#.*)*\s*", "\n".join(lines[start:stop]))
    if head is None:
        return None
    shown = f"({', '.join(others)})" if others else ""
    lines[start:stop] = [f"class {node.name}{shown}:", *[""] * (stop - start - 1)]
    if statement is not None:
        first, last = statement.lineno - 1, statement.end_lineno or 0
        alone = ast.unparse(ast.parse("\n".join(lines[first:last]))) == ast.unparse(statement)
        if not alone or statement.col_offset:
            return None
        kept = [one for one in statement.names if one.name != base.node.name]
        rows = [ast.unparse(ast.ImportFrom(statement.module, kept, statement.level))] if kept else [
            _whole(heir.module, base.module, here)]
        lines[first:last] = [*rows, *imports]
    first, last = base.node.lineno - 1, base.node.end_lineno or 0
    out[base.module][first:last] = [""] * (last - first)
    return {module: "\n".join(rows) + "\n" for module, rows in out.items()}


def _whole(heir: str, base: str, here: Scopes) -> str:
    """A statement that runs the base's module still, as the import of the class did."""
    folder, _slash, name = base.rpartition("/")
    said = _said("\n".join(here.lines))
    new = next(one for one in (f"{name}_{i}" for i in itertools.count(1)) if one not in said)
    return Import(new, ("package", folder, name)).text(heir, new)
