"""Mutants of a source: one operator changed, found by where it stands."""

from __future__ import annotations

import ast
import copy
import re
from collections.abc import Iterator
from dataclasses import dataclass
from types import CodeType

ORDERED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
}
"""A comparison -> what takes its place: first what differs where both are equal, then turned."""

SAME: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}

SIGNS: dict[type[ast.operator], type[ast.operator]] = {ast.Add: ast.Sub, ast.Sub: ast.Add}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
JOINED: dict[type[ast.boolop], type[ast.boolop]] = {ast.And: ast.Or, ast.Or: ast.And}

KINDS = ("order", "tie", "sign", "most", "same", "not", "and")
"""``<`` turned round; ``<`` for ``<=``, which differ where both are equal; ``+`` and ``-``; min,
max, any, all; ``==``, ``is``, ``in``; not; and, or."""

_WORDS = re.compile(r"Told|Mark|(list|tuple)\[Mark(, \.\.\.)?\]|Iterator\[Mark\]")
_NAMED = re.compile(r"(^|_)(fix|words|sentence|text|said|told|because|why|marks?|mend)(_|$)")
_TEXT = (ast.JoinedStr, ast.List, ast.Tuple, ast.ListComp, ast.Set, ast.Dict)


@dataclass(frozen=True, order=True, slots=True)
class Mutant:
    """One change of one source.

    Attributes
    ----------
    module : str
        Dotted name.
    first, last : int
        Lines of the statement it stands in.
    place : int
        Number of its node among all nodes of the source, in the order of `ast.walk`.
    change : int
        Which of several changes of that node.
    home : str
        Qualified name of the outermost function that it stands in.
    kind : str
        One of `KINDS`.
    line : int
        Where the changed expression begins.
    was, now : str
        That expression before and after.
    is_words : bool
        It stands in a function that makes only sentences, fixes or marks: no verdict hangs on it.
    """

    module: str
    first: int
    last: int
    place: int
    change: int
    home: str
    kind: str
    line: int
    was: str
    now: str
    is_words: bool

    @property
    def name(self) -> str:
        """Module, line and change: the same in every run on the same source."""
        return f"{self.module}:{self.line}:{self.place}:{self.change}"


def mutants_of(module: str, source: str) -> list[Mutant]:
    """Return every mutant of what stands in the functions of a source.

    Assertions, words in f-strings, type hints and indices from the end (``[-1]``) are left as
    they are, and so is ``+`` between words or lists.

    Parameters
    ----------
    module : str
    source : str

    Examples
    --------
    >>> [one.now for one in mutants_of("m", "def f(a, b): return a - b < 0")]
    ['a - b <= 0', 'a - b > 0', 'a + b']
    """
    tree = ast.parse(source)
    places = {id(node): place for place, node in enumerate(ast.walk(tree))}
    found = []
    for home, is_words, statement, node in _nodes(tree):
        for change, (kind, changed) in enumerate(_changes(node)):
            lines = statement.lineno, _last(statement)
            words = ast.unparse(node), ast.unparse(changed)
            place = places[id(node)], change
            found.append(Mutant(module, *lines, *place, home, kind, node.lineno, *words, is_words))
    return found


def grown(mutant: Mutant, source: str, file: str) -> CodeType:
    """Return the code of the function that a mutant stands in, changed.

    Parameters
    ----------
    mutant : Mutant
    source : str
        What it was made of.
    file : str
        Where the code is said to stand.
    """
    tree = ast.parse(source)
    node = next(one for place, one in enumerate(ast.walk(tree)) if place == mutant.place)
    assert isinstance(node, ast.expr)
    _, changed = list(_changes(node))[mutant.change]
    tree = ast.fix_missing_locations(_Swap(node, changed).visit(tree))
    return _inner(compile(tree, file, "exec", dont_inherit=True), mutant.home)


def _inner(code: CodeType, home: str) -> CodeType:
    for one in code.co_consts:
        if isinstance(one, CodeType):
            if one.co_qualname == home:
                return one
            if home.startswith(f"{one.co_qualname}."):
                return _inner(one, home)
    raise ValueError(f"no function {home}")


class _Swap(ast.NodeTransformer):
    """Puts one node in the place of another."""

    def __init__(self, old: ast.expr, new: ast.expr) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        """Return the new node for the old one."""
        return ast.copy_location(self.new, node) if node is self.old else self.generic_visit(node)


def _last(statement: ast.stmt) -> int:
    """Return where a statement ends; of one with a body, where its head does."""
    inside = [one for field in ("body", "cases") for one in getattr(statement, field, [])]
    end = statement.end_lineno or statement.lineno
    return max(statement.lineno, min([end, *(_first(one) - 1 for one in inside)]))


def _first(one: ast.stmt | ast.match_case) -> int:
    return one.pattern.lineno if isinstance(one, ast.match_case) else one.lineno


def _is_of_words(routine: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    given = ast.unparse(routine.returns) if routine.returns else ""
    return bool(_WORDS.fullmatch(given) or _NAMED.search(routine.name))


_Place = tuple[str, bool, ast.stmt, ast.expr]


def _nodes(tree: ast.Module) -> Iterator[_Place]:
    """Yield (home, whether only words are made, statement, expression) of what may be changed."""

    def walk(
        node: ast.AST, home: str, at: ast.stmt | None, outer: str, words: bool
    ) -> Iterator[_Place]:
        if isinstance(node, (ast.Assert, ast.JoinedStr)):
            return
        if isinstance(node, ast.ClassDef) and not home:
            outer = f"{outer}{node.name}."
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            home = home or f"{outer}{node.name}"
            words = words or _is_of_words(node)
            for one in node.body:
                yield from walk(one, home, one, outer, words)
            return
        if isinstance(node, ast.AnnAssign):
            if node.value is not None:
                yield from walk(node.value, home, node, outer, words)
            return
        at = node if isinstance(node, ast.stmt) else at
        if isinstance(node, ast.expr) and home and at is not None:
            yield home, words, at, node
        for child in ast.iter_child_nodes(node):
            if isinstance(node, ast.Subscript) and child is node.slice and _from_end(child):
                continue
            yield from walk(child, home, at, outer, words)

    yield from walk(tree, "", None, "", False)


def _from_end(index: ast.AST) -> bool:
    return isinstance(index, ast.UnaryOp) and isinstance(index.operand, ast.Constant)


def _changes(node: ast.expr) -> Iterator[tuple[str, ast.expr]]:
    """Yield (kind, changed node) of one expression, itself left as it is."""
    if isinstance(node, ast.Compare):
        for k, operator in enumerate(node.ops):
            kinds = ("tie", "order") if type(operator) in ORDERED else ("same",)
            others = (ORDERED | SAME)[type(operator)]
            for kind, other in zip(kinds, others, strict=True):
                changed = copy.deepcopy(node)
                changed.ops[k] = other()
                yield kind, changed
    elif isinstance(node, ast.BinOp) and type(node.op) in SIGNS and not _has_text(node):
        yield "sign", ast.BinOp(node.left, SIGNS[type(node.op)](), node.right)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield "sign", node.operand
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "not", node.operand
    elif isinstance(node, ast.BoolOp):
        yield "and", ast.BoolOp(JOINED[type(node.op)](), node.values)
    elif isinstance(node, ast.Call) and _name(node.func) in CALLED:
        called = ast.Name(CALLED[_name(node.func)], ast.Load())
        yield "most", ast.Call(called, node.args, node.keywords)


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else ""


def _has_text(node: ast.BinOp) -> bool:
    return _is_text(node.left) or _is_text(node.right)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, _TEXT) or (
        isinstance(node, ast.Constant) and isinstance(node.value, (str, bytes))
    )
