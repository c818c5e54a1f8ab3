"""The rooms keep their directions, load little, and hold files and folders of a readable size."""

import ast
import re
import subprocess
import sys
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).parent.parent
ROOMS: Final = ("engine", "sounds", "caller")
PACKAGE: Final = "throwcount"

LONGEST_FILE = 500
LONGEST_FUNCTION = 60
MOST_FILES = 234
MOST_LINES = 52_300
MOST_FLOORS = 8
"""A folder stands at most so many floors above the lowest folder of its room."""

MAY_IMPORT = {
    "engine": {"numpy"},
    "sounds": {"numpy", "soundfile", "soxr"},
    "caller": {"numpy", "click", "mido", "rich", "pydantic", "platformdirs"},
}
NOT_ON_IMPORT = {
    "sounds": {"av", "sounddevice", "pyttsx3", "onnxruntime", "python_stretch"},
    "caller": {"matplotlib"},
}
LOWER_ROOMS = {"engine": set(), "sounds": {"engine"}, "caller": {"engine", "sounds"}}

PRIVATE_WORDS = {
    *("sighting", "sightings", "rival", "rivals", "summit", "summits", "survey", "leaning"),
    *("leanings", "dues", "stray", "strays", "sureness", "lattice", "doubled"),
    *("conductor", "companion", "keeper", "ears", "passage", "lane", "lanes", "moments", "signs"),
    "apart",
}
"""Words of our own for what the field has a name for; none of them names anything here."""

NEVER_WRITTEN = re.compile(
    r"\b(sightings?|summits?|leanings?|lattices?|conductors?|keepers?|stray|companions?|lanes?"
    r"|frames a second)\b",
    re.IGNORECASE,
)
"""Those of them that have no everyday meaning which a sentence here could need."""


def sources(*rooms: str) -> list[Path]:
    return [path for room in rooms or ROOMS for path in sorted((ROOT / room).rglob("*.py"))]


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def imported(tree: ast.AST) -> Iterator[tuple[ast.stmt, str, tuple[str, ...]]]:
    """Yield every import with its module and the names taken from it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node, alias.name, ()
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written from the top"
            yield node, node.module or "", tuple(alias.name for alias in node.names)


def room_of(module: str) -> str | None:
    """Return the room that `module` belongs to, or None for what is not ours."""
    parts = module.split(".")
    return parts[1] if parts[0] == PACKAGE and len(parts) > 1 else None


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


@pytest.mark.parametrize("path", sources(), ids=named)
def test_a_room_imports_only_what_it_may(path: Path) -> None:
    room = path.relative_to(ROOT).parts[0]
    inner = not_run_on_import(tree_of(path))
    for node, module, _ in imported(tree_of(path)):
        where = f"line {node.lineno}: {module}"
        if module.split(".")[0] == PACKAGE:
            assert room_of(module) in {room, *LOWER_ROOMS[room]}, where
            continue
        late = NOT_ON_IMPORT.get(room, set()) if node in inner else set()
        assert module.split(".")[0] in MAY_IMPORT[room] | sys.stdlib_module_names | late, where


@pytest.mark.parametrize("path", sources("engine", "sounds"), ids=named)
def test_engine_and_sounds_neither_print_nor_exit(path: Path) -> None:
    called = {
        node.func.id
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & {"print", "input", "exit", "quit"}


@pytest.mark.parametrize("path", sources("caller"), ids=named)
def test_caller_takes_no_private_name_of_the_other_rooms(path: Path) -> None:
    for node, module, names in imported(tree_of(path)):
        if room_of(module) in LOWER_ROOMS["caller"]:
            parts = [*module.split("."), *names]
            assert not any(part.startswith("_") for part in parts), f"line {node.lineno}"


@pytest.mark.parametrize("path", sources(), ids=named)
def test_files_and_functions_stay_short(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= LONGEST_FILE
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            assert lines <= LONGEST_FUNCTION, f"{node.name} has {lines} lines"


def test_the_house_can_be_held_in_the_head() -> None:
    assert len(sources()) <= MOST_FILES
    assert sum(len(path.read_text("utf-8").splitlines()) for path in sources()) <= MOST_LINES


def test_no_two_classes_share_a_name() -> None:
    where = defaultdict(list)
    for path in sources():
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.ClassDef):
                where[node.name].append(named(path))
    assert {name: paths for name, paths in where.items() if len(paths) > 1} == {}


# ---- Folders: no circle of imports, and not too many floors


def folder_of(module: str, names: tuple[str, ...]) -> str | None:
    """Return the folder that holds `module`; the files of a room's own folder count as one."""
    parts = module.split(".")[1:]
    while parts and not (ROOT.joinpath(*parts).is_dir() or file_of(parts).exists()):
        parts.pop()
    if file_of(parts).exists():
        parts.pop()
    elif len(names) == 1 and ROOT.joinpath(*parts, names[0]).is_dir():
        parts.append(names[0])
    return ".".join(parts) or None


def file_of(parts: list[str]) -> Path:
    return ROOT.joinpath(*parts).with_suffix(".py") if parts else ROOT / "nothing"


def folders(room: str) -> dict[str, set[str]]:
    """Return, for each folder of a room, the other folders of the room that it imports."""
    graph: dict[str, set[str]] = {}
    for path in sources(room):
        own = ".".join(path.parent.relative_to(ROOT).parts)
        if own == room == "caller" or path == ROOT / "engine" / "__init__.py":
            continue  # the entry point, and the names for scripts, stand on top of their room
        graph.setdefault(own, set())
        for _, module, names in imported(tree_of(path)):
            if room_of(module) == room:
                graph[own].add(folder_of(module, names) or own)
    return {own: used - {own} for own, used in graph.items()}


@pytest.mark.parametrize("room", ROOMS)
def test_folders_import_each_other_in_no_circle_and_stand_few_floors_high(room: str) -> None:
    graph = folders(room)
    floors: dict[str, int] = {}
    while len(floors) < len(graph):
        ready = [
            name for name in graph if name not in floors and graph[name] & set(graph) <= set(floors)
        ]
        assert ready, f"a circle among {sorted(set(graph) - set(floors))}"
        for name in ready:
            floors[name] = 1 + max((floors[used] for used in graph[name] & set(graph)), default=0)
    assert max(floors.values()) <= MOST_FLOORS, floors


# ---- Words


def words_of(name: str) -> set[str]:
    """Return the words that an identifier is made of, in lower case."""
    return {word.lower() for word in re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])", name)}


def definitions(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.lineno, node.name
        elif isinstance(node, ast.arg):
            yield node.lineno, node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.lineno, node.id


@pytest.mark.parametrize("path", sources(), ids=named)
def test_names_are_the_words_of_the_field(path: Path) -> None:
    found = [
        f"line {line}: {name}"
        for line, name in [(0, path.stem), *definitions(tree_of(path))]
        if words_of(name) & PRIVATE_WORDS
    ]
    assert not found


@pytest.mark.parametrize("path", sources(), ids=named)
def test_sentences_use_the_words_of_the_field(path: Path) -> None:
    text = path.read_text("utf-8")
    found = [
        f"{text.count(chr(10), 0, hit.start()) + 1}: {hit[0]}"
        for hit in NEVER_WRITTEN.finditer(text)
    ]
    assert not found


def test_the_glossary_stays_short() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rows = re.findall(r"^\| \*\*(.+?)\*\* \|", text, re.MULTILINE)
    assert 5 <= len(rows) <= 25


# ---- What is installed, and what loads


def test_every_folder_is_in_the_list_of_packages() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    listed = project["tool"]["setuptools"]["packages"]
    there = {".".join([PACKAGE, *path.parent.relative_to(ROOT).parts]) for path in sources()}
    assert sorted(listed) == sorted(there)


UPSTAIRS = {"numpy", "click", "rich", "sounds", "caller"}
DEVICES = {"sounddevice", "pyttsx3", "click", "rich", "caller"}
PARTS = {"numpy", "rich", "engine", "sounds", "importlib.metadata"}


@pytest.mark.parametrize(
    ("statement", "must_not_load"),
    [
        (
            "import throwcount.engine.patterns.pattern",
            UPSTAIRS,
        ),
        ("import throwcount.engine", UPSTAIRS),
        ("import throwcount.sounds", DEVICES),
        ("import throwcount.sounds.samples", DEVICES),
        (
            "import throwcount.caller.main",
            PARTS,
        ),
    ],
)
def test_an_import_loads_no_more_than_it_needs(statement: str, must_not_load: set[str]) -> None:
    assert not loaded_by(statement) & must_not_load


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], []])
def test_help_loads_neither_engine_nor_sound_nor_tables(arguments: list[str]) -> None:
    loaded = loaded_by(
        "import throwcount.caller.main\n"
        "try:\n"
        f"    throwcount.caller.main.throwcount({arguments!r})\n"
        "except SystemExit:\n"
        "    pass"
    )
    assert "click" in loaded
    assert not loaded & {"numpy", "rich", "engine", "sounds", "pydantic", "importlib.metadata"}
    assert not {name for name in loaded if name.startswith("throwcount.caller.commands.")}


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
        "import throwcount.caller.main\n"
        "try:\n"
        f"    throwcount.caller.main.throwcount({line.split()!r}, prog_name='throwcount')\n"
        "except SystemExit as ended:\n"
        "    assert not ended.code"
    )
    assert f"throwcount.caller.commands.{line.split(maxsplit=1)[0]}" in loaded
    assert not loaded & must_not_load


def loaded_by(statement: str) -> set[str]:
    """Return the modules that a fresh interpreter holds after `statement`, rooms by their names."""
    code = f"{statement}\nimport sys; print('\\nLOADED', *sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    loaded = set(done.stdout.rpartition("LOADED")[2].split())
    return loaded | {room for room in ROOMS if f"{PACKAGE}.{room}" in loaded}
