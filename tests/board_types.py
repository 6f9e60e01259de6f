"""Types of the code that touches the chip: pyright with the board's stubs over boards, drivers and main.

No units. What to check stands in firmware/pyrightconfig.json. The PyPI package carries pyright itself; it
runs on the Node that the bench finds or installs: nothing else is fetched. Exit status is pyright's.
"""

import importlib.util
import subprocess
import sys
from pathlib import Path

from sunhob.errors import UserError
from sunhob_sim import wasm_home

CONFIG = Path(__file__).resolve().parents[1] / "firmware" / "pyrightconfig.json"


def site_of(module: str) -> Path:
    """Folder of site-packages that holds a module, found without importing it."""
    spec = importlib.util.find_spec(module)
    if spec is None or spec.origin is None:
        sys.exit(f"{module} is not installed; make lint installs it")
    return Path(spec.origin).parent.parent


def main() -> int:
    site = site_of("pyright")
    program = site / "pyright" / "dist" / "index.js"
    if not (site / "machine.pyi").exists() or not program.exists():
        sys.exit("pyright or the stubs of the board are not whole; make lint installs them")
    try:
        node = wasm_home.ensure_node()
    except UserError as error:
        print(f"board types: {error}", file=sys.stderr)
        return 3
    command = [str(node), str(program), "-p", str(CONFIG), "--typeshedpath", str(site),
               "--pythonpath", sys.executable]
    return subprocess.run(command, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
