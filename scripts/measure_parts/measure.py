"""The house in figures, read from its syntax trees: how much there is, and what is told more than once.

Standard library only, so that it also runs where nothing is set up yet.
"""

from __future__ import annotations

import ast
import io
import re
import sys
import tokenize
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from statistics import median
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
WINDOW = 6
"""Lines that must agree for a repeat."""
MOST_FILES, MOST_LINES, MOST_CLASS_LINES = 30, 600, 300
MANY_PARAMETERS = 6
SQL = re.compile(
    r"^\s*(SELECT\s.+\sFROM|INSERT\s+(OR\s+\w+\s+)?INTO|UPDATE\s+\w+\s+SET|DELETE\s+FROM|CREATE\s+TABLE)\b",
    re.S,
)
Function = ast.FunctionDef | ast.AsyncFunctionDef


class File(NamedTuple):
    """One file of the house, read and parsed."""

    path: Path
    name: str
    """Dotted name of the module."""
    text: str
    tree: ast.Module
    nodes: tuple[ast.AST, ...]
    """Every node of the tree: walking it is most of the work, so it is done once."""

    @property
    def lines(self) -> list[str]:
        """As they stand."""
        return self.text.splitlines()


class Figure(NamedTuple):
    """One line of the report: what, how much, and where."""

    what: str
    value: float
    places: tuple[str, ...] = ()


def read(root: Path, package: str = "kb") -> list[File]:
    """Every Python file of a package below ``root``, in the order of their paths."""
    found = []
    for path in sorted((root / package).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        parts = path.relative_to(root).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        tree = ast.parse(text)
        found.append(File(path.relative_to(root), name, text, tree, tuple(ast.walk(tree))))
    return found


def figures(root: Path) -> list[Figure]:
    """All figures of kb/ below ``root``. Tests are read to see what nothing else calls."""
    files = read(root)
    every = [(file, node) for file in files for node in file.nodes]
    classes = [(file, node) for file, node in every if isinstance(node, ast.ClassDef)]
    functions = [(file, node) for file, node in every if isinstance(node, Function)]
    long_files = [str(file.path) for file in files if len(file.lines) > MOST_LINES]
    total = sum(len(file.lines) for file in files)
    lengths = sorted((node.end_lineno or node.lineno) - node.lineno + 1 for _, node in functions) or [0]
    comments = sum(_comments(file.text) for file in files)
    repeated = repeats(files)
    return [
        Figure("files", len(files)),
        Figure("lines", total),
        Figure("classes", len(classes)),
        Figure("functions", len(functions)),
        Figure("median lines of a function", median(lengths)),
        Figure("90 % of functions have at most", lengths[int(0.9 * (len(lengths) - 1))]),
        Figure("comments per 100 lines", round(100.0 * comments / max(total, 1), 2)),
        _listed("circles of imports", (" <-> ".join(circle) for circle in circles(files))),
        _listed("SQL outside kb/index", _sql(files)),
        _listed(f"folders of more than {MOST_FILES} files", _full_folders(files)),
        _listed(
            f"files of more than {MOST_LINES} lines",
            long_files,
        ),
        _listed(f"classes of more than {MOST_CLASS_LINES} lines", _long_classes(classes)),
        _listed(f"functions of {MANY_PARAMETERS} parameters or more", _places(functions, _many_parameters)),
        _listed("forwarding one-liners", _places(functions, _forwards)),
        _listed("functions that only tests call", _only_tested(root, files)),
        _listed(f"repeats of {WINDOW} lines or more", repeated),
        Figure("repeats per 10,000 lines", round(1e4 * len(repeated) / max(total, 1), 1)),
    ]


def _listed(what: str, places: Iterable[str]) -> Figure:
    found = tuple(places)
    return Figure(what, len(found), found)


def _places(functions: list[tuple[File, Function]], test: Callable[[Function], bool]) -> Iterator[str]:
    return (f"{file.path}:{node.lineno} {node.name}" for file, node in functions if test(node))


def _comments(text: str) -> int:
    """Lines with a comment that a reader reads; orders to tools do not count."""
    if "#" not in text:
        return 0
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return sum(
        1
        for token in tokens
        if token.type == tokenize.COMMENT and not re.match(r"#\s*(noqa|type:|pragma|!)", token.string)
    )


# -- imports ---------------------------------------------------------------------------------------


def imports(file: File, known: set[str]) -> set[str]:
    """Modules of the house that a file imports, wherever in it; the package of a module does not count."""
    found = set()
    for node in file.nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found |= {
                deeper if (deeper := f"{node.module}.{alias.name}") in known else node.module
                for alias in node.names
            }
    return (found & known) - {file.name}


def circles(files: list[File]) -> list[list[str]]:
    """Sets of modules that import each other in a ring, counting imports inside functions too (Tarjan)."""
    known = {file.name for file in files}
    graph = {file.name: sorted(imports(file, known)) for file in files}
    order: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: list[list[str]] = []

    def visit(name: str) -> None:
        order[name] = low[name] = len(order)
        stack.append(name)
        for other in graph[name]:
            if other not in order:
                visit(other)
                low[name] = min(low[name], low[other])
            elif other in stack:
                low[name] = min(low[name], order[other])
        if low[name] == order[name]:
            ring = stack[stack.index(name) :]
            del stack[stack.index(name) :]
            if len(ring) > 1:
                found.append(sorted(ring))

    sys.setrecursionlimit(max(10_000, 10 * len(graph)))
    for name in graph:
        if name not in order:
            visit(name)
    return found


# -- shape -----------------------------------------------------------------------------------------


def _sql(files: list[File]) -> Iterator[str]:
    for file in files:
        if file.path.parts[:2] == ("kb", "index"):
            continue
        for node in file.nodes:
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL.match(node.value):
                yield f"{file.path}:{node.lineno}"


def _full_folders(files: list[File]) -> Iterator[str]:
    count: dict[Path, int] = defaultdict(int)
    for file in files:
        count[file.path.parent] += 1
    return (f"{folder} ({number})" for folder, number in sorted(count.items()) if number > MOST_FILES)


def _long_classes(classes: list[tuple[File, ast.ClassDef]]) -> Iterator[str]:
    for file, node in classes:
        if (node.end_lineno or node.lineno) - node.lineno + 1 > MOST_CLASS_LINES:
            yield f"{file.path}:{node.lineno} {node.name}"


def _many_parameters(node: Function) -> bool:
    given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    return len([one for one in given if one.arg not in {"self", "cls"}]) >= MANY_PARAMETERS


def _forwards(node: Function) -> bool:
    """Whether all it does is to hand its own parameters to another function."""
    body = [one for one in node.body if not _is_text(one)]
    if len(body) != 1 or not isinstance(body[0], ast.Return | ast.Expr) or node.decorator_list:
        return False
    call = body[0].value
    if not isinstance(call, ast.Call):
        return False
    own = {one.arg for one in (*node.args.args, *node.args.kwonlyargs)}
    handed = [*call.args, *(keyword.value for keyword in call.keywords)]
    return all(isinstance(one, ast.Name) and one.id in own for one in handed)


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _only_tested(root: Path, files: list[File]) -> Iterator[str]:
    """Public functions of kb/science whose name stands nowhere else in kb/ or scripts/, but in tests/."""
    used = _names(files)
    for name, count in _names(read(root, "scripts")).items():
        used[name] += count
    idle = [
        (file, node)
        for file in files
        if file.path.parts[:2] == ("kb", "science")
        for node in file.tree.body
        if isinstance(node, Function) and not node.name.startswith("_") and not used[node.name]
    ]
    # The tests are as much to read as all the rest, and mostly there is nothing to look for in them.
    tested = _names(read(root, "tests")) if idle else {}
    return (f"{file.path}:{node.lineno} {node.name}" for file, node in idle if tested.get(node.name))


def _names(files: list[File]) -> dict[str, int]:
    """How often each name is used (not defined, not imported)."""
    count: dict[str, int] = defaultdict(int)
    for file in files:
        for node in file.nodes:
            if isinstance(node, ast.Name):
                count[node.id] += 1
            elif isinstance(node, ast.Attribute):
                count[node.attr] += 1
    return count


# -- repeats ---------------------------------------------------------------------------------------


def repeats(files: list[File]) -> list[str]:
    """Pairs of places that share WINDOW or more lines; blank lines, comments and imports do not count."""
    places: dict[tuple[str, ...], list[tuple[int, int]]] = defaultdict(list)
    kept = [_telling(file.lines) for file in files]
    for at, lines in enumerate(kept):
        for start in range(len(lines) - WINDOW + 1):
            places[tuple(text for _, text in lines[start : start + WINDOW])].append((at, start))
    follows: set[tuple[int, int, int, int]] = set()
    for found in places.values():
        for index, (file, start) in enumerate(found):
            for other, begin in found[index + 1 :]:
                if file != other or begin - start >= WINDOW:
                    follows.add((file, start, other, begin))
    # A longer repeat is one pair: its later windows follow from the first.
    firsts = sorted(one for one in follows if (one[0], one[1] - 1, one[2], one[3] - 1) not in follows)
    return [f"{files[a].path}:{kept[a][i][0]} = {files[b].path}:{kept[b][j][0]}" for a, i, b, j in firsts]


def _telling(lines: list[str]) -> list[tuple[int, str]]:
    """Lines that say something, with their numbers."""
    found = []
    for number, line in enumerate(lines, 1):
        text = line.strip()
        if text and not text.startswith(("#", "import ", "from ", '"""')) and len(text) > 1:
            found.append((number, text))
    return found


def main(arguments: list[str]) -> int:
    """Print the figures; with --list the places behind them."""
    for figure in figures(ROOT):
        print(f"{figure.value:>9g}  {figure.what}")
        if "--list" in arguments:
            for place in figure.places:
                print(f"           {place}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
