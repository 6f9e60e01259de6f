"""Single modules of the board in single floats (sunhob_sim.single_float), for tests of one module. No units.

Whole results outside the board's small ints (-2**30 .. 2**30-1) are kept in `Board.big`.
"""

from __future__ import annotations

import types
from pathlib import Path
from typing import Any

import sunhob_board
from sunhob_sim.single_float import names, rewritten, single, single_modules

__all__ = ("Board", "single")
PACKAGE = "sunhob_board"
ROOT = Path(next(iter(sunhob_board.__path__)))
SMALL = 1 << 30


class Board:
    """The board's modules in single floats, each loaded once by module(name)."""

    def __init__(self) -> None:
        self.big: list[tuple[str, int, int]] = []
        self._modules: dict[str, types.ModuleType] = single_modules()
        self._names = names(self._whole)

    def _whole(self, name: str, left: Any, right: Any, result: Any) -> None:
        if isinstance(result, int) and not -SMALL <= result < SMALL:
            self.big.append((name, left, right))

    def _import(
        self, name: str, globals_: Any = None, locals_: Any = None, names: Any = (), level: int = 0
    ) -> Any:
        if name in self._modules:
            return self._modules[name]
        if name.startswith(PACKAGE + ".") and names:
            return self.module(name)
        return __import__(name, globals_, locals_, names, level)

    def module(self, name: str) -> types.ModuleType:
        """A module such as `sunhob_board.sun.position`, rewritten."""
        if name not in self._modules:
            path = ROOT.joinpath(*name.split(".")[1:]).with_suffix(".py")
            code = rewritten(path.read_text(encoding="utf-8"), str(path), whole=True)
            module = types.ModuleType(name)
            builtins = {**vars(__import__("builtins")), "__import__": self._import}
            vars(module).update(self._names, __builtins__=builtins)
            exec(code, vars(module))
            self._modules[name] = module
        return self._modules[name]
