"""A small form over the screen: a few labelled lines, stored together; a draft of it outlives the program."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from kb.book.kinds.kind import Kind, plain_of
from kb.desk.amounts import without_unit
from kb.desk.studio import Studio
from kb.tui.form import label_of
from kb.tui.screens.ask_why import AS_LEFT, OnTop, by_name, draft_named
from kb.tui.text import plain
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Among, Field, FormInput
from kb.tui.widgets.frame import Sheet

LABEL = 17
"""Cells of a label here, beside the blank before it, as in the style below."""


class Asked(NamedTuple):
    """One line: the field it fills, its label, what to type, what stands in it at first.

    Where there are choices, one of them stands in it, at first the first.
    """

    name: str
    label: str
    hint: str = ""
    value: str = ""
    choices: tuple[One, ...] = ()
    seldom: bool = False
    """Mostly left empty: the cursor does not begin there, or what is typed at once would stand there."""
    wanted: str = ""
    """Said once before it is stored without."""
    among: tuple[str, ...] = ()
    """The words that it takes, where it takes no others."""
    bare: str = ""
    """The unit of a figure that is typed without one."""


def lines_of(kind: Kind, before: Mapping[str, str]) -> tuple[Asked, ...]:
    """A line for each thing that the kind asks when it is written down."""
    return tuple(
        Asked(key, label_of(field), field.says.hint, before.get(key, ""))
        for key, (field, *_) in plain_of(kind).items()
    )


class FewLines(OnTop, ModalScreen[Any]):
    """Ctrl+S stores what is typed, in a thread of its own; what cannot be is said, and nothing is lost.

    Gives back what ``store`` does, or None.
    """

    SAID = "#form-said"
    TITLE_WORDS = "A few lines"
    DOES = "stores"
    """What Ctrl+S does, in the edge of the box."""
    HELP = (
        "Fill in what you know; Enter, Up and Down go from line to line. Where only certain words may stand "
        "they are listed, and Ctrl+E fills one in; Ctrl+Z gives back what you typed. Ctrl+S stores; an empty "
        "line says nothing. If it cannot be stored, the form says why and keeps what you wrote. Esc leaves "
        "without storing and keeps what is written as a draft, also if the program ends. F9 throws it away."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "store", "Store"),
        Binding("ctrl+e", "offer", "Offers", priority=True),
        Binding("f9", "throw_away", "Throw away"),
        Binding("escape", "leave", "Leave"),
    ]
    CSS = """
    .field > .label { width: 18; }
    .sheet > Static { padding: 0 1; }
    #few-lines { height: auto; max-height: 60vh; }
    #form-said { height: auto; max-height: 6; }
    """

    def __init__(
        self,
        title: str,
        lines: Sequence[Asked],
        store: Callable[[Studio, Mapping[str, str]], Any],
        before: Mapping[str, str] | None = None,
        *,
        says: str = "",
    ) -> None:
        super().__init__()
        self.heading, self.says, self.lines = title, says, lines
        self.store = store
        self.before = {one.name: one.value for one in lines} | dict(before or {})
        self.draft_name = draft_named(title, says)
        self._lacked: set[str] = set()

    def compose(self) -> ComposeResult:
        kept = self.bench.drafts.get(self.draft_name)
        now = self.before | (kept.values if kept else {})
        # In the edge, where nothing that is said takes its place: figures of another bottle may stand there.
        title = f"As it was left: {self.heading}" if kept else self.heading
        with Sheet(title, f"Enter goes on; Ctrl+S {self.DOES}; Esc keeps a draft; F9 throws it away"):
            if self.says:
                yield Static(plain(self.says), markup=False)
            with VerticalScroll(can_focus=False, id="few-lines"):
                for one in self.lines:
                    value = now.get(one.name, "")
                    if one.choices:
                        row = ChoiceRow(one.name, one.label, one.choices, value or one.choices[0].value)
                        row.cells = LABEL
                        yield row
                    else:
                        yield (field := Field(one.name, one.label, value, one.hint))
                        if one.among:
                            yield Among(field, one.among)
            yield Static(plain(AS_LEFT if kept else ""), id="form-said", markup=False)

    def on_mount(self) -> None:
        """One types at once, on the first line that is empty; what may stay empty is gone to by hand."""
        fields = list(self.query(FormInput))
        # At once, and not when all that waits is done: keys typed ahead would be gone on from by then.
        passed = {one.name for one in self.lines if one.seldom}
        empty = [field for field in fields if not field.value and field.name not in passed]
        first = (empty or fields)[0]
        self.set_focus(first)
        if not empty and self.draft_name not in self.bench.drafts:
            # Of the last time: what is typed takes its place, as in settings. "acetoneacetone" is no liquid.
            first.action_select_all()

    @property
    def values(self) -> dict[str, str]:
        found = {field.name or "": field.value.strip() for field in self.query(FormInput)}
        return found | {row.id or "": row.value for row in self.query(ChoiceRow)}

    @on(Input.Changed)
    @on(ChoiceRow.Changed)
    def typed(self) -> None:
        """What is written outlives the program: the lines that were changed, for the others may go on."""
        if self._storing:
            return
        changed = self.changed
        typed = ((one, changed[one.name]) for one in self.lines if one.bare and one.name in changed)
        said = " ".join(filter(None, (without_unit(one.label, text, one.bare) for one, text in typed)))
        if said != self.to_mind:
            self.to_mind = said
            self.tell(said)
        if changed:
            # Of two sheets the drafts of one form read alike: what it stores for stands there with the place.
            of_sheet = {"sheet", "photograph"} & {*getattr(self.store, "keywords", ())}
            on = f" for {self.says}" if of_sheet else ""
            self.bench.keep_draft(self.draft_name, f'the form "{self.heading}"{on}', changed, self.again)
        else:
            self.bench.drop_draft(self.draft_name)

    @property
    def changed(self) -> dict[str, str]:
        """The lines that say something else than at first."""
        firsts = {one.name: one.choices[0].value for one in self.lines if one.choices}
        return {
            name: text
            for name, text in self.values.items()
            if text != (self.before.get(name, "").strip() or firsts.get(name, ""))
        }

    @property
    def again(self) -> dict[str, Any] | None:
        """What opens this form anew from anywhere; None where only the screen below can."""
        named = by_name(self.store)
        if named is None:
            return None
        return named | {
            "title": self.heading,
            "says": self.says,
            "lines": [list(one) for one in self.lines],
            "before": self.before,
        }

    def action_offer(self) -> None:
        """The line one is on bears the next word that it takes."""
        for among in self.query(Among):
            if among.field.has_focus_within:
                among.fill()

    def action_store(self) -> None:
        """Store it; the form stays open if that cannot be."""
        values = self.values
        lacks = [
            one for one in self.lines if one.wanted and not values[one.name] and one.name not in self._lacked
        ]
        if lacks:
            self._lacked.update(one.name for one in lacks)
            self.tell(f"{' '.join(one.wanted for one in lacks)} Ctrl+S once more stores it so.")
            self.query_one(f"#{lacks[0].name}, #field-{lacks[0].name}").focus()
        else:
            self.store_by(lambda studio: self.store(studio, values))
