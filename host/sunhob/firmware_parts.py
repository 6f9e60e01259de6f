"""The parts that a bundled program falls into, what of each is used at all, and the text of each.

A part is named after the module that others import it by: 'core/app' becomes sunhob_board/core/app.mpy.
"""

from __future__ import annotations

import ast
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from .firmware_bundle import Item, Module, Outside, Program, Symbol, Word, way_to
from .firmware_inline import put_in_place
from .firmware_mixins import one_class
from .firmware_names import Names, outside_names, texts_asked_for, values
from .firmware_scopes import Scope, Unsafe
from .firmware_tables import work_out


@dataclass(frozen=True)
class Bundle:
    """texts: part -> source; modules: part -> the modules in it; told: short name -> what it stands for."""

    texts: dict[str, str]
    modules: dict[str, tuple[str, ...]]
    told: dict[str, list[str]]


def parts_of(program: Program, main: str) -> dict[str, str]:
    """Module -> the part it lies in."""
    entries: set[str] = set()
    reach: dict[str, set[str]] = {}
    wait = [main, *sorted(program.dynamic)]
    while wait:
        entry = wait.pop()
        if entry not in entries:
            entries.add(entry)
            reach[entry] = set(program.order([entry]))
            wait += [one for name in reach[entry] for one in program.modules[name].lazy]
    entries -= {one for one in entries for other in entries if one != other and one in reach[other]}
    always = [main, *sorted((one for one in program.modules[main].lazy if one in entries),
                            key=lambda one: -len(reach[one])),
              *(program.dynamic if len(program.dynamic) == 1 else ())]  # one of several is not always there
    out: dict[str, str] = {}
    for name in program.modules:
        owners = [one for one in entries if name in reach[one]]
        first = next((one for one in always if one in owners), None)
        if owners:
            out[name] = first or (owners[0] if len(owners) == 1 else name)
    return out


def live_items(program: Program, exported: set[Symbol], keep: Callable[[str], bool],
               parts: Mapping[str, str]) -> list[tuple[Item, list[Word]]]:
    """Statements and methods that something can reach, each with its own words."""
    words = _words_by_item(program)
    makers: dict[Symbol, list[Item]] = defaultdict(list)
    methods: dict[str, list[Item]] = defaultdict(list)
    for item in words:
        for name in item.makes:
            makers[Symbol(item.module, name)].append(item)
        if item.method:
            methods[item.method].append(item)
    live: set[Item] = set()
    named: set[str] = {name for name in methods if keep(name)}
    wait = [item for item in words if item.root and item.module in parts]
    wait += [item for symbol in exported for item in makers[symbol]]
    while wait:
        item = wait.pop()
        if item in live or (item.holder is not None and item.holder not in live):
            continue
        live.add(item)
        wait += [one for name in named for one in methods[name] if one.holder is item]
        for word in words[item]:
            if isinstance(word.means, Symbol):
                wait += makers[word.means]
            elif isinstance(word.means, tuple) and word.means[0] == "attr" and word.how in ("attr", "load"):
                named.add(word.means[1])
                wait += methods[word.means[1]]
    return [(item, found) for item, found in words.items() if item in live]


def _words_by_item(program: Program) -> dict[Item, list[Word]]:
    out: dict[Item, list[Word]] = {}
    for module in program.modules.values():
        at: dict[int, Item] = {}
        for item in module.items:  # a method comes after the class that holds it
            out[item] = []
            at.update(dict.fromkeys(range(item.first, item.last + 1), item))
        for word in module.words:
            if word.row in at:
                out[at[word.row]].append(word)
    return out


def bundle(package: str, texts: Mapping[str, str], main: str, exports: Mapping[str, Iterable[str]],
           kept: Iterable[str] = ()) -> Bundle:
    """Make few sources of many. texts: 'core/app' -> source. exports: module -> names by which others than
    the firmware ask it; those besides `main` are imported by names made at run time. kept: names of
    attributes that stay as they are. Unsafe tells what cannot be bundled, by file and line."""
    exported = {Symbol(module, name) for module, names in exports.items() for name in names}
    program = Program(package, texts, set(exports) - {main})
    for one in exported:
        if one.module not in program.modules or program.symbol(one.module, one.name) != one:
            raise Unsafe(f"{one.module}.py: {one.name} is to be found there, and is not made there")
    keep = _keep(program, exported, kept)  # by the sources as they are: what is refused names their lines
    texts = put_in_place(one_class(package, texts, keep), keep)
    program = Program(package, texts, set(exports) - {main})
    keep = _keep(program, exported, kept)
    parts = parts_of(program, main)
    live = live_items(program, exported, keep, parts)
    value = values(program, live, exported)
    words = [(program.modules[item.module], word) for item, found in live for word in found]
    names = Names(program, words, exported, keep, value)
    writer = _Writer(program, parts, live, names)
    made = {part: writer.part(part) for part in sorted(set(parts.values()))}
    inside = {part: tuple(n for n in program.modules if parts.get(n) == part) for part in made}
    return Bundle(made, inside, names.told())


def _keep(program: Program, exported: set[Symbol], kept: Iterable[str]) -> Callable[[str], bool]:
    """Whether a name of an attribute stays as it is."""
    whole, shapes = texts_asked_for(program, work_out(program, exported))
    known = outside_names() | whole | set(kept) | _decorated(program)
    return lambda name: name in known or name.startswith("__") or bool(shapes.fullmatch(name))


def _decorated(program: Program) -> set[str]:
    """Attributes in functions that a decorator from outside reads in its own way."""
    out: set[str] = set()
    for module in program.modules.values():
        for node in ast.walk(module.scopes.tree):
            if isinstance(node, ast.FunctionDef) and any(
                    not (isinstance(one, ast.Name) and one.id in ("property", "staticmethod", "classmethod"))
                    for one in node.decorator_list):
                out |= {one.attr for one in ast.walk(node) if isinstance(one, ast.Attribute)}
    return out


class _Writer:
    """Writes parts; a part may take names from another at its head, never round in a circle."""

    def __init__(self, program: Program, parts: Mapping[str, str], live: list[tuple[Item, list[Word]]],
                 names: Names) -> None:
        self.program, self.parts, self.names = program, parts, names
        self.live: dict[str, list[tuple[Item, list[Word]]]] = defaultdict(list)
        for item, words in live:
            self.live[item.module].append((item, words))
        self.needs = {part: self._needed(part) for part in set(parts.values())}
        for part in self.needs:
            self._no_circle(part, ())

    def part(self, part: str) -> str:
        """The text of one part."""
        among = {name for name, owner in self.parts.items() if owner == part}
        order = self.program.order([part, *sorted(among)], among)
        body = [text for name in order for text in self._module(name)]
        head = [*self._outside(among)]
        for other, symbols in sorted(self.needs[part].items()):
            head.append(f"from {way_to(part, other)} import {', '.join(sorted(symbols))}")
        return "\n".join([*head, *body]) + "\n"

    # --- inside ---------------------------------------------------------------------------------
    def _words(self, names: Iterable[str]) -> list[Word]:
        return [word for name in names for _item, words in self.live[name] for word in words]

    def _needed(self, part: str) -> dict[str, set[str]]:
        out: dict[str, set[str]] = defaultdict(set)
        for word in self._words(name for name, owner in self.parts.items() if owner == part):
            if isinstance(word.means, Symbol) and word.how != "lazy" and word.means not in self.names.value:
                owner = self.parts[word.means.module]
                if owner != part:
                    out[owner].add(self.names.text(word))
        return out

    def _no_circle(self, part: str, way: tuple[str, ...]) -> None:
        if part in way:
            raise Unsafe("parts need each other: " + " -> ".join((*way, part)) + "; import what is shared "
                         "at the top of the module that is always loaded")
        for one in self.needs[part]:
            self._no_circle(one, (*way, part))

    def _outside(self, among: set[str]) -> Iterable[str]:
        words = self._words(among)
        found = {word.means for word in words if isinstance(word.means, Outside)}
        plain = {word.means[1] for word in words
                 if isinstance(word.means, tuple) and word.means[0] == "builtin"}
        by_name = Counter(one.name for one in found)
        for one in sorted(found, key=lambda o: (o.what != "", o.module, o.name)):
            if by_name[one.name] > 1 or one.name in plain:
                raise Unsafe(f"import of {one.module}: the name {one.name} means two things in one part; "
                             "import it under another")
            shown = one.what or one.module
            named = shown if shown == one.name else f"{shown} as {one.name}"
            yield f"from {one.module} import {named}" if one.what else f"import {named}"

    def _module(self, name: str) -> Iterable[str]:
        module = self.program.modules[name]
        lines: list[str] = list(module.scopes.lines)
        words = [word for _item, found in self.live[name] for word in found]
        for word in sorted(words, key=lambda one: (-one.row, -one.col)):
            line = lines[word.row - 1]
            lines[word.row - 1] = line[:word.col] + self.names.text(word) + line[word.end:]
        for node, scope in module.replaced:
            first, last = node.lineno, node.end_lineno or node.lineno
            lines[first - 1] = " " * node.col_offset + self._import_of(module, node, scope)
            lines[first:last] = [""] * (last - first)
        gone = self._gone(module)
        for item, _words in self.live[name]:
            if item.holder is None and not self._is_value(item):
                rows = [lines[row - 1] for row in range(item.first, item.last + 1) if row not in gone]
                yield "\n".join(row for row in rows if row.strip() and not row.lstrip().startswith("#"))

    def _is_value(self, item: Item) -> bool:
        """Whether an assignment is needed no more: values stand where its names stood."""
        return bool(item.makes) and not item.root and all(
            Symbol(item.module, name) in self.names.value for name in item.makes)

    def _gone(self, module: Module) -> set[int]:
        """Rows of methods that nothing calls."""
        live = {id(item) for item, _words in self.live[module.name]}
        return {row for item in module.items if item.holder is not None and id(item) not in live
                for row in range(item.first, item.last + 1)}

    def _import_of(self, module: Module, node: ast.stmt, scope: Scope) -> str:
        """The statement that stands for an import within a function."""
        assert isinstance(node, ast.ImportFrom)
        here = self.parts.get(module.name, module.name)
        bound = {alias.asname or alias.name for alias in node.names}
        wanted: dict[str, set[str]] = defaultdict(set)
        for word in module.words:
            if word.how == "lazy" and isinstance(word.means, Symbol) and word.means not in self.names.value:
                text = module.scopes.lines[word.row - 1][word.col:word.end].partition(".")[0]
                owner = self.parts[word.means.module]
                short = self.names.symbols.get(word.means)
                wants = owner != here and short not in self.needs[here].get(owner, ())
                if short and wants and text in bound and _within(word.scope, scope):
                    wanted[owner].add(short)
        made = [f"from {way_to(here, owner)} import {', '.join(sorted(found))}"
                for owner, found in sorted(wanted.items())]
        return "; ".join(made) or "pass"


def _within(scope: Scope | None, outer: Scope) -> bool:
    while scope is not None and scope is not outer:
        scope = scope.parent
    return scope is not None
