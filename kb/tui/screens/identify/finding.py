"""The list of looks, and answering one: its findings as a short list, or a line for a year."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from kb.desk.studio import Studio
from kb.model.identification import NextLook
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.identify.looking import CANNOT, NOT_LOOKED, Row
from kb.tui.text import line, plain
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import WatchedInput
from kb.tui.widgets.two_clicks import ClickList


class LookList(ClickList):
    """Lines of looks. ``wanted`` is called at once when one is to be answered: a message would come late, and
    keys typed ahead would be lost."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right", "select", "Answer", key_display="Enter", tooltip="Answer the look under the cursor")
    ]

    def __init__(self, wanted: Callable[[], None]) -> None:
        super().__init__(id="looks")
        self.wanted = wanted
        self.rows: list[Row] = []

    @property
    def here(self) -> NextLook | None:
        row = self.row_of(self.rows)
        return row.look if row else None

    def show(self, rows: Sequence[Row]) -> None:
        """Draw the lines; only those that changed, if they are about the same looks."""
        here = self.row_of(self.rows)
        old, self.rows = self.rows, list(rows)
        if [_id(row) for row in old] == [_id(row) for row in rows]:
            for place, row in enumerate(rows):
                if row.text != old[place].text:
                    self.replace_option_prompt_at_index(place, line(row.text))
            return
        self.fill((Option(line(row.text), disabled=row.look is None) for row in rows), None)
        self.go_to(_id(here) if here else "")
        if self.highlighted is None:
            self.action_first()

    def go_to(self, look: str) -> None:
        """Stand on a look, if it is listed."""
        for place, row in enumerate(self.rows):
            if look and _id(row) == look:
                self.highlighted = place

    def go_to_group(self) -> None:
        """Stand on the first look under the next heading."""
        count, at = len(self.rows), self.highlighted or 0
        ahead = [(at + step) % count for step in range(1, count + 1)] if count else []
        heading = next((place for place in ahead if self.rows[place].look is None), None)
        if heading is not None:
            self.highlighted = min(heading + 1, count - 1)

    def on_resize(self) -> None:
        """The line one stands on stays in sight."""
        self.scroll_to_highlight()

    def action_select(self) -> None:
        self.wanted()


def _id(row: Row) -> str:
    return row.look.look if row.look else ""


KEYS = "A number or Enter chooses, - not looked, ? cannot; Esc leaves it"
YEAR_KEYS = "Type the year, or Up and Down; Enter takes it; Esc leaves it"
TAKES = {
    "needs a loose end": "Needs a loose end or an offcut.",
    "needs a lamp or filter": "Needs a lamp or a filter.",
    "removes a crumb": "Takes a sample: a crumb or an offcut, tested beside the object.",
    "needs a laboratory": "Needs a sample and a laboratory.",
}


class FindingScreen(ModalScreen["tuple[str, str] | None"]):
    """Gives back a finding (empty: not looked), and the words it was told in, if they are not its own."""

    TITLE_WORDS = "Finding"
    numbered = True
    """Whether a finding is chosen by its number."""
    HELP = (
        "How to look, and what may be found. Press the number of what you see, or move with Up and Down and "
        'press Enter. "-" or Del says that you did not look, "?" that it cannot be looked at here: then '
        "it is not proposed again. Esc leaves all as it was. No answer is as good as an honest one: what you "
        "are not sure of stays open."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("minus,delete,backspace", f"take('{NOT_LOOKED}')", "Not looked", key_display="-"),
        Binding("question_mark", f"take('{CANNOT}')", "Cannot", key_display="?"),
        *(Binding(f"{number}", f"number({number})", show=False) for number in range(1, 10)),
    ]
    # Bindings and not a handler of keys: so a key that was sent to the list below before this screen was
    # there comes here in its turn.

    def __init__(self, look: NextLook, held: str = NOT_LOOKED) -> None:
        super().__init__()
        self.look = look
        self.held = held
        self.ids = [NOT_LOOKED, *(one.id for one in look.findings), CANNOT]
        """What each line stands for. The first is harmless, should Enter be pressed twice."""
        self.done = False
        """Whether it was answered."""

    def compose(self) -> ComposeResult:
        with Sheet(self.look.question, KEYS, id="finding"):
            yield from self.how()
            yield self.findings()

    def how(self) -> ComposeResult:
        text = f"{self.look.how} {TAKES.get(self.look.cost, '')}".strip()
        with VerticalScroll(can_focus=False, id="finding-how"):
            yield Static(plain(text), markup=False)

    def findings(self) -> OptionList:
        """The list, standing on what holds."""
        keys = ["-", *(self._key(place) for place in range(len(self.look.findings))), "?"]
        words = ["not looked", *(one.words for one in self.look.findings), "cannot be looked at here"]
        texts = zip(keys, words, self.ids, strict=True)
        listed = ClickList(
            *(
                Option(line(f"{key}  {said}{'  (as it is now)' if one == self.held else ''}"))
                for key, said, one in texts
            ),
            id="findings",
        )
        listed.highlighted = self.ids.index(self.held) if self.held in self.ids else 0
        return listed

    def _key(self, place: int) -> str:
        return str(place + 1) if place < 9 and self.numbered else " "

    def take(self, finding: str, said: str = "") -> None:
        """Answer, once. Under a help text it waits until that is closed."""
        if self.is_active and not self.done:
            self.done = True
            self.dismiss((finding, said))

    action_take = take

    @on(OptionList.OptionSelected)
    def chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.take(self.ids[event.option_index])

    def action_number(self, number: int) -> None:
        if number <= len(self.look.findings):
            self.take(self.look.findings[number - 1].id)

    def action_leave(self) -> None:
        if not self.done:
            self.done = True
            self.dismiss(None)


class YearInput(WatchedInput):
    """The line for a year. Figures that went to the list below before the line was there come as bindings."""

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Figures typed here are taken before any binding sees them."""
        return super().check_consume_key(key, character) and not (character or "").isdigit()


class YearScreen(AtDesk, FindingScreen):
    """The same for a date: a year is typed, or a span of years chosen by the arrow keys."""

    SAID = "#year-said"
    numbered = False
    HELP = (
        'Type the year as a number, such as 1952, or words such as "1950s" or "before 1930", and press '
        "Enter. Or move to a span of years with Up and Down and press Enter. With nothing typed, - or Del "
        "says that you did not look, ? that it cannot be known here. Esc leaves all as it was."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "step(1)", "Down", show=False, priority=True),
        Binding("up", "step(-1)", "Up", show=False, priority=True),
        Binding("enter", "enter", "Take", show=False),
        Binding("0", "number(0)", show=False),
    ]

    def __init__(self, look: NextLook, held: str = NOT_LOOKED, said: str = "") -> None:
        super().__init__(look, held)
        self.said = said
        self._moved = False
        """Whether the arrow keys were used after the last letter: then Enter takes the span."""

    def compose(self) -> ComposeResult:
        with Sheet(self.look.question, YEAR_KEYS, id="finding"):
            yield from self.how()
            field = YearInput(self.said, self.before_line, id="year")
            field.placeholder = "the year, such as 1952"
            yield field
            yield Static("", id="year-said", classes="quiet", markup=False)
            yield self.findings()

    def on_mount(self) -> None:
        """One types; the arrow keys move the list meanwhile."""
        self.query_one(OptionList).can_focus = False
        field = self.query_one("#year", Input)
        field.focus()
        field.cursor_position = len(field.value)

    @property
    def _text(self) -> str:
        """What is typed so far, also before the line is there."""
        found = self.query("#year")
        return (found.first(Input).value if found else self.said).strip()

    def before_line(self, event: events.Key) -> bool:
        """What the line does not take: Enter, and the commands while nothing is typed."""
        if event.key == "enter":
            self.action_enter()
        elif not self._text and event.key in {"minus", "delete"}:
            self.take(NOT_LOOKED)
        elif not self._text and event.key == "question_mark":
            self.take(CANNOT)
        else:
            return False
        return True

    def action_number(self, number: int) -> None:
        self.said = f"{self._text}{number}"
        for field in self.query("#year").results(Input):
            field.value = self.said
            field.cursor_position = len(self.said)

    @on(Input.Changed, "#year")
    def typed(self) -> None:
        """What is typed counts, not where the list stands."""
        self._moved = False
        self.tell("")

    @on(Input.Submitted, "#year")
    def action_enter(self) -> None:
        """What is typed, or the span one stands on."""
        text, look = self._text, self.look.look
        if self._moved or not text:
            at = self.query_one(OptionList).highlighted
            self.take(self.ids[at or 0])
            return

        def understood(studio: Studio) -> str:
            from kb.desk.identify.identify import signs

            return signs(studio, [f"{look}={text}"])[look]

        self.ask(understood, lambda finding: self.take(finding, text), group="year", failed=self.tell)

    def action_step(self, steps: int) -> None:
        """Move in the list while the line keeps the focus."""
        listed = self.query_one(OptionList)
        listed.highlighted = min(max((listed.highlighted or 0) + steps, 0), listed.option_count - 1)
        self._moved = True
