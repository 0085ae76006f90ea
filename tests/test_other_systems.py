"""Walk the code for what Windows and macOS lack, and for what their consoles and file systems do otherwise.

Sources: the availability notes of Python's library reference (os, signal, fcntl); "Naming Files, Paths, and
Namespaces" of Microsoft's documentation for reserved names and characters; code pages 437 and 1252 as the
codecs of Python have them.
"""

import ast
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from trainer import cli
from trainer.commands import general
from trainer.commands.parsing import Answer
from trainer.files import data_folder
from trainer.practice.settings import Settings
from trainer.records.library import load_library
from trainer.records.settings import load_settings, save_settings

TOP = Path(__file__).parents[1]
MODULES = sorted((TOP / "trainer").rglob("*.py"))
# Unix only, by the availability notes; O_BINARY and the like are the other way round.
UNIX_OS = {
    "fork",
    "forkpty",
    "getuid",
    "geteuid",
    "getgid",
    "setuid",
    "chown",
    "lchown",
    "mkfifo",
    "mknod",
    "getloadavg",
    "killpg",
    "setsid",
    "getpgid",
    "nice",
    "sched_getaffinity",
    "sched_setaffinity",
    "fchmod",
    "fchown",
    "uname",
    "wait",
    "waitpid",
    "O_NONBLOCK",
    "O_NOFOLLOW",
    "O_CLOEXEC",
    "O_DIRECTORY",
    "pread",
    "pwrite",
    "openpty",
}
UNIX_SIGNALS = {
    "SIGKILL",
    "SIGHUP",
    "SIGUSR1",
    "SIGUSR2",
    "SIGALRM",
    "SIGCHLD",
    "SIGPIPE",
    "SIGSTOP",
    "SIGCONT",
}
UNIX_MODULES = {"fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "posix", "syslog"}
RESERVED = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"com{n}" for n in range(1, 10)),
    *(f"lpt{n}" for n in range(1, 10)),
}


def guarded(node: ast.AST, parents: dict[ast.AST, ast.AST]) -> bool:
    """Whether a use stands under a question about the system: an if, a try or a conditional expression."""
    while node in parents:
        above = parents[node]
        if isinstance(above, ast.If | ast.IfExp | ast.BoolOp) and any(
            word in ast.unparse(above.test if not isinstance(above, ast.BoolOp) else above)
            for word in ("os.name", "sys.platform", "hasattr", "is None", "is not None", "fcntl", "resource")
        ):
            return True
        if isinstance(above, ast.Try) and any(
            handler.type is not None
            and any(w in ast.unparse(handler.type) for w in ("ImportError", "AttributeError"))
            for handler in above.handlers
        ):
            return True
        node = above
    return False


def uses(path: Path) -> list[str]:
    """Everything in a module that another system may not have, and is not asked about first."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    has_guard = any(word in path.read_text(encoding="utf-8") for word in ('os.name == "nt"', "sys.platform"))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            lacking = (node.value.id == "os" and node.attr in UNIX_OS) or (
                node.value.id == "signal" and node.attr in UNIX_SIGNALS
            )
            if lacking and not guarded(node, parents) and not has_guard:
                found.append(f"{path.name}:{node.lineno}: {node.value.id}.{node.attr}")
        elif isinstance(node, ast.Import | ast.ImportFrom):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            if UNIX_MODULES & set(names) and not guarded(node, parents):
                found.append(f"{path.name}:{node.lineno}: import {names}")
    return found


def test_nothing_is_used_that_windows_lacks_without_asking_first() -> None:
    assert [use for path in MODULES for use in uses(path)] == []


def test_the_walk_finds_what_it_looks_for(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text("import os, signal\nimport fcntl\nos.getuid()\nsignal.SIGKILL\n", encoding="utf-8")
    assert len(uses(bad)) == 3
    bad.write_text("import os\nx = os.getuid() if hasattr(os, 'getuid') else 0\n", encoding="utf-8")
    assert uses(bad) == []


def test_every_text_file_is_opened_with_its_encoding() -> None:
    """Without one Windows takes the code page of the user's country."""
    found = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name not in ("open", "fdopen", "read_text", "write_text"):
                continue
            words = {keyword.arg for keyword in node.keywords}
            modes: list[object] = [
                a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)
            ]
            modes += [
                k.value.value for k in node.keywords if k.arg == "mode" and isinstance(k.value, ast.Constant)
            ]
            texts = [str(mode) for mode in modes]
            is_file = name in ("read_text", "write_text") or any(set(m) <= set("rwxab+t") for m in texts)
            if is_file and "encoding" not in words and not any("b" in m for m in texts if len(m) <= 3):
                found.append(f"{path.relative_to(TOP)}:{node.lineno}: {ast.unparse(node)[:60]}")
    assert found == []


def test_no_pattern_that_comes_along_is_called_as_a_device_of_windows_or_like_another_but_for_capitals() -> (
    None
):
    library = load_library()
    names = [p.name for p in library.patterns]
    names += [e.brk.name for e in library.breaks] + [e.backup.name for e in library.charts]
    assert not RESERVED & {name.lower().split(".")[0] for name in names}
    assert not any(set('<>:"/\\|?*') & set(name) or name.endswith((" ", ".")) for name in names)
    files = [path.relative_to(TOP).as_posix().lower() for path in (TOP / "patterns").rglob("*")]
    assert len(files) == len(set(files))


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii"])
def test_nothing_printed_raises_on_a_console_of_an_old_code_page(
    encoding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", io.TextIOWrapper(io.BytesIO(), encoding=encoding))
    monkeypatch.setattr(general, "list_patterns", lambda: Answer(lines=("−5 ms, ½, Schlägel 鼓 \udc80",)))
    assert cli.main(["patterns"]) == 0
    out.flush()
    printed = out.buffer.getvalue().decode(encoding)  # type: ignore[attr-defined]
    assert "5 ms" in printed


@pytest.mark.parametrize("encoding", ["cp1252", "cp437"])
@pytest.mark.parametrize(
    "words", [["patterns"], ["demo"], ["patterns", "skip-figure"], ["--help"], ["history"]]
)
def test_commands_answer_on_such_a_console(encoding: str, words: list[str], tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0", "HOME": str(tmp_path)}
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        env.pop(name, None)
    command = [sys.executable, "-m", "trainer", *words]
    ran = subprocess.run(command, env=env, cwd=TOP, capture_output=True, timeout=120, check=False)
    assert (ran.returncode, b"Traceback" in ran.stderr) == (0, False), ran.stderr
    assert ran.stdout.decode(encoding).strip()


def test_a_data_folder_under_a_name_that_is_not_ascii_is_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "Łucja Ångström 鼓"
    home.mkdir()
    for name in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(home))
    own = data_folder() / "patterns"
    own.mkdir(parents=True)
    text = (TOP / "patterns" / "basic-figure.toml").read_text(encoding="utf-8")
    (own / "meine-übung.toml").write_text(text, encoding="utf-8")
    assert any(p.name == "meine-übung" for p in load_library().patterns) or load_library().problems
    path = home / "settings.json"
    save_settings(Settings(player="Łucja"), path)
    assert load_settings(path)[0].player == "Łucja"
