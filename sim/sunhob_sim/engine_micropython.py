"""The firmware on MicroPython's WebAssembly build under Node. Units: bytes."""

import base64
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from . import wasm_home
from .board_host import VirtualBoard
from .engine_pipe import PipedEngine

_RUNNER = Path(__file__).with_name("engine_node") / "runner.mjs"


class MicroPythonEngine(PipedEngine):
    """See engine_pipe.PipedEngine; its files lie in the memory of the Node process."""

    name = "micropython"

    def __init__(self, board: VirtualBoard, folder: Path) -> None:
        super().__init__(board, folder)
        self._node, self._wasm = wasm_home.ensure()

    def _command(self) -> list[str]:
        return [str(self._node), str(_RUNNER)]

    def _hand_over(self, files: Mapping[str, bytes]) -> dict[str, Any]:
        return {"module": (self._wasm / "micropython.mjs").as_uri(),
                "files": {name: base64.b64encode(body).decode() for name, body in files.items()}}
