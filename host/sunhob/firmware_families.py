"""Which objects may have an attribute: two that no one object has can bear the same short name.

A family is the classes of the firmware that inherit from one another. An attribute that its own classes alone
make (a method, a name in the body of a class, `self.name = `) is had by objects of their families and by no
other, so wherever it is read the object is one of them; firmware that waits for a missing attribute is
refused. An attribute that is set on another object than `self` may be anyone's.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator, Mapping

from .firmware_bundle import Module, Program, Symbol
from .firmware_scopes import Scope

_SELF = {"property", "setter"}  # decorators that leave the first argument what it is
Makers = Mapping[str, set[Scope | None]]


def makers(program: Program) -> Makers:
    """Attribute -> the classes that make it, None among them where it is set on another object than self."""
    made: dict[str, set[Scope | None]] = defaultdict(set)
    for module in program.modules.values():
        for node in ast.walk(module.scopes.tree):
            if isinstance(node, ast.Name) and node.id == "AttributeError":
                raise module.scopes.refuse(node, "an attribute that is missing may be there under its short "
                                           "name; ask by a text: hasattr, getattr")
        for name, holder in _made(module):
            made[name].add(holder)
    return made


def families(program: Program, made: Makers) -> dict[str, frozenset[Scope] | None]:
    """Attribute -> the families that have it, a class for each; None where that may be any."""
    head = _heads(program)
    out: dict[str, frozenset[Scope] | None] = {}
    for name, classes in made.items():
        found = {head.get(one) for one in classes}
        out[name] = None if None in found else frozenset(one for one in found if one is not None)
    return out


def _made(module: Module) -> Iterator[tuple[str, Scope | None]]:
    scopes = module.scopes
    at = {(use.row, use.col): use for use in scopes.uses}
    selves: dict[Scope, Scope] = {}  # method -> its class
    for made, scope in scopes.classes:
        for one in made.body:
            if isinstance(one, ast.FunctionDef) and one.args.args and all(
                    getattr(by, "id", getattr(by, "attr", "")) in _SELF for by in one.decorator_list):
                first = one.args.args[0]
                selves[at[first.lineno, first.col_offset].scope] = scope
    for use in scopes.uses:
        home = scopes.home(use)
        if use.how in ("store", "def"):
            if home.kind == "class":
                yield use.name, home
            elif home in selves and home.arguments[0] == use.name:
                del selves[home]  # another object takes the name of self
    for node in ast.walk(scopes.tree):
        if isinstance(node, ast.Attribute) and not isinstance(node.ctx, ast.Load):
            use_of = at.get((node.value.lineno, node.value.col_offset))
            method = scopes.home(use_of) if use_of is not None and isinstance(node.value, ast.Name) else None
            if use_of is None or method is None or method not in selves or method.arguments[0] != use_of.name:
                yield node.attr, None
            else:
                yield node.attr, selves[method]


def _heads(program: Program) -> dict[Scope | None, Scope | None]:
    """Class -> the one that stands for its family; None where what it inherits from is not known."""
    known = {Symbol(module.name, node.name): scope for module in program.modules.values()
             for node, scope in module.scopes.classes if scope.parent is module.scopes.top}
    head: dict[Scope | None, Scope | None] = {None: None, **{one: one for one in known.values()}}
    for module in program.modules.values():
        means = {(word.row, word.col): word.means for word in module.words}
        for made, scope in module.scopes.classes:
            others: list[Scope | None] = [None] if made.keywords or made.decorator_list else []
            for base in made.bases:
                found = means.get((base.lineno, base.col_offset))
                if not (isinstance(base, ast.Name) and isinstance(found, tuple) and found[0] == "builtin"):
                    others.append(known.get(found) if isinstance(found, Symbol) else None)
            for other in others:
                one, new = head.get(scope), head[other]  # a class within a function or a class is not known
                if one is not new:
                    keep, lose = (new, one) if one is not None else (one, new)
                    head = {key: keep if value is lose else value for key, value in head.items()}
    return head
