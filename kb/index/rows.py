"""What the index keeps of one test. Light to import: reading an answer needs no more than this."""

from collections.abc import Mapping
from typing import NamedTuple

from kb.model.kinds import plain_id

CURRENT, AMENDED, WITHDRAWN = 0, 1, 2
WHOLE = 1000
"""Into so many parts a test on an unknown tape is cut: whole numbers add up the same in any order."""
STATES = ("", "amended", "withdrawn")
# A tape without a carrier that was seen as such is known to have none; an empty field says that nobody
# looked.
NO_CARRIER = "none-transfer"
TEST_COLUMNS = (
    "id, file, offset, length, at, who, sheet, tape, adhesive, stage, carrier, medium, paper, liquid, "
    "method, release, harm, control, state, batch, may_be"
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
    may_be: str = ""
    """What an unknown tape may be, as :func:`shares_text` writes it; empty where the adhesive is known."""


def shares_text(shares: Mapping[tuple[str, str, str], int]) -> str:
    """``a/b/c=412;d/e/f=588``: adhesive, stage, carrier, and its part of the test in WHOLE-ths."""
    # Sorted, so that equal shares are equal text and a recount finds nothing to change.
    return ";".join(f"{'/'.join(key)}={share}" for key, share in sorted(shares.items()))


def shares_of(text: str) -> list[tuple[tuple[str, str, str], int]]:
    """What :func:`shares_text` wrote."""
    found = []
    for item in text.split(";") if text else ():
        key, _, share = item.rpartition("=")
        adhesive, stage, carrier = key.split("/")
        found.append(((adhesive, stage, carrier), int(share)))
    return found


def shares_of_tape(
    may_be: Mapping[str, float], seen_stage: str, seen_carrier: str, whole: int = WHOLE
) -> dict[tuple[str, str, str], int]:
    """What a tape may be as whole parts of ``whole``; a stage or carrier that was seen holds for all."""
    shares: dict[tuple[str, str, str], int] = {}
    for what, chance in may_be.items():
        adhesive, stage, usual = (plain_id(name) for name in what.split("/"))
        # A chance below half a thousandth falls away: no test may leave rows of nothing.
        share = round(chance * whole)
        if adhesive and share:
            # What was seen on this tape is surer than what tapes of its kind usually carry.
            key = (adhesive, plain_id(seen_stage) or stage, seen_carrier or usual)
            shares[key] = shares.get(key, 0) + share
    return shares
