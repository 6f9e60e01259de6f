"""Runs the board's modules as its single floats would: every float result rounded to 32 bits. No units.

The source of a module is rewritten so that every constant, operation and call result that is a float is
rounded to the nearest single float, and whole numbers meeting a float are rounded first, as on the board.
Whole results outside the board's small ints (-2**30 .. 2**30-1) are counted in `Board.big`.
"""

from __future__ import annotations

import ast
import ctypes
import math
import operator
import types
from pathlib import Path
from typing import Any

import sunhob_board

PACKAGE = "sunhob_board"
ROOT = Path(next(iter(sunhob_board.__path__)))
SMALL = 1 << 30
OPERATORS = {
    "Add": operator.add, "Sub": operator.sub, "Mult": operator.mul, "Div": operator.truediv,
    "FloorDiv": operator.floordiv, "Mod": operator.mod, "Pow": operator.pow, "LShift": operator.lshift,
    "RShift": operator.rshift, "BitOr": operator.or_, "BitAnd": operator.and_, "BitXor": operator.xor,
}  # fmt: skip


def single(value: Any) -> Any:
    """The nearest single float of a float; anything else as it is."""
    return ctypes.c_float(value).value if type(value) is float else value


class _Rewrite(ast.NodeTransformer):
    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        return ast.copy_location(ast.Constant(single(node.value)), node)

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        return self._call("_op", [ast.Constant(type(node.op).__name__), node.left, node.right], node)

    def visit_AugAssign(self, node: ast.AugAssign) -> ast.AST:
        read = ast.parse(ast.unparse(node.target), mode="eval").body
        whole = ast.Assign([node.target], ast.BinOp(read, node.op, node.value))
        return self.visit(ast.fix_missing_locations(ast.copy_location(whole, node)))

    def visit_Call(self, node: ast.Call) -> ast.AST:
        self.generic_visit(node)
        return self._call("_single", [node], node)

    @staticmethod
    def _call(name: str, args: list[ast.expr], at: ast.AST) -> ast.AST:
        return ast.fix_missing_locations(
            ast.copy_location(ast.Call(ast.Name(name, ast.Load()), args, []), at)
        )


class Board:
    """The board's modules in single floats, each loaded once by module(name)."""

    def __init__(self) -> None:
        self.big: list[tuple[str, int, int]] = []
        self._modules: dict[str, types.ModuleType] = {}
        self._math = types.ModuleType("math")
        for name, value in vars(math).items():
            setattr(self._math, name, self._rounded(value) if callable(value) else single(value))

    @staticmethod
    def _rounded(function: Any) -> Any:
        def call(*args: Any) -> Any:
            return single(function(*(single(float(a)) for a in args)))

        return call

    def _op(self, name: str, left: Any, right: Any) -> Any:
        function = OPERATORS[name]
        numbers = isinstance(left, (int, float)) and isinstance(right, (int, float))
        if not numbers:
            return function(left, right)
        if name == "Div" or float in (type(left), type(right)):
            return single(function(single(float(left)), single(float(right))))
        result = function(left, right)
        if not -SMALL <= result < SMALL:
            self.big.append((name, left, right))
        return result

    def _import(
        self, name: str, globals_: Any = None, locals_: Any = None, names: Any = (), level: int = 0
    ) -> Any:
        if name == "math":
            return self._math
        if name.startswith(PACKAGE + ".") and names:
            return self.module(name)
        return __import__(name, globals_, locals_, names, level)

    def module(self, name: str) -> types.ModuleType:
        """A module such as `sunhob_board.sun.position`, rewritten."""
        if name not in self._modules:
            path = ROOT.joinpath(*name.split(".")[1:]).with_suffix(".py")
            tree = ast.fix_missing_locations(_Rewrite().visit(ast.parse(path.read_text(encoding="utf-8"))))
            module = types.ModuleType(name)
            builtins = {**vars(__import__("builtins")), "__import__": self._import}
            vars(module).update(__builtins__=builtins, _single=single, _op=self._op)
            exec(compile(tree, str(path), "exec"), vars(module))
            self._modules[name] = module
        return self._modules[name]
