"""What the book says now: each spot test and other record after its amends and withdrawals.

The outcome depends on the set of records alone, not on the order in which they are read. Amends work
in the order of their ids. A withdrawal takes a record out; withdrawing an amend undoes that amend, and
withdrawing a withdrawal restores what it took out. What points at a record that is not here may simply
have arrived before it, from another bench: it is kept and named, never dropped.
"""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, Generic, NamedTuple, TypeVar, cast

import msgspec

from kb.book.check import Kept, decode_amend, decode_record, decode_withdraw, make_record
from kb.book.contested import Contested, content, is_contested
from kb.book.kinds.spot_test import SpotTest
from kb.book.kinds.table import KINDS
from kb.book.text import clean_text
from kb.model.record import Amend, Line, Withdraw

_B = TypeVar("_B", SpotTest, Kept)


Troubles = list[tuple[str, str]]
"""Ids, and in a sentence what a reader should know of the record."""


class Change(NamedTuple):
    """An amend or withdrawal in the history of a record; ``note`` says why it is not in force."""

    line: Line
    in_force: bool
    note: str


class Current(NamedTuple, Generic[_B]):
    """A record as it stands now. ``why`` is the reason of the withdrawal, if it is withdrawn."""

    id: str
    line: Line
    """As first written."""
    body: _B
    """With the amends in force."""
    withdrawn: bool
    why: str
    history: tuple[Change, ...]
    """All that was said about it later, in the order of ids."""


class Fold(NamedTuple):
    """All of a book, made up. Everything is in the order of ids."""

    tests: dict[str, Current[SpotTest]]
    others: tuple[Line, ...]
    """Records of kinds that this version does not know."""
    withdrawn: dict[str, str]
    """Id of each record of any kind that is withdrawn, and why."""
    loose: tuple[Line, ...]
    """Amends and withdrawals whose record is not here (yet)."""
    troubles: dict[str, str]
    """By id, in a sentence what a reader should know of a record or change."""
    kept: dict[str, dict[str, Current[Kept]]]
    """Records of the other known kinds - bottle, batch, mend ... - by kind, then by id."""

    def current(self, kind: str, record_id: str) -> Current[Any]:
        """A record of any known kind as it stands. Raises KeyError if it is not here."""
        return self.tests[record_id] if kind == "test" else self.kept[kind][record_id]


class _Changes(NamedTuple):
    """The readable amends and withdrawals by id, and which withdrawals are in force on what."""

    lines: dict[str, Line]
    amends: dict[str, Amend]
    withdraws: dict[str, Withdraw]
    in_force: frozenset[str]
    by_target: dict[str, list[str]]

    def taken_out(self, record_id: str) -> str | None:
        """The reason why a record is withdrawn, from the last withdrawal in force, or None."""
        # The last one in force: who withdraws again gives the newer reason.
        for change_id in reversed(self.by_target.get(record_id, [])):
            if change_id in self.in_force:
                return self.withdraws[change_id].why
        return None

    def below(self, record_id: str) -> list[str]:
        """Ids of all changes that point at a record, or at a change of it, and so on; in order."""
        found: set[str] = set()
        queue = [record_id]
        # Sorted: amendments are worked in by the time of their ids, whichever file they stand in.
        while queue:
            new = [item for item in self.by_target.get(queue.pop(), []) if item not in found]
            found.update(new)
            queue.extend(new)
        return sorted(found)


def fold(lines: Iterable[Line]) -> Fold:
    """The book as it stands, from its records in any order. Never raises for what is in a record."""
    # Each id once, before anything is worked in: a record that stands in two files must not count twice.
    records, troubles = union(lines)
    found: dict[str, dict[str, tuple[Line, Any]]] = {kind: {} for kind in KINDS}
    others: list[Line] = []
    for line in records:
        if line.kind in KINDS:
            try:
                found[line.kind][line.id] = (line, decode_record(line))
            except ValueError as error:
                troubles.append((line.id, say(error)))
        elif line.kind not in {"amend", "withdraw"}:
            others.append(line)
    known = {line.id: line.kind for line in records}
    changes = _changes(records, troubles)
    # What they point at may come with the next share; it is kept until then.
    loose = tuple(
        changes.lines[key]
        for key in sorted(key for of, keys in changes.by_target.items() if of not in known for key in keys)
    )
    troubles += [
        (key, _misplaced(known[item.of]))
        for key, item in changes.amends.items()
        # A target that is not here may be of any kind; it is told as loose and not as misplaced.
        if known.get(item.of, "test") not in KINDS
    ]
    made = {
        kind: {key: _as_it_stands(line, body, changes, troubles) for key, (line, body) in of_kind.items()}
        for kind, of_kind in found.items()
    }
    # Of any kind, also unknown ones: to withdraw a record one need not understand it.
    withdrawn = {key: why for key in known if (why := changes.taken_out(key)) is not None}
    told = dict(sorted(set(troubles)))
    return Fold(made.pop("test"), tuple(others), withdrawn, loose, told, made)


def union(lines: Iterable[Line], against: Contested = frozenset()) -> tuple[list[Line], Troubles]:
    """The records by id, each once, in the order of ids; and the ids that stand for two contents.

    The same record may stand in several files. If two records share an id, one that is ``against`` what was
    known here before gives way (see `kb.book.contested`); else the one written first counts.
    """
    kept: dict[str, Line] = {}
    troubles: Troubles = []
    for line in lines:
        # Files are merged by prefix, so most lines stand in several of them.
        there = kept.setdefault(line.id, line)
        if there is line:
            continue
        if content(there) != content(line):
            troubles.append((line.id, "Two records have this id; the one written first counts."))
        kept[line.id] = min(
            there, line, key=lambda item: (is_contested(item, against), content(item), item.prev)
        )
    return [kept[key] for key in sorted(kept)], sorted(set(troubles))


def say(error: Exception) -> str:
    """An error about a record from anywhere, fit to be shown."""
    # A damaged record may hold a text without end.
    return clean_text(str(error)[:500], multiline=False)


def _changes(records: list[Line], troubles: Troubles) -> _Changes:
    amends: dict[str, Amend] = {}
    withdraws: dict[str, Withdraw] = {}
    lines: dict[str, Line] = {}
    by_target: defaultdict[str, list[str]] = defaultdict(list)
    # In the order of ids, so that what is told first is the same on every machine.
    for line in records:
        try:
            if line.kind == "amend":
                of = amends.setdefault(line.id, decode_amend(line)).of
            elif line.kind == "withdraw":
                of = withdraws.setdefault(line.id, decode_withdraw(line)).of
            else:
                continue
        except ValueError as error:
            troubles.append((line.id, say(error)))
            continue
        lines[line.id] = line
        by_target[of].append(line.id)
    in_force, undecided = _decide(withdraws)
    troubles += [
        (key, "This withdrawal withdraws itself in a circle; it has no effect.") for key in undecided
    ]
    return _Changes(lines, amends, withdraws, in_force, dict(by_target))


def _decide(withdraws: dict[str, Withdraw]) -> tuple[frozenset[str], list[str]]:
    """Which withdrawals are in force: those that no withdrawal in force takes out; and the circles."""
    # Withdrawals of withdrawals: worked from the ends, each once, however long the chain is.
    open_points = dict.fromkeys(withdraws, 0)
    for item in withdraws.values():
        if item.of in open_points:
            open_points[item.of] += 1
    decided: dict[str, bool] = {}
    queue = [(key, True) for key, count in open_points.items() if count == 0]
    while queue:
        key, in_force = queue.pop()
        if key in decided:
            continue
        decided[key] = in_force
        target = withdraws[key].of
        if target not in open_points:
            continue
        if in_force:
            # Nobody takes back this one, so what it points at is out; what that pointed at may stand again.
            queue.append((target, False))
        else:
            open_points[target] -= 1
            if open_points[target] == 0:
                queue.append((target, True))
    # What is never decided points round in a circle.
    return frozenset(key for key, yes in decided.items() if yes), [
        key for key in withdraws if key not in decided
    ]


def _misplaced(kind: str) -> str:
    if kind in {"amend", "withdraw"}:
        return "This amendment points at another change, not at the test itself; it has no effect."
    return f"This amendment points at a record of the kind {kind}, which this version cannot amend."


def _as_it_stands(line: Line, body: _B, changes: _Changes, troubles: Troubles) -> Current[_B]:
    """The body with all amends in force, and all that was said about the record later."""
    history: list[Change] = []
    for key in changes.below(line.id):
        note = ""
        why = changes.taken_out(key)
        amend = changes.amends.get(key)
        if why is not None:
            note = f"Withdrawn: {why}"
        # Neither amend nor withdrawn: it is a withdrawal, in force or in a circle.
        elif amend is None:
            note = "" if key in changes.in_force else "It withdraws itself in a circle."
        elif amend.of != line.id:
            note = _misplaced("amend")
        else:
            # Through plain dicts and the check of its kind: an amended record obeys the rules of a new one.
            plain: dict[str, Any] = msgspec.to_builtins(body)
            try:
                body = cast("_B", make_record(line.kind, {**plain, **amend.set}))
            except ValueError as error:
                note = f"It cannot be worked in: {say(error)}"
                # One bad amendment must not take the others with it; the record stays as the rest says.
                troubles.append((key, note))
        history.append(Change(changes.lines[key], not note, note))
    reason = changes.taken_out(line.id)
    return Current(line.id, line, body, reason is not None, reason or "", tuple(history))
