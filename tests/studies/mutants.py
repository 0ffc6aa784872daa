"""Small faults that can be planted in a module or a table, and what kind of thing each is about.

A mutant of a module is its source with one node changed; one of a table has one cell changed. Left
out is what changes no answer: ``slots``, ``frozen`` and their like, the size of a cache,
``strict``, and what only a type checker reads.
"""

from __future__ import annotations

import ast
import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "stoichkit"
COMPARISONS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}  # fmt: skip
ARITHMETIC = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult,
}  # fmt: skip
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}
SIGN_WORDS = (
    ("large", "small"), ("larger", "smaller"), ("largest", "smallest"), ("more", "less"),
    ("above", "below"), ("higher", "lower"), ("high", "low"), ("heavier", "lighter"),
    ("before", "after"), ("much", "little"), ("warms", "cools"), ("consumed", "produced"),
    ("most", "least"), ("Danger", "Warning"), ("into", "out of"), ("never", "always"),
    ("Never", "Always"), ("too fast", "too slow"), ("first", "last"),
)  # fmt: skip
UNIT_WORDS = (("g", "mg"), ("mL", "L"), ("kPa", "Pa"), ("mmol", "mol"), ("min", "s"), ("°C", "K"))
EXCHANGED = {
    **{a: b for pair in SIGN_WORDS for a, b in (pair, pair[::-1])},
    **{a: b for pair in UNIT_WORDS for a, b in (pair, pair[::-1])},
}
_WORD = re.compile("|".join(rf"(?<![\w]){re.escape(w)}(?![\w])" for w in EXCHANGED))
_UNITS = {unit for pair in UNIT_WORDS for unit in pair}
CHANGES_NO_ANSWER = {
    "slots", "frozen", "kw_only", "eq", "order", "repr", "maxsize", "strict", "compare", "init",
    "hash",
}  # fmt: skip
CAUTIONS = ("bench.cautions", "bench.reagent_data", "data.hazards", "data.advice")
SORTS = ("numbers", "units", "signs", "thresholds", "cautions", "structure", "words of errors")
STRICT = SORTS[:5]
"""What people act on: numbers, units, signs, thresholds and cautions."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One planted fault.

    Attributes
    ----------
    module : str
        ``"bench.recipes"``, or ``"data.hazards"`` for a table.
    words : str
        Where and what is changed, the same whatever line it stands on.
    sort : str
        What it is about, one of ``SORTS``.
    owner : str
        Function or method that holds it, ``""`` for the module itself.
    line : int
    node, kind : int, str
        Where and how, for :func:`source_of`.
    statement : int
        Line on which the innermost statement of a function begins that holds it, else 0.
    names : tuple of str
        Outside a function, what it helps to define: a constant, a field, a function's default.
    """

    module: str
    words: str
    sort: str
    owner: str
    line: int
    node: int
    kind: str
    statement: int = 0
    names: tuple[str, ...] = ()


def path_of(module: str) -> Path:
    """Return the file of a module or a table."""
    if module.startswith("data."):
        return PACKAGE / "data" / f"{module.removeprefix('data.')}.csv"
    return PACKAGE / f"{module.replace('.', '/')}.py"


def modules_of(room: str) -> list[str]:
    """Return the modules of a room; ``"data"`` has the tables."""
    if room == "data":
        return [f"data.{path.stem}" for path in sorted((PACKAGE / "data").glob("*.csv"))]
    found = sorted((PACKAGE / room).rglob("*.py"))
    names = [".".join(p.relative_to(PACKAGE).with_suffix("").parts) for p in found]
    return [name for name in names if not name.endswith("__init__")]


def mutants_of(module: str) -> list[Mutant]:
    """Return every mutant of a module or a table."""
    text = path_of(module).read_text("utf-8")
    made = _cells(module, text) if module.startswith("data.") else _nodes(module, text)
    found, seen = [], Counter[str]()
    for one in made:
        words = f"{one.owner}: {one.words}" if one.owner else one.words
        seen[words] += 1
        nth = f", no. {seen[words]}" if seen[words] > 1 else ""
        found.append(replace(one, words=words + nth))
    return found


def source_of(mutant: Mutant) -> str:
    """Return the text of the module or table with the fault in it."""
    text = path_of(mutant.module).read_text("utf-8")
    if mutant.module.startswith("data."):
        return _with_cell(text, mutant)
    return ast.unparse(tree_of(mutant))


def tree_of(mutant: Mutant) -> ast.Module:
    """Return the tree of the module with the fault in it; lines are those of the file."""
    tree = ast.parse(path_of(mutant.module).read_text("utf-8"))
    node = next(n for i, n in enumerate(ast.walk(tree)) if i == mutant.node)
    _change(node, mutant.kind)
    return ast.fix_missing_locations(tree)


# -- modules ----------------------------------------------------------------------------------


def _nodes(module: str, text: str) -> Iterator[Mutant]:
    tree = ast.parse(text)
    about = _Surroundings(tree)
    for number, node in enumerate(ast.walk(tree)):
        if id(node) in about.left_out:
            continue
        for kind, words, sort in _of_node(node):
            owner = about.owner.get(id(node), "")
            if id(node) in about.of_errors and kind == "word":
                sort = "words of errors"
            elif module in CAUTIONS or "caution" in owner.casefold():
                sort = "cautions"
            line = getattr(node, "lineno", 0)
            place = about.statement.get(id(node), 0), about.names.get(id(node), ())
            yield Mutant(module, " ".join(words.split()), sort, owner, line, number, kind, *place)


def _of_node(node: ast.AST) -> Iterator[tuple[str, str, str]]:
    """Yield (kind, words, sort) of the mutants of one node."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARISONS:
        ordered = isinstance(node.ops[0], ast.Lt | ast.LtE | ast.Gt | ast.GtE)
        sort = "thresholds" if ordered else "structure"
        yield "compare", f"{ast.unparse(node)} (comparison)", sort
    elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
        signed = isinstance(node.op, ast.Add | ast.Sub)
        text = _is_text(node.left) or _is_text(node.right)
        sort = "structure" if text else "signs" if signed else "numbers"
        yield "operator", f"{ast.unparse(node)} (operator)", sort
    elif isinstance(node, ast.BoolOp):
        yield "bool", f"{ast.unparse(node)} (and/or)", "structure"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        sort = "signs" if isinstance(node.op, ast.USub) else "structure"
        yield "unary", f"{ast.unparse(node)} (sign or not dropped)", sort
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield "flag", f"{node.value} (flipped)", "structure"
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield "number", f"{node.value} (number)", "numbers"
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        found = _WORD.search(node.value)
        if found and node.value.strip() != "s":  # of a plural
            sort = "units" if found[0] in _UNITS else "signs"
            shown = node.value[max(found.start() - 25, 0) :][:50]
            yield "word", f"{shown!r}: {found[0]} → {EXCHANGED[found[0]]} (word)", sort
    elif isinstance(node, ast.Call) and getattr(node.func, "id", "") in CALLS:
        yield "call", f"{ast.unparse(node)} (min/max, any/all)", "structure"
    elif isinstance(node, ast.If | ast.IfExp):
        yield "if", f"if {ast.unparse(node.test)} (never)", "structure"


def _is_text(node: ast.AST) -> bool:
    value = node.value if isinstance(node, ast.Constant) else None
    return isinstance(node, ast.JoinedStr) or isinstance(value, str)


def _change(node: ast.AST, kind: str) -> None:
    if kind == "compare":
        node.ops[0] = COMPARISONS[type(node.ops[0])]()
    elif kind == "operator":
        node.op = ARITHMETIC[type(node.op)]()
    elif kind == "bool":
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif kind == "unary" and isinstance(node.op, ast.USub):
        node.op = ast.UAdd()
    elif kind == "unary":
        node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif kind == "flag":
        node.value = not node.value
    elif kind == "number":
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.01
    elif kind == "word":
        first = _WORD.search(node.value)
        node.value = re.sub(
            rf"(?<![\w]){re.escape(first[0])}(?![\w])", EXCHANGED[first[0]], node.value
        )
    elif kind == "call":
        node.func.id = CALLS[node.func.id]
    elif kind == "if":
        node.test = ast.Constant(False)


def names_of(node: ast.stmt) -> list[str]:
    """Return the names that a statement gives a value to."""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        return [node.name]
    targets = getattr(node, "targets", None) or [getattr(node, "target", None)]
    return [n.id for t in targets if t is not None for n in ast.walk(t) if isinstance(n, ast.Name)]


class _Surroundings(ast.NodeVisitor):
    """Which function each node stands in, and what is no matter."""

    def __init__(self, tree: ast.Module) -> None:
        self.owner: dict[int, str] = {}
        self.statement: dict[int, int] = {}
        self.names: dict[int, tuple[str, ...]] = {}
        self.within = 0
        self.defines: tuple[str, ...] = ()
        self.left_out: set[int] = set()
        self.of_errors: set[int] = set()
        self.path: list[str] = []
        self.in_function = self.raising = 0
        self.visit(tree)

    def visit(self, node: ast.AST) -> None:
        outer = self.within, self.defines
        if isinstance(node, ast.stmt) and self.in_function:
            self.within = node.lineno
        elif isinstance(node, ast.stmt):
            self.defines = tuple(names_of(node))
        if self.in_function:
            self.owner[id(node)] = ".".join(self.path)
            self.statement[id(node)] = self.within
        else:
            self.names[id(node)] = self.defines
        if self.raising:
            self.of_errors.add(id(node))
        super().visit(node)
        self.within, self.defines = outer

    def _drop(self, *nodes: ast.AST | None) -> None:
        self.left_out |= {id(n) for node in nodes if node is not None for n in ast.walk(node)}

    def _docstring(self, node: ast.Module | ast.ClassDef | ast.FunctionDef) -> None:
        for one in node.body:  # below a class or a constant as well
            if isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant):
                self._drop(one)

    def visit_Module(self, node: ast.Module) -> None:
        self._docstring(node)
        self.generic_visit(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._docstring(node)
        self.path.append(node.name)
        self.generic_visit(node)
        self.path.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._docstring(node)
        self._drop(
            node.returns, *(a.annotation for a in ast.walk(node.args) if isinstance(a, ast.arg))
        )
        for one in (*node.decorator_list, node.args):
            self.visit(one)
        outermost = not self.in_function
        if outermost:
            self.path.append(node.name)
        self.in_function += 1
        for one in node.body:
            self.visit(one)
        self.in_function -= 1
        if outermost:
            self.path.pop()

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        self._drop(node.annotation)
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        if ast.unparse(node.test) == "TYPE_CHECKING":
            self._drop(node)
        self.generic_visit(node)

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg in CHANGES_NO_ANSWER:
            self._drop(node.value)
        self.generic_visit(node)

    def visit_Raise(self, node: ast.Raise) -> None:
        self.raising += 1
        self.generic_visit(node)
        self.raising -= 1

    def visit_Call(self, node: ast.Call) -> None:
        name = ast.unparse(node.func)
        of_error = name.endswith(("Error", "refusal", "_refuse"))
        self.raising += of_error
        self.generic_visit(node)
        self.raising -= of_error


# -- tables -----------------------------------------------------------------------------------

_PROSE = ("source", "status", "name", "mechanism", "check", "range_status", "names", "seen")
_SIGN_OF_ACTION = re.compile(r":([+-])")


def _cells(module: str, text: str) -> Iterator[Mutant]:
    rows = list(csv.reader(io.StringIO(text)))
    header, n = rows[0], 0
    for line, row in enumerate(rows[1:], start=2):
        for column, cell in zip(header, row, strict=True):
            n += 1
            kind, sort = _kind_of(column, cell)
            if not kind:
                continue
            if module in CAUTIONS or column in ("heat", "codes", "care"):
                sort = "cautions"
            words = f"{row[0]} {row[1][:20]}: {column} {cell[:40]} ({kind})"
            yield Mutant(module, words, sort, column, line, n, kind)


def _kind_of(column: str, cell: str) -> tuple[str, str]:
    if not cell or column in _PROSE:
        return "", ""
    if column == "actions":
        return "sign", "signs"
    if column in ("codes", "care", "applies_to"):
        return "drop", "structure"
    if column == "sentence" or column == "statement" or column == "heat":
        return ("word", "signs") if _WORD.search(cell) else ("", "")
    try:
        float(cell)
    except ValueError:
        return "", ""
    return ("sign", "signs") if float(cell) < 0 else ("number", "numbers")


def _with_cell(text: str, mutant: Mutant) -> str:
    rows = list(csv.reader(io.StringIO(text)))
    width = len(rows[0])
    row, column = divmod(mutant.node - 1, width)
    cell = rows[row + 1][column]
    if mutant.kind == "number":
        cell = f"{float(cell) * 1.5 + (0.01 if not float(cell) else 0):g}"
        if rows[row + 1][column].isdigit():
            cell = str(int(rows[row + 1][column]) + 1)
    elif mutant.kind == "sign" and _SIGN_OF_ACTION.search(cell):
        cell = _SIGN_OF_ACTION.sub(lambda m: ":-" if m[1] == "+" else ":+", cell)
    elif mutant.kind == "sign":
        cell = cell.removeprefix("-")
    elif mutant.kind == "drop":
        parts = cell.split(", " if ", " in cell else " ")
        cell = (", " if ", " in cell else " ").join(parts[1:])
    elif mutant.kind == "word":
        first = _WORD.search(cell)
        assert first is not None
        cell = cell.replace(first[0], EXCHANGED[first[0]])
    rows[row + 1][column] = cell
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
