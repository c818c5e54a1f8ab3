"""The rooms keep their directions, load little, and hold short files."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = ("engine", "sounds", "caller")
LONGEST_FILE = 400
LONGEST_FUNCTION = 40

MAY_IMPORT = {
    "engine": {"engine", "numpy"},
    "sounds": {"engine", "sounds", "numpy", "soundfile", "soxr"},
    "caller": {
        *("engine", "sounds", "caller", "numpy"),
        *("click", "mido", "rich", "pydantic", "platformdirs"),
    },
}
NOT_ON_IMPORT = {
    "sounds": {"av", "librosa", "sounddevice", "pyttsx3", "onnxruntime"},
    "caller": {"matplotlib"},
}


def sources(*rooms: str) -> list[Path]:
    return [path for room in rooms for path in sorted((ROOT / room).rglob("*.py"))]


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def imported(tree: ast.AST) -> Iterator[tuple[ast.stmt, str, tuple[str, ...]]]:
    """Yield every import with its module and the names taken from it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node, alias.name, ()
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written from the top"
            yield node, node.module or "", tuple(alias.name for alias in node.names)


def not_run_on_import(tree: ast.AST) -> set[ast.AST]:
    """Return what stands in functions, or is there for the type checker alone."""
    functions = (ast.FunctionDef, ast.AsyncFunctionDef)
    return {
        inner
        for node in ast.walk(tree)
        if isinstance(node, functions)
        or (isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
        for inner in ast.walk(node)
        if inner is not node
    }


@pytest.mark.parametrize("path", sources(*ROOMS), ids=named)
def test_a_room_imports_only_what_it_may(path: Path) -> None:
    room = path.relative_to(ROOT).parts[0]
    tree = ast.parse(path.read_text("utf-8"))
    inner = not_run_on_import(tree)
    allowed = MAY_IMPORT[room] | sys.stdlib_module_names
    for node, module, _ in imported(tree):
        late = NOT_ON_IMPORT.get(room, set()) if node in inner else set()
        assert module.split(".")[0] in allowed | late, f"line {node.lineno}: {module}"


@pytest.mark.parametrize("path", sources("engine", "sounds"), ids=named)
def test_engine_and_sounds_neither_print_nor_exit(path: Path) -> None:
    called = {
        node.func.id
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & {"print", "input", "exit", "quit"}


@pytest.mark.parametrize("path", sources("caller"), ids=named)
def test_caller_takes_no_private_name_of_the_other_rooms(path: Path) -> None:
    for node, module, names in imported(ast.parse(path.read_text("utf-8"))):
        if module.split(".")[0] in {"engine", "sounds"}:
            parts = [*module.split("."), *names]
            assert not any(part.startswith("_") for part in parts), f"line {node.lineno}"


@pytest.mark.parametrize("path", sources(*ROOMS), ids=named)
def test_files_and_functions_stay_short(path: Path) -> None:
    text = path.read_text("utf-8")
    assert len(text.splitlines()) <= LONGEST_FILE
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            lines = body[-1].end_lineno - body[0].lineno + 1 if body else 0
            assert lines <= LONGEST_FUNCTION, f"{node.name} has {lines} lines"


@pytest.mark.parametrize(
    ("statement", "must_not_load"),
    [
        ("import engine", {"numpy", "click", "rich", "sounds", "caller"}),
        ("import engine.patterns.pattern", {"numpy", "click", "rich", "sounds", "caller"}),
        ("import sounds", {"sounddevice", "pyttsx3", "click", "rich", "caller"}),
        ("import sounds.voices.clip", {"sounddevice", "pyttsx3", "click", "rich", "caller"}),
        ("import caller.main", {"numpy", "rich", "engine", "sounds", "importlib.metadata"}),
    ],
)
def test_an_import_loads_no_more_than_it_needs(statement: str, must_not_load: set[str]) -> None:
    assert not loaded_by(statement) & must_not_load


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], []])
def test_help_loads_neither_engine_nor_sound_nor_tables(arguments: list[str]) -> None:
    loaded = loaded_by(
        "import caller.main\n"
        "try:\n"
        f"    caller.main.throwcount({arguments!r})\n"
        "except SystemExit:\n"
        "    pass"
    )
    assert "click" in loaded
    assert not loaded & {"numpy", "rich", "engine", "sounds", "pydantic", "importlib.metadata"}
    assert not {name for name in loaded if name.startswith("caller.commands.")}


HEAVY = {"numpy", "pydantic", "sounddevice", "soundfile", "soxr", "mido", "matplotlib"}
TABLES = {"rich", "sqlite3"}


@pytest.mark.parametrize(
    ("line", "must_not_load"),
    [
        ("play --help", HEAVY | TABLES),
        ("play --help-all", HEAVY | TABLES),
        ("render --help", HEAVY | TABLES),
        ("plan --help", HEAVY | TABLES),
        ("listen --help", HEAVY | TABLES),
        ("listen --live --help", HEAVY | TABLES),
        ("log --help", HEAVY | TABLES),
        ("log", HEAVY),
        ("check 531", HEAVY | {"sqlite3", "json"}),
    ],
)
def test_a_command_loads_no_more_than_it_needs(
    line: str, must_not_load: set[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("THROWCOUNT_LOG", str(tmp_path / "log.sqlite"))
    loaded = loaded_by(
        "import caller.main\n"
        "try:\n"
        f"    caller.main.throwcount({line.split()!r}, prog_name='throwcount')\n"
        "except SystemExit as ended:\n"
        "    assert not ended.code"
    )
    assert f"caller.commands.{line.split(maxsplit=1)[0]}" in loaded
    assert not loaded & must_not_load


def loaded_by(statement: str) -> set[str]:
    """Return the modules that a fresh interpreter holds after `statement`."""
    code = f"{statement}\nimport sys; print('\\nLOADED', *sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True
    )
    return set(done.stdout.rpartition("LOADED")[2].split())
