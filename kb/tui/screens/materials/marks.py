"""What is done with an entry: mark it to be compared, see what rests on it, write one of your own."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from kb.science.numbers import counted
from kb.tui.screens.at_desk import AtDesk

if TYPE_CHECKING:
    from kb.desk.materials.compare import Comparison
    from kb.desk.materials.links import Depends, Resting

MOST = 4
"""Entries that a comparison takes at most; the desk refuses more."""


class Mark(NamedTuple):
    kind: str
    id: str
    name: str


class Marks:
    """Entries marked to be compared, up to four and all of one kind, in the order of marking."""

    def __init__(self) -> None:
        self.held: list[Mark] = []

    @property
    def kind(self) -> str:
        """The kind of what is marked; empty if nothing is."""
        return self.held[0].kind if self.held else ""

    @property
    def ids(self) -> tuple[str, ...]:
        return tuple(one.id for one in self.held)

    @property
    def words(self) -> str:
        """``Marked: Acetone, Ethanol (V compares)``; empty if nothing is."""
        if not self.held:
            return ""
        how = "V compares" if len(self.held) > 1 else "M on another one, then V compares"
        return f"Marked: {', '.join(one.name for one in self.held)} ({how})"

    def holds(self, kind: str, entry_id: str) -> bool:
        return any((one.kind, one.id) == (kind, entry_id) for one in self.held)

    def turn(self, one: Mark) -> str:
        """Mark an entry or unmark it; returns a sentence that says why if it cannot be marked."""
        if self.holds(one.kind, one.id):
            self.held = [held for held in self.held if (held.kind, held.id) != (one.kind, one.id)]
            return ""
        if self.held and one.kind != self.kind:
            held = ", ".join(each.name for each in self.held)
            return f"Only one kind can be compared. Marked so far ({self.kind}): {held}. U unmarks all."
        if len(self.held) >= MOST:
            return f"{MOST} entries are marked, which is the most. M on one of them unmarks it, U all."
        self.held.append(one)
        return ""


class Marking(AtDesk):
    """Mixed into a screen that has an entry under the cursor: mark it, compare what is marked."""

    marks: Marks
    entry_here: Callable[[], Mark | None]
    """The entry that the keys are about."""
    marks_changed: Callable[[], None]
    """Show what is marked now."""

    def action_mark(self) -> None:
        if here := self.entry_here():
            if said := self.marks.turn(here):
                self.bench.say(said, warn=True)
            self.marks_changed()

    def action_unmark(self) -> None:
        self.marks.held = []
        self.marks_changed()

    def action_compare(self) -> None:
        from kb.desk.materials.compare import compare

        verb = partial(compare, kind=self.marks.kind, ids=self.marks.ids)
        self.ask(verb, self._compared, group="compare")

    def _compared(self, table: Comparison) -> None:
        from kb.tui.screens.materials.reading_pane import CompareScreen

        self.bench.push_screen(CompareScreen(table))

    def action_weights(self) -> None:
        from kb.desk.materials.links import resting

        title = "Sources by what rests on them"
        self.ask(
            resting, lambda found: self.note(title, "\n\n".join(map(resting_words, found))), group="weights"
        )

    def action_depends(self) -> None:
        from kb.desk.materials.links import depends

        if here := self.entry_here():
            verb = partial(depends, kind=here.kind, entry_id=here.id)
            title = f"What depends on {here.name}"
            self.ask(verb, lambda found: self.note(title, depends_words(found)), group="depends")


def resting_words(one: Resting) -> str:
    """Citation, how far it was read, and how many entries of each kind name it."""
    kinds = f": {', '.join(f'{kind} {count}' for kind, count in one.kinds.items())}" if one.kinds else ""
    return f"{one.source.cite}\n  {one.source.mark}; {counted(one.entries, 'entry', 'entries')}{kinds}"


def depends_words(found: Depends) -> str:
    """What hangs on an entry, what to read about it, and what nobody read."""
    parts = ["\n".join(found.lines) or "Nothing here depends on it."]
    if found.reading:
        listed = (f"- {one.cite}{f', {one.url}' if one.url else ''}" for one in found.reading)
        parts.append("\n".join(("To read:", *listed)))
    if found.unread:
        parts.append(
            "\n".join(("It also rests on:", *(f"- {one.cite} ({one.mark})" for one in found.unread)))
        )
    return "\n\n".join(parts)


class Owning(AtDesk):
    """Mixed into a screen: write an entry of one's own."""

    kind_here: Callable[[], str]
    """The kind that the screen is narrowed to; empty for every kind."""

    def action_own(self) -> None:
        """The form of the kind one looks at, or of one from a list."""
        from kb.desk.materials.own import KINDS
        from kb.tui.screens.materials.filter_form import ValuesScreen

        if self.kind_here() in KINDS:
            self._form(KINDS.index(self.kind_here()))
        else:
            self.bench.push_screen(ValuesScreen("Kind of entry to write", KINDS, 0), self._form)

    def _form(self, at: int | None) -> None:
        from kb.desk.materials.own import KINDS
        from kb.tui.screens.materials.own_form import OwnForm

        if at is not None:
            self.bench.push_screen(OwnForm(KINDS[at]), self.tell_done)
