"""Sentences by number: a board holds and tells `#4cQ|%s|%g`, the host that shows it has the sentence.

A mark is '#', three letters from the check sum of the sentence, and '|' before each value that is put in; a
value may be a mark itself. What is not understood is shown as it came.
"""

from __future__ import annotations

import binascii
import contextlib
import functools
import hashlib
import json
import os
import re
import string
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sunhob_board

from .cache import cache_dir

VALUE = re.compile(r"%(?:%|[-+ 0#]*\d*(?:\.\d+)?([sdgxf]))")  # group 1 is empty for a % of its own
_CODE = 3  # letters
_LETTERS = string.digits + string.ascii_letters
_NUMBERS = {"d": re.compile(r"-?\d+"), "x": re.compile(r"[0-9a-f]+"),
            "g": re.compile(r"-?(?:\d[\d.]*(?:e[-+]?\d+)?|inf|nan)"),
            "f": re.compile(r"-?(?:\d+(?:\.\d+)?|inf|nan)")}
_MARK = re.compile(rf"#([{_LETTERS}]{{{_CODE}}})(?![{_LETTERS}])")
_UNKNOWN = " (words of another firmware than this program's)"


def code_of(sentence: str) -> str:
    """Three letters that stand for a sentence."""
    number = binascii.crc32(sentence.encode())
    return "".join(_LETTERS[number // len(_LETTERS) ** i % len(_LETTERS)] for i in range(_CODE))


def mark_of(sentence: str) -> str:
    """What stands on a board for a sentence, with the same values to be put in."""
    return "#" + code_of(sentence) + "".join("|" + one[0] for one in VALUE.finditer(sentence) if one[1])


@functools.lru_cache(maxsize=1)
def of_this_program() -> Mapping[str, str]:
    """Those of the firmware beside this program, kept in the cache: to read all its sources takes most of a
    second."""
    folder = Path(next(iter(sunhob_board.__path__)))
    read = [*sorted(folder.rglob("*.py")), *sorted(Path(__file__).parent.glob("firmware_*.py"))]
    stamps = repr([(str(path), path.stat().st_mtime_ns, path.stat().st_size) for path in read])
    kept = cache_dir() / "sentences" / (hashlib.sha256(stamps.encode()).hexdigest() + ".json")
    if kept.exists():
        found: dict[str, str] = json.loads(kept.read_bytes())
        return found
    from .firmware_build import sentences

    with contextlib.suppress(OSError):  # no room, or not ours to write: the next program reads them again
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(f".{os.getpid()}")
        part.write_text(json.dumps(sentences()))
        part.replace(kept)
    return sentences()


def in_full(told: Any, known: Callable[[], Mapping[str, str]] = of_this_program) -> Any:
    """What a board tells, its marks turned back into sentences wherever they stand. known: gives code ->
    sentence, asked only where there is a mark; by default those of this program's own firmware."""
    if isinstance(told, str):
        return _in_full(told, known()) if "#" in told and _MARK.search(told) else told
    if isinstance(told, list):
        return [in_full(one, known) for one in told]
    return {key: in_full(one, known) for key, one in told.items()} if isinstance(told, dict) else told


def _in_full(text: str, sentences: Mapping[str, str]) -> str:
    out, at = "", 0
    foreign = False
    while (found := _MARK.search(text, at)) is not None:
        readings = _Reader(text, sentences).mark(found.start(), True)
        read = next((one for one in readings if text[one[1]:one[1] + 1] != "|"), None)
        if read is None:
            foreign |= found[1] not in sentences and text[:found.start()][-1:] in ("", " ")
            read = found[0], found.end()
        out += text[at:found.start()] + read[0]
        at = read[1]
    return out + text[at:] + (_UNKNOWN if foreign else "")


@dataclass(frozen=True)
class _Reader:
    """Reads marks of a text: what each may stand for, and where that ends, the likeliest first."""

    text: str
    sentences: Mapping[str, str]

    def mark(self, at: int, last: bool) -> Iterator[tuple[str, int]]:
        """last: nothing comes after the mark but what belongs to it."""
        found = _MARK.match(self.text, at)
        if found is not None and found[1] in self.sentences:
            yield from self._rest(self.sentences[found[1]], found.end(), last)

    def _rest(self, sentence: str, at: int, last: bool) -> Iterator[tuple[str, int]]:
        """What is left of a sentence, the values of which begin there."""
        asked = VALUE.search(sentence)
        if asked is None:
            yield sentence, at
            return
        before, behind = sentence[:asked.start()], sentence[asked.end():]
        ends = last and not any(one[1] for one in VALUE.finditer(behind))
        for value, end in self._values(asked[1], at, ends):
            for more, whole in self._rest(behind, end, last):
                yield before + value + more, whole

    def _values(self, kind: str | None, at: int, last: bool) -> Iterator[tuple[str, int]]:
        """What a value may be: a number, a mark, a text up to one of the next '|', or to the end if it is the
        last."""
        if kind is None:
            yield "%", at
        elif self.text[at:at + 1] == "|" and kind in _NUMBERS:
            found = _NUMBERS[kind].match(self.text, at + 1)
            if found is not None:
                yield found[0], found.end()
        elif self.text[at:at + 1] == "|":
            at += 1
            yield from self.mark(at, last)
            ends = [at + i for i, one in enumerate(self.text[at:]) if one == "|"]
            for end in [len(self.text)] if last else ends:
                yield _in_full(self.text[at:end], self.sentences), end
