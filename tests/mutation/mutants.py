"""Mutants: every way to make one small mistake in a module, by its syntax tree.

A mutant's name says where it is and what was put in place of what, and not on which line; so it stays the same
when the file grows elsewhere.
"""

import ast
import copy
from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

COMPARED = {
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
RECKONED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitOr: ast.BitAnd}
#: A function and the one that is taken for it by mistake.
MISTAKEN = {"min": "max", "max": "min", "any": "all", "all": "any"}
#: Members of these are swapped one for the next.
ENUMS = ("AlarmState", "Cause", "Trigger", "Case", "Presence", "HoldReason", "Side", "Judged")


class Mutant(NamedTuple):
    """One mistake.

    Attributes:
        name: ``module.function: before → after``, and ``#2`` for the second of the same in one function.
        tree, path, after: the module as it is, where the mistake is, and what stands there instead.
    """

    name: str
    tree: ast.Module
    path: tuple
    after: ast.AST

    @property
    def source(self) -> str:
        """The text of the whole module with the mistake."""
        changed = copy.deepcopy(self.tree)
        _put(changed, self.path, self.after)
        return ast.unparse(ast.fix_missing_locations(changed))


def mutants_of(module: str, source: str, members: dict[str, list[str]]) -> Iterator[Mutant]:
    """Every mutant of a module's source.

    Args:
        module: its short name, for the mutants' names.
        source: its text.
        members: the names of each enumeration's members, in order.
    """
    tree = ast.parse(source)
    count: Counter[str] = Counter()
    for path, where in _places(tree, (), module):
        before = _at(tree, path)
        for after in _mistakes(before, members):
            name = f"{where}: {_text(before)} → {_text(after)}"
            count[name] += 1
            number = f" #{count[name]}" if count[name] > 1 else ""
            yield Mutant(name + number, tree, path, after)


def _places(node: ast.AST, path: tuple, where: str) -> Iterator[tuple[tuple, str]]:
    """Every node at which a mistake can be made, and the function it stands in."""
    for field, value in ast.iter_fields(node):
        children = enumerate(value) if isinstance(value, list) else [(None, value)]
        for index, child in children:
            if not isinstance(child, ast.AST) or _is_no_code(node, field, child):
                continue
            inner = (*path, (field, index))
            named = isinstance(child, ast.FunctionDef | ast.ClassDef)
            there = f"{where}.{child.name}" if named else where
            yield inner, there
            yield from _places(child, inner, there)


def _is_no_code(parent: ast.AST, field: str, child: ast.AST) -> bool:
    """Annotations, imports, decorators and docstrings do nothing at run time."""
    if field in {"annotation", "returns", "decorator_list", "bases", "keywords"} and not isinstance(
        parent, ast.Call
    ):
        return True
    if isinstance(child, ast.Import | ast.ImportFrom | ast.Raise | ast.JoinedStr):
        return True
    return isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)


def _mistakes(node: ast.AST, members: dict[str, list[str]]) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(ops=[op]):
            for other in COMPARED.get(type(op), ()):
                yield ast.Compare(node.left, [other()], node.comparators)
        case ast.Compare(ops=[_, _]):
            yield from _chain_mistakes(node)
        case ast.BoolOp(op=op):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), node.values)
            for index in range(len(node.values)):
                rest = node.values[:index] + node.values[index + 1 :]
                yield rest[0] if len(rest) == 1 else ast.BoolOp(op, rest)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.BinOp(op=op) if type(op) in RECKONED:
            yield ast.BinOp(node.left, RECKONED[type(op)](), node.right)
        case ast.IfExp():
            yield ast.IfExp(node.test, node.orelse, node.body)
        case ast.Call(func=ast.Name(id=name)) if name in MISTAKEN:
            yield ast.Call(ast.Name(MISTAKEN[name], ast.Load()), node.args, node.keywords)
        case ast.Call(func=ast.Name(id="replace")):
            for index in range(len(node.keywords)):
                yield ast.Call(node.func, node.args, node.keywords[:index] + node.keywords[index + 1 :])
        case _:
            yield from _value_mistakes(node, members)
            yield from _statement_mistakes(node)


def _chain_mistakes(node: ast.Compare) -> Iterator[ast.AST]:
    for index, op in enumerate(node.ops):
        for other in COMPARED[type(op)]:
            ops = list(node.ops)
            ops[index] = other()
            yield ast.Compare(node.left, ops, node.comparators)


def _value_mistakes(node: ast.AST, members: dict[str, list[str]]) -> Iterator[ast.AST]:
    match node:
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            yield ast.Constant(value + 1)
        case ast.Constant(value=str() as value):
            yield ast.Constant(value + "?")
        case ast.Attribute(value=ast.Name(id=enum), attr=member) if enum in members and enum in ENUMS:
            names = members[enum]
            yield ast.Attribute(node.value, names[(names.index(member) + 1) % len(names)], node.ctx)
        case ast.Attribute(value=ast.Name(id="math"), attr="inf"):
            yield ast.Constant(0.0)
        case ast.Set(elts=[_, _, *_]):
            for index in range(len(node.elts)):
                yield ast.Set(node.elts[:index] + node.elts[index + 1 :])


def _statement_mistakes(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Return(value=ast.Constant(value=None) | None):
            return
        case ast.Return():
            yield ast.Return(ast.Constant(None))
        case ast.If(test=ast.Compare(ops=[_])) | ast.While(test=ast.Compare(ops=[_])):
            return  # the comparison itself is turned round
        case ast.If() | ast.While():
            yield type(node)(ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse)
        case ast.Assign() | ast.AugAssign() | ast.Expr():
            yield ast.Pass()
        case ast.Continue():
            yield ast.Break()


def _at(tree: ast.AST, path: tuple) -> ast.AST:
    for field, index in path:
        value = getattr(tree, field)
        tree = value if index is None else value[index]
    return tree


def _put(tree: ast.AST, path: tuple, new: ast.AST) -> None:
    *outer, (field, index) = path
    parent = _at(tree, tuple(outer))
    if index is None:
        setattr(parent, field, new)
    else:
        getattr(parent, field)[index] = new


def _text(node: ast.AST) -> str:
    """The code in one line; of a block its head alone."""
    if isinstance(node, ast.If | ast.While):
        return f"{type(node).__name__.lower()} {ast.unparse(node.test)}:"
    return " ".join(ast.unparse(node).split())
