"""Makes a hazardous episode as small as it goes: leave parts of its scenario out while the hazard stays."""

from __future__ import annotations

from collections.abc import Callable

from sunhob.errors import UserError

from .draw import blocks_of
from .episode import run_text


def _still(text: str, kind: str, engine: str) -> bool:
    try:
        return kind in run_text(text, engine).hazards.split("+")
    except UserError:
        return False


def shrink(
    text: str, kind: str, engine: str = "cpython", told: Callable[[int, int], None] | None = None
) -> str:
    """The smallest text found in which a hazard of `kind` stands; `told` hears (tries, sections left)."""
    head, blocks = blocks_of(text)
    tries = 0
    while True:
        for i in reversed(range(len(blocks))):
            fewer = blocks[:i] + blocks[i + 1 :]
            trial = "\n".join([head, *fewer]) + "\n"
            tries += 1
            if told is not None:
                told(tries, len(fewer))
            if _still(trial, kind, engine):
                blocks = fewer
                break
        else:
            return "\n".join([head, *blocks]) + "\n"
