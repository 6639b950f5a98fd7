"""What a studio says of itself (studio.yaml), and what it holds and forbids (shelf.yaml)."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Record
from kb.model.question import Dials


class Settings(Record, frozen=True, kw_only=True):
    """Settings of one studio. Every field has a default, so an empty file is a valid studio."""

    name: str = "My studio"
    invented: bool = False
    """True for the demo: its sheets, people and tests are made up and every screen says so."""
    who: str = ""
    """Name or initials written into new records."""
    bench: str = ""
    """Name of this bench, and of its files of records: book/<bench>.jsonl. Empty: the machine's name."""
    authority: str = ""
    """Whose exposure limits are shown first: EU, UK, US-OSHA ... Empty: all, none preferred."""
    share_photographs: bool = False
    """Whether photographs travel when the studio is shared; without the place where they were taken."""
    dials: Dials = msgspec.field(default_factory=Dials)


Rule = Literal["local", "building", "health", "other"]
RULE_WORDS: dict[str, str] = {
    "local": "local rule",
    "building": "rule of the building",
    "health": "health",
    "other": "rule of this studio",
}
"""Whose rule a prohibition is, as a reader sees it."""
PEROXIDE_TEST_MONTHS = 3.0
"""Months between tests of an opened peroxide former. Common practice, no source; a studio may set it."""
EXPIRY_NOTICE_DAYS = 30
"""How long before its date a bottle is listed as expiring. This project's own choice."""


class Forbidden(Record, frozen=True, kw_only=True):
    """One prohibition. A liquid falls under it if *any* of the ids or statement codes speaks of it."""

    liquids: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    """Ids in data/materials/families.yaml."""
    hazards: tuple[str, ...] = ()
    """Statement codes; ``H360`` stands for ``H360D`` too."""
    why: str
    rule: Rule = "local"


class Shelf(Record, frozen=True, kw_only=True):
    """The shelf of one studio. An empty file is a shelf that holds everything and forbids nothing."""

    holds: tuple[str, ...] = ()
    """Ids of liquids; an empty list means that all liquids count as held."""
    forbids: tuple[Forbidden, ...] = ()
    peroxide_test_months: float = PEROXIDE_TEST_MONTHS
    expiry_notice_days: int = EXPIRY_NOTICE_DAYS
