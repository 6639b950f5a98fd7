"""Identify: answer looks in any order, see which tape it may be, and take that into the question."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, Vertical, VerticalScroll
from textual.widgets import Input, OptionList, Static

from kb.science.numbers import chance
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.drawing import Drawing, led
from kb.tui.inside_textual import keyed
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.choose.asked import Asked, Filled
from kb.tui.screens.identify import identified, looking
from kb.tui.screens.identify.finding import FindingScreen, LookList, YearScreen
from kb.tui.screens.identify.identified import Place
from kb.tui.screens.identify.looking import CANNOT, NOT_LOOKED, Looked, Weighed
from kb.tui.screens.note import AskScreen
from kb.tui.text import cut, line
from kb.tui.widgets.plain_input import FindLine
from kb.tui.widgets.two_clicks import ClickList

if TYPE_CHECKING:
    from kb.desk.choose.spoken_tape import Seen
    from kb.desk.studio import Studio
    from kb.model.identification import NextLook, RankedTape
    from kb.model.question import Possible
    from kb.tui.bench import StudioOpened
    from kb.tui.screens.choose.find import Offer

IDENTIFY = (
    Act("not_looked", "minus", "Not looked", "Take back the finding of this look", shown="-", foot=False),
    Act("next_look", "n", "Next", "Open the look that tells most next"),
    Act("say", "slash", "Words", "Type what you see in words: clear glossy brittle amber", shown="/"),
    Act("use_tape", "u", "Use tape", "Put the tape under the cursor, or the first, into the question"),
    Act("use_all", "a", "Use all", "Ask with all that is possible: the ranking averages over it"),
    Act("keep", "w", "Keep", "Keep the signs and what they leave possible with a sheet"),
    Act("clear", "c", "Clear", "Take back all findings; Z brings them back"),
    Act("undo", "z", "Undo", "Take back the last change; once more brings it back"),
    # Out of the foot, which has no more room: the box of a look names it too.
    Act("cannot", "question_mark", "Cannot", "It cannot be looked at here", shown="?", foot=False),
    Act("sources", "o", "Sources", "Where the reasons for the tape under the cursor come from", foot=False),
    Act("next_group", "g", "Group", "Go to the next group of looks", foot=False),
    Act("to_looks", "escape", "Looks", "Back to the list of looks", foot=False),
)
NOTHING_YET = "Nothing was looked at yet: / takes what you see in words."
WAITING = "Reading what can be looked at..."
ONE_WORD_S = 1.0
"""Letters closer than this are one word."""
ON_A_LOOK = {"not_looked", "cannot"}


IN_WORDS = (
    Binding("enter", "submit", "Take the words"),
    Binding("escape", "screen.to_looks", "Back to the looks", key_display="Esc"),
)
"""Keys of the line for what one sees, in words; the foot says by them how it goes on from there."""


class IdentifyScreen(DeskScreen[None]):
    """Looks on the left, tapes and reasons on the right; on a narrow screen one under the other."""

    TITLE_WORDS = "Identify"
    HELP = (
        "What is this tape, and how old is its adhesive? Answer the looks you can, in any order; skip the "
        "rest, which say nothing for or against. Enter or Right on a look opens its findings. The look "
        "marked N, and named in the line under the list, tells most next for what it takes. / opens a line "
        "for all that you see at once: clear glossy brittle amber. A letter that is no key does too.\n\n"
        "Tapes are ranked with a chance as figure, dots and word. The pane gives the reasons for the tape "
        "under the cursor: + speaks for it, - against it, = neither; a word after ~ says that the sign was "
        "not read in a text, such as 'from memory'. What cannot be told apart is said there too. Tab goes "
        "from the looks to the tapes and to the pane.\n\n"
        "U puts a tape into the question, with its stage where that is likely. A puts in all that is "
        "possible, and the ranking of liquids averages over it: an honest way on if you are not sure.\n\n"
        f"Enter    Answer the look, or read all about the tape\n{keys_in_words(IDENTIFY)}"
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(IDENTIFY),
        Binding("delete,backspace", "not_looked", show=False),
    ]
    CSS = """
    IdentifyScreen #told { height: 2; text-wrap: wrap; }
    IdentifyScreen #seen { display: none; margin: 0 1; }
    IdentifyScreen #identify-body { height: 1fr; layout: vertical; }
    IdentifyScreen.-wide #identify-body { layout: horizontal; }
    IdentifyScreen #looks { height: 1fr; width: 100%; text-wrap: nowrap; }
    IdentifyScreen #looks > .option-list--option-disabled { color: $primary; text-style: bold; }
    IdentifyScreen.-wide #looks { width: 5fr; height: 100%; }
    IdentifyScreen #right { height: 12; width: 100%; }
    IdentifyScreen.-high #right { height: 24; }
    IdentifyScreen.-wide #right { width: 6fr; height: 100%; border-left: solid $secondary; }
    IdentifyScreen #tapes { height: 5; width: 100%; text-wrap: nowrap; border-top: solid $secondary; }
    IdentifyScreen.-high #tapes { height: 10; }
    IdentifyScreen.-wide #tapes { border-top: none; }
    IdentifyScreen #tape-why { height: 1fr; padding: 0 0 0 1; border-top: solid $primary; }
    IdentifyScreen #tape-why { border-title-color: $primary; border-title-style: bold; }
    IdentifyScreen #tape-why:focus { background: $surface; }
    IdentifyScreen #tape-reasons { padding: 0 1 0 0; }
    FindingScreen #finding-how { max-height: 6; margin-bottom: 1; }
    FindingScreen #findings { height: auto; max-height: 12; text-wrap: nowrap; }
    FindingScreen #year { height: 1; border: none; background: $panel; width: 100%; }
    """

    looks = getters.query_one(LookList)
    tapes = getters.query_one("#tapes", ClickList)

    def __init__(self) -> None:
        super().__init__()
        self.weighed: Weighed | None = None
        self.places: list[Place] = []
        self._pending = False
        """Whether the answer shown is older than the findings."""
        self._when_weighed: list[Callable[[], None]] = []
        self._letters, self._letter_at = "", 0.0
        """Letters pressed one right after the other, and when the last of them was."""
        self._signs: tuple[str, ...] = ()
        """Of the question, as they were taken over last."""

    # -- layout ----------------------------------------------------------------------------------

    def body(self) -> ComposeResult:
        yield Static(WAITING, id="told", classes="heading", markup=False)
        hint = "what you see: clear glossy brittle amber"
        words = FindLine(id="seen", compact=True, placeholder=hint, select_on_focus=False)
        yield keyed(words, *IN_WORDS)
        with Container(id="identify-body"):
            yield LookList(self.action_open)
            with Vertical(id="right"):
                # As wide as the tapes, and told when that changes: rows for more room would break.
                look_next = Drawing(self._draw, id="look-next")
                look_next.add_class("heading")
                yield look_next
                yield ClickList(id="tapes")
                with VerticalScroll(id="tape-why"):
                    yield Static("", id="tape-reasons", markup=False)

    @property
    def looked(self) -> Looked:
        """What was seen so far; the app keeps it."""
        if self.bench.looked is None:
            self.bench.looked = Looked()
        return self.bench.looked

    @property
    def here(self) -> Place | None:
        return self.tapes.row_of(self.places)

    def on_mount(self) -> None:
        self.looks.focus()

    def on_screen_resume(self) -> None:
        """The catalogue may have changed while another screen was shown, and the question too."""
        self._take_signs()
        self.weigh(fresh=True)

    def _take_signs(self) -> None:
        """What was typed with the question has been seen, and need not be looked at again."""
        asked = [getattr(one, "asked", None) for one in self.bench.screens_at("home")]
        signs = next((one.signs for one in asked if isinstance(one, Asked)), ())
        if signs and signs != self._signs and not self.looked.found:
            self.looked.put_all(dict(sign.split("=", 1) for sign in signs))
            self.bench.say("What your question says of the tape is taken over. Z takes it back.")
        # Once only, so that what is cleared here stays so.
        self._signs = signs

    def on_studio_opened(self, event: StudioOpened) -> None:
        if not event.trouble and self.weighed is None:
            self.weigh(fresh=True)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What is about a look works in the list of looks only; where words are typed / is one of them."""
        if action == "say":
            return not isinstance(self.focused, FindLine)
        return action not in ON_A_LOOK or self.focused is self.looks

    # -- the answer ------------------------------------------------------------------------------

    def weigh(self, *, fresh: bool = False) -> None:
        self._pending = True
        verb = partial(looking.weigh, found=dict(self.looked.found), fresh=fresh)
        self.ask(verb, self._weighed, group="weigh", failed=self._cannot_weigh)

    def _weighed(self, weighed: Weighed) -> None:
        self._pending, self.weighed = False, weighed
        standing = self.here if self.focused is self.tapes else None
        self.places = identified.places(weighed.answer)
        same = (at for at, one in enumerate(self.places) if standing and one.name == standing.name)
        first = (at for at, one in enumerate(self.places) if one.tape is not None)
        self._draw(next(same, next(first, 0)))
        waiting, self._when_weighed = self._when_weighed, []
        for do in waiting:
            do()

    def _cannot_weigh(self, words: str) -> None:
        self._when_weighed.clear()
        self._tell(f"No answer: {words} What you found is kept; F2 and F5 try again.")

    def _draw(self, at: int | None = None) -> None:
        if self.weighed is None:
            return
        answer = self.weighed.answer
        self._draw_looks()
        self._tell(answer.verdict)
        self.query_one("#look-next", Static).update(line(identified.look_next(answer)))
        tapes, width = self.tapes, max(20, self.tapes.size.width - 4)
        at = tapes.highlighted if at is None else at
        looked = bool(answer.findings)
        lines = [line(identified.row(one, width, looked=looked)) for one in self.places]
        tapes.fill(lines, at if self.places else None)
        self._show_reasons()

    def _draw_looks(self) -> None:
        if self.weighed is not None:
            best = next((look.look for look in self.weighed.answer.next_looks), "")
            width = max(20, self.looks.size.width - 4)
            self.looks.show(looking.rows(self.weighed.looks, self.looked, best, width))

    def _show_reasons(self) -> None:
        if self.weighed is not None:
            one, why = self.here, self.query_one("#tape-why", VerticalScroll)
            text = identified.reasons(self.weighed.answer, one)
            self.query_one("#tape-reasons", Static).update(led(text))
            seen = one is not None and bool(self.weighed.answer.findings)
            why.border_title = line(one.name if one and seen else "What to look at")
            why.scroll_home(animate=False)

    def _tell(self, words: str) -> None:
        told = self.query_one("#told", Static)
        told.update(line(cut(words, max(40, 2 * told.size.width - 16))))

    @on(OptionList.OptionHighlighted, "#tapes")
    def other_tape(self) -> None:
        self._show_reasons()

    @on(OptionList.OptionSelected, "#tapes")
    def all_reasons(self) -> None:
        one = self.here
        if self.weighed is not None and one is not None:
            text = identified.reasons(self.weighed.answer, one, len(self.weighed.looks), whole=True)
            self.note(f"Reasons: {one.name}", text)

    # -- looking ---------------------------------------------------------------------------------

    def action_open(self) -> None:
        """The findings of the look one stands on."""
        look = self.looks.here
        if look is None or not self.is_active:
            return
        held, said = self.looked.found.get(look.look, NOT_LOOKED), self.looked.said.get(look.look, "")
        screen = YearScreen(look, held, said) if looking.dated(look) else FindingScreen(look, held)
        self.app.push_screen(screen, partial(self._taken, look))

    def _taken(self, look: NextLook, taken: tuple[str, str] | None) -> None:
        if taken is not None:
            self._put(look, *taken)

    def _put(self, look: NextLook | None, finding: str, said: str = "") -> None:
        if look is not None:
            self.looked.put(look.look, finding, said)
            self._changed()

    def _changed(self) -> None:
        """Show at once what was answered; what follows from it comes from the desk."""
        self._draw_looks()
        self.weigh()

    def action_not_looked(self) -> None:
        self._put(self.looks.here, NOT_LOOKED)

    def action_cannot(self) -> None:
        self._put(self.looks.here, CANNOT)

    def action_clear(self) -> None:
        if self.looked.found:
            self.looked.clear()
            self._changed()
            self.bench.say("All findings are taken back. Z brings them back.")

    def action_undo(self) -> None:
        self.looked.undo()
        self._changed()

    def action_next_group(self) -> None:
        self.looks.focus()
        self.looks.go_to_group()

    def action_to_looks(self) -> None:
        self.query_one("#seen").display = False
        self.looks.focus()

    def action_say(self) -> None:
        field = self.query_one("#seen", Input)
        field.display = True
        # Words that were left give way to the first letter; not once it has the cursor, when that is there.
        field.select_all()
        self.set_focus(field)

    @on(Input.Submitted, "#seen")
    def said(self, event: Input.Submitted) -> None:
        """Each word that names a finding answers its look; one Z takes all of them back."""
        from kb.desk.choose.spoken_tape import seen

        if text := event.value.strip():
            self.ask(partial(seen, text=text), self._put_seen, group="seen")

    def _put_seen(self, seen: Seen) -> None:
        self.bench.say(f"{seen.sentence}{' Z takes it back.' if seen.findings else ''}")
        if seen.findings:
            self.query_one("#seen", Input).value = ""
            self.action_to_looks()
            self.looked.put_all(seen.findings)
            self._changed()

    def on_key(self, event: events.Key) -> None:
        """A letter that is no key here begins words: their line opens, with the letters just before."""
        letter, field = event.character or "", self.query_one("#seen", Input)
        if self.focused is field and event.is_printable:
            # Sent before the line had the cursor.
            event.stop()
            field.replace(letter, *sorted(field.selection))
            return
        follows = event.time - self._letter_at < ONE_WORD_S
        self._letters = (self._letters * follows + letter) * letter.isalpha()
        self._letter_at = event.time
        if self._letters and event.key not in self.active_bindings:
            event.stop()
            self.action_say()
            field.replace(self._letters, *sorted(field.selection))

    def action_next_look(self) -> None:
        """Open the look that tells most, once the last finding is weighed."""
        self._soon(self._go_next)

    def _go_next(self) -> None:
        found = self.weighed.answer.next_looks if self.weighed is not None else ()
        if not found:
            self.bench.say(identified.NO_LOOK)
            return
        self.looks.focus()
        self.looks.go_to(found[0].look)
        self.action_open()

    def _soon(self, do: Callable[[], None]) -> None:
        """Now, or when the answer to the last finding is there."""
        if self._pending:
            self._when_weighed.append(do)
        else:
            do()

    # -- into the question -----------------------------------------------------------------------

    def action_use_tape(self) -> None:
        self._soon(self._use_tape)

    def _use_tape(self) -> None:
        one = self.here
        if one is None or self.weighed is None:
            return
        if one.tape is None:
            self.bench.say("That is no tape. A asks with all that is possible.")
            return
        self._into_question(one)

    def _into_question(self, one: Place | None) -> None:
        """One letter leaves nothing, since a word may begin with it; pressed twice it does what it says."""
        assert self.weighed is not None
        tape = one.tape if one else None
        sure = one is not None and one.p >= identified.SURE and self.weighed.answer.fits
        verdict = self.weighed.answer.verdict
        of = f"{one.name}: {one.words}, {chance(one.p)}" if one and tape else ""
        if of and not verdict.startswith(of):
            verdict = f"{of}. {verdict}"
        use = (("u", "use", "Use this tape" if sure else "Use this tape all the same"),) if tape else ()
        all_of_them = ("a", "all", "Ask with all that is possible")
        answers = (("s", "stay", "Stay and look further"), *use, all_of_them)

        def answered(answer: str | None) -> None:
            if answer == "use" and tape is not None:
                self._use(tape)
            elif answer == "all":
                self._use_all()

        title = "Into the question" if sure else "Not sure yet"
        self.app.push_screen(AskScreen(title, verdict, answers), answered)

    def _use(self, tape: RankedTape) -> None:
        verb = partial(identified.brings, tape=tape)
        self.ask(verb, partial(self._put_tape, tape), group="use")

    def _put_tape(self, tape: RankedTape, brought: dict[str, Filled]) -> None:
        def put(asked: Asked) -> None:
            asked.put("tape", Filled("tape", tape.tape, tape.name), brought)

        self.bench.put_into_question(put)

    def action_use_all(self) -> None:
        if self.looked.told:
            self._soon(lambda: self._into_question(self.here))
        else:
            self._use_all()

    def _use_all(self) -> None:
        if not self.looked.told:
            self.bench.say(f"{NOTHING_YET} Or leave the blank of the tape empty.")
            return
        self.ask(partial(looking.possible, found=dict(self.looked.found)), self._put_all, group="use")

    def action_keep(self) -> None:
        if not self.looked.told:
            self.bench.say(NOTHING_YET)
            return
        from kb.tui.screens.choose.picker import PickerScreen

        def named(offer: Offer | None) -> None:
            if offer is not None and offer.what is not None:
                verb = partial(_keep, sheet=offer.what.id, found=dict(self.looked.found))
                self.ask(verb, self.bench.say, group="keep")

        self.app.push_screen(PickerScreen("sheet", "With which sheet is it kept?"), named)

    def _put_all(self, possible: tuple[Possible, ...]) -> None:
        from kb.desk.choose.may_be import signs_of

        def put(asked: Asked) -> None:
            asked.put_signs(possible, signs_of(self.looked.found))

        self.bench.put_into_question(put)

    def action_sources(self) -> None:
        one = self.here
        if one is not None and one.tape is not None:
            verb = partial(identified.source_text, name=one.name, found=one.tape.reasons)
            self.ask(verb, partial(self.note, f"Sources: {one.name}"), group="sources")


def _keep(studio: Studio, *, sheet: str, found: dict[str, str]) -> str:
    from kb.desk.identify.keep import keep_with_sheet

    # The picker says of a name that no sheet bears that it is a new one.
    name, written = keep_with_sheet(studio, sheet, found, new=True)
    return f'Kept with the sheet "{name}" ({written.id}). A question that names the sheet starts from it.'
