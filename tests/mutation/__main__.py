"""Puts small wrongs into the code, one at a time, and says which of them no test notices.

    python -m tests.mutation                    a fixed random sample of every part
    python -m tests.mutation --of inventory/core/metal.py --count 0     every wrong of one module

It works in a copy of the tree. What was judged to change nothing stands in equivalent.txt, one mutant a
line with its reason, and counts neither way.
"""

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.mutation.changes import Mutant, find_mutants
from tests.mutation.covering import find_tests
from tests.mutation.trying import run_tests, try_mutant, warm_up

ROOT = Path(__file__).resolve().parents[2]
NUMBERS = "measures measuring money numerals printing rounding units".split()
PARTS = {
    "the kit's numbers": [Path(f"studio/kit/{name}.py") for name in NUMBERS],
    "inventory/core": sorted(Path("inventory/core").glob("*.py")),
    "costing/core": sorted(Path("costing/core").glob("*.py")),
    "inventory/posting": sorted(Path("inventory/posting").glob("*.py")),
    "costing/posting": sorted(Path("costing/posting").glob("*.py")),
}
SHARE = {
    "the kit's numbers": 40,
    "inventory/core": 90,
    "costing/core": 40,
    "inventory/posting": 30,
    "costing/posting": 15,
}
EQUIVALENT = Path("tests/mutation/equivalent.txt")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--of", action="append", default=[], help="a module, or the beginning of its path")
    parser.add_argument("--count", type=int, help="how many of each part, 0: all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--quick", action="store_true", help="one round of tests, without a database where it can be"
    )
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if not asked.here:
        return _go_on_in_copy(sys.argv[1:])
    killed = survived = 0
    for part, modules in PARTS.items():
        chosen = _choose(part, [one for one in modules if _is_asked(one, asked.of)], asked.count, asked.seed)
        if chosen:
            warm_up()
            dead = _try_all(chosen, rounds=1 if asked.quick else 2)
            print(f"{part}: {dead} of {len(chosen)} noticed", flush=True)
            killed, survived = killed + dead, survived + len(chosen) - dead
    print(f"{killed} of {killed + survived} noticed")
    return 0


def _go_on_in_copy(arguments: list[str]) -> int:
    """Everything that git knows of, and nothing that it does not."""
    listing = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    files = subprocess.run(listing, cwd=ROOT, check=True, capture_output=True, text=True)
    with tempfile.TemporaryDirectory(prefix="studio-mutants-") as folder:
        tree, scratch = Path(folder, "tree"), Path(folder, "scratch")
        scratch.mkdir()
        for name in files.stdout.splitlines():
            if (ROOT / name).is_file():
                (tree / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(ROOT / name, tree / name)
        command = [sys.executable, "-m", "tests.mutation", "--here", *arguments]
        own = {**os.environ, "TMPDIR": str(scratch)}
        return subprocess.run(command, check=False, cwd=tree, env=own).returncode


def _is_asked(module: Path, beginnings: list[str]) -> bool:
    return not beginnings or any(module.as_posix().startswith(one) for one in beginnings)


def _choose(part: str, modules: list[Path], count: int | None, seed: int) -> list[Mutant]:
    known = read_equivalent()
    mutants = [one for module in modules for one in find_mutants(Path(), module) if one.key not in known]
    count = SHARE[part] if count is None else count or len(mutants)
    chosen = random.Random(f"{part} {seed}").sample(range(len(mutants)), min(count, len(mutants)))
    return [mutants[place] for place in chosen]


def read_equivalent() -> set[tuple[str, ...]]:
    """Lines of "module | line of code | before -> after | why"."""
    lines = EQUIVALENT.read_text(encoding="utf-8").splitlines() if EQUIVALENT.exists() else []
    return {tuple(line.split(" | ")[:3]) for line in lines if line and not line.startswith("#")}


def _try_all(mutants: list[Mutant], rounds: int) -> int:
    noticed = 0
    seconds: dict[tuple[Path, bool], int] = {}
    for number, mutant in enumerate(mutants, start=1):
        is_noticed = any(
            try_mutant(mutant, tests, 2 * _take(mutant.path, tests, pure, seconds) + 1, pure=pure)
            for tests, pure in find_tests(Path(), mutant.path)[:rounds]
        )
        noticed += is_noticed
        print(f"{number} {'noticed' if is_noticed else 'survived'}: {mutant}", flush=True)
    return noticed


def _take(module: Path, tests: list[Path], pure: bool, seconds: dict[tuple[Path, bool], int]) -> int:
    """How long the tests of a module take as the code stands, when it was asked before as then."""
    if (module, pure) not in seconds:
        taken = run_tests(tests, pure=pure)
        if taken is None:
            raise SystemExit(f"The tests of {module} fail as the code stands.")
        seconds[module, pure] = taken
    return seconds[module, pure]


if __name__ == "__main__":
    raise SystemExit(main())
