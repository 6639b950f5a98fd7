"""An entry of one's own, line by line: what is wrong is said while one types."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.widgets import Input

from kb.desk.materials.own import Own, lines
from kb.tui.screens.few_lines import Asked, FewLines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kb.desk.studio import Studio

SAYS = (
    "It is written into catalogue/own.yaml of the studio; comments there stay. Leave empty what you do not "
    "know: nothing is guessed."
)


class OwnForm(FewLines):
    """The lines of one kind of entry. Gives back what was done, in a sentence."""

    CSS = f"""{FewLines.CSS}
    OwnForm .field > .label {{ width: 26; }}
    OwnForm #few-lines {{ height: auto; max-height: 75%; }}
    OwnForm #form-said {{ height: auto; max-height: 25%; }}
    """
    TITLE_WORDS = "An entry of your own"
    HELP = (
        f"{SAYS} Enter, Up and Down go from line to line; what is wrong stands below while you type. Ctrl+S "
        "stores: the whole catalogue is read with the entry first. Esc leaves without storing."
    )

    def __init__(self, kind: str) -> None:
        asked = [
            Asked(one.key, one.label, f"{one.due}{'' if one.needed else '; may be empty'}")
            for one in lines(kind)
        ]
        super().__init__(f"A {kind} of your own", asked, partial(_stored, kind=kind))
        self.kind = kind

    @property
    def again(self) -> dict[str, Any]:
        """The kind tells all of it."""
        return {"own": self.kind}

    @on(Input.Changed)
    def check(self) -> None:
        """With every letter, in a thread; nothing is written."""
        if any(text.strip() for text in self.values.values()):
            verb = partial(_checked, kind=self.kind, values=self.values)
            self.ask(verb, self._say, group="check")

    def _say(self, own: Own) -> None:
        self.tell("\n".join(f"! {one}" for one in own.problems) or f"Nothing is wrong so far: {own.id}.")


def _stored(studio: Studio, values: Mapping[str, str], *, kind: str) -> str:
    from kb.desk.materials.own import OWN_FILE, store

    return f"Stored in catalogue/{OWN_FILE}: {store(studio, kind, values).id}"


def _checked(studio: Studio, *, kind: str, values: Mapping[str, str]) -> Own:
    from kb.desk.materials.own import understood

    return understood(studio, kind, values)
