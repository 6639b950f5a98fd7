"""Plays invented sheets through the ranking: what it costs, what it harms, if chances mean what they say.

    python scripts/simulate.py                # books of 0, 30, 300 tests; with and without what they teach
    python scripts/simulate.py --aversion 16 20 24
    python scripts/simulate.py --good-news 0 0.5 --tests 300 --worlds 60 --sheets 12
    python scripts/simulate.py --ink-looks    # beside the usual way: a stop is followed by the look it names

A world is a chemistry that differs from the catalogue's: as a whole, by material, by family of liquid, by
both, and liquid by liquid. In it a studio has made tests, and then meets sheets that it has not seen. Loss of
a sheet = spots + 16 x harm + 16 if nothing released. Worlds are this project's own, and no figure here was
measured on paper.
"""

from __future__ import annotations

import argparse
import math
import random
import sqlite3
import statistics
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.desk.choose.gather import gather
from kb.desk.choose.lines import freed_on_media, lines_of, shown
from kb.desk.choose.may_be import Component
from kb.desk.choose.spots import Spots
from kb.desk.choose.sums import OfReach, Pools, pools_of
from kb.desk.choose.weigh import Sheet, sheet_of
from kb.desk.studio import Studio
from kb.index.book_rows import clear_book
from kb.index.compiled import Compiled, Named
from kb.index.rows import BARE_PAPER, HARM_FROM, RELEASE_FROM
from kb.index.tally import HARM, RELEASE, Tally
from kb.model.question import Dials, Question
from kb.science.choose.acting import logistic, logit
from kb.science.choose.learnt import GOOD_NEWS, less_harm

HARM_COST, NOTHING_COST = 16.0, 16.0
MOST_SPOTS = 7
RELEASE_BASE, HARM_BASE = (0.2, 0.7), (-0.8, 0.5)
"""Mean and spread, in logits, by which a world differs from the catalogue: harm is rarer than feared."""
BY_MATERIAL, BY_FAMILY, BY_BOTH, BY_LIQUID = 0.5, 0.5, 0.6, 0.5
"""Spread in logits by adhesive or medium, by family of liquid, by both, by each liquid on each material."""
RELEASE_STEP, HARM_STEP = 1.3, 1.2
"""Logits between two grades."""
MATERIALS, MEDIA = 5, 4
"""Adhesives and media that one studio meets."""
BINS = 10


class World:
    """One true chemistry, and what its studio meets; all of it follows from the seed."""

    def __init__(self, compiled: Compiled, seed: int) -> None:
        self.rng = random.Random(seed)
        self.compiled = compiled
        self.liquids = [
            compiled.candidate(one.id, {one.id: 1.0}) for one in compiled.liquids if one.named >= 1
        ]
        pick = self.rng.sample
        self.adhesives = pick(sorted(compiled.adhesives), MATERIALS)
        self.media = pick(sorted(one for one in compiled.media if one != BARE_PAPER), MEDIA)
        self.papers = pick(sorted(compiled.papers), 2)
        self._quirks: dict[tuple[str, ...], float] = {}
        self.base = {"release": self.rng.gauss(*RELEASE_BASE), "harm": self.rng.gauss(*HARM_BASE)}

    def question(self) -> Question:
        """A sheet of this studio."""
        choice = self.rng.choice
        return Question(
            adhesive=choice(self.adhesives),
            stage=choice(sorted(self.compiled.stages)),
            carrier="",
            medium=choice(self.media),
            paper=choice(self.papers),
        )

    def release(self, asked: Question, what: Named) -> float:
        """True chance of release."""
        p0 = self.compiled.release_p0(asked.adhesive, asked.stage, asked.carrier, asked.method, what)
        return logistic(logit(p0) + self._quirk("release", asked.adhesive, what))

    def harm(self, asked: Question, what: Named) -> float:
        """True chance of harm."""
        p0 = self.compiled.harm_p0(asked.medium, asked.paper, asked.method, what)
        return logistic(logit(p0) + self._quirk("harm", asked.medium, what))

    def paper_harm(self, asked: Question, what: Named) -> float:
        """True chance that a look on bare paper harms it."""
        return logistic(logit(self.compiled.paper_p0(asked.paper, what)) + self.base["harm"])

    def grade(self, chance: float, threshold: int, step: float) -> int:
        """A grade that reaches the threshold with this chance."""
        u = self.rng.random()
        seen = logit(chance) + logit(min(max(u, 1e-9), 1 - 1e-9))
        return max(0, min(4, threshold + math.floor(seen / step)))

    def _quirk(self, event: str, material: str, what: Named) -> float:
        parts = (
            (BY_MATERIAL, (event, material)),
            (BY_FAMILY, (event, "family", what.related)),
            (BY_BOTH, (event, material, what.related)),
            (BY_LIQUID, (event, material, what.related, what.id)),
        )
        return self.base[event] + sum(self._drawn(spread, key) for spread, key in parts)

    def _drawn(self, spread: float, key: tuple[str, ...]) -> float:
        if key not in self._quirks:
            self._quirks[key] = self.rng.gauss(0.0, spread)
        return self._quirks[key]


class Played(NamedTuple):
    """One sheet to its end; ``said`` holds (event, chance said, truth) of each spot that was made."""

    spots: int
    harmed: bool
    found: bool
    said: tuple[tuple[str, float, float], ...]

    @property
    def loss(self) -> float:
        """In harmless spots."""
        return self.spots + HARM_COST * self.harmed + NOTHING_COST * (not self.found)


class Arm(NamedTuple):
    """One way to rank."""

    name: str
    dials: Dials
    learns: bool = True
    good_news: float = GOOD_NEWS
    """Share of a shift that makes harm less likely."""
    ink_looks: bool = False
    """Where nothing may be tried, the look on the ink is made that would free a liquid."""


def test_book(conn: sqlite3.Connection, world: World, tests: int) -> None:
    """Fill the counts with so many tests; liquids are tried as often as the catalogue thinks well of them."""
    clear_book(conn)
    tally = Tally(world.compiled)
    weights: dict[Question, list[float]] = {}
    for _ in range(tests):
        asked = world.question()
        if asked not in weights:
            weights[asked] = [
                world.compiled.release_p0(asked.adhesive, asked.stage, "", "swab", what)
                * (1 - world.compiled.harm_p0(asked.medium, asked.paper, "swab", what))
                for what in world.liquids
            ]
        what = world.rng.choices(world.liquids, weights[asked])[0]
        release = world.grade(world.release(asked, what), RELEASE_FROM, RELEASE_STEP)
        harm = world.grade(world.harm(asked, what), HARM_FROM, HARM_STEP)
        tally.count((asked.adhesive, asked.stage, asked.carrier, asked.method, what.id), RELEASE, release, 1)
        tally.count((asked.medium, asked.paper, asked.method, what.id), HARM, harm, 1)
    tally.write(conn)


def sheet_for(conn: sqlite3.Connection, compiled: Compiled, asked: Question, arm: Arm) -> Sheet:
    """The engine's view of one question."""
    may_be = [Component(1.0, asked)]
    gathered = gather(conn, compiled)
    pools = pools_of(conn, compiled, asked, may_be, gathered, use_print=arm.dials.use_print)
    if not arm.learns:
        nothing = dict.fromkeys((one.related for one in gathered.candidates), 0.0)
        pools = Pools(
            [one._replace(taught=nothing, known={}) for one in pools.release],
            OfReach({m: one._replace(moves=nothing, known={}) for m, one in pools.harm.media.items()}, {}),
        )
    elif arm.good_news != GOOD_NEWS:
        media = {
            medium: one._replace(moves={f: less_harm(by, arm.good_news) for f, by in one.taught.items()})
            for medium, one in pools.harm.media.items()
        }
        pools = pools._replace(harm=OfReach(media, {}))
    return sheet_of(compiled, asked, arm.dials, gathered, may_be, pools)


def play(
    sheet: Sheet,
    world: World,
    asked: Question,
    luck: Callable[[str, str], float],
    *,
    ink_looks: bool = False,
) -> Played:
    """Test what the ranking proposes first, until something releases, harms, or nothing is proposed.

    Where nothing is free, looks at a margin are made that free a liquid; a look costs a spot and, if it harms
    the paper, the liquid is left. ``luck`` gives the same uniform number for the same liquid and event,
    whatever the arm: arms differ by what they choose and not by their luck.
    """
    spots, made = Spots(), 0
    said: list[tuple[str, float, float]] = []
    while made < MOST_SPOTS:
        free = [place for place in range(len(sheet.kernel)) if not sheet.stopped(place)]
        weighed = sheet.weighed(free, spots)
        lines = shown(lines_of(sheet, weighed, spots), ladder=ink_looks)
        line = next((one for one in lines if one.looks is not None), None)
        freed = freed_on_media(sheet, lines, spots) if ink_looks and line is None else None
        if freed is not None:
            made += 1
            place = next(one.head.place for one in lines if one.head.what.id == freed.liquid)
            # As a drop does beside the tape so it does under it: one draw for both, and harm is harm.
            if luck("harm", freed.liquid) < world.harm(asked, sheet.candidates[place]):
                return Played(made, True, False, tuple(said))
            spots = spots.with_clean(place, freed.media, 1)
            continue
        if line is None:
            break
        best, made = line.head, made + 1
        if line.looks:
            if luck("look", f"{best.what.id} {made}") < world.paper_harm(asked, best.what):
                spots = spots._replace(tried=spots.tried | {best.what.id})
            else:
                spots = spots.with_look(best.place, 1)
            continue
        chances = {"release": world.release(asked, best.what), "harm": world.harm(asked, best.what)}
        said += [
            ("release", best.release_here.mean, chances["release"]),
            ("harm", best.harm, chances["harm"]),
        ]
        released, harmed = (luck(event, best.what.id) < chances[event] for event in ("release", "harm"))
        if harmed or released:
            return Played(made, harmed, released and not harmed, tuple(said))
        spots = spots.with_spot(best.what, best.place, released=False, harmed=False)
    return Played(made, False, False, tuple(said))


def everything_said(sheet: Sheet, world: World, asked: Question) -> Iterator[tuple[str, float, float]]:
    """Of every liquid that print knows: the chance said in general, and the truth."""
    known = {one.id for one in world.liquids}
    for one in sheet.weighed(range(len(sheet.kernel)), Spots()):
        if one.what.id in known:
            yield "release", one.release.mean, world.release(asked, one.what)
            yield "harm", max(harm.general.mean for harm in one.harms), world.harm(asked, one.what)


def calibration_error(pairs: Sequence[tuple[float, float]]) -> float:
    """Expected calibration error: mean distance of said and true over BINS equal bins, weighted by number."""
    bins: dict[int, list[tuple[float, float]]] = {}
    for said, true in pairs:
        bins.setdefault(min(BINS - 1, int(said * BINS)), []).append((said, true))
    gaps = (abs(sum(s for s, _ in found) - sum(t for _, t in found)) for found in bins.values())
    return sum(gaps) / len(pairs)


class Result(NamedTuple):
    """What one arm did with books of one length."""

    arm: str
    tests: int
    played: list[Played]
    chances: list[tuple[str, float, float]]

    def mean(self, pick: Callable[[Played], float]) -> tuple[float, float]:
        """Mean over sheets, and its standard error."""
        values = [pick(one) for one in self.played]
        return statistics.mean(values), statistics.stdev(values) / math.sqrt(len(values))

    def calibration(self, event: str) -> tuple[float, float, float]:
        """Expected calibration error over all liquids; said and true of the spots that were made."""
        pairs = [(said, true) for kind, said, true in self.chances if kind == event]
        made = [(said, true) for one in self.played for kind, said, true in one.said if kind == event]
        said, true = (statistics.mean(column) for column in zip(*made or [(math.nan, math.nan)], strict=True))
        return calibration_error(pairs), said, true


def simulate(
    studio: Studio, arms: Sequence[Arm], lengths: Sequence[int], worlds: int, sheets: int, seed: int = 1
) -> list[Result]:
    """Every arm on the same worlds, books and sheets."""
    conn, compiled = studio.index.conn, studio.compiled
    results = [Result(arm.name, tests, [], []) for tests in lengths for arm in arms]
    for tests in lengths:
        for number in range(worlds):
            world = World(compiled, seed * 1000 + number)
            test_book(conn, world, tests)
            for sheet_number in range(sheets):
                asked = world.question()
                for arm in arms:
                    sheet = sheet_for(conn, compiled, asked, arm)
                    result = next(one for one in results if (one.arm, one.tests) == (arm.name, tests))
                    luck = _luck(seed, number, tests, sheet_number)
                    result.played.append(play(sheet, world, asked, luck, ink_looks=arm.ink_looks))
                    result.chances.extend(everything_said(sheet, world, asked))
    clear_book(conn)
    return results


def _luck(*key: int) -> Callable[[str, str], float]:
    return lambda event, liquid: random.Random(f"{key} {event} {liquid}").random()


def table(results: Sequence[Result]) -> str:
    """All results as a table in Markdown."""
    lines = [
        "| tests | ranking | loss | harm per sheet | found | ECE release | ECE harm | release said / true "
        "| harm said / true |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for one in results:
        loss, error = one.mean(_loss)
        harm, _ = one.mean(_harmed)
        found, _ = one.mean(_found)
        (error_release, *release), (error_harm, *hurt) = map(one.calibration, ("release", "harm"))
        lines.append(
            f"| {one.tests} | {one.arm} | {loss:.2f} +- {error:.2f} | {harm:.3f} | {found:.2f} "
            f"| {error_release:.3f} | {error_harm:.3f} | {release[0]:.2f} / {release[1]:.2f} "
            f"| {hurt[0]:.2f} / {hurt[1]:.2f} |"
        )
    return "\n".join(lines)


def differences(results: Sequence[Result], sheets: int) -> str:
    """Each ranking less the first with books of the same length, sheet by sheet; errors over worlds."""
    lines = [
        "| tests | ranking, less the first | loss | harm per sheet | found |",
        "| --- | --- | --- | --- | --- |",
    ]
    first: dict[int, Result] = {}
    for one in results:
        base = first.setdefault(one.tests, one)
        if base is not one:
            picks: tuple[Callable[[Played], float], ...] = (_loss, _harmed, _found)
            cells = " | ".join(_paired(one.played, base.played, pick, sheets) for pick in picks)
            lines.append(f"| {one.tests} | {one.arm} | {cells} |")
    return "\n".join(lines)


def _paired(
    ours: Sequence[Played], theirs: Sequence[Played], pick: Callable[[Played], float], sheets: int
) -> str:
    apart = [pick(a) - pick(b) for a, b in zip(ours, theirs, strict=True)]
    # Sheets of one world share its chemistry, so the world is what is drawn anew.
    worlds = [statistics.mean(apart[at : at + sheets]) for at in range(0, len(apart), sheets)]
    error = statistics.stdev(worlds) / math.sqrt(len(worlds)) if len(worlds) > 1 else math.nan
    return f"{statistics.mean(worlds):+.3f} +- {error:.3f}"


def _loss(one: Played) -> float:
    return one.loss


def _harmed(one: Played) -> float:
    return float(one.harmed)


def _found(one: Played) -> float:
    return float(one.found)


def main() -> None:
    """Read the arguments, play, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--worlds", type=int, default=12)
    parser.add_argument("--sheets", type=int, default=20, help="sheets of each world")
    parser.add_argument("--tests", type=int, nargs="+", default=[0, 30, 300], help="lengths of the book")
    parser.add_argument(
        "--aversion", type=float, nargs="+", default=[Dials().harm_aversion], help="aversion to harm"
    )
    parser.add_argument(
        "--good-news",
        type=float,
        nargs="+",
        default=[GOOD_NEWS],
        help="shares of good news about harm that move its prior",
    )
    parser.add_argument(
        "--ink-looks", action="store_true", help="with and without looks on the ink at a stop"
    )
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    dials = Dials(use_print=False)
    arms = [Arm("as before", dials, learns=False)]
    arms += [Arm(f"learns, good news {share:g}", dials, good_news=share) for share in args.good_news]
    if len(args.aversion) > 1:
        arms = [Arm(f"aversion {one:g}", Dials(harm_aversion=one, use_print=False)) for one in args.aversion]
    if args.ink_looks:
        arms = [Arm("as it is", dials), Arm("looks on the ink", dials, ink_looks=True)]
    with tempfile.TemporaryDirectory() as folder:
        studio = Studio(Path(folder))
        results = simulate(studio, arms, args.tests, args.worlds, args.sheets, args.seed)
        print(table(results), differences(results, args.sheets), sep="\n\n")
        studio.close()


if __name__ == "__main__":
    main()
