"""The sheet: two faces side by side with their patches, what to do now, what was done."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.screen import Screen
from textual.widgets import DataTable, Static
from textual.widgets.data_table import ColumnKey

from kb.book.kinds.condition import condition_words
from kb.book.kinds.sheet import size_words
from kb.book.kinds.spot_test import HARM_WORDS, RELEASE_WORDS
from kb.desk.errors import DeskError
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.bench import in_words
from kb.tui.day import day_of
from kb.tui.drawing import Drawing
from kb.tui.exports import plain_stem, write_new
from kb.tui.screens.ask_why import draft_named, stores
from kb.tui.screens.few_lines import Asked, FewLines
from kb.tui.screens.note import AskScreen
from kb.tui.screens.records.draft import NOT_LOOKED
from kb.tui.screens.sheet.ask_sheet import with_sheet_known
from kb.tui.screens.sheet.face_grid import (
    PEN,
    WRONG,
    DrawsFaces,
    StripPen,
    corner_of,
    legend,
    now_lines,
    progress_bar,
    titled,
)
from kb.tui.text import cut, line, plain, without_commands
from kb.tui.widgets.choice_row import One, graded
from kb.tui.widgets.frame import TAKES_BACK

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordSummary
    from kb.desk.records.record import Written
    from kb.desk.sheet.sheets import ConditionLine
    from kb.desk.sheet.tape import PatchView
    from kb.desk.sheet.view import SheetView
    from kb.desk.studio import Studio

FACES = (
    Act("next", "n", "Next", "Begin the patch that the plan says, or write down how it went"),
    Act("skip", "x", "Skip", "Leave the next patch out, and say why", foot=False),
    Act("decide", "g", "Decide", "Write down what was decided after colour or a possible change"),
    Act("draw", "a", "Strip", "Draw a strip of tape, or a weak zone, on a face with the arrow keys"),
    Act("condition", "c", "Damage", "Write down what is wrong with the sheet, and where"),
    Act("settle", "k", "Check off", "Say what was done about damage, or why it was left", foot=False),
    Act("facts", "slash", "Facts", "What is known of the sheet: size, owner, media", shown="/"),
    Act("liquid", "l", "Liquid", "Ask which liquid to test next on this sheet", foot=False),
    Act("photographs", "o", "Photos", "Photographs of this sheet, paired; did the ink move?", foot=False),
    Act("plan", "p", "Plan", "Washing, mending, drying, housing of this sheet"),
    Act("zoom", "z", "Whole", "The whole sheet, or the part of it where the patches are", foot=False),
    Act("report", "r", "Report", "Write the record of this sheet as a page to hand over"),
    Act("leave", "escape", "Back", "Back to where you came from"),
)
INK = (
    One("-", "", "not compared"),
    One("n", "no-change", "above noise", "N no change"),
    One("p", "possible-change", "look at the pair", "P possible"),
    One("c", "cannot-tell", "", "C cannot tell"),
)
WENT = (
    Asked("colour", "Colour on swab", "a word: none, yellow, pink ..."),
    Asked("release", "Release", choices=graded("not graded", RELEASE_WORDS)),
    Asked("harm", "Worst harm", choices=graded("not looked at", HARM_WORDS), wanted=NOT_LOOKED),
    Asked("rounds", "Rounds", "how many"),
    Asked("swabs", "Swabs", "how many"),
    Asked("volume", "Liquid used", "e.g. 0.8 ml"),
    Asked("share_percent", "Free, %", "if in part; 100 if all, whatever the grade"),
    Asked("ink", "Photographs", choices=INK),
    Asked("remarks", "Remarks", ""),
)
BEGIN = (
    Asked("liquid", "Liquid", "name or blend"),
    Asked("method", "Method", "swab, gel ..."),
    Asked("all_the_same", "All the same", "why, where something speaks against it", seldom=True),
)
KNOWN = (
    Asked("size", "Size", "e.g. 410 x 560 mm; no unit: mm", bare="mm"),
    Asked("number", "Number", ""),
    Asked("owner", "Owner", ""),
    Asked("maker", "Maker", ""),
    Asked("dated", "Date of it", "e.g. about 1911"),
    Asked("grammage", "Grammage", "e.g. 90 g/m2"),
    Asked("media_front", "Media, front", "between commas"),
    Asked("media_back", "Media, back", "between commas"),
    Asked("paper", "Paper", ""),
    Asked("marks", "Marks, labels", ""),
    Asked("parts_with_it", "Came with it", "mount, frame, housing"),
    Asked("examined", "Examined", "why, how, by what methods"),
    Asked("earlier", "Earlier work", "signs of it, its records"),
    Asked("tapes", "Tapes", "what, and where"),
    Asked("proposal", "Proposal", ""),
    Asked("planned", "Materials", "that were to be used"),
    Asked("time_estimate", "Time", "as proposed"),
    Asked("cost_estimate", "Cost", "if agreed upon"),
    Asked("consent", "Consent", "who, how, when"),
    Asked("departures", "Otherwise", "than proposed, and why"),
    Asked("learnt", "Learnt", "of the object"),
    Asked("after", "Condition after", ""),
    Asked("left", "Left, and why", ""),
    Asked("advice", "Advice", "for keeping"),
)
SETTLED = (
    Asked("treated", "Done", "mended, reduced, left as it is ..."),
    Asked("by", "By record", "id of the mend, if there is one"),
)
SETTLE_KEYS = "123456789acdefghi"
"""One of these for each damage that is open, as many as there are lines at 80x24."""
WORDS = 46
DONE = 40
WHAT_DONE = "What was done"
NARROW = 100
"""Columns below which what to do now takes less room."""


class Shown(NamedTuple):
    view: SheetView
    done: list[RecordSummary]
    liquid: str
    """What the last patch was lifted with: most often the next is too."""
    method: str
    open: list[ConditionLine]
    """Damage that nothing was done about yet."""
    about: str
    """Number, media, paper and size, as far as they are known."""
    unknown: tuple[str, ...]
    """Media and paper as typed of which the catalogue knows nothing."""


class FacesScreen(DrawsFaces):
    """Faces above, what was done below; the next patch and the next step on the right."""

    TITLE_WORDS = "Sheet"
    HELP = (
        "Both faces as one looks at each of them, with the tape cut into patches. N begins the patch that "
        "the plan says, and ends it: then say what the swab showed. The plan keeps the two faces within "
        "about one patch of each other and leaves weak places to the last. Colour on a swab, or "
        "a possible change between two photographs, stops it until G says what was decided.\n\n"
        "A draws a strip: arrows move by 5 mm, with Shift by 1 mm; Enter sets the first corner and, pressed "
        "again, stores; Tab changes the face; W makes it a weak zone; F types it as figures.\n\n"
        f"{keys_in_words(FACES)}\n\nWhile a strip is drawn\n{keys_in_words(PEN)}"
    )
    BINDINGS = bindings(FACES)
    CSS = """
    FacesScreen #faces { height: 13; margin: 0 1; }
    FacesScreen #faces > Static { height: 100%; border: round $secondary; border-title-color: $primary; }
    FacesScreen .face { width: 1fr; content-align: center top; }
    FacesScreen #now { width: 28; padding: 0 1; }
    FacesScreen #legend, FacesScreen #progress { height: 1; padding: 0 1; }
    FacesScreen DataTable { height: 1fr; margin: 0 1; }
    FacesScreen.-roomy #faces { height: 22; }
    FacesScreen.-roomy #now { width: 34; }
    FacesScreen.-roomy #legend { margin: 1 0; }
    """

    def __init__(self, sheet: str = "") -> None:
        super().__init__()
        self.sheet = sheet
        """Empty until the place of sheets is told which."""
        self.known = False
        """Whether it is sure which sheet of the book is meant."""
        self.shown: Shown | None = None

    def body(self) -> ComposeResult:
        yield Static(line(self.sheet), classes="heading", id="name", markup=False)
        yield Static("", id="progress", markup=False)
        with Horizontal(id="faces"):
            # Both faces have the same room, so that one of them tells when it changes.
            for face, drawing in (("front", Drawing(self.draw)), ("back", Static(markup=False))):
                drawing.id, drawing.border_title = face, face
                drawing.add_class("face")
                yield drawing
            now = Static("", id="now", markup=False)
            now.border_title = "now"
            yield now
        yield Static("", id="legend", markup=False)
        yield DataTable(id="done", cursor_type="row", zebra_stripes=False)

    def on_mount(self) -> None:
        """The table has its columns before it has rows."""
        table = self.query_one(DataTable)
        for name, width in (("Day", 16), (WHAT_DONE, self._what)):
            table.add_column(name, width=width, key=name)
        table.focus()

    @property
    def _what(self) -> int:
        """Cells for what was done."""
        return max(30, self.app.size.width - 26)

    def show_instead(self, sheet: str) -> None:
        """Show this sheet; ask which is meant where none bears the name."""
        if self.known and sheet == self.sheet:
            return
        self.sheet = sheet
        self.query_one("#name", Static).update(line(sheet))
        self.known, self.shown, self.pen = False, None, None
        with_sheet_known(self, sheet, partial(self._known, sheet), partial(self._not_known, sheet))

    def show_later(self, sheet: str) -> None:
        """This sheet, once nothing lies over it: a plan asks nobody whether its sheet is in the book."""
        if not (self.known and sheet == self.sheet):
            self.sheet, self.known, self.shown, self.pen = sheet, False, None, None

    def _known(self, typed: str, sheet: str, new: bool) -> None:
        """One sheet of the book; a new one is written down by its name, so that its size can be said."""
        if typed != self.sheet:
            # Another was asked for meanwhile.
            return
        self.sheet, self.known = sheet, not new
        if new:
            from kb.desk.sheet.names import found_sheet

            self.ask(partial(found_sheet, name=sheet), partial(self._founded, sheet), group="found")
        else:
            self.look()

    def _founded(self, sheet: str, _: None) -> None:
        # Another may be asked for by now, and whether the book has that one is not known by this.
        if sheet == self.sheet:
            self.known = True
            self.bench.say(f'"{sheet}" is written down as a new sheet. {TAKES_BACK}')
            self.bench.keep_sheet(sheet)
            self.look()

    def _not_known(self, typed: str, words: str) -> None:
        if typed != self.sheet:
            return
        self.bench.say(f"Not opened: {words}", warn=True)
        self.sheet, self.known, self.shown = "", False, None
        self.bench.action_go(self.bench.came_from)

    def on_resize(self) -> None:
        self.set_class(self.app.size.width >= NARROW and self.app.size.height >= 34, "-roomy")
        if self.shown is not None:
            self.query_one(DataTable).columns[ColumnKey(WHAT_DONE)].width = self._what
            self._show(self.shown)

    def on_screen_resume(self) -> None:
        """Records may have been stored meanwhile; or a screen of it was opened before its faces."""
        if self.sheet and not self.known and self.is_current:
            self.show_instead(self.sheet)
        else:
            self.look()

    def look(self) -> None:
        """Read the sheet as it stands, once it is in the book."""
        if not self.known:
            return
        self.ask(partial(_fetch, sheet=self.sheet), self._read, group="sheet")

    def _read(self, found: Shown | str) -> None:
        """What is known of it. One that was taken back is left: one would go on with what is no more."""
        if isinstance(found, str):
            self._not_known(self.sheet, found)
        else:
            self._show(found)

    def _show(self, shown: Shown) -> None:
        self.shown = shown
        self.sheet = shown.view.sheet
        table = self.query_one(DataTable)
        table.clear()
        for record in shown.done:
            # By a word and not by paler ink alone: by lamp light it would count as valid.
            state = "[withdrawn] " if record.state == "withdrawn" else ""
            table.add_row(
                line(_day(record.at)),
                line(cut(f"{state}{record.what}", self._what)),
                height=self.bench.row_lines,
                key=record.id,
            )
        self.draw()

    # -- drawing ---------------------------------------------------------------------------------------

    def draw(self) -> None:
        if self.shown is None:
            return
        view = self.shown.view
        self.query_one("#name", Static).update(line(f"{view.sheet}   {self.shown.about}"))
        self.query_one("#progress", Static).update(
            Content.styled(self.pen.words, "bold $accent") if self.pen else progress_bar(view.tape)
        )
        first, *rest = now_lines(view.tape, sized=self.scale() is not None, unknown=self.shown.unknown)
        stop = bool(view.tape and view.tape.decide)
        head = Content.styled(first, "bold $warning" if stop else "bold $primary")
        self.query_one("#now", Static).update(Content("\n").join([head, plain("\n".join(rest))]))
        for face in ("front", "back"):
            self.query_one(f"#{face}", Static).update(self.face(face))
        self.query_one("#legend", Static).update(legend(self.shown.view.tape))

    @property
    def view(self) -> SheetView | None:
        return self.shown.view if self.shown else None

    # -- keys ------------------------------------------------------------------------------------------

    def _next_patch(self) -> PatchView | None:
        """The patch that the plan says. Where there is none, why is said: no form asks for words in vain."""
        if self._unread:
            return None
        tape = self.view.tape if self.view else None
        if tape is None:
            self.bench.say("There is no tape yet: A draws a strip.")
        elif tape.decide:
            self.bench.say(f"{without_commands(tape.decide)} G writes it down.")
        elif not tape.next:
            self.bench.say("All patches are lifted or left out.")
        return next((one for one in tape.patches if one.id == tape.next), None) if tape else None

    def action_next(self) -> None:
        """Begin the next patch, or end the one under way."""
        patch = self._next_patch()
        if patch is None or self.shown is None:
            return
        if patch.done is not None and patch.done.progress == "running":
            self._form(f"{titled(patch)}: how it went", WENT, _done, place=corner_of(patch))
        else:
            before = {"liquid": self.shown.liquid, "method": self.shown.method}
            # The plan's liquid stands in the form again, though it did nothing there.
            again = (
                " again: nothing was released" if patch.done is not None and patch.done.release == 0 else ""
            )
            self._form(f"Begin {titled(patch).lower()}{again}", BEGIN, _start, before, place=corner_of(patch))

    def action_skip(self) -> None:
        if patch := self._next_patch():
            why = (Asked("why", "Why", "the reason"),)
            self._form(f"Leave out {titled(patch).lower()}", why, _skip, place=corner_of(patch))

    @property
    def _unread(self) -> bool:
        """Whether the sheet is still being read, which is said: that there is nothing would not be so."""
        if self.shown is None:
            self.bench.say("The sheet is still being read: press it once more.")
        return self.shown is None

    def action_decide(self) -> None:
        if self._unread:
            return
        tape = self.view.tape if self.view else None
        if tape is None or not tape.decide:
            self.bench.say("No patch waits for a decision: N goes on.")
            return
        asked = (Asked("decision", "Decision", "and by whom"),)
        self._form("What was decided", asked, _decide, place=f": {without_commands(tape.decide)}")

    def action_condition(self) -> None:
        self._form("What is wrong, and where", WRONG, _condition)

    def action_settle(self) -> None:
        """What was done about one thing that is wrong: that which is chosen, where there are several."""
        if self._unread:
            return
        open_still = self.shown.open if self.shown else []
        if not open_still:
            self.bench.say("No damage is open: C writes one down.")
            return
        if len(open_still) == 1:
            self._settle_one(open_still[0].id)
            return
        listed = tuple(zip(SETTLE_KEYS, open_still, strict=False))
        says = "What was wrong:" if len(listed) == len(open_still) else f"The first of {len(open_still)}:"
        lines = ((key, one.id, f"{cut(one.words, WORDS)}, {day_of(one.at)}") for key, one in listed)
        answers = (("0", "", "None of them"), *lines)
        self.app.push_screen(AskScreen("Check off", says, answers), self._settle_one)

    def _settle_one(self, record: str | None) -> None:
        for one in self.shown.open if self.shown else ():
            if one.id == record:
                self._form(cut(f"Check off: {one.words}", 66), SETTLED, partial(_settle, condition=one.id))

    def action_facts(self) -> None:
        before = _known(self.shown.view) if self.shown else {}
        self._form("What is known of the sheet", KNOWN, _facts, before)

    def _form(
        self,
        title: str,
        lines: tuple[Asked, ...],
        verb: Callable[..., Written],
        before: Mapping[str, str] | None = None,
        place: str = "",
    ) -> None:
        store = partial(verb, sheet=self.sheet, before=before or {})
        # A draft is found again by these words: of this sheet, and of this patch where it lies.
        form = FewLines(title, lines, store, before, says=f"{self.sheet}{place}")
        # Words of a damage change once another reads like it: what else the form stores by names its draft.
        if given := getattr(verb, "keywords", {}):
            form.draft_name = draft_named(form.says, *given.values())
        self.app.push_screen(form, lambda _: self.look())

    def action_photographs(self) -> None:
        self.app.push_screen(_photographs(self.sheet, self.shown))

    def action_plan(self) -> None:
        from kb.tui.screens.sheet.sheet import SheetScreen

        self.app.push_screen(SheetScreen(self.sheet))

    def action_report(self) -> None:
        self.ask(partial(_report, sheet=self.sheet), self._reported, group="report")

    def _reported(self, path: str) -> None:
        said = f"The record of the sheet was written to\n{path}\nA browser shows it and prints it."
        self.note("Written", said)

    def action_leave(self) -> None:
        if self.pen is not None:
            self._put_pen_down()
        else:
            self.bench.action_go(self.bench.came_from)

    def action_draw(self) -> None:
        if self._unread:
            return
        record = self.view.record if self.view else None
        if record is None or not record.width_mm or not record.height_mm:
            self.bench.say("Say the size of the sheet first: / opens what is known of it.")
            return
        self.pen = StripPen(record.width_mm, record.height_mm)
        # The table would take the arrows for itself.
        self.set_focus(None)
        self.refresh_bindings()
        self.draw()


def _photographs(sheet: str, shown: Shown | None) -> Screen[None]:
    """The patch that was worked on last is found first."""
    from kb.tui.screens.sheet.photographs import PhotographsScreen

    tape = shown.view.tape if shown else None
    begun = [patch.id for patch in tape.patches if patch.done] if tape else []
    return PhotographsScreen(sheet, begun[-1] if begun else "")


def _day(at: str) -> str:
    moment = datetime.fromisoformat(at)
    # Without its year a line of last November would stand among those of this one.
    return moment.strftime("%Y-%m-%d %H:%M" if "T" in at else "%Y-%m-%d")


def _fetch(studio: Studio, *, sheet: str) -> Shown | str:
    """What is drawn, or in words that no sheet bears the name."""
    from kb.desk.errors import Unclear
    from kb.desk.records.book_list import list_records
    from kb.desk.records.work_records import name_of
    from kb.desk.sheet.facts import sheet_facts
    from kb.desk.sheet.sheets import condition_list
    from kb.desk.sheet.view import sheet_view

    studio.refresh()
    try:
        view = sheet_view(studio, sheet)
    except Unclear as none:
        return in_words(none)
    begun = [patch.done for patch in view.tape.patches if patch.done is not None] if view.tape else []
    last = begun[-1] if begun else None
    return Shown(
        view,
        _as_finished(studio, list_records(studio, sheet=view.sheet, limit=DONE)),
        last.liquid if last else "",
        last.method if last else "swab",
        _open(condition_list(studio, view.sheet)),
        _about(view, name_of(studio, ("paper",), view.record.paper)),
        sheet_facts(studio, view.sheet).unknown,
    )


def _open(listed: Sequence[ConditionLine]) -> list[ConditionLine]:
    """Those to check off; what reads alike with its number, which stays when another of them is done."""
    said = [cut(condition_words(replace(one.condition, treated="")), WORDS) for one in listed]
    named = [f"{cut(words, WORDS - 8)}, no. {said[:to].count(words)}" for to, words in enumerate(said, 1)]
    return [
        replace(one, words=name) if said.count(words) > 1 else one
        for one, words, name in zip(listed, said, named, strict=True)
        if not one.treated
    ]


def _as_finished(studio: Studio, records: Sequence[RecordSummary]) -> list[RecordSummary]:
    """Newest first; a patch on the day on which it was finished, which need not be the one it was begun."""
    from kb.desk.records.book_list import last_written

    found = []
    for record in records:
        at, who = last_written(studio, record) if record.kind == "patch" else (record.at, record.who)
        found.append(replace(record, at=at, who=who))
    return sorted(found, key=lambda record: record.at, reverse=True)


@stores
def _start(studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str]) -> Written:
    from kb.desk.sheet.tape import start

    return start(studio, sheet, words)


@stores
def _done(studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str]) -> Written:
    from kb.desk.sheet.tape import done

    return done(studio, sheet, words)


@stores
def _skip(studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str]) -> Written:
    from kb.desk.sheet.tape import skip

    return skip(studio, sheet, words)


@stores
def _decide(studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str]) -> Written:
    from kb.desk.sheet.tape import decide

    return decide(studio, sheet, words["decision"])


@stores
def _condition(studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str]) -> Written:
    from kb.desk.sheet.sheets import add_condition

    if not words["damage"]:
        raise DeskError("What: say what is wrong, such as a tear.")
    return add_condition(studio, {**words, "sheet": sheet})


@stores
def _settle(
    studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str], condition: str
) -> Written:
    from kb.desk.sheet.sheets import settle

    studio.refresh()
    try:
        return settle(studio, condition, words["treated"], words["by"])
    except DeskError as error:
        # What the desk says ends in a command; here a key does that.
        raise DeskError(f"{error} F3 lists records and corrects them; F9 throws this away.") from error


@stores
def _facts(studio: Studio, words: Mapping[str, str], *, sheet: str, before: Mapping[str, str]) -> Written:
    from kb.desk.sheet.sheets import NOTHING, amend_sheet

    changed = {name: text or NOTHING for name, text in words.items() if text != before.get(name, "")}
    return amend_sheet(studio, sheet, changed, "known now")


def _report(studio: Studio, *, sheet: str) -> str:
    from kb.desk.sheet.report import html, report

    made = html(report(studio, sheet))
    return str(write_new(studio, plain_stem("record-", sheet, "sheet"), ".html", made))


def _about(view: SheetView, paper: str) -> str:
    record = view.record
    # Most names of sheets begin with their number.
    number = "" if record.number in view.sheet else record.number
    media = ", ".join(record.media_front[:2])
    # A third ink that goes unsaid would pass for none.
    media += f" +{more}" if (more := len(record.media_front) - 2) > 0 else ""
    return ", ".join(part for part in (number, media, size_words(record), paper) if part)


def _known(view: SheetView) -> dict[str, str]:
    """What is known, as one would type it."""
    record = view.record
    words = {asked.name: getattr(record, asked.name, "") for asked in KNOWN}
    plain_words = {
        name: ", ".join(value) if isinstance(value, tuple) else str(value) for name, value in words.items()
    }
    grammage = f"{record.grammage_g_m2:g}" if record.grammage_g_m2 else ""
    return {**plain_words, "size": size_words(record), "grammage": grammage}
