"""Looks: what a person can look at on a tape, what may be found, and how often each tape shows it."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Record, Sources

Often = Literal["nearly always", "usually", "as often as not", "sometimes", "seldom", "never seen"]
Cost = Literal["none", "needs a loose end", "needs a lamp or filter", "removes a crumb", "needs a laboratory"]
"""What a look takes: nothing, a free end of the strip, equipment, a sample, or a sample and an instrument."""

SHARES: dict[Often, float] = {
    "nearly always": 0.9,
    "usually": 0.7,
    "as often as not": 0.5,
    "sometimes": 0.3,
    "seldom": 0.1,
    "never seen": 0.02,
}
"""What the words stand for. A scale of this project: nobody counted tapes, sources say words like these.

``never seen`` is not zero, because lists are short, eyes err and makers change their minds.
"""


class Finding(Record, frozen=True, kw_only=True):
    """One thing that a look may show. Years (both included) only where the look asks for a date."""

    id: str
    words: str
    also: tuple[str, ...] = ()
    first_year: int | None = None
    last_year: int | None = None


class Sign(Record, frozen=True, kw_only=True):
    """How often some tapes show the findings of a look.

    The tapes are meant as in a caution: every key that is given must match, within a key any value does.
    Findings that are not named share what is left, in the proportions in which other tapes show them. Where
    several signs fit a tape, the one that names the tape itself counts, then the one that names its stage,
    then the one that names both carrier and adhesive.
    """

    tapes: tuple[str, ...] = ()
    carriers: tuple[str, ...] = ()
    adhesives: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    finds: dict[str, Often]
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Look(Record, frozen=True, kw_only=True):
    """Something a person can look at. ``name`` is the question in plain words, ``how`` the way to look."""

    id: str
    name: str
    also: tuple[str, ...] = ()
    how: str
    cost: Cost = "none"
    dated: bool = False
    """The findings are spans of years. A date is no sign: it says which tapes were on sale."""
    findings: tuple[Finding, ...]
    signs: tuple[Sign, ...] = ()
