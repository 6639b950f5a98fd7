"""The looks of the catalogue boiled down to shares, kept as a blob of its own in the index.

Only identification reads it, so no other answer pays for it; reading it parses no YAML.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import msgspec

from kb.model.base import Source
from kb.model.identification import NOT_STATED, SHARES, HowUsual, Look, Sign
from kb.model.material import Adhesive, Stage, Tape

if TYPE_CHECKING:
    from kb.catalogue.load import Catalogue

KEY = "identify"
"""Name of the blob among the index's own notes."""
LEAST = 0.005
"""No finding rules a tape out by itself. This project's own."""
FROM_MEMORY = 0.75
"""What a finding that no text was read for counts, as a power of its odds against the base rate: three
quarters of one that was read. This project's own."""
RUBBER_STAGES = ("induction", "oily", "crosslinked")
OTHER_STAGES = ("fresh", "aged")
"""Stages of an adhesive for which none is described: those of its group. This project's own."""


class TRow(msgspec.Struct, frozen=True, array_like=True):
    """Shares of the findings of a look, summing to 1. Without sources it is the base rate."""

    shares: tuple[float, ...]
    sources: tuple[str, ...]


class TLook(Look, frozen=True, kw_only=True):
    """A look, its signs as rows. ``of`` names the row of each hypothesis; row 0 is the base rate."""

    rows: tuple[TRow, ...]
    of: tuple[int, ...]


class TTape(msgspec.Struct, frozen=True, array_like=True):
    """A kind of tape, and its stages in order of age."""

    id: str
    name: str
    adhesive: str
    carrier: str
    stages: tuple[str, ...]
    usual: HowUsual = NOT_STATED
    usual_sources: tuple[str, ...] = ()


class Table(msgspec.Struct, frozen=True, dict=True):
    """Everything that identification needs. Hypotheses are each tape in each of its stages, in order."""

    tapes: tuple[TTape, ...]
    stage_names: dict[str, str]
    looks: tuple[TLook, ...]

    @cached_property
    def hypotheses(self) -> tuple[tuple[int, str], ...]:
        # Every stage is a hypothesis of its own: a tape looks different when fresh and when gone brown.
        """Number of the tape and id of the stage."""
        return tuple((place, stage) for place, tape in enumerate(self.tapes) for stage in tape.stages)

    @cached_property
    def likelihoods(self) -> list[list[tuple[float, ...]]]:
        """Shares by look, hypothesis and finding; the last hypothesis is a tape that is not listed.

        Of that one nothing is known, so each finding is as likely as any other.
        """
        return [
            [
                # Nothing is known of such a tape; an even row neither favours it nor rules it out.
                *(look.rows[row].shares for row in look.of),
                (1.0 / len(look.findings),) * len(look.findings),
            ]
            for look in self.looks
        ]

    @cached_property
    def groups(self) -> list[int]:
        """Number of the tape of each hypothesis; the tape that is not listed comes last."""
        return [*(tape for tape, _ in self.hypotheses), len(self.tapes)]


def write_table(conn: sqlite3.Connection, catalogue: Catalogue) -> None:
    packed = msgspec.msgpack.encode(table_of(catalogue))
    conn.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (KEY, packed))


def read_table(conn: sqlite3.Connection) -> Table | None:
    """The table of the index, or None if it is missing or cannot be read."""
    row = conn.execute("SELECT value FROM meta WHERE key = ?", (KEY,)).fetchone()
    try:
        # A damaged blob is as good as none: it is derived from the catalogue again.
        return None if row is None else msgspec.msgpack.decode(row[0], type=Table)
    except msgspec.MsgspecError:
        return None


def table_of(catalogue: Catalogue) -> Table:
    """The table: tapes by name, looks in the order of the catalogue's files."""
    stages = catalogue.of("stages", Stage)
    adhesives = catalogue.of("adhesives", Adhesive)
    known = sorted(catalogue.of("tapes", Tape).values(), key=lambda tape: (tape.name.casefold(), tape.id))
    tapes = tuple(
        TTape(
            tape.id,
            tape.name,
            tape.adhesive,
            tape.carrier,
            stages_of(adhesives[tape.adhesive], stages),
            *(() if tape.on_documents is None else (tape.on_documents.how, tape.on_documents.sources)),
        )
        for tape in known
    )
    # "Seen" is said of a source whose text was read; figures from memory weigh less below.
    read = frozenset(one.id for one in catalogue.of("sources", Source).values() if one.seen)
    looks = tuple(_look(look, tapes, read) for look in catalogue.of("looks", Look).values())
    return Table(tapes, {stage.id: stage.name for stage in stages.values()}, looks)


def stages_of(adhesive: Adhesive, stages: dict[str, Stage]) -> tuple[str, ...]:
    """The stages an adhesive can be in, in order of age.

    Those that are described for it; the first stage of its group too if no fresh one is described. Where
    nothing is described, all stages of its group. Empty text stands for the one state of an adhesive whose
    stages the catalogue does not know at all.
    """
    usual = [one for one in (RUBBER_STAGES if adhesive.group == "rubber" else OTHER_STAGES) if one in stages]
    described = [one.stage for one in adhesive.stages if one.stage in stages]
    # Descriptions usually start with ageing; a fresh tape must be possible, too.
    if described and usual and all(stages[one].position > 0 for one in described):
        described.append(usual[0])
    found = sorted(dict.fromkeys(described or usual), key=lambda one: stages[one].position)
    return tuple(found) or ("",)


def _look(look: Look, tapes: Sequence[TTape], read: frozenset[str]) -> TLook:
    hypotheses = [(tape, stage) for tape in tapes for stage in tape.stages]
    chosen = [_telling(look.signs, tape, stage) for tape, stage in hypotheses]
    # What a look shows over all tapes is the yardstick: a finding that all tapes show tells nothing.
    even = (1.0 / len(look.findings),) * len(look.findings)
    # Years are no impression with a base rate: each span counts as it stands.
    base = even if look.dated else _base(look, chosen, hypotheses, even)
    numbers = {id(sign): number for number, sign in enumerate(look.signs, start=1)}
    rows = [TRow(base, ())]
    for sign in look.signs:
        shares = _shares(look, sign, base)
        # A year is a date of sale and no impression; it counts as it stands.
        if not look.dated and read.isdisjoint(sign.sources):
            shares = _halfway(shares, base)
        rows.append(TRow(shares, sign.sources))
    as_it_is = {name: getattr(look, name) for name in Look.__struct_fields__ if name != "signs"}
    of = tuple(0 if sign is None else numbers[id(sign)] for sign in chosen)
    return TLook(**as_it_is, rows=tuple(rows), of=of)


def _telling(signs: Sequence[Sign], tape: TTape, stage: str) -> Sign | None:
    """The sign that counts for a tape in a stage: the one that names most; of equals the first."""
    found: Sign | None = None
    best = (-1, -1, -1)
    for sign in signs:
        # The more particular statement: one for a tape beats one for a stage, that one for its materials.
        rank = (bool(sign.tapes), bool(sign.stages), bool(sign.carriers) + bool(sign.adhesives))
        if rank > best and speaks_of(sign, tape, stage):
            found, best = sign, rank
    return found


def speaks_of(sign: Sign, tape: TTape, stage: str) -> bool:
    """Whether a sign holds for a tape in a stage: what it does not name it leaves open."""
    named = (sign.tapes, sign.carriers, sign.adhesives, sign.stages)
    what = (tape.id, tape.carrier, tape.adhesive, stage)
    return all(not wanted or one in wanted for one, wanted in zip(what, named, strict=True))


def _base(
    look: Look,
    chosen: Sequence[Sign | None],
    hypotheses: Sequence[tuple[TTape, str]],
    even: tuple[float, ...],
) -> tuple[float, ...]:
    """How often each finding is met over all tapes, each counting once.

    A tape for which nothing is tabulated counts as an even guess, so that a look tabulated for one tape only
    still tells that tape from the others.
    """
    sums = [0.0] * len(even)
    for sign, (tape, _) in zip(chosen, hypotheses, strict=True):
        for place, share in enumerate(even if sign is None else _shares(look, sign, even)):
            # A tape with three stages is still one tape on the market.
            sums[place] += share / len(tape.stages)
    total = sum(sums)
    return _settled([one / total for one in sums]) if total > 0 else even


def _shares(look: Look, sign: Sign, base: Sequence[float]) -> tuple[float, ...]:
    """The shares a sign's words stand for. What is not named shares the rest, as often as elsewhere.

    In a dated look a span that is not named is one in which the tape is not known.
    """
    never = SHARES["never seen"]
    named = {name: SHARES[word] for name, word in sign.finds.items()}
    others = [place for place, one in enumerate(look.findings) if one.id not in named]
    # Words may sum to more than a whole ("usually" twice); each other finding keeps its least share.
    rest = max(1.0 - sum(named.values()), never * len(others))
    elsewhere = sum(base[place] for place in others)
    return _settled(
        [
            named[one.id] if one.id in named else never if look.dated else rest * base[place] / elsewhere
            for place, one in enumerate(look.findings)
        ]
    )


def _halfway(shares: Sequence[float], base: Sequence[float]) -> tuple[float, ...]:
    """Shares whose odds against the base rate are shrunk, because nothing was read for them."""
    raw = [b * (share / b) ** FROM_MEMORY for share, b in zip(shares, base, strict=True)]
    return tuple(one / sum(raw) for one in raw)


def _settled(shares: Sequence[float]) -> tuple[float, ...]:
    """Shares that sum to 1, none of them below LEAST by more than that takes."""
    # Raised before it is scaled: a share of nothing would rule a tape out by one slip of the eye.
    raised = [max(share, LEAST) for share in shares]
    total = sum(raised)
    return tuple(share / total for share in raised)
