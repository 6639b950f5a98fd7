"""Say a YAML parser's complaint in words that help."""

from __future__ import annotations

from typing import Any

from kb.catalogue.problems import Fault, printable

_QUOTES = "text that holds a colon and a blank, or begins with a sign, in quotes"
_HINTS = (
    (
        "mapping values are not allowed",
        "a colon and a blank stand inside unquoted text, or a line is indented too far",
        _QUOTES,
    ),
    ("unexpected end of stream", "a quotation mark that opens here is never closed", "a closing mark"),
    ("could not find expected ':'", "a line is neither a key with a colon nor a list item", "key: value"),
    ("did not find expected ',' or", "a bracket that opens here is never closed", "a closing bracket"),
    ("did not find expected '-'", "a line stands too far left or right in a list", "items in one column"),
    ("did not find expected key", "a line stands too far left or right, or a quote is not closed", ""),
    ("cannot start any token", "text begins with a sign that needs quotes", _QUOTES),
    ("undefined tag handle", "a tag (!) is used", "a plain value without a tag"),
    ("exceeded max", "the file is nested too deeply", "a flat list"),
    ("unknown escape character", "a backslash stands in text in double quotes", "single quotes"),
)


def syntax_fault(error: Any, text: str) -> Fault:
    """The fault for a ``yaml.YAMLError``, with the line where the reader should look first."""
    complaint = str(getattr(error, "problem", None) or getattr(error, "reason", None) or "")
    mark = getattr(error, "problem_mark", None)
    opened = getattr(error, "context_mark", None)
    lines = text.split("\n")
    line = _within(mark.line + 1 if mark else 1, lines)
    if mark and "\t" in _indent(lines[line - 1]):
        return Fault((), "a tab stands in the indent", "blanks only", line=line)
    for sign, message, expected in _HINTS:
        if sign in complaint:
            if opened and "opens here" in message:
                line = _within(opened.line + 1, lines)
            return Fault((), f"this is not valid YAML: {message}", expected, line=line)
    return Fault((), f"this is not valid YAML: {printable(complaint) or 'it cannot be read'}", line=line)


def _within(line: int, lines: list[str]) -> int:
    return max(1, min(line, len(lines)))


def _indent(line: str) -> str:
    return line[: len(line) - len(line.lstrip())]
