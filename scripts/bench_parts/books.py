"""Invented books of any length: valid, chained lines over the whole catalogue. Same seed, same book."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import NamedTuple

import msgspec

from kb.book.kinds.parts import Site
from kb.book.kinds.spot_test import HARM_KINDS, Round, SpotTest
from kb.book.line import FIRST_PREV, encode_line, hash_of
from kb.book.pieces import CLOSED_AT_BYTES, piece_path
from kb.book.ulid import ulid_text
from kb.index.compiled import Compiled
from kb.model.record import Amend, Line, Withdraw

SEED = 20_260_101
FIRST_MS = int(datetime(2005, 1, 1, tzinfo=UTC).timestamp() * 1000)
SPOTS_ON_A_SHEET = 9
BLENDS = 12
BLEND_SHARE = 0.08
AMENDED, WITHDRAWN = 0.010, 0.003
"""Shares of records that correct an earlier one or take it back."""
BENCH = "bench-1"
WHO = ("AB", "CD", "EF")

_encode = msgspec.json.Encoder().encode


class Sheet(NamedTuple):
    """What stays the same over the spots of one sheet."""

    name: str
    adhesive: str
    stage: str
    carrier: str
    medium: str
    paper: str


class Writer:
    """Writes one book file, record by record."""

    def __init__(self, compiled: Compiled, seed: int = SEED) -> None:
        self._random = Random(seed)
        self._adhesives = sorted(compiled.adhesives)
        self._stages = sorted(compiled.stages)
        self._carriers = sorted(compiled.carriers)
        self._media = sorted(compiled.media)
        self._papers = sorted(compiled.papers)
        self._methods = sorted(compiled.methods)
        self._pure = [{one.id: 1.0} for one in compiled.liquids]
        self._blends = self._some_blends([one.id for one in compiled.liquids])
        self._now_ms = FIRST_MS
        self._sheets = 0
        self._recent: list[str] = []

    def lines(self, count: int) -> Iterator[bytes]:
        """That many lines, each with its newline. The first tests use each blend once.

        So books of every length hold the same candidates, and only their length differs.
        """
        prev, sheet, left = FIRST_PREV, self._sheet(), 0
        chance = self._random.random
        for number in range(count):
            if not left:
                sheet, left = self._sheet(), 1 + int(2 * SPOTS_ON_A_SHEET * chance())
            record_id, at = self._stamp()
            kind, body = self._body(number, sheet, chance())
            left -= kind == "test"
            line = Line(
                id=record_id,
                at=at,
                who=WHO[self._sheets % len(WHO)],
                bench=BENCH,
                kind=kind,
                body=msgspec.Raw(_encode(body)),
                prev=prev,
            )
            if kind == "test":
                self._recent.append(record_id)
                del self._recent[:-50]
            raw = encode_line(line)
            prev = hash_of(raw)
            yield raw + b"\n"

    def _some_blends(self, liquids: list[str]) -> list[dict[str, float]]:
        found = []
        for number in range(BLENDS):
            share = (0.5, 0.25, 0.75)[number % 3]
            one, other = self._random.sample(liquids, 2)
            found.append({one: share, other: 1 - share})
        return found

    def _pick(self, values: list[str]) -> str:
        """Any of them, the first ones more often: some tapes and inks are met every week, others once."""
        return values[int(len(values) * self._random.random() ** 1.5)]

    def _sheet(self) -> Sheet:
        self._sheets += 1
        pick = self._pick
        return Sheet(
            f"Sheet {self._sheets:06}",
            pick(self._adhesives),
            pick(self._stages),
            pick(self._carriers),
            pick(self._media),
            pick(self._papers),
        )

    def _stamp(self) -> tuple[str, str]:
        """A record id and the time in it, some minutes after the one before."""
        self._now_ms += 60_000 + int(300_000 * self._random.random())
        record_id = ulid_text(self._now_ms << 80 | self._random.getrandbits(80))
        at = datetime.fromtimestamp(self._now_ms / 1000, UTC).isoformat(timespec="milliseconds")
        return record_id, f"{at[:-6]}Z"

    def _body(self, number: int, sheet: Sheet, chance: float) -> tuple[str, msgspec.Struct]:
        if number > BLENDS and chance < AMENDED:
            grade = int(5 * self._random.random())
            why = "read the wrong line of the form"
            return "amend", Amend(of=self._random.choice(self._recent), set={"release": grade}, why=why)
        if number > BLENDS and chance < AMENDED + WITHDRAWN:
            return "withdraw", Withdraw(
                of=self._random.choice(self._recent), why="the bottle was not what it said"
            )
        return "test", self._test(number, sheet)

    def _test(self, number: int, sheet: Sheet) -> SpotTest:
        random = self._random.random
        if number < BLENDS:
            parts = self._blends[number]
        elif random() < BLEND_SHARE:
            parts = self._blends[int(BLENDS * random())]
        else:
            parts = self._pure[int(len(self._pure) * random())]
        # Grades lean one way for each pair, as real ones do, so that posteriors are no flat noise.
        lean = len(sheet.adhesive) * 7 + len(next(iter(parts))) * 5
        harmed = len(sheet.medium) * 3 + len(next(iter(parts))) * 11
        gone = random() < 0.2
        return SpotTest(
            adhesive=sheet.adhesive,
            stage=sheet.stage,
            carrier="" if gone else sheet.carrier,
            carrier_present=False if gone else None,
            medium=sheet.medium,
            paper=sheet.paper,
            parts=parts,
            method=self._pick(self._methods),
            sheet=sheet.name,
            site=Site(words="beside the lower edge", face="front"),
            rounds=(
                Round(dwell_s=30.0, amount="barely damp", wet="swells"),
                Round(dwell_s=60.0),
                Round(dwell_s=120.0),
            ),
            release=min(4, int(random() * (1 + lean % 5))),
            harm={kind: min(4, int(random() * random() * (1 + harmed % 5))) for kind in HARM_KINDS[:3]},
        )


def write_book(folder: Path, compiled: Compiled, count: int) -> list[Path]:
    """A book of that many records in a studio folder, in pieces as the program writes it; returns them."""
    first = folder / "book" / f"{BENCH}.jsonl"
    first.parent.mkdir(parents=True, exist_ok=True)
    lines, found = Writer(compiled).lines(count), [first]
    line = next(lines, b"")
    while line:
        with found[-1].open("wb") as handle:
            while line and handle.tell() < CLOSED_AT_BYTES:
                handle.write(line)
                line = next(lines, b"")
        if line:
            found.append(Path(piece_path(str(first), len(found) + 1)))
    return found
