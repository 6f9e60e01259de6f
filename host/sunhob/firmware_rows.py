"""The declared rows as a board needs them: without words for people, the long ones as one text.

A row written out costs two bytes and more for each of its cells beside what is in it; a text costs a comma.
The settings' text is read row by row as it is asked for: as tuples they would hold 10 kB of heap.
"""

from __future__ import annotations

import ast
import functools
import io
import itertools
import re
import tokenize
import zlib
from typing import Any

from sunhob_board.declared import settings as declared

from .errors import UserError

_AXES = ("axis1", "axis2")
_DWELL = re.compile(r"\binterlock_\w+")
_KEPT = ("board_default",)  # of the settings' own functions
_SETTINGS = '''
VERSION = %(version)d


def fingerprint(crc32):
    return %(fingerprint)r


def board_rows():
    each = %(axis)r
    for axis, rows in enumerate((%(head)r, each, each, %(tail)r)):
        for text in rows.split(";"):
            key, *told = text.split(",")
            if 0 < axis < 3:
                key = "axis%%d.%%s" %% (axis, key)
            elif key[0] == ".":
                key = section + key
            else:
                section = key.split(".")[0]
            default = told[-3:][0].split("/")[-1 if axis == 2 else 0]
            if len(told) < 2:
                yield key, "bool", default > "", None, None
            elif len(told) < 3:
                yield key, "choice", default, told[1].split("/"), None
            else:
                kind = told[0] if len(told) > 3 else "float"
                as_kind = int if kind == "int" else float
                yield key, kind, as_kind(default), as_kind(told[-2]), as_kind(told[-1])


%(names)s'''
_NAMES = '''def board_names():
    for row in board_rows():
        name = row[0].replace(".", "_")
        yield name[:-3] + "udeg" if row[1] == "angle" else name, name
'''
_SHORT_NAMES = '''def board_names():
    number = 0
    for row in board_rows():
        name = row[0]
        yield name.replace(".", "_") if name[:4] == "axis" else "s%d" % number, "t%d" % number
        number += 1
'''
_INTERLOCKS = '''
def _dwell(text):
    return text if text > "a" else float(text) if "." in text else int(text or 0)


def _row(text):
    name, does, trip, over = (text + ",,").split(",")[:4]
    does = int(does)
    return name, _dwell(trip), _dwell(over), does & 7, does >> 3


ROWS = [_row(one) for one in %(rows)r.split(";")]
INDEX = %(index)r
'''
_EVENTS = '''
EVENTS = [(name,) for name in %r.split()]
CODES = %r
'''


def board_text(name: str, text: str) -> str | None:
    """The source of declared/<name> for a board; None if it goes there as it is. UserError for a row that
    this cannot write."""
    if name not in _MADE:
        return None
    space: dict[str, Any] = {"__name__": name}
    exec(compile(text, name, "exec"), space)
    return _MADE[name](text, space)


def _settings(text: str, space: dict[str, Any]) -> str:
    groups: dict[str, list[tuple[Any, ...]]] = {"head": [], **{axis: [] for axis in _AXES}, "tail": []}
    for row in space["board_rows"]():
        section = row[0].partition(".")[0]
        groups[section if section in _AXES else "tail" if groups[_AXES[1]] else "head"].append(row)
    one, two = ([(row[0].partition(".")[2], *row[1:]) for row in groups[axis]] for axis in _AXES)
    if [(row[:2], row[3:6]) for row in one] != [(row[:2], row[3:6]) for row in two]:
        raise UserError("declared/settings.py: the two axes have different rows; give both the same")
    made = _SETTINGS % {
        "version": space["VERSION"], "names": _NAMES, "fingerprint": space["fingerprint"](zlib.crc32),
        "head": _joined(groups["head"]), "tail": _joined(groups["tail"]),
        "axis": ";".join(_setting(row[0], row, other[2]) for row, other in zip(one, two, strict=True))}
    return "\n\n\n".join([made, *_statements(text, _KEPT)]) + "\n"


def _joined(rows: list[tuple[Any, ...]]) -> str:
    """Rows as one text; a key that starts with a dot is of the section of the row before."""
    out, before = [], ""
    for row in rows:
        section, _, key = row[0].partition(".")
        out.append(_setting("." + key if section == before else row[0], row, row[2]))
        before = section
    return ";".join(out)


def _setting(key: str, row: tuple[Any, ...], other: Any) -> str:
    """key,default (bool); key,default,words (choice); key,[kind,]default,low,high. other: axis 2's."""
    _key, kind, default, low, high = row[:5]
    shown = "/".join(dict.fromkeys(_number(one) for one in (default, other)))
    if kind == "bool":
        cells = [shown]
    elif kind == "choice":
        cells = [shown, "/".join(low)]
    else:
        cells = [*([] if kind == "float" else [kind]), shown, _number(low), _number(high)]
    if any(mark in cell for cell in cells[1:] for mark in ",;"):
        raise UserError(f"declared/settings.py: {row[0]}: a comma or semicolon cannot be told to a board")
    return ",".join([key, *cells])


@functools.lru_cache(maxsize=1)
def short_names() -> dict[str, str]:
    """Attribute of a setting in the sources -> on a board. Those of the axes are asked for by name."""
    out = {}
    for number, (value, degrees) in enumerate(declared.board_names()):
        if not value.startswith(_AXES):
            out[degrees] = f"t{number}"
            out[value] = f"s{number}"  # where there is but one it is this
    return out


def with_short_names(text: str) -> str:
    """A source of a whole program, in which settings are asked for by what a board calls them: after a dot,
    and in the rows of the interlocks' dwells."""
    text = text.replace(_NAMES, _SHORT_NAMES)
    short, lines = short_names(), text.splitlines(keepends=True)
    words = list(tokenize.generate_tokens(io.StringIO(text).readline))
    for dot, word in reversed(list(itertools.pairwise(words))):
        new = word.string
        if word.type == tokenize.NAME and dot.string == ".":
            new = short.get(new, new)
        elif word.type == tokenize.STRING and word.start[0] == word.end[0]:
            new = _DWELL.sub(lambda found: short.get(found[0], found[0]), new)
        if new != word.string:
            row, column = word.start
            line = lines[row - 1]
            lines[row - 1] = line[:column] + new + line[column + len(word.string):]
    return "".join(lines)


def _number(value: object) -> str:
    """A value as short as it reads back: 600.0 is 600, false nothing."""
    return str(value).removesuffix(".0") if not isinstance(value, bool) else "1" * value


def _interlocks(text: str, space: dict[str, Any]) -> str:
    rows = []
    for name, trip, over, action, latched, *_words in space["ROWS"]:
        if not 0 <= action < 8:
            raise UserError(f"declared/interlocks.py: {name}: actions are 0 to 7")
        dwells = [_dwell(name, one) for one in (trip, over)]
        rows.append(",".join([name, str(action + 8 * latched), *dwells]).rstrip(","))
    made = _INTERLOCKS % {"rows": ";".join(rows), "index": space["INDEX"]}
    return _rest(text, ("ROWS", "INDEX")) + made


def _dwell(name: str, value: object) -> str:
    if not isinstance(value, str):
        return _number(value) if value else ""
    if value not in short_names():
        raise UserError(f"declared/interlocks.py: {name}: no setting of the board is called {value}")
    return value


def _events(text: str, space: dict[str, Any]) -> str:
    return _rest(text, ("EVENTS", "CODES")) + _EVENTS % (" ".join(row[0] for row in space["EVENTS"]),
                                                        space["CODES"])


def _methods(text: str, space: dict[str, Any]) -> str:
    shared = repr(space["_HEAT"])  # once, though two methods have it
    rows = repr(tuple(row[:2] for row in space["METHODS"])).replace(shared, "_HEAT")
    return _rest(text, ("METHODS",)) + f"METHODS = {rows}\n"


_MADE = {"settings.py": _settings, "interlocks.py": _interlocks, "events.py": _events, "methods.py": _methods}


def _statements(text: str, names: tuple[str, ...]) -> list[str]:
    lines = text.splitlines()
    return ["\n".join(lines[node.lineno - 1:node.end_lineno]) for node in ast.parse(text).body
            if isinstance(node, ast.FunctionDef) and node.name in names]


def _rest(text: str, names: tuple[str, ...]) -> str:
    """A module without the statements that make these names, and without the loops that fill them."""
    kept = []
    for node in ast.parse(text).body:
        stored = [one.value if isinstance(one, ast.Subscript) else one for one in ast.walk(node)
                  if isinstance(one, ast.Name | ast.Subscript) and isinstance(one.ctx, ast.Store)]
        if not {one.id for one in stored if isinstance(one, ast.Name)} & set(names):
            kept.append(ast.unparse(node))
    return "\n".join(kept) + "\n"
