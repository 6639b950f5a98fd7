"""An entry of one's own, line by line: what is wrong is said while one types."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from textual import on
from textual.widgets import Input

from kb.desk.materials.own import OWN_FILE, Own, lines, store, understood
from kb.desk.studio import Studio
from kb.tui.screens.few_lines import Asked, FewLines
from kb.tui.widgets.field import Among, Field

SAYS = (
    "It is written into catalogue/own.yaml of the studio; comments there stay. Leave empty what you do not "
    "know: nothing is guessed."
)
REPLACES = "{} is an entry of your own already: this takes its place, with all its lines."


class OwnForm(FewLines):
    """The lines of one kind of entry. Gives back what was done, in a sentence."""

    CSS = f"""{FewLines.CSS}
    OwnForm .field > .label {{ width: 26; }}
    OwnForm #form-said {{ min-height: 6; }}
    """
    TITLE_WORDS = "An entry of your own"
    HELP = (
        f"{SAYS} Enter, Up and Down go from line to line; what is due there and what is wrong stand below. "
        "Ctrl+S stores: the whole catalogue is read with the entry first. Esc leaves without storing and "
        "keeps a draft."
    )

    def __init__(self, kind: str) -> None:
        asked = [
            Asked(one.key, one.label, f"{one.due}{'' if one.needed else '; may be empty'}")
            for one in lines(kind)
        ]
        a_kind = f"An {kind}" if kind[0] in "aeiou" else f"A {kind}"
        super().__init__(f"{a_kind} of your own", asked, partial(_stored, kind=kind))
        self.kind = kind
        self._wrong: tuple[tuple[str, str], ...] = ()
        """What is wrong so far, or that nothing is: the line that it is about, and the sentence."""

    @property
    def again(self) -> dict[str, Any]:
        """The kind tells all of it."""
        return {"own": self.kind}

    def on_mount(self) -> None:
        super().on_mount()
        self.ask(_families, self._offer, group="families")

    def _offer(self, families: tuple[str, ...]) -> None:
        """What a family may be is the catalogue's to say, and stands under its line once it is looked up."""
        for field in (one for one in self.query(Field) if one.parts[0] == "family"):
            self.query_one("#few-lines").mount(Among(field, families), after=field)

    @on(Input.Changed)
    def check(self) -> None:
        """With every letter, in a thread; nothing is written."""
        verb = partial(understood, kind=self.kind, typed=self.values)
        self.ask(verb, self._say, group="check", failed=self._unread)

    def _unread(self, words: str) -> None:
        """What can be meant in two ways is no entry yet: it takes the place of what was said of the last."""
        self._wrong = (("", f"! {words}"),)
        self.on_descendant_focus()

    def _say(self, own: Own) -> None:
        sound = ("", self._replacing(own) if own.replaces else f"Nothing is wrong so far: {own.id}.")
        self._wrong = tuple(map(self._headed, own.problems)) or (sound,)
        self.on_descendant_focus()

    def _replacing(self, own: Own) -> str:
        heads = {one.name: one.label for one in self.lines}
        gone = ", ".join(heads.get(one, one) for one in own.lost)
        return REPLACES.format(own.replaces) + (f" Not typed again, so gone: {gone}." if gone else "")

    def _headed(self, problem: str) -> tuple[str, str]:
        """The line, and the problem with its heading: keys of the file stand nowhere here."""
        heads = {one.name: one.label for one in self.lines}
        named, colon, words = problem.partition(": ")
        if named == "still empty":
            return "", f"! {named}: {', '.join(heads.get(one, one) for one in words.split(', '))}"
        key, *unit = named.split(" ", 1)
        return key, f"! {' '.join((heads.get(key, key), *unit))}{colon}{words}"

    def on_descendant_focus(self) -> None:
        """What is wrong on the line one is on, else what is due there, which the line cuts; then the rest."""
        here = getattr(self.focused, "name", "")
        wrong = sorted(self._wrong, key=lambda one: one[0] != here)
        said = [words for _, words in wrong]
        if not wrong or wrong[0][0] != here:
            said[:0] = (f"{one.label}: {one.hint}." for one in self.lines if one.name == here)
        self.tell("\n".join(said).strip())

    def action_store(self) -> None:
        """What is wrong is told by the headings of the lines, and led to; the desk names keys of the file."""
        verb = partial(understood, kind=self.kind, typed=self.values)
        self.ask(verb, self._store_if_sound, group="store", failed=self._unread)

    def _store_if_sound(self, own: Own) -> None:
        self._say(own)
        if not own.problems:
            if own.replaces and own.id not in self._lacked:
                self._lacked.add(own.id)
                self.tell(f"{self._replacing(own)} Ctrl+S once more stores it so.")
            else:
                super().action_store()
            return
        key, _, words = own.problems[0].partition(": ")
        wrong = words.split(", ")[0] if key == "still empty" else key.split(" ")[0]
        for field in self.query(f"#field-{wrong}"):
            field.focus()
        self.bench.say("Not stored: what is wrong stands below the lines.")


def _families(studio: Studio) -> tuple[str, ...]:
    from kb.desk.materials.lookup import names

    return tuple(sorted(one for one, _ in names(studio, "family")))


def _stored(studio: Studio, values: Mapping[str, str], *, kind: str) -> str:
    return f"Stored in catalogue/{OWN_FILE}: {store(studio, kind, values).id}"
