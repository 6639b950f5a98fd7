"""Every hostile string through every argument of every command: one sentence or an answer, never a crash."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.cli.main import NOUNS
from tests.faults import figures
from tests.faults.hostile.corpus import ALL, CORPUS, KINDS, OWNED, SHORT, Hostile
from tests.faults.hostile.stage import Stage, staged
from tests.faults.hostile.surfaces import APART, Surface, present, surfaces

EACH = 4
"""Strings tried at each place of the command line; neighbouring places get the next ones.

Each class of string meets each sort of place many times; every string at every place is tried with
BENCHLEAF_HOSTILE=all."""


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[Stage]:
    """One studio for all commands of this file; it fills up with what they store."""
    with staged(tmp_path_factory.mktemp("hostile"), blank_index) as made:
        yield made


def picked(number: int) -> list[Hostile]:
    """The strings for a place: of the classes that come next, the string of each that comes next."""
    if ALL:
        return list(CORPUS)
    found = []
    for turn in range(number * EACH, (number + 1) * EACH):
        kind = KINDS[turn % len(KINDS)]
        ours = [one for one in (CORPUS if kind == "long" else SHORT) if one.kind == kind]
        found.append(ours[turn // len(KINDS) % len(ours)])
    return found


def test_the_corpus_is_broad() -> None:
    """At least 150 strings, of every class, none twice."""
    assert len(CORPUS) >= 150
    assert len(KINDS) >= 20
    assert len({one.text for one in CORPUS}) == len(CORPUS)
    assert len({(one.kind, one.name) for one in CORPUS}) == len(CORPUS)


def test_every_command_is_tried() -> None:
    """A command that is there has a surface, or a reason stands why not."""
    tried = {one.command.split()[0] for one in surfaces(dict.fromkeys(IDS, "x"))}
    assert {noun for noun in NOUNS if present(noun)} - tried - set(APART) == set()
    assert len(tried) >= 20


IDS = ("test", "batch", "bottle", "reading")


# Every string in every place takes minutes.
@pytest.mark.timeout(1200)
def test_hostile_text_in_every_argument(stage: Stage) -> None:
    """Exit code 0 to 3, a sentence if it failed, nothing raw printed, nothing run or written elsewhere."""
    places = list(surfaces(stage.ids))
    found: list[str] = []
    tried = 0
    met: dict[str, set[str]] = {}
    for number, place in enumerate(places):
        for turn, one in enumerate(picked(number)):
            if not _fits(stage, place, one):
                continue
            tried += 1
            met.setdefault(place.sort, set()).add(one.kind)
            argv = place.argv(one.text, as_json=(number + turn) % 2 == 0)
            if why := stage.wrong(argv):
                found.append(f"{place.command} {place.name}, {one.kind}: {one.name}: {why}")
    figures.add(
        "hostile text through the command line",
        strings=len(CORPUS),
        surfaces=len(places),
        tried=tried,
        crashes=len(found),
    )
    assert not found, "\n".join(found)
    often = [sort for sort in met if sum(place.sort == sort for place in places) >= len(KINDS)]
    assert often
    # What leads out of the test's own folder is not tried as a path.
    assert all(len(set(KINDS) - met[sort]) <= (3 if sort == "path" else 0) for sort in often), met
    assert not list(stage.folder.rglob(OWNED))
    assert {path.name for path in stage.folder.iterdir()} <= {"studio", "d", "data", "cache"}


def _fits(stage: Stage, place: Surface, one: Hostile) -> bool:
    """Whether the string can be tried there: not where the test would write outside its own folder."""
    if not place.option and one.text in {"--debug", "--demo"}:
        return False
    return place.sort != "path" or stage.stays_inside(one.text)
