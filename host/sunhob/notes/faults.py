"""The fault-finding table, made from the interlock rows. Units: s."""

from __future__ import annotations

from typing import Any

from sunhob_board.declared import interlocks, settings

HEAD = """# Fault finding

This page is made from the table of interlocks by `make notes`. Do not edit it. The dish tells the name in
`sunhob dish status` and in its log (`sunhob dish log`).

**First of all:** stand behind the dish. Press LEAVE and wait. If it does not move, cover it or turn it off
the sun by its hand releases. Look for the cause only then.

"Latched" means: it stays until somebody has looked and cleared it, CONFIRM held for three seconds at the
dish.

| name | what happened | what the dish did | what to do | after | latched |
|---|---|---|---|---|---|
"""
_ROWS = {settings.board_name(row[0], row[1]): row for row in settings.SETTINGS}


def faults_page() -> str:
    """The whole page, rows by how strong the dish's answer is, the strongest first."""
    rows = sorted(interlocks.ROWS, key=lambda row: -row[3])
    return HEAD + "".join(
        f"| `{name}` | {what} | {did} | {mend} | {_dwell(dwell)} | {'yes' if latched else 'no'} |\n"
        for name, dwell, _clear, _action, latched, what, did, mend in rows
    )


def _dwell(dwell: Any) -> str:
    if isinstance(dwell, str):
        row = _ROWS[dwell]
        return f"{row[2]:g} {row[5]} (`{row[0]}`)"
    return f"{dwell:g} s" if dwell else "at once"
