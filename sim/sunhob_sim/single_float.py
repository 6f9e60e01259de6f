"""The board's single floats on CPython: source rewritten so that every float result is rounded to 32 bits.

No units. Every constant and operation that gives a float, and the calls that can make one, are rounded to the
nearest single float; whole numbers meeting a float are rounded first, as on the board. Operands and result of
+ - * / rounded so are what single arithmetic gives, for 53 bits hold twice 24 and two more (Figueroa, ACM
SIGNUM Newsletter, 1995; proven by Roux, J. Formalized Reasoning 7 (2014)). Left as they are: comparisons of
whole numbers beyond 2**24 with floats.
"""

from __future__ import annotations

import array
import ast
import json
import math
import operator
import types
from collections.abc import Callable
from typing import Any

_cell = array.array("f", [0.0])
_ROUNDED = "_single"
_MAKE_FLOATS = ("float", "round", "sum", "pow", "divmod")
_FLOAT: dict[str, Callable[[Any, Any], Any]] = {
    "Add": operator.add, "Sub": operator.sub, "Mult": operator.mul, "Div": operator.truediv,
    "FloorDiv": operator.floordiv, "Mod": operator.mod, "Pow": operator.pow,
}  # fmt: skip
_WHOLE: dict[str, Callable[[Any, Any], Any]] = {
    "LShift": operator.lshift, "RShift": operator.rshift, "BitOr": operator.or_, "BitAnd": operator.and_,
    "BitXor": operator.xor,
}  # fmt: skip


def single(value: Any) -> Any:
    """The nearest single float of a float, each of a tuple's; anything else as it is."""
    kind = value.__class__
    if kind is float:
        _cell[0] = value
        return _cell[0]
    if kind is tuple:
        return tuple(single(one) for one in value)
    return value


class Rewrite(ast.NodeTransformer):
    """Puts the roundings into a module's tree; its globals need names() then. whole: operations that give
    whole numbers alone are called by name too, for who counts their results."""

    def __init__(self, whole: bool = False) -> None:
        self.called = {**_FLOAT, **_WHOLE} if whole else _FLOAT

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        return ast.copy_location(ast.Constant(single(node.value)), node)

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        name = type(node.op).__name__
        if name not in self.called:
            return node
        return self._call("_" + name, [node.left, node.right], node)

    def visit_AugAssign(self, node: ast.AugAssign) -> ast.AST:
        if type(node.op).__name__ not in self.called:
            return self.generic_visit(node)
        read = ast.parse(ast.unparse(node.target), mode="eval").body
        whole = ast.Assign([node.target], ast.BinOp(read, node.op, node.value))
        return self.visit(ast.fix_missing_locations(ast.copy_location(whole, node)))

    def visit_Call(self, node: ast.Call) -> ast.AST:
        self.generic_visit(node)
        if isinstance(node.func, ast.Name) and node.func.id in _MAKE_FLOATS:
            return self._call(_ROUNDED, [node], node)
        return node

    @staticmethod
    def _call(name: str, args: list[ast.expr], at: ast.AST) -> ast.AST:
        return ast.fix_missing_locations(
            ast.copy_location(ast.Call(ast.Name(name, ast.Load()), args, []), at)
        )


def rewritten(text: bytes | str, path: str, whole: bool = False) -> types.CodeType:
    """The code of a module's source with the roundings in it; whole: as for Rewrite."""
    tree = ast.fix_missing_locations(Rewrite(whole).visit(ast.parse(text)))
    return compile(tree, path, "exec", dont_inherit=True)


Whole = Callable[[str, Any, Any, Any], None]


def _operation(name: str, whole: Whole | None) -> Callable[[Any, Any], Any]:
    act, cell = {**_FLOAT, **_WHOLE}[name], array.array("f", [0.0, 0.0])

    def plain(left: Any, right: Any) -> Any:
        got = act(left, right)
        if got.__class__ is not float:
            if whole is not None:
                whole(name, left, right, got)
            return got
        cell[0], cell[1] = left, right
        cell[0] = act(cell[0], cell[1])
        return cell[0]

    return plain


def names(whole: Whole | None = None) -> dict[str, Any]:
    """What rewritten code calls. whole(operation, left, right, result) hears results that are no float."""
    made: dict[str, Any] = {"_" + name: _operation(name, whole) for name in (*_FLOAT, *_WHOLE)}
    made[_ROUNDED] = single
    return made


def _rounded(function: Any) -> Any:
    def call(*args: Any) -> Any:
        return single(function(*(single(float(a)) for a in args)))

    return call


def single_modules() -> dict[str, types.ModuleType]:
    """`math` and `json` whose floats are single ones."""
    maths, notation = types.ModuleType("math"), types.ModuleType("json")
    for name, value in vars(math).items():
        setattr(maths, name, _rounded(value) if callable(value) else single(value))
    vars(notation).update(vars(json), loads=lambda text: json.loads(text, parse_float=_read))
    return {"math": maths, "json": notation}


def _read(text: str) -> float:
    return float(single(float(text)))
