"""Small wrongs for a module's code, one at a time: each must make some test fail."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.FloorDiv: ast.Mult,
}
_EXTREMES = {"min": "max", "max": "min"}


@dataclass(frozen=True)
class Mutant:
    """A module with one small wrong in it."""

    path: Path
    line: int
    where: str
    """The function or class it stands in, with dots."""
    code: str
    """The line of code, without what it is indented by."""
    before: str
    after: str
    place: int
    """Of the node in a walk through the module, and which of its wrongs this is."""
    number: int

    def __str__(self) -> str:
        return f"{self.path}:{self.line} {self.where}: {self.before} -> {self.after} in {self.code}"

    def write(self, code: str) -> str:
        """The module's code with the wrong in it."""
        tree = ast.parse(code)
        target = next(node for place, (node, _) in enumerate(_walk(tree, "")) if place == self.place)
        changed = list(_change(target))[self.number]
        for parent in ast.walk(tree):
            for name, value in ast.iter_fields(parent):
                if value is target:
                    setattr(parent, name, changed)
                elif isinstance(value, list):
                    setattr(parent, name, [changed if child is target else child for child in value])
        return ast.unparse(ast.fix_missing_locations(tree))

    @property
    def key(self) -> tuple[str, str, str]:
        """What it is, whatever line it has come to stand on."""
        return self.path.as_posix(), self.code, f"{self.before} -> {self.after}"


def find_mutants(root: Path, path: Path) -> list[Mutant]:
    """Every small wrong for the module at `path` (from `root`), in the order of the code."""
    code = (root / path).read_text(encoding="utf-8")
    lines, tree = code.splitlines(), ast.parse(code)
    return [
        Mutant(
            path, node.lineno, where, lines[node.lineno - 1].strip(), _say(node), _say(changed), place, number
        )
        for place, (node, where) in enumerate(_walk(tree, ""))
        for number, changed in enumerate(_change(node))
    ]


def _walk(node: ast.AST, where: str) -> Iterator[tuple[ast.stmt | ast.expr, str]]:
    """Each statement and expression that is run for what it does; types and decorators are left out."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "type_params", "decorator_list"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST):
                continue
            inside = where
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                inside = f"{where}.{child.name}".lstrip(".")
            if isinstance(child, ast.stmt | ast.expr):
                yield child, inside
            yield from _walk(child, inside)


def _say(node: ast.AST) -> str:
    return " ".join(ast.unparse(node).split())


def _change(node: ast.stmt | ast.expr) -> Iterator[ast.AST]:
    """Each wrong that may be put in the place of a node."""
    yield from _change_statement(node) if isinstance(node, ast.stmt) else _change_expression(node)


def _change_statement(node: ast.stmt) -> Iterator[ast.AST]:
    match node:
        case ast.AugAssign() if type(node.op) in _RECKONED:
            yield ast.AugAssign(node.target, _RECKONED[type(node.op)](), node.value)
        case ast.Return(value=ast.expr()):
            yield from _return_nothing(node)
        case ast.Expr(value=ast.Call()) | ast.Raise():
            yield ast.Pass()


def _change_expression(node: ast.expr) -> Iterator[ast.AST]:
    match node:
        case ast.Compare():
            for number, sign in enumerate(node.ops):
                signs = [*node.ops[:number], _COMPARED[type(sign)](), *node.ops[number + 1 :]]
                yield ast.Compare(node.left, signs, node.comparators)
        case ast.Constant(value=bool()):
            yield ast.Constant(not node.value)
        case ast.Constant(value=int()):
            yield ast.Constant(node.value + 1)
            yield ast.Constant(node.value - 1)
        case ast.BoolOp():
            yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        case ast.UnaryOp(op=ast.Not()):
            yield node.operand
        case ast.BinOp() if type(node.op) in _RECKONED:
            yield ast.BinOp(node.left, _RECKONED[type(node.op)](), node.right)
        case ast.Call(func=ast.Name(id=name)) if name in _EXTREMES:
            yield ast.Call(ast.Name(_EXTREMES[name]), node.args, node.keywords)


def _return_nothing(node: ast.Return) -> Iterator[ast.AST]:
    for value in (None, 0):
        if not (isinstance(node.value, ast.Constant) and node.value.value == value):
            yield ast.Return(ast.Constant(value))
