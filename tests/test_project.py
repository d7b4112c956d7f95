"""What holds for the project as a whole: its files, its parts, its shape, and who may see its pages."""

import ast
import importlib.metadata
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command, get_commands
from django.forms import BaseForm, DateField, DateTimeField
from django.urls import URLPattern, URLResolver, get_resolver
from django_filters import FilterSet
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from studio.kit.fields import DayField
from tests.tools import describe_left_out, must_be_whole

ROOT = Path(__file__).resolve().parent.parent
APPS = ("studio", "inventory", "costing")
TOP_LEVEL = {
    *(*APPS, "templates", "tests", "manage.py", "Makefile", "pyproject.toml", "requirements.txt"),
    *("README.md", "DEVELOPERS.md", ".ci", ".gitignore"),
}
# What anyone may open before signing in; every other page asks for a name and a password first.
OPEN_PAGES = {"sign-in", "sign-out", "theme", "understood", "welcome"}
PURE_KIT = {
    f"studio.kit.{name}" for name in ("units", "measures", "numerals", "printing", "rounding", "working")
}


@cache
def tracked_files() -> tuple[Path, ...]:
    """The project's own files: what git keeps or, in a copy without git, what is no product of a run."""
    if (ROOT / ".git").exists():
        listed = subprocess.run(
            ["git", "ls-files", "-z", "--cached"], cwd=ROOT, capture_output=True, text=True, check=True
        )
        return tuple(ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file())
    products = {".venv", "var", "out", "__pycache__"}
    return tuple(
        path
        for path in ROOT.rglob("*")
        if path.is_file() and not any(part in products or part.endswith("_cache") for part in path.parts)
    )


def texts(*suffixes: str, under: tuple[str, ...] = ("",)) -> Iterator[tuple[str, str]]:
    """The name and the text of each tracked file with one of the suffixes, in one of the folders."""
    for path in tracked_files():
        name = path.relative_to(ROOT).as_posix()
        if path.suffix in suffixes and name.startswith(under) and "/migrations/" not in name:
            yield name, path.read_text(encoding="utf-8")


def pinned(file: str) -> dict[str, str]:
    """Name and version of each line of a requirements file."""
    lines = (line.strip() for line in (ROOT / file).read_text().splitlines())
    return dict(line.split("==") for line in lines if line and not line.startswith(("#", "-r")))


def test_no_test_was_left_out_where_all_must_run() -> None:
    if must_be_whole():
        assert describe_left_out() == ""


def test_the_top_level_holds_only_what_a_newcomer_must_see() -> None:
    assert {path.relative_to(ROOT).parts[0] for path in tracked_files()} <= TOP_LEVEL


@pytest.mark.parametrize("file", ["requirements.txt", "tests/requirements.txt"])
def test_every_package_is_pinned_exactly(file: str) -> None:
    assert all(re.fullmatch(r"\d[\w.]*", version) for version in pinned(file).values())


def test_what_the_pinned_packages_need_is_pinned_too() -> None:
    names = {canonicalize_name(name) for name in pinned("requirements.txt")}
    needed = {
        canonicalize_name(requirement.name)
        for name in names
        for requirement in map(Requirement, importlib.metadata.requires(name) or [])
        if requirement.marker is None or requirement.marker.evaluate({"extra": ""})
    }
    assert needed - names == set()


def test_every_package_that_the_studio_imports_is_explained_to_developers() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").lower()
    needed_by_others = {
        canonicalize_name(Requirement(line).name)
        for name in pinned("requirements.txt")
        for line in importlib.metadata.requires(name) or []
    }
    direct = {canonicalize_name(name) for name in pinned("requirements.txt")} - needed_by_others
    assert [name for name in sorted(direct) if name not in text] == []


def test_no_file_knows_a_machine_or_a_host() -> None:
    machine = re.compile(
        "|".join(["/" + "work/", "/" + "root/", "/" + "home/", "python" + "hosted", "/" + "tmp/"])
    )
    suffixes = (".py", ".md", ".toml", ".txt", ".html", ".css", ".js", "")
    found = [name for name, text in texts(*suffixes) if machine.search(text)]
    assert found == []


def test_no_page_asks_another_host_for_anything() -> None:
    elsewhere = re.compile(r"""https?://(?!www\.w3\.org/2000/svg)[\w]|(?:src|href)="//|@import""")
    found = [name for name, text in texts(".html", ".css", ".js", ".svg") if elsewhere.search(text)]
    assert found == []


def test_no_template_carries_styles_or_scripts_of_its_own() -> None:
    forbidden = re.compile(
        r"""\sstyle\s*=|<style|<script(?![^>]*\ssrc=)|\son[a-z]+\s*=|javascript:|hx-on|["']js:""",
        re.IGNORECASE,
    )
    found = [
        f"{name}: {match[0].strip()}"
        for name, text in texts(".html", under=("templates/",))
        for match in forbidden.finditer(re.sub(r"{%.*?%}|{#.*?#}", "", text))
    ]
    assert found == []


def test_no_template_trusts_a_text_blindly() -> None:
    trusting = re.compile(r"\|\s*safe\b|{%\s*autoescape\s+off")
    assert [name for name, text in texts(".html", under=("templates/",)) if trusting.search(text)] == []


def test_enter_saves_nothing_on_any_form_that_writes() -> None:
    """A form with fields says so right at its start, before any button of its own."""
    found = []
    for name, text in texts(".html", under=("templates/",)):
        for form in re.findall(r'<form[^>]*method="post".*?</form>', text, re.DOTALL):
            has_fields = re.search(r"as_field_group|form\w* }}|{% block form %}|{% include (?!.kit/)", form)
            begins = r'<form[^>]*>\s*{% csrf_token %}\s*{% include "kit/enter_goes_on.html" %}'
            if has_fields and name != "templates/registration/login.html" and not re.match(begins, form):
                found.append(name)
    assert found == []


def test_the_readme_opens_with_one_paragraph_on_the_job_and_has_the_two_commands() -> None:
    title, opening, rest = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n", 2)
    assert re.fullmatch(r"# .+", title)
    assert re.match(r"[A-Z]", opening)
    assert len(opening) > 200
    assert rest.index("make demo") < rest.index("make test")


def test_every_setting_is_in_the_readmes_table_and_nothing_else_is() -> None:
    reader = (
        r"""(?:os\.environ(?:\.get\(|\[)|os\.getenv\(|read_(?:switch|words|zone|\w+)\()\s*["']([A-Z_]+)["']"""
    )
    read = {name for _, text in texts(".py", under=(*APPS, "manage.py")) for name in re.findall(reader, text)}
    table = re.findall(r"^\| (`.*?) \|", (ROOT / "README.md").read_text(encoding="utf-8"), re.MULTILINE)
    named = {name for cell in table for name in re.findall(r"`([A-Z_]+)(?:=\d)?`", cell)}
    assert read >= {"PORT", "DATABASE_URL", "STUDIO_BIND", "STUDIO_DB", "SECRET_KEY", "DEBUG"}
    assert named == read


def test_the_commands_that_the_readme_tells_are_there() -> None:
    told = set(re.findall(r"manage\.py (\w+)", (ROOT / "README.md").read_text(encoding="utf-8")))
    assert told >= {"audit", "backup", "restore"}
    assert told <= set(get_commands())


def test_a_suppressed_warning_carries_its_reason() -> None:
    bare = re.compile(r"#\s*noqa(?!: [A-Z0-9, ]+ (-|—) \w)|#\s*type: ignore(?!\[[\w, -]+\]\s+# \w)")
    found = [
        f"{name}:{number}"
        for name, text in texts(".py", under=APPS)
        for number, line in enumerate(text.splitlines(), 1)
        if bare.search(line)
    ]
    assert found == []


def test_functions_and_modules_stay_short() -> None:
    functions: dict[str, int] = {}
    modules: dict[str, int] = {}
    for name, text in texts(".py", under=APPS):
        modules[name] = text.count("\n")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef):
                functions[f"{name}:{node.name}"] = (node.end_lineno or node.lineno) - node.lineno + 1
    assert mostly_below(functions, usual=40, most=60) == []
    assert mostly_below(modules, usual=300, most=400) == []


def mostly_below(sizes: dict[str, int], *, usual: int, most: int) -> list[str]:
    """What is too long: all above `usual` when they are more than one in twenty, else all above `most`."""
    above = [name for name, size in sizes.items() if size > usual]
    if len(above) * 20 > len(sizes):
        return above
    return [name for name in above if sizes[name] > most]


def imported_by(text: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield str(node.module)


def test_arithmetic_stands_on_the_standard_library_and_the_pure_kit() -> None:
    allowed = re.compile("|".join([*map(re.escape, PURE_KIT), r"inventory\.core\b.*", r"costing\.core\b.*"]))
    found = [
        f"{name} imports {module}"
        for name, text in texts(".py", under=("inventory/core/", "costing/core/"))
        for module in imported_by(text)
        if module.split(".")[0] not in sys.stdlib_module_names and not allowed.fullmatch(module)
    ]
    assert found == []


def test_only_the_book_writes_the_ledger() -> None:
    writes = re.compile(
        r"(?<!class )\b(?:Entry|Movement|Holder)(?:\.objects\.\w*(?:create|update|delete)|\()"
        r"|\b(?:blank|put_together)\((?:Entry|Movement|Holder)\b"
    )
    found = [name for name, text in texts(".py", under=APPS) if writes.search(text)]
    assert found == ["inventory/posting/book.py"]


def opens_tables(text: str) -> bool:
    """Whether a module asks or writes the database through a model's manager."""
    managers = {"objects", "_default_manager", "_base_manager"}
    # To parse a module takes long, and few name one at all.
    return any(manager in text for manager in managers) and any(
        isinstance(node, ast.Attribute) and node.attr in managers for node in ast.walk(ast.parse(text))
    )


def test_reads_live_in_queries_and_writes_in_posting() -> None:
    """The audit and the copies read whole tables, the middleware who is there; the rest asks queries or posting."""
    layers = "(core|models|forms|tables|filters|reports|calendar_file|urls|views|apps)"
    elsewhere = re.compile(rf"(inventory|costing)/{layers}\b")
    found = {
        name
        for name, text in texts(".py", under=("inventory/", "costing/"))
        if elsewhere.match(name) and opens_tables(text)
    }
    assert found == set()


#: Modules that fit and draw the temperatures of a kiln: nothing of what they reckon with is weighed or paid.
OF_TEMPERATURES = re.compile(r"/(kiln_\w+|schedule)\.py$")


def test_grams_and_money_never_become_floats() -> None:
    found = [
        f"{name}:{node.lineno}"
        for name, text in texts(".py", under=("inventory/", "costing/"))
        if not OF_TEMPERATURES.search(name)
        for node in ast.walk(ast.parse(text))
        if (isinstance(node, ast.Constant) and isinstance(node.value, float))
        or (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "float")
    ]
    assert found == []


def test_ci_runs_the_same_command_as_a_person() -> None:
    script = ROOT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    assert "make test" in script.read_text(encoding="utf-8")


def test_nothing_names_an_address_of_an_app_that_stands_above_it() -> None:
    above = {"studio/": "inventory|costing", "inventory/": "costing", "templates/kit/": "inventory|costing"}
    for path in (ROOT / "templates").iterdir():
        above.setdefault(f"templates/{path.name}", "nothing" if path.name == "costing" else "costing")
    found = [
        f"{name}: {address}"
        for start, apps in above.items()
        for name, text in texts(".py", ".html", under=(start,))
        for address in re.findall(rf"""["'](?:{apps}):[\w-]+""", text)
    ]
    assert found == []


@pytest.mark.django_db
def test_the_migrations_say_what_the_models_say() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def all_patterns(resolver: URLResolver) -> Iterator[URLPattern]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from all_patterns(entry)
        else:
            yield entry


def test_the_kit_knows_no_page_of_the_apps() -> None:
    """Neither its name nor its address: apps hand in what the kit shows of them."""
    names = {f"{one.app_name}:" for one in get_resolver().url_patterns if getattr(one, "app_name", None)}
    apps = [one for one in get_resolver().url_patterns if getattr(one, "app_name", None)]
    starts = {f"/{str(one.pattern).split('/')[0]}/" for app in apps for one in all_patterns(app)} - {"//"}
    assert {"inventory:", "costing:"} <= names and {"/casts/", "/reports/"} <= starts
    known = re.compile("|".join(map(re.escape, sorted(names | starts))))
    failures = ("templates/4", "templates/5", "templates/trouble")
    shared = ("studio/kit/", "templates/kit/", "templates/base.html", "templates/registration/", *failures)
    assert [name for name, text in texts(".py", ".html", under=shared) if known.search(text)] == []


def test_every_page_but_the_first_asks_who_is_there() -> None:
    patterns = list(all_patterns(get_resolver()))
    open_to_all = {str(one.name) for one in patterns if not getattr(one.callback, "login_required", True)}
    assert open_to_all <= OPEN_PAGES
    assert len(patterns) > len(open_to_all)


def test_every_day_that_is_typed_is_one_of_this_century() -> None:
    """Beyond, the calendar ends before what comes before or after a day. Moments are read by a field of their own."""
    assert get_resolver().url_patterns  # by which all forms are read
    forms = {
        one for one in _below(BaseForm) if one.__module__.split(".")[0] in ("studio", "inventory", "costing")
    }
    filters = {one for one in _below(FilterSet) if one.__module__.startswith(("inventory", "costing"))}
    fields = [(form, field) for form in forms for field in getattr(form, "base_fields", {}).values()]
    fields += [(one, each.field) for one in filters for each in one.base_filters.values()]
    days = [(form, field) for form, field in fields if isinstance(field, DateField | DateTimeField)]
    assert len(days) > 30
    for form, field in days:
        assert isinstance(field, DayField), form
        for year in (1, 1999, 2101, 9999):
            with pytest.raises(ValidationError):
                field.clean(f"{year:04}-06-15")


def _below(kind: type) -> Iterator[type]:
    for one in kind.__subclasses__():
        yield one
        yield from _below(one)
