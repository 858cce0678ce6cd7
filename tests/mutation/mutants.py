"""Small wrong changes to a module's functions, made in its syntax tree."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Add,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}


@dataclass(frozen=True)
class Mutant:
    """One change. function: its qualified name in the module."""

    path: Path
    line: int
    function: str
    what: str
    tree: ast.Module
    old: ast.AST
    new: ast.AST

    @property
    def name(self) -> str:
        """Where and what, whatever the line."""
        return f"{self.path} {self.function}: {self.what}"

    def code(self) -> CodeType:
        """The function's compiled code."""
        changed = _Replaced(self.old, ast.copy_location(self.new, self.old)).visit(self.tree)
        assert isinstance(changed, ast.Module)
        ast.fix_missing_locations(changed)
        found = _code_of(compile(changed, str(self.path), "exec"), self.function)
        assert found is not None, self.name
        return found


def mutants(path: Path) -> Iterator[Mutant]:
    """All of a file's: one changed place each, inside functions and methods. Messages of errors
    and docstrings are left alone."""
    tree = ast.parse(path.read_text("utf-8"))
    for function, node in _functions(tree):
        for place in ast.walk(node):
            if isinstance(place, ast.expr | ast.stmt) and not _is_annotation(node, place):
                for what, new in _changes(place):
                    yield Mutant(path, place.lineno, function, what, tree, place, new)


def _functions(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef]]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            yield node.name, node
        elif isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef):
                    yield f"{node.name}.{inner.name}", inner


def _is_annotation(function: ast.FunctionDef, place: ast.AST) -> bool:
    """What is evaluated when a function is defined, not when it is called."""
    outside: list[ast.AST] = [*function.decorator_list, function.args]
    outside += [function.returns] if function.returns else []
    return any(place is one for start in outside for one in ast.walk(start))


def _changes(  # noqa: PLR0912 - one table
    node: ast.expr | ast.stmt,
) -> Iterator[tuple[str, ast.AST]]:
    """What the node may become."""
    match node:
        case ast.Compare(ops=ops):
            for index, op in enumerate(ops):
                for other in _COMPARISONS.get(type(op), ()):
                    new = copy.deepcopy(node)
                    new.ops[index] = other()
                    yield f"{ast.unparse(node)} -> {ast.unparse(new)}", new
        case ast.BoolOp(op=op):
            swapped = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield f"and/or in {ast.unparse(node)}", ast.BoolOp(op=swapped, values=node.values)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield f"{ast.unparse(node)} without not", operand
        case ast.BinOp(op=op) if type(op) in _ARITHMETIC and not _is_text(node):
            new_op = _ARITHMETIC[type(op)]()
            new_node = ast.BinOp(left=node.left, op=new_op, right=node.right)
            yield f"{ast.unparse(node)} -> {ast.unparse(new_node)}", new_node
        case ast.Constant(value=bool() as value):
            yield f"{value} -> {not value}", ast.Constant(not value)
        case ast.Constant(value=int() as value):
            for near in (value + 1, value - 1):
                yield f"{value} -> {near}", ast.Constant(near)
        case ast.Constant(value=str() as value) if value and len(value) < 5:
            yield f"{value!r} -> ''", ast.Constant("")
        case ast.Return(value=value) if value is not None and not _is_nothing(value):
            yield f"return None for {ast.unparse(value)[:50]}", ast.Return(ast.Constant(None))
        case ast.If(test=test) | ast.While(test=test) | ast.IfExp(test=test):
            if not isinstance(test, ast.Compare | ast.BoolOp):
                changed = copy.copy(node)
                changed.test = ast.UnaryOp(op=ast.Not(), operand=test)
                yield f"not {ast.unparse(test)}", changed
        case _:
            return


def _is_text(node: ast.BinOp) -> bool:
    return any(isinstance(side, ast.Constant | ast.JoinedStr) and not _is_number(side)
               for side in (node.left, node.right))  # fmt: skip


def _is_number(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float)


def _is_nothing(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


class _Replaced(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self.old:
            return self.new
        return self.generic_visit(copy.copy(node))

    def generic_visit(self, node: ast.AST) -> ast.AST:
        for name, value in ast.iter_fields(node):
            if isinstance(value, list):
                setattr(node, name, [self.visit(x) if isinstance(x, ast.AST) else x for x in value])
            elif isinstance(value, ast.AST):
                setattr(node, name, self.visit(value))
        return node


def _code_of(code: CodeType, name: str) -> CodeType | None:
    for one in code.co_consts:
        if isinstance(one, CodeType):
            if one.co_qualname == name:
                return one
            if found := _code_of(one, name):
                return found
    return None
