"""From typed words to looks and findings: ``gloss=glossy``, ``stretch=no``, ``year=1952``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from kb.desk.errors import Choice, DeskError, Unclear
from kb.index.identify_table import Table, TLook
from kb.index.search import normal
from kb.model.identification import Finding

SURE = 80.0
"""A fuzzy match below this is never taken without asking."""
AHEAD = 6.0
"""Least lead of the best match over the next one."""
BEGINNING = 92.0
"""Score of a word that is the beginning of a name."""
NOT_LOOKED = "?"
"""Stands for a finding where nobody looked, or could not."""
_NOT_LOOKED_WORDS = frozenset({"?", "unknown", "not known", "not looked", "skip"})
_YEAR = re.compile(r"(?<!\d)(1[6-9]\d\d|20\d\d)(?!\d)(s)?")


class _Name(NamedTuple):
    """A word that may be typed for one thing."""

    id: str
    shown: str
    norm: str


def typed_signs(table: Table, texts: Iterable[str]) -> dict[str, str]:
    """Finding id (or NOT_LOOKED) by look id, from texts of the form LOOK=FINDING.

    A finding alone will do where only one look has it. Raises Unclear where words fit several things or
    none, and DeskError where one look is answered in two ways.
    """
    found: dict[str, str] = {}
    for text in texts:
        look, finding = _one(table, text)
        if found.setdefault(look.id, finding) != finding:
            raise DeskError(f'The look "{look.id}" is answered in two ways: {found[look.id]} and {finding}.')
    return found


def look_of(table: Table, text: str) -> TLook:
    """The look that typed words mean; raises Unclear."""
    names = [
        _Name(look.id, look.name, normal(name))
        for look in table.looks
        for name in (look.id, look.name, *look.also)
    ]
    found = _nearest("look", text, names)
    return next(look for look in table.looks if look.id == found)


def finding_of(look: TLook, text: str) -> str:
    """The finding of a look that typed words mean, or NOT_LOOKED; raises Unclear."""
    if normal(text) in _NOT_LOOKED_WORDS:
        return NOT_LOOKED
    names = [_Name(one.id, one.words, name) for one in look.findings for name in _names(one)]
    year = _year(text) if look.dated and normal(text) not in {one.norm for one in names} else None
    if year is not None:
        return next(one.id for one in look.findings if _holds(one, year))
    return _nearest(f"finding of {look.id}", text, names)


def _one(table: Table, text: str) -> tuple[TLook, str]:
    asked, sign, said = text.partition("=")
    if sign:
        look = look_of(table, asked)
        return look, finding_of(look, said)
    query = normal(text)
    fitting = [
        (look, one.id) for look in table.looks for one in look.findings if query and query in _names(one)
    ]
    if len(fitting) == 1:
        return fitting[0]
    choices = tuple(Choice(f"{look.id}={one}", look.name) for look, one in fitting[:6])
    if choices:
        raise Unclear("sign", text, choices)
    raise DeskError(f'The sign "{text}" is not of the form LOOK=FINDING; choose one from the list of looks.')


def _names(one: Finding) -> list[str]:
    return [normal(name) for name in (one.id, one.words, *one.also)]


def _year(text: str) -> int | None:
    """The year in a text: the middle of a decade ("1950s"), the one next to it ("before 1930")."""
    match = _YEAR.search(text)
    if match is None:
        return None
    decade = 5 if match[2] and match[1].endswith("0") else 0
    beside = {"before": -1, "after": 1}.get(normal(text[: match.start()]), 0)
    return int(match[1]) + decade + beside


def _holds(one: Finding, year: int) -> bool:
    return (one.first_year is None or one.first_year <= year) and (
        one.last_year is None or year <= one.last_year
    )


def _nearest(word: str, text: str, names: Sequence[_Name]) -> str:
    """The id that the text means: an exact name first, then the likeliest misspelling."""
    query = normal(text)
    exact = {one.id for one in names if one.norm == query}
    if len(exact) == 1:
        return exact.pop()
    scores: dict[str, float] = {}
    shown: dict[str, str] = {}
    for one in names:
        shown.setdefault(one.id, one.shown)
        scores[one.id] = max(scores.get(one.id, 0.0), _score(query, one.norm))
    best = sorted(scores, key=lambda name: (-scores[name], name))
    if query and scores[best[0]] >= SURE:
        second = scores[best[1]] if len(best) > 1 else 0.0
        if scores[best[0]] - second >= AHEAD:
            return best[0]
    nearest = tuple(Choice(name, shown[name]) for name in best[:6])
    raise Unclear(word, text, nearest, borne=bool(query) and scores[best[0]] >= SURE)


def _score(query: str, norm: str) -> float:
    from rapidfuzz import fuzz

    whole = max(fuzz.ratio(query, norm), 0.95 * fuzz.token_sort_ratio(query, norm))
    if len(query) >= 3:
        if norm.startswith(query):
            whole = max(whole, BEGINNING)
        whole = max(whole, 0.88 * fuzz.token_set_ratio(query, norm))
    return float(whole)
