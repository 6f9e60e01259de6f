"""The list of check sums by which a board judges its program, as selfcheck/files.py reads it. Units: bytes.

`code.crc` lies beside the settings: `sunhob-code <crc of the rest>`, then `<crc> <size> <path>` for each file
of the program, CRC-32 (zlib) in eight hex digits, paths from the folder that holds the package.
"""

import zlib
from collections.abc import Mapping

NAME = "code.crc"


def code_list(files: Mapping[str, bytes]) -> bytes:
    """The list of these files, path -> contents as they go onto the board."""
    rows = "".join(f"{zlib.crc32(body):08x} {len(body)} {path}\n" for path, body in sorted(files.items()))
    return f"sunhob-code {zlib.crc32(rows.encode()):08x}\n{rows}".encode()
