"""What a studio says of itself: studio.yaml."""

from __future__ import annotations

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
