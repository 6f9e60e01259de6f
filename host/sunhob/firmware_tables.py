"""Numbers in place of tables that give a number for a text: `CODES["boot"]` becomes 0, and the table is gone.

A table is a dictionary written out at the top of a module, its keys texts and its values whole numbers. It is
worked out only if the firmware does nothing with it but ask it, by texts written there (`T["a"]`,
`T["a" if x else "b"]`), under its own name or under another given to it at the top of a module (`_C = T`).
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterable, Iterator

from .firmware_bundle import MAKES, Module, Program, Symbol, Word

Place = tuple[str, int, int]  # module, row, column


def work_out(program: Program, kept: Iterable[Symbol]) -> set[Place]:
    """Put numbers where tables are asked. Returns where texts stand that are texts no more."""
    made = Counter(word.means for module in program.modules.values() for word in module.words
                   if isinstance(word.means, Symbol) and word.how.partition(" ")[0] in MAKES)
    once = {one for one, count in made.items() if count == 1} - set(kept)
    tables = {one: table for module in program.modules.values() for one, table in _written(module)
              if one in once}
    named = _other_names(program, tables, once)
    uses, lost = _uses(program, named)
    gone: set[Place] = set()
    for name, module, word, node in uses:
        if named[name] not in lost:
            table = {_text(key): _number(value) or 0 for key, value in _pairs(tables[named[name]])}
            gone |= set(_put(module, word, node, table, name.name))
    for one, written in tables.items():
        if one not in lost:
            gone |= {(one.module, key.lineno, key.col_offset) for key, _value in _pairs(written)}
    for module in program.modules.values():
        module.words.sort(key=lambda word: (word.row, word.col))
    return gone


def _pairs(node: ast.Dict) -> Iterator[tuple[ast.expr, ast.expr]]:
    for key, value in zip(node.keys, node.values, strict=True):
        assert key is not None
        yield key, value


def _text(node: ast.expr) -> str:
    assert isinstance(node, ast.Constant)
    return str(node.value)


def _number(node: ast.expr) -> int | None:
    try:
        value = ast.literal_eval(node)
    except ValueError:
        return None
    return value if type(value) is int else None


def _is_text(node: ast.expr | None) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and node.lineno == node.end_lineno


def _written(module: Module) -> Iterator[tuple[Symbol, ast.Dict]]:
    for line in module.scopes.tree.body:
        if isinstance(line, ast.Assign) and len(line.targets) == 1 and isinstance(line.targets[0], ast.Name):
            value = line.value
            if isinstance(value, ast.Dict) and value.keys and all(map(_is_text, value.keys)) and all(
                    _number(one) is not None for one in value.values):
                yield Symbol(module.name, line.targets[0].id), value


def _other_names(program: Program, tables: dict[Symbol, ast.Dict], once: set[Symbol]) -> dict[Symbol, Symbol]:
    """Each name of a table -> the table."""
    out = {one: one for one in tables}
    before = 0
    while len(out) > before:
        before = len(out)
        for module in program.modules.values():
            for target, value in _given(module):
                at = next((word.means for word in module.words if isinstance(word.means, Symbol)
                           and (word.row, word.col) == (value.lineno, value.col_offset)), None)
                if target in once and isinstance(at, Symbol) and at in out:
                    out[target] = out[at]
    return out


def _given(module: Module) -> Iterator[tuple[Symbol, ast.expr]]:
    for line in module.scopes.tree.body:
        if isinstance(line, ast.Assign) and isinstance(line.value, ast.Name | ast.Attribute):
            target = line.targets[0]
            if len(line.targets) == 1 and isinstance(target, ast.Name):
                yield Symbol(module.name, target.id), line.value


def _uses(program: Program, named: dict[Symbol, Symbol]
          ) -> tuple[list[tuple[Symbol, Module, Word, ast.Subscript]], set[Symbol]]:
    """Where tables are asked by texts, and the tables that something else is done with."""
    found: list[tuple[Symbol, Module, Word, ast.Subscript]] = []
    lost: set[Symbol] = set()
    for module in program.modules.values():
        asked: dict[tuple[int, int, int], ast.Subscript] = {}
        for node in ast.walk(module.scopes.tree):
            if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Load) and _is_plain(module, node):
                value = node.value
                asked[value.lineno, value.col_offset, value.end_col_offset or 0] = node
        given = {(value.lineno, value.col_offset) for target, value in _given(module) if target in named}
        for word in module.words:
            if isinstance(word.means, Symbol) and word.means in named and word.how in ("load", "lazy"):
                how = asked.get((word.row, word.col, word.end))
                if how is not None:
                    found.append((word.means, module, word, how))
                elif (word.row, word.col) not in given:
                    lost.add(named[word.means])
    return found, lost


def _is_plain(module: Module, node: ast.Subscript) -> bool:
    """Whether the brackets hold texts alone, one of which is taken, and stand where they are looked for."""
    first = module.scopes.lines[node.value.end_lineno - 1][node.value.end_col_offset:]  # type: ignore[operator]
    return first.startswith("[") and all(map(_is_text, _taken(node.slice)))


def _taken(node: ast.expr) -> list[ast.expr]:
    return [*_taken(node.body), *_taken(node.orelse)] if isinstance(node, ast.IfExp) else [node]


def _put(module: Module, word: Word, node: ast.Subscript, table: dict[str, int],
         name: str) -> Iterator[Place]:
    """Brackets become round, texts numbers; yields the places of the texts."""
    module.words.remove(word)
    end, row = node.end_col_offset or 0, node.end_lineno or 0
    texts = [(word.row, word.col, word.end + 1, "("), (row, end - 1, end, ")")]
    for one in _taken(node.slice):
        if _text(one) not in table:
            raise module.scopes.refuse(one, f"{name} has no {_text(one)}")
        texts.append((one.lineno, one.col_offset, one.end_col_offset or 0, str(table[_text(one)])))
        yield module.name, one.lineno, one.col_offset
    module.words += [Word(row, col, end, ("text", text), "load", word.scope) for row, col, end, text in texts]
