"""What the heavier tests need beyond requirements.txt, and which of them are left out where it is missing.

`python -m tests.tools` installs the missing programs where it may, or says in a sentence what to install.
"""

import ast
import importlib.util
import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

TESTS = Path(__file__).resolve().parent
PACKAGES = (
    "apportionment",
    "axe_playwright_python",
    "beancount",
    "hypothesis",
    "playwright",
    "pypdf",
    "pypdfium2",
    "scipy",
    "time_machine",
    "zxingcpp",
)
PROGRAMS = ("chromium", "postgresql")  # by the names of their Debian packages
#: Debian's package of a Chromium without a window, which starts and draws in half the time; another one does too.
WINDOWLESS = "chromium-headless-shell"
NEEDS_BY_PLACE = {
    "browser/*": ("playwright", "axe_playwright_python", "chromium"),
    "judges/*": ("apportionment", "beancount", "pypdf", "scipy"),
    "postgres/*": ("postgresql",),
    "*_properties.py": ("hypothesis",),
}


def must_be_whole() -> bool:
    """Whether a missing tool is a failure here: in `make test`, and wherever CI says that it is CI."""
    return os.environ.get("STUDIO_TESTS") == "all" or os.environ.get("CI", "").lower() in ("1", "true")


@cache
def find_chromium() -> str | None:
    names = (os.environ.get("CHROMIUM", ""), WINDOWLESS, "chromium", "chromium-browser", "google-chrome")
    return next((path for name in names if name and (path := shutil.which(name))), None)


@cache
def find_postgresql() -> Path | None:
    """The folder that holds initdb and pg_ctl; Debian keeps it off the path."""
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: -int(path.parent.name))
    return next((path for path in folders if (path / "initdb").exists() and (path / "pg_ctl").exists()), None)


@cache
def missing() -> frozenset[str]:
    """The packages and programs that are not on this machine."""
    absent = {name for name in PACKAGES if importlib.util.find_spec(name) is None}
    if find_chromium() is None:
        absent.add("chromium")
    if find_postgresql() is None:
        absent.add("postgresql")
    return frozenset(absent)


@cache
def left_out() -> dict[Path, frozenset[str]]:
    """The test files that cannot run here, each with what it misses."""
    if not missing():
        return {}
    files = {path: missing() & needs_of(path) for path in TESTS.rglob("*.py") if path.name != "__init__.py"}
    return {path: absent for path, absent in files.items() if absent}


def needs_of(path: Path) -> frozenset[str]:
    """The tools that the test file needs: by where it stands, and by what it imports."""
    place = path.relative_to(TESTS)
    needs = {tool for pattern, tools in NEEDS_BY_PLACE.items() if place.match(pattern) for tool in tools}
    for node in ast.parse(path.read_bytes()).body:
        if isinstance(node, ast.Import):
            needs |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            needs.add((node.module or "").split(".")[0])
    return frozenset(needs & {*PACKAGES, *PROGRAMS})


def describe_left_out() -> str:
    """One line for the head of a test run; empty when every test can run."""
    if not missing():
        return ""
    count = sum(path.name.startswith("test_") for path in left_out())
    return f"left out for want of {', '.join(sorted(missing()))}: {count} test files. To run them: {advice()}"


def advice() -> str:
    steps = []
    if missing() & set(PACKAGES):
        steps.append("pip install -r tests/requirements.txt")
    if missing() & set(PROGRAMS):
        steps.append("apt-get install " + " ".join(sorted(missing() & set(PROGRAMS))))
    return "; ".join(steps)


def install_programs() -> None:
    """Install what is missing with apt-get when run as root; otherwise name the packages and fail."""
    wanted = sorted(missing() & set(PROGRAMS))
    may_install = os.geteuid() == 0 and shutil.which("apt-get") is not None
    if may_install and shutil.which(WINDOWLESS) is None and not os.environ.get("CHROMIUM"):
        fault = _install(WINDOWLESS)
        wanted = [name for name in wanted if name != "chromium" or fault]
    if not wanted:
        return
    if not may_install:
        sys.exit(f"The tests need programs that are not here. Install these packages: {' '.join(wanted)}")
    if fault := _install(*wanted):
        sys.exit(fault)


def _install(*packages: str) -> str:
    """Install Debian packages; what went wrong, or nothing."""
    print(f"Installing for the tests: {' '.join(packages)}", flush=True)
    quiet = {"env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, "stdin": subprocess.DEVNULL}
    for step in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        done = subprocess.run(
            ["apt-get", "-qq", *step], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **quiet, check=False
        )
        if done.returncode:
            return f"apt-get {step[0]} failed:\n{done.stdout.decode(errors='replace')}"
    return ""


if __name__ == "__main__":
    install_programs()
