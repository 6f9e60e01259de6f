"""Parts that one cooker needs, put into the part that asks for them. Units: none.

Each file of a board has a table of names of its own, and repeats what stands in the others'.

What two parts call by one short name is one thing (firmware_names.py gives each name of a module's top out
once), so the text of a part can stand at the end of another. Its imports are taken up at the head, and the
import within a function that would have loaded it goes.
"""

from __future__ import annotations

import ast
from collections.abc import Collection, Iterator, Mapping

from .firmware_bundle import reached, way_to
from .firmware_scopes import Unsafe


def merged(texts: Mapping[str, str], inside: Collection[str]) -> dict[str, str]:
    """Part -> source, those of `inside` ('safety/sun_sight') within the one part that asks for them. One that
    several ask for, or none but another of them, stays by itself. Unsafe where a name at the head would mean
    two things."""
    asked = {part: set(_asked(part, text)) for part, text in texts.items()}
    asked_by = {part: [one for one in texts if part in asked[one]] for part in inside if part in texts}
    homes = {part: found[0] for part, found in asked_by.items() if len(found) == 1 and found[0] not in inside}
    out = {}
    for part, text in texts.items():
        if part not in homes:
            guests = [one for one in texts if homes.get(one) == part]
            out[part] = _with(part, text, {one: texts[one] for one in guests}) if guests else text
    return out


def _asked(part: str, text: str) -> Iterator[str]:
    """The parts that functions of this one import."""
    for node in _within_functions(ast.parse(text)):
        yield _target(part, node)


def _within_functions(tree: ast.Module) -> list[ast.ImportFrom]:
    return [node for top in tree.body for node in ast.walk(top)
            if isinstance(node, ast.ImportFrom) and node is not top and node.level]


def _target(part: str, node: ast.ImportFrom) -> str:
    """The part that an import names: '..core.app' in 'mount/axis' is 'core/app'."""
    return reached("", part, node) or ""


def _with(home: str, text: str, guests: Mapping[str, str]) -> str:
    heads: dict[str, str] = {}  # name at the head -> the line that brings it
    bodies = [_without_imports(home, text, heads, home, guests)]
    bodies += [_without_imports(one, guest, heads, home, guests) for one, guest in guests.items()]
    return "\n".join([*sorted(set(heads.values())), *bodies])


def _without_imports(part: str, text: str, heads: dict[str, str], home: str, guests: Collection[str]) -> str:
    """The text with its imports taken up into heads, and what would load a guest gone."""
    lines = text.splitlines()
    tree = ast.parse(text)
    for node in tree.body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            for line, name in _lines_of(part, node, home):
                if heads.setdefault(name, line) != line:
                    raise Unsafe(f"{part}: {name} means two things where {home} takes it up; "
                                 "import it under another name")
            lines[node.lineno - 1] = ""
    for node in reversed(_within_functions(tree)):
        row, target = node.lineno - 1, _target(part, node)
        names = ", ".join(ast.unparse(one) for one in node.names)
        instead = "pass" if target in guests else f"from {way_to(home, target)} import {names}"
        lines[row] = lines[row][:node.col_offset] + instead + lines[row][node.end_col_offset or 0:]
    return "\n".join(lines) + "\n"


def _lines_of(part: str, node: ast.Import | ast.ImportFrom, home: str) -> Iterator[tuple[str, str]]:
    """(a line for each name that an import at the head brings into the home, that name); none where it is
    made there."""
    for alias in node.names:
        name = alias.asname or alias.name
        shown = alias.name if alias.asname in (None, alias.name) else f"{alias.name} as {alias.asname}"
        if isinstance(node, ast.Import):
            yield f"import {shown}", name
        elif not node.level:
            yield f"from {node.module} import {shown}", name
        elif _target(part, node) != home:
            yield f"from {way_to(home, _target(part, node))} import {shown}", name
