"""What the index keeps of one test. Light to import: reading an answer needs no more than this."""

from __future__ import annotations

from typing import NamedTuple

CURRENT, AMENDED, WITHDRAWN = 0, 1, 2
STATES = ("", "amended", "withdrawn")
NO_CARRIER = "none-transfer"
TEST_COLUMNS = (
    "id, file, offset, length, at, who, sheet, tape, adhesive, stage, carrier, medium, paper, liquid, "
    "method, release, harm, control, state, batch"
)


class Row(NamedTuple):
    """One test as the index keeps it; ``harm`` is the worst grade among those looked at."""

    id: str
    file: int
    offset: int
    length: int
    at: str
    who: str
    sheet: str
    tape: str
    adhesive: str
    stage: str
    carrier: str
    medium: str
    paper: str
    liquid: str
    method: str
    release: int | None
    harm: int | None
    control: int
    state: int
    batch: str = ""
    """The batch that was used, as it was named, in capitals as ids are."""
