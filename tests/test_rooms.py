"""The rules of the house that the import contracts in pyproject.toml can't say or can't prove."""

import ast
import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "benchmate"
PURE = ("metal", "springback", "layout", "tooling")


def modules(*rooms: str) -> Iterator[Path]:
    for room in rooms or (".",):
        yield from sorted((PACKAGE / room).rglob("*.py"))


def imports(module: Path) -> set[str]:
    """Give the top names of what a module imports, wherever in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            found |= {name.name.split(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.split(".")[0])
    return found


def room_of(module: Path) -> str:
    return module.relative_to(PACKAGE).parts[0]


def test_the_version_is_told_without_numpy_or_textual():
    words = [sys.executable, "-X", "importtime", "-m", "benchmate", "--version"]
    ran = subprocess.run(words, capture_output=True, text=True, check=True, timeout=30)
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in ran.stderr.splitlines()}
    assert "benchmate" in loaded
    assert not loaded & {"numpy", "textual", "rich", "yaml", "sqlite3", "gpiozero", "smbus2"}


@pytest.mark.parametrize(
    ("library", "rooms"),
    [
        ("textual", {"screen"}),
        ("gpiozero", {"bench", "checks"}),
        ("smbus2", {"sensing", "sim", "checks"}),
        ("sqlite3", {"store", "checks"}),
        ("yaml", {"shop"}),
    ],
)
def test_each_library_is_met_in_its_own_room(library, rooms):
    met = {room_of(module) for module in modules() if library in imports(module)}
    assert met
    assert met <= rooms


def test_the_pure_rooms_use_numpy_and_the_standard_library_alone():
    allowed = set(sys.stdlib_module_names) | {"numpy", "msgspec", "benchmate"}
    for module in modules(*PURE):
        assert imports(module) <= allowed, module


def test_the_pure_rooms_open_no_file_print_nothing_and_throw_no_dice():
    for module in modules(*PURE):
        for node in ast.walk(ast.parse(module.read_text())):
            if isinstance(node, ast.Name):
                assert node.id not in {"open", "print", "input", "exec", "eval"}, module
            if isinstance(node, ast.Attribute):
                assert node.attr != "random", module


def with_import(folder: Path, module: str, line: str) -> subprocess.CompletedProcess[str]:
    """Check the contracts on a copy in which one module imports what it may not."""
    shutil.copytree(PACKAGE, folder / "benchmate", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    with (folder / "benchmate" / module).open("a") as file:
        file.write(f"\n{line}\n")
    linter = Path(sys.executable).with_name("lint-imports")
    if not linter.exists():
        pytest.skip("import-linter is a tool of .ci/run, which runs this test once more")
    return subprocess.run(
        [str(linter), "--no-logo", "--no-cache"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.mark.parametrize(
    ("module", "line", "told"),
    [
        (
            "metal/tube_properties.py",
            "import time",
            "benchmate.metal is not allowed to import time",
        ),
        ("layout/plan.py", "import benchmate.store", "benchmate.layout is not allowed"),
        ("sensing/bus.py", "import benchmate.bench", "benchmate.sensing is not allowed"),
        ("bench/tracker.py", "import benchmate.sim", "benchmate.bench is not allowed"),
        ("screen/live_app.py", "import smbus2", "benchmate.screen is not allowed"),
        ("stream.py", "import benchmate.units, numpy", "benchmate.stream is not allowed"),
    ],
)
def test_an_import_that_a_room_may_not_make_is_refused(tmp_path, module, line, told):
    ran = with_import(tmp_path, module, line)
    assert ran.returncode == 1
    assert told in ran.stdout


def test_every_room_stands_under_a_contract():
    rules = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    held = {source for contract in rules["contracts"] for source in contract["source_modules"]}
    rooms = {f"benchmate.{path.parent.name}" for path in PACKAGE.glob("*/__init__.py")}
    assert rooms - held == {"benchmate.commands", "benchmate.sim"}


def test_an_installed_program_brings_the_starter_shop(tmp_path):
    leave = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info", "build", "tests", "docs")
    shutil.copytree(ROOT, tmp_path / "checkout", symlinks=True, ignore=leave)
    words = ["-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir"]
    subprocess.run(
        [sys.executable, *words, str(tmp_path), str(tmp_path / "checkout")],
        check=True,
        capture_output=True,
        timeout=60,
    )
    wheel = next(tmp_path.glob("benchmate-*.whl"))
    carried = set(zipfile.ZipFile(wheel).namelist())
    wanted = {path.relative_to(ROOT) for path in (ROOT / "configs").rglob("*.yaml")}
    assert {f"benchmate/{path}" for path in wanted} <= carried
    assert {str(path.relative_to(ROOT)) for path in modules()} <= carried
