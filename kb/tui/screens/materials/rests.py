"""What rests on what, as texts to read: sources by weight, and what hangs on the entry that is read."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, cast

from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.materials import materials_ask as desk
from kb.tui.screens.note import NoteScreen

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.materials.resting import Depends, Resting
    from kb.tui.screens.materials.marks import Mark


class Rests(AtDesk):
    """Two notes of the materials screen."""

    def entry_here(self) -> Mark | None:
        """The entry that the keys are about."""
        raise NotImplementedError

    def action_weights(self) -> None:
        """All sources, the one that most rests on first."""
        self.ask(desk.resting, self._weights, group="weights")

    def _weights(self, found: list[Resting]) -> None:
        self._note("Sources by what rests on them", "\n\n".join(map(resting_words, found)))

    def action_depends(self) -> None:
        """What would change with the entry under the cursor, and a reading list."""
        if here := self.entry_here():
            verb = partial(desk.depends, kind=here.kind, entry_id=here.id)
            self.ask(verb, partial(self._depends, here.name), group="depends")

    def _depends(self, name: str, found: Depends) -> None:
        self._note(f"What depends on {name}", depends_words(found))

    def _note(self, title: str, text: str) -> None:
        cast("Screen[None]", self).app.push_screen(NoteScreen(title, text))


def resting_words(one: Resting) -> str:
    """Citation, how far it was read, and how many entries of each kind name it."""
    kinds = ", ".join(f"{kind} {count}" for kind, count in one.kinds.items())
    return f"{one.source.cite}\n  {one.source.mark}; {one.entries} entries{f': {kinds}' if kinds else ''}"


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
