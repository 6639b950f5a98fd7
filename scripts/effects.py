"""What each change of the ranking is worth against reports in print: the same reports with it turned off.

    python scripts/effects.py            # the table, with print switched off and on
    python scripts/effects.py --page     # the table into docs/effects.md, dated

Every score stands beside its crossed one: each report is given another report's liquids, so that how often a
liquid is named stays and chemistry is lost. What a change is worth is how far the distance of the two falls.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple
from unittest.mock import patch

import msgspec

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.desk.choose import lines
from kb.desk.studio import Studio
from kb.index.compiled import Compiled, Foreseen
from kb.science.choose.groups import Member
from tests.published.report_scores import by_answer, by_release, cases, first_lines, score

PAGE = Path(__file__).resolve().parent.parent / "docs" / "effects.md"
BEGIN, END = "<!-- table: scripts/effects.py -->", "<!-- end of table -->"
Patch = tuple[str, Any]
COMPILED, WEIGH, LINES = "kb.index.compiled", "kb.desk.choose.weigh", "kb.desk.choose.lines"


class Change(NamedTuple):
    """A change, and what turns it off: names that are given other values, and liquids made other."""

    words: str
    off: tuple[Patch, ...] = ()
    liquids: Callable[[Any], Any] = lambda liquid: liquid


def _unsized(red: float, _volume: float | None) -> float:
    return red


def _bare_paper_has_ink(self: Compiled, medium: str, method: str, what: Any) -> float:
    """Bare paper as it was: like a sheet of which nobody said what is on it."""
    return MEDIUM_P0(self, "" if medium == "bare-paper" else medium, method, what)


MEDIUM_P0 = Compiled.medium_p0


def _best_index(group: Sequence[Member]) -> Member:
    return group[0]


def _ungrouped(members: Sequence[Member], _likeness: object) -> list[list[Member]]:
    return [[one] for one in members]


def _by_index(found: Sequence[lines.Line]) -> list[Any]:
    return sorted((one for line in found for one in line.members), key=lines.order)


def _without_hansen(liquid: Any) -> Any:
    """The cut of which no Hansen figure is printed, as before: it sits at a constant."""
    return msgspec.structs.replace(liquid, hansen=None) if liquid.id == "petroleum-ether" else liquid


def _milder(liquid: Any) -> Any:
    return msgspec.structs.replace(liquid, barred=False)


def _nothing(*_: object) -> None:
    return None


def _never(*_: object) -> bool:
    return False


HEAD = (
    (f"{LINES}.head", _best_index),
    (f"{LINES}.listed", _by_index),
)
CHANGES = (
    Change("everything on"),
    Change("1 paper apart from medium", ((f"{COMPILED}.Compiled.medium_p0", _bare_paper_has_ink),)),
    Change("2a Hansen figures for petroleum ether", liquids=_without_hansen),
    Change("2b size of the molecule", ((f"{COMPILED}.sized_red", _unsized),)),
    Change("2c parting from the paper", ((f"{COMPILED}.Compiled._parting", _nothing),)),
    Change("2d water by its handbook response", ((f"{COMPILED}.Compiled._is_water", _never),)),
    Change(
        "2 all four",
        (
            (f"{COMPILED}.sized_red", _unsized),
            (f"{COMPILED}.Compiled._parting", _nothing),
            (f"{COMPILED}.Compiled._is_water", _never),
        ),
        _without_hansen,
    ),
    Change("3 familiarity", (("kb.science.choose.evidence.UNFAMILIAR_COST", 0.0),)),
    Change("4 a dissolved carrier is harm", ((f"{WEIGH}.CARRIER_HARM", 0.0),)),
    Change("5 hazard decides among equals", HEAD, _milder),
    Change("6 one line per way of acting", ((f"{LINES}.grouped", _ungrouped),)),
    Change("11 of equals the least polar first", ((f"{LINES}._weakest_first", list),)),
)


@contextmanager
def turned_off(studio: Studio, change: Change) -> Iterator[None]:
    """The ranking without a change, with nothing kept from the ranking with it."""
    before = studio.index.compiled
    liquids = tuple(change.liquids(one) for one in before.liquids)
    changed = msgspec.structs.replace(before, liquids=liquids, foreseen=Foreseen())
    with ExitStack() as stack:
        for name, value in change.off:
            stack.enter_context(patch(name, value))
        stack.enter_context(patch.object(Studio, "compiled", changed))
        yield


def row(studio: Studio, change: Change, *, use_print: bool) -> str:
    """One line of the table."""
    with turned_off(studio, change):
        found = cases(studio, use_print=use_print)
    wanted = [case.wanted for case in found]
    cells = [change.words, "on" if use_print else "off"]
    for table in (by_release, by_answer):
        seen = score([table(case.answer) for case in found], wanted)
        cells += [f"{seen.auc:.3f}", f"{seen.crossed:.3f}", f"{seen.third:.2f}"]
    for count in (1, 3):
        true, crossed = first_lines(found, count)
        cells.append(f"{true:.2f} ({crossed:.2f})")
    return f"| {' | '.join(cells)} |"


def table(changes: Sequence[Change] = CHANGES) -> str:
    """All changes, in Markdown."""
    head = (
        "| turned off | print | release AUC | crossed | first third | answer AUC | crossed | first third "
        "| first line (crossed) | first three (crossed) |"
    )
    with tempfile.TemporaryDirectory() as folder:
        studio = Studio(Path(folder))
        rows = [row(studio, one, use_print=use) for use in (False, True) for one in changes]
        studio.close()
    return "\n".join((head, "|" + " --- |" * 10, *rows))


def main() -> None:
    """Print the table, or put it into its page."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--page", action="store_true", help="write it into docs/effects.md")
    made = table()
    if not parser.parse_args().page:
        print(made)
        return
    text = PAGE.read_text(encoding="utf-8")
    front, back = text.split(BEGIN)[0], text.split(END)[1]
    today = datetime.now(UTC).date()
    dated = f"{BEGIN}\nMeasured on {today}.\n\n{made}\n{END}"
    PAGE.write_text(f"{front}{dated}{back}", encoding="utf-8")


if __name__ == "__main__":
    main()
