"""The table of interlocks as a page: what trips each, for how long, what it does, how it clears. Units: s."""

from __future__ import annotations

from typing import Any

from sunhob_board.declared import interlocks, settings

HEAD = """# Interlocks

This page is made from the table in the firmware (`declared/interlocks.py`) by `make notes`. Do not edit it.
The interlocks are no certified safety: keep to the codes and rules of your place, and have what they ask for
done by those who may.

**Caution:** a dish in the sun burns skin and eyes and sets fire to what stands about it. Stand behind it,
wear dark glasses, cover it before you put a hand to it.

The code is the number in the log. Actions, the weakest first: TELL only says it, BAR keeps the dish from
coming to the sun, LOWER holds the heat at the least, ASIDE turns aside for hands at the pot, LEAVE goes to
park after the warning, LOCK leaves if it can and then stands without motor power until a person has looked,
HOLD cuts motor power where it stands. "By a person" means: once its cause is gone, hold CONFIRM at the dish
for three seconds. Where it says "or from afar", `sunhob dish clear NAME` does it too, while a cook attends.
A parked dish may move by itself from where light is loose to where it is not, after its warning, except where
it says "stays till then": **whoever works on the dish presses a stop button first.**

| code | name | what happened | for | does | in words | clears | what to do |
|---|---|---|---|---|---|---|---|
"""
_ROWS = {settings.board_name(row[0], row[1]): row for row in settings.SETTINGS}


def interlocks_page() -> str:
    """The whole page, rows in the order of their codes."""
    rows: tuple[Any, ...] = interlocks.ROWS
    return HEAD + "".join(_line(code, *row) for code, row in enumerate(rows))


def _line(code: int, name: str, dwell: Any, clear: Any, action: int, latched: int, *words: str) -> str:
    what, did, mend = words
    afar = " or from afar" if name in interlocks.FROM_AFAR else ""
    stays = ", stays till then" if latched == interlocks.STAYS else ""
    over = f"by a person{afar}{stays}" if latched else f"by itself, {_seconds(clear)}"
    told = interlocks.ACTIONS[action]
    return f"| {code} | `{name}` | {what} | {_seconds(dwell)} | {told} | {did} | {over} | {mend} |\n"


def _seconds(dwell: Any) -> str:
    if isinstance(dwell, str):
        row = _ROWS[dwell]
        return f"{row[2]:g} {row[5]} (`{row[0]}`)"
    return f"{dwell:g} s" if dwell else "at once"
