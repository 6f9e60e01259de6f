"""Find the line of a TOML file on which a key stands (line numbers from 1, no other unit)."""

from __future__ import annotations

import re

_HEADER = re.compile(r"^\s*\[+\s*([^\]]+?)\s*\]+")
_WORD = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_KEY = re.compile(rf"^\s*({_WORD}(?:\s*\.\s*{_WORD})*)\s*=")


def _plain(name: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in name.split("."))


class Lines:
    """Where each key of a TOML text stands. Text inside multi-line strings is not told apart."""

    def __init__(self, text: str) -> None:
        self._at: dict[str, int] = {}
        section = ""
        for number, line in enumerate(text.split("\n"), start=1):
            if header := _HEADER.match(line):
                section = _plain(header.group(1))
                self._at.setdefault(section, number)
            elif key := _KEY.match(line):
                name = _plain(key.group(1))
                self._at.setdefault(f"{section}.{name}" if section else name, number)

    def find(self, key: str) -> int | None:
        """Line of the key, else of the section that holds it (or should), else None."""
        while key:
            if key in self._at:
                return self._at[key]
            key = key.rpartition(".")[0]
        return None
