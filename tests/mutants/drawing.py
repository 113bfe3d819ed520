"""
Small faults drawn from the code itself: one change of one node of a module's syntax tree.

Each kind is a mistake that people make at limits and in rare branches. Annotations, docstrings, imports and decorators are
left alone: a fault there is the type checker's to see. Kinds are drawn alike, so a rare one is drawn as often as a common one.
"""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

LIMITS = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
OPPOSITES = {
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
SIGNS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
SWAPPED = {
    "min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor", "minimum": "maximum",
    "maximum": "minimum", "argmin": "argmax", "argmax": "argmin", "bisect_left": "bisect_right", "bisect_right": "bisect_left",
    "setdefault": "get", "lower": "upper",
}  # fmt: skip
SQL_STARTS = ("SELECT ", "INSERT ", "UPDATE ", "DELETE ", "WITH ")
SQL_CHANGES = (
    (" AND ", " OR "), (" OR ", " AND "), (" = ", " != "), (" < ", " <= "), (" <= ", " < "), (" > ", " >= "), (" >= ", " > "),
    (" DESC", ""), ("min(", "max("), ("max(", "min("), (" IS NULL", " IS NOT NULL"), (" IS NOT NULL", " IS NULL"), ("deleted = 0", "1"),
    ("DISTINCT ", ""), (" IN (", " NOT IN ("),
)  # fmt: skip
SKIPPED_FIELDS = {"annotation", "returns", "decorator_list", "type_comment", "ctx"}
TYPE_WORDS = {"Callable", "Mapping", "Sequence", "Literal", "tuple", "dict", "list", "Iterator"}
SHORT = 100


@dataclass(frozen=True)
class Mutant:
    """A module with one fault in it."""

    file: str
    line: int
    kind: str
    was: str
    is_now: str
    text: str


@dataclass(frozen=True)
class Place:
    """A node where its parent holds it."""

    parent: ast.AST
    field: str
    index: int | None
    node: ast.AST

    def put(self, node: ast.AST) -> None:
        """Set another node in its place."""
        if self.index is None:
            setattr(self.parent, self.field, node)
        else:
            getattr(self.parent, self.field)[self.index] = node


def places(parent: ast.AST) -> Iterator[Place]:
    """Every place where a fault may be put, outermost first."""
    for field, value in ast.iter_fields(parent):
        if field in SKIPPED_FIELDS:
            continue
        for index, node in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(node, ast.AST) and not _is_left_alone(node):
                yield Place(parent, field, index, node)
                yield from places(node)


def _is_left_alone(node: ast.AST) -> bool:
    if isinstance(node, ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    of = node.value if isinstance(node, ast.Assign) else None
    return isinstance(of, ast.Subscript) and isinstance(of.value, ast.Name) and of.value.id in TYPE_WORDS


def _limits(node: ast.AST) -> Iterator[ast.AST]:
    yield from _compared(node, LIMITS)


def _opposites(node: ast.AST) -> Iterator[ast.AST]:
    yield from _compared(node, OPPOSITES)


def _compared(node: ast.AST, turned: dict) -> Iterator[ast.AST]:
    if isinstance(node, ast.Compare):
        for k, op in enumerate(node.ops):
            if type(op) in turned:
                ops = [*node.ops[:k], turned[type(op)](), *node.ops[k + 1 :]]
                yield ast.Compare(node.left, ops, node.comparators)


def _numbers(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Constant) and type(node.value) is int:
        yield from (ast.Constant(node.value + 1), ast.Constant(node.value - 1))
    if isinstance(node, ast.Constant) and type(node.value) is float:
        yield from (ast.Constant(node.value + 1), ast.Constant(node.value * 0.9 if node.value else -1.0))


def _truths(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)


def _joined(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.And() if isinstance(node.op, ast.Or) else ast.Or(), node.values)
        for k in range(len(node.values)):
            rest = node.values[:k] + node.values[k + 1 :]
            yield rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield node.operand


def _branches(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.If | ast.IfExp):
        for always in (True, False):
            told = type(node)(**{name: getattr(node, name) for name in node._fields} | {"test": ast.Constant(always)})
            yield ast.copy_location(told, node)
    if isinstance(node, ast.comprehension) and node.ifs:
        for k in range(len(node.ifs)):
            yield ast.comprehension(node.target, node.iter, node.ifs[:k] + node.ifs[k + 1 :], node.is_async)


def _signs(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.BinOp) and type(node.op) in SIGNS:
        yield ast.BinOp(node.left, SIGNS[type(node.op)](), node.right)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield node.operand


def _statements(node: ast.AST) -> Iterator[ast.AST]:
    is_call = isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    if is_call or isinstance(node, ast.AugAssign | ast.Raise | ast.Continue | ast.Break):
        yield ast.copy_location(ast.Pass(), node)


def _returns(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Return) and node.value is not None and not _is_none(node.value):
        yield ast.copy_location(ast.Return(ast.Constant(None)), node)


def _is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _swaps(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in SWAPPED:
        yield ast.Call(ast.Name(SWAPPED[node.func.id]), node.args, node.keywords)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in SWAPPED:
        yield ast.Call(ast.Attribute(node.func.value, SWAPPED[node.func.attr]), node.args, node.keywords)


def _members(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.List | ast.Tuple | ast.Set) and len(node.elts) > 1 and all(map(_is_member, node.elts)):
        for k in range(len(node.elts)):
            yield type(node)(elts=node.elts[:k] + node.elts[k + 1 :])
    if isinstance(node, ast.Dict) and len(node.keys) > 1:
        for k in range(len(node.keys)):
            yield ast.Dict(node.keys[:k] + node.keys[k + 1 :], node.values[:k] + node.values[k + 1 :])


def _is_member(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant | ast.Starred) or (isinstance(node, ast.Name) and node.id.isupper())


def _queries(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and (node.value.lstrip() + " ").startswith(SQL_STARTS):
        for right, wrong in SQL_CHANGES:
            for k in range(node.value.count(right)):
                yield ast.Constant(wrong.join(_split_at(node.value, right, k)))


def _split_at(text: str, part: str, k: int) -> tuple[str, str]:
    pieces = text.split(part)
    return part.join(pieces[: k + 1]), part.join(pieces[k + 1 :])


KINDS: dict[str, Callable[[ast.AST], Iterator[ast.AST]]] = {
    "limit": _limits, "opposite": _opposites, "number": _numbers, "truth": _truths, "condition": _joined, "branch": _branches,
    "sign": _signs, "statement removed": _statements, "nothing returned": _returns, "swapped": _swaps, "member removed": _members,
    "query": _queries,
}  # fmt: skip


def mutants_of(root: Path, file: str, kinds: dict[str, Callable[[ast.AST], Iterator[ast.AST]]] = KINDS) -> list[tuple[str, Callable[[], Mutant]]]:
    """Every fault that can be put into a file: (kind, what makes it)."""
    tree = ast.parse((root / file).read_text("utf-8"))
    found = []
    for place in places(tree):
        for kind, changes in kinds.items():
            for change in changes(place.node):
                found.append((kind, _maker(tree, file, place, kind, change)))
    return found


def _maker(tree: ast.Module, file: str, place: Place, kind: str, change: ast.AST) -> Callable[[], Mutant]:
    def make() -> Mutant:
        line = getattr(place.node, "lineno", None) or getattr(place.parent, "lineno", 0)
        try:
            place.put(change)
            text = ast.unparse(tree)
        finally:
            place.put(place.node)
        return Mutant(file, line, kind, _short(place.node), _short(change), text)

    return make


def _short(node: ast.AST) -> str:
    shown = f"if {ast.unparse(node.test)}" if isinstance(node, ast.If) else ast.unparse(node)
    text = " ".join(shown.split())
    return text if len(text) <= SHORT else f"{text[:SHORT]} ..."


def draw(root: Path, room: str, count: int, seed: int) -> list[Mutant]:
    """So many faults of a room, none twice: first the kind by lot, then the place."""
    by_kind: dict[str, list[Callable[[], Mutant]]] = defaultdict(list)
    for path in sorted((root / "fieldlog" / room).glob("*.py")):
        for kind, make in mutants_of(root, path.relative_to(root).as_posix()):
            by_kind[kind].append(make)
    lot = random.Random(f"{room} {seed}")
    drawn = []
    while by_kind and len(drawn) < count:
        kind = lot.choice(sorted(by_kind))
        makers = by_kind[kind]
        drawn.append(makers.pop(lot.randrange(len(makers)))())
        if not makers:
            del by_kind[kind]
    return drawn
