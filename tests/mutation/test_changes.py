"""The small wrongs that are put into code: what they are, and that each is there."""

import ast
from itertools import chain
from pathlib import Path

import pytest

from tests.mutation.__main__ import PARTS, ROOT, read_equivalent
from tests.mutation.changes import find_mutants
from tests.mutation.covering import find_tests
from tests.mutation.trying import try_mutant

CODE = '''
"""A module."""
MOST = 3


def share(whole: int = 2, *, kept: bool) -> int:
    """Its words."""
    if not kept and whole >= MOST:
        raise ValueError("too much")
    print(whole)
    return min(whole, MOST) + 1
'''


def test_each_kind_of_wrong_is_found_once_and_put_into_the_code(tmp_path):
    (tmp_path / "sharing.py").write_text(CODE, encoding="utf-8")
    mutants = find_mutants(tmp_path, Path("sharing.py"))
    assert [(one.before, one.after) for one in mutants] == [
        ("3", "4"),
        ("3", "2"),
        ("2", "3"),
        ("2", "1"),
        ("not kept and whole >= MOST", "not kept or whole >= MOST"),
        ("not kept", "kept"),
        ("whole >= MOST", "whole > MOST"),
        ("raise ValueError('too much')", "pass"),
        ("print(whole)", "pass"),
        ("return min(whole, MOST) + 1", "return None"),
        ("return min(whole, MOST) + 1", "return 0"),
        ("min(whole, MOST) + 1", "min(whole, MOST) - 1"),
        ("min(whole, MOST)", "max(whole, MOST)"),
        ("1", "2"),
        ("1", "0"),
    ]
    plain = ast.unparse(ast.parse(CODE))
    written = {one.write(CODE) for one in mutants}
    assert len(written) == len(mutants) and plain not in written
    assert {one.where for one in mutants} == {"", "share"}


def test_a_module_is_held_by_the_tests_that_reach_it():
    (tests, pure), *_ = find_tests(ROOT, Path("inventory/core/charge_simplex.py"))
    assert pure and Path("tests/inventory/test_core_proposing.py") in tests
    (tests, _), *_ = find_tests(ROOT, Path("inventory/core/melting.py"))
    assert tests[0] == Path("tests/published/test_melting.py")
    ((tests, pure),) = find_tests(ROOT, Path("inventory/posting/closing.py"))
    assert not pure and tests


def test_what_is_tried_and_what_is_left_out_is_there():
    modules = [*chain.from_iterable(PARTS.values()), *(Path(module) for module, *_ in read_equivalent())]
    assert [one for one in modules if not (ROOT / one).is_file()] == []


def test_a_wrong_is_not_tried_in_a_module_that_every_child_has_in_memory_already():
    mutant = find_mutants(ROOT, Path("tests/mutation/covering.py"))[0]
    with pytest.raises(SystemExit, match=r"tests\.mutation\.covering is in memory already"):
        try_mutant(mutant, [], 1, pure=True)
