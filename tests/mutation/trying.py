"""Runs tests on a mutant, in a child of this process that has the libraries in memory already."""

import contextlib
import importlib
import os
import resource
import shutil
import signal
import sys
import time
from math import ceil
from pathlib import Path

import pytest

from tests.mutation.changes import Mutant

CPU_SECONDS, MEMORY_BYTES = 60, 3 << 30
"""The longest that the tests of one module may take; a mutant is given twice what they take without it."""
WALL_PER_CPU = 20
"""Others use the machine too; this is for a child that waits for nothing."""
LIBRARIES = (
    "django.test django.forms hypothesis scipy.optimize apportionment.methods beancount.core time_machine"
)


def warm_up() -> None:
    """Load what every child needs, and nothing that may be changed: not the apps, which load nearly everything."""
    for name in LIBRARIES.split():
        importlib.import_module(name)
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    importlib.import_module("tests.settings")


class _NoShrinking:
    """A failure is enough; nobody reads the smallest one."""

    @pytest.hookimpl(trylast=True)
    def pytest_configure(self) -> None:
        from hypothesis import HealthCheck, Phase, settings

        settings.register_profile(
            "mutants",
            deadline=None,
            derandomize=True,
            database=None,
            phases=(Phase.explicit, Phase.generate),
            suppress_health_check=list(HealthCheck),
        )
        settings.load_profile("mutants")


def try_mutant(mutant: Mutant, tests: list[Path], cpu_s: int, *, pure: bool) -> bool:
    """Whether some test fails with it; taking more than so many seconds is failing."""
    name = ".".join(mutant.path.with_suffix("").parts)
    if name in sys.modules:
        raise SystemExit(f"{name} is in memory already: its tests would never see a wrong in it.")
    kept = mutant.path.read_text(encoding="utf-8")
    stale = mutant.path.parent / "__pycache__"
    try:
        mutant.path.write_text(mutant.write(kept), encoding="utf-8")
        shutil.rmtree(stale, ignore_errors=True)  # or an older one with the same second would be taken
        return run_tests(tests, cpu_s, pure=pure) is None
    finally:
        mutant.path.write_text(kept, encoding="utf-8")


def run_tests(tests: list[Path], cpu_s: int = CPU_SECONDS, *, pure: bool) -> int | None:
    """The processor's seconds in which all pass in this tree as it stands; None when they do not."""
    child = os.fork()
    if child == 0:
        _run_and_leave(tests, cpu_s, pure)
    until = time.monotonic() + WALL_PER_CPU * cpu_s
    while True:
        ended, status, used = os.wait4(child, os.WNOHANG)
        if ended:
            return ceil(used.ru_utime + used.ru_stime) if status == 0 else None
        if time.monotonic() > until:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.02)


def _run_and_leave(tests: list[Path], cpu_s: int, pure: bool) -> None:
    code = 1
    try:
        sys.dont_write_bytecode = True
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 5))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2) if "STUDIO_MUTANTS_LOUD" not in os.environ else ():
            os.dup2(quiet, stream)
        options = ["-x", "-q", "--assert=plain", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not slow"]
        if pure:
            options += ["-p", "no:django", "-c", "tests/mutation/pure.ini", "--rootdir", "."]
        else:
            options += ["--reuse-db"]
        with contextlib.suppress(SystemExit):
            code = int(pytest.main([*options, *map(str, tests)], plugins=[_NoShrinking()]))
    finally:
        os._exit(code)
