"""What the source weighs: sizes, circles of imports, dead code, duplicates. Reads syntax trees only.

    python scripts/measure.py            a table of figures
    python scripts/measure.py --where    and where each of them is

A figure is a question and no verdict: a forwarding function may be a name worth having.
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
FULL_FOLDER, LONG_FILE, MANY_PARAMETERS, RUN = 30, 600, 6, 6
SQL = {"execute", "executemany", "executescript"}
DIRECTIVES = ("noqa", "type:", "fmt:", "pragma", "mypy:", "ruff:", "!")
"""Comments that speak to a tool and not to a reader."""
TOO_COMMON = 60
"""Lines that stand together so often are a form (a table, brackets); their pairs would drown the rest."""


class Source(NamedTuple):
    """A file: its path from the root, its text and its syntax tree."""

    path: str
    text: str
    tree: ast.Module

    @property
    def module(self) -> str:
        """The dotted name by which it is imported."""
        name = self.path.removesuffix(".py").replace("/", ".")
        return name.removesuffix(".__init__")


class Figure(NamedTuple):
    """A figure in words, its value, and the places it comes from."""

    name: str
    value: float
    where: tuple[str, ...] = ()


def read(root: Path, folder: str) -> list[Source]:
    """Every Python file below the folder, in order of path."""
    files = sorted((root / folder).rglob("*.py"))
    texts = [(file.relative_to(root).as_posix(), file.read_text(encoding="utf-8")) for file in files]
    return [Source(path, text, ast.parse(text)) for path, text in texts]


def measure(root: Path) -> list[Figure]:
    """All figures of the tree below ``root``, which holds kb/, scripts/ and tests/."""
    kb = read(root, "kb")
    others, tests = read(root, "scripts"), read(root, "tests")
    lines = sum(len(one.text.splitlines()) for one in kb)
    found = circles(imports(kb, later=True))
    copies = duplicates(kb)
    lists: list[tuple[str, list[str]]] = [
        ("circles of imports", [" > ".join(one) for one in found]),
        ("modules in circles", [name for one in found for name in one]),
        ("SQL outside kb/index", sql_calls(one for one in kb if not one.path.startswith("kb/index/"))),
        (f"folders over {FULL_FOLDER} files", full_folders(kb)),
        (f"files over {LONG_FILE} lines", [one.path for one in kb if one.text.count("\n") > LONG_FILE]),
        (f"functions of {MANY_PARAMETERS} or more parameters", many_parameters(kb)),
        ("forwarding one-liners", forwarding(kb)),
        ("functions only tests call", only_tested(kb, others, tests)),
    ]
    classes = sum(isinstance(node, ast.ClassDef) for one in kb for node in ast.walk(one.tree))
    comments = sum(comment_count(one.text) for one in kb)
    return [
        Figure("files in kb", len(kb)),
        Figure("lines in kb", lines),
        Figure("classes", classes),
        Figure("comments per 100 lines", round(100 * comments / max(1, lines), 2)),
        *(Figure(name, len(where), tuple(where)) for name, where in lists),
        Figure(
            f"duplicate pairs ({RUN} or more lines) per 10,000 lines",
            round(10_000 * len(copies) / max(1, lines), 1),
            tuple(copies),
        ),
    ]


def _functions(source: Source) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    return (one for one in ast.walk(source.tree) if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef))


def _place(source: Source, node: ast.stmt | ast.expr, name: str = "") -> str:
    return f"{source.path}:{node.lineno} {name}".rstrip()


def imports(sources: Iterable[Source], *, later: bool) -> dict[str, set[str]]:
    """Which of these modules each of them imports.

    ``later`` counts imports inside functions and for type checkers too. Those cannot fail at start, but two
    modules that need each other are one subject in two files all the same.
    """
    sources = list(sources)
    known = {one.module for one in sources}
    graph: dict[str, set[str]] = {name: set() for name in known}
    for source in sources:
        for node in ast.walk(source.tree) if later else _at_import(source.tree.body):
            if isinstance(node, ast.Import):
                names = {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                # ``from package import name`` is an import of package.name if that is a module.
                inner = {f"{node.module}.{alias.name}" for alias in node.names} & known
                names = inner or {str(node.module)}
            else:
                continue
            graph[source.module] |= (names & known) - {source.module}
    return graph


def _at_import(body: list[ast.stmt]) -> Iterator[ast.Import | ast.ImportFrom]:
    for node in body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            yield node
        elif isinstance(node, ast.If) and "TYPE_CHECKING" not in ast.dump(node.test):
            yield from _at_import([*node.body, *node.orelse])
        elif isinstance(node, ast.Try):
            yield from _at_import([*node.body, *node.orelse, *node.finalbody])


def circles(graph: Mapping[str, set[str]]) -> list[list[str]]:
    """Sets of modules each of which reaches all the others, largest first."""
    reach = {name: _reachable(graph, name) for name in graph}
    done: set[str] = set()
    found = []
    for name in sorted(graph):
        if name in reach[name] and name not in done:
            ring = sorted(other for other in reach[name] if name in reach[other])
            done.update(ring)
            found.append(ring)
    return sorted(found, key=len, reverse=True)


def _reachable(graph: Mapping[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    waiting = list(graph[start])
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            waiting.extend(graph[name])
    return seen


def sql_calls(sources: Iterable[Source]) -> list[str]:
    """Places that hand a statement to SQLite."""
    return [
        _place(source, node, node.func.attr)
        for source in sources
        for node in ast.walk(source.tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in SQL
    ]


def full_folders(sources: Iterable[Source]) -> list[str]:
    """Folders that hold too many files to be taken in at a glance; ``__init__.py`` does not count."""
    counts = Counter(one.path.rpartition("/")[0] for one in sources if not one.path.endswith("/__init__.py"))
    return [f"{folder} {count}" for folder, count in counts.items() if count > FULL_FOLDER]


def comment_count(text: str) -> int:
    """Comments for a reader, counted by lines."""
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    words = (one.string.lstrip("# ") for one in tokens if one.type == tokenize.COMMENT)
    return sum(bool(said) and not said.startswith(DIRECTIVES) for said in words)


def _parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    taken = function.args
    names = [one.arg for one in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs)]
    return [name for name in names if name not in ("self", "cls")]


def many_parameters(sources: Iterable[Source]) -> list[str]:
    """Functions that ask for more than a reader keeps in order."""
    return [
        _place(source, function, function.name)
        for source in sources
        for function in _functions(source)
        if len(_parameters(function)) >= MANY_PARAMETERS
    ]


def forwarding(sources: Iterable[Source]) -> list[str]:
    """Functions that only call another one with what they were given."""
    found = []
    for source in sources:
        for function in _functions(source):
            body = [node for node in function.body if not _is_text(node)]
            value = body[0].value if len(body) == 1 and isinstance(body[0], ast.Return | ast.Expr) else None
            if isinstance(value, ast.Await):
                value = value.value
            if isinstance(value, ast.Call):
                given = [*value.args, *(one.value for one in value.keywords)]
                names = {one.id for one in given if isinstance(one, ast.Name)}
                if len(names) == len(given) and names <= {*_parameters(function), "self"}:
                    found.append(_place(source, function, function.name))
    return found


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def only_tested(kb: Iterable[Source], others: Iterable[Source], tests: Iterable[Source]) -> list[str]:
    """Functions of modules that nothing but tests names. By name alone: one that shares its name with a
    function in use is not found."""
    kb = list(kb)
    used, tested = _names([*kb, *others]), _names(tests)
    return [
        _place(source, node, node.name)
        for source in kb
        for node in source.tree.body
        if isinstance(node, ast.FunctionDef) and not node.decorator_list
        if node.name in tested and node.name not in used
    ]


def _names(sources: Iterable[Source]) -> set[str]:
    found: set[str] = set()
    for source in sources:
        for node in ast.walk(source.tree):
            if isinstance(node, ast.Name):
                found.add(node.id)
            elif isinstance(node, ast.Attribute):
                found.add(node.attr)
            elif isinstance(node, ast.alias):
                found.add(node.name)
    return found


def duplicates(sources: Iterable[Source]) -> list[str]:
    """Pairs of places with the same lines. Imports, comments and empty lines are looked over; a longer run
    counts once."""
    lines: list[tuple[str, int, str]] = []
    for source in sources:
        lines += [(source.path, number, text) for number, text in _telling(source)]
    windows: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for start in range(len(lines) - RUN + 1):
        if lines[start][0] == lines[start + RUN - 1][0]:
            windows[tuple(text for _, _, text in lines[start : start + RUN])].append(start)
    equal = {
        pair
        for starts in windows.values()
        if 1 < len(starts) <= TOO_COMMON
        for pair in combinations(starts, 2)
        if pair[1] - pair[0] >= RUN
    }
    first = sorted((one, two) for one, two in equal if (one - 1, two - 1) not in equal)
    return [f"{lines[one][0]}:{lines[one][1]} = {lines[two][0]}:{lines[two][1]}" for one, two in first]


def _telling(source: Source) -> Iterator[tuple[int, str]]:
    imported: set[int] = set()
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            imported.update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    for number, line in enumerate(source.text.splitlines(), 1):
        text = line.strip()
        if text and not text.startswith("#") and number not in imported:
            yield number, text


def main(arguments: list[str]) -> int:
    """Print the figures."""
    for figure in measure(ROOT):
        print(f"{figure.value:>10,}  {figure.name}")
        if "--where" in arguments:
            for place in figure.where:
                print(f"{'':12}{place}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
