"""Which test files hold a module: those that import it, themselves or through others, the nearest first."""

import ast
from collections import deque
from functools import cache
from pathlib import Path

PURE_MAX, OTHERS_MAX = 5, 4
OURS = ("studio", "inventory", "costing", "tests")
HEAVY = ("test_core_proposing_properties", "test_scipy_proposing", "test_core_reclaim_properties")
"""Seconds long for each mutant: they are left to the whole suite."""


def find_tests(root: Path, module: Path) -> list[tuple[list[Path], bool]]:
    """The test files to ask about a module in turn, and whether they do without a database.

    First the nearest that need none, for they take a second; then the nearest that need one.
    """
    rounds = [(_find(root, module, pure=True)[:PURE_MAX], True)]
    rounds.append((_find(root, module, pure=False)[:OTHERS_MAX], False))
    return [(tests, pure) for tests, pure in rounds if tests]


def _find(root: Path, module: Path, *, pure: bool) -> list[Path]:
    found = []
    for file in sorted((root / "tests").rglob("test_*.py")):
        path = file.relative_to(root)
        steps = _steps(root, path)
        if "browser" in path.parts or path.stem in HEAVY or module not in steps:
            continue
        if pure is not _is_pure(root, path):
            continue
        name = path.stem.removeprefix("test_")
        # What is checked against the outside is named after the module alone.
        named = name == module.stem or name.startswith(f"{module.parent.name}_{module.stem}")
        # What is named after the folder is nearer than what only needs the module on its way to something else.
        of_folder = name.startswith(f"{module.parent.name}_")
        found.append((not named, steps[module] - 2 * of_folder, path))
    return [path for *_, path in sorted(found)]


def _is_pure(root: Path, path: Path) -> bool:
    return "django" not in (root / path).read_text(encoding="utf-8") and not any(
        "models" in reached.parts or reached.stem == "models" for reached in _steps(root, path)
    )


@cache
def _steps(root: Path, path: Path) -> dict[Path, int]:
    """Each of our files that a file imports, and over how many others."""
    steps, waiting = {path: 0}, deque([path])
    while waiting:
        here = waiting.popleft()
        for other in _imports(root, here):
            if other not in steps:
                steps[other] = steps[here] + 1
                waiting.append(other)
    return steps


@cache
def _imports(root: Path, path: Path) -> list[Path]:
    names = []
    for node in ast.walk(ast.parse((root / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            start = [*path.parts[: -node.level]] if node.level else []
            base = ".".join([*start, *([node.module] if node.module else [])])
            names += [base, *(f"{base}.{name.name}" for name in node.names)]
        elif isinstance(node, ast.Import):
            names += [name.name for name in node.names]
    found = []
    for name in names:
        parts = name.split(".")
        if parts[0] in OURS:
            for file in (Path(*parts).with_suffix(".py"), Path(*parts) / "__init__.py"):
                if (root / file).is_file():
                    found.append(file)
    return found
