"""Going on where one was: drafts, looks, taking back what was just stored, copying what one stands on."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.widget import Widget
from textual.widgets import Input, OptionList

from kb.tui.bench import ASIDE, PLACE, SPOT, Bench, in_words
from kb.tui.text import cut
from kb.tui.themes import THEMES

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.drafts import Draft
    from kb.desk.memory import Memory
    from kb.tui.screens.records.draft import Draft as SpotDraft

LATER_S = 1.0
LONGEST = 110
"""Letters of what a draft is about: two lines on a low screen."""
DIGITS, MORE = 8, "more"
"""Drafts that have room on a low screen, each with a key, and the answer that lists those begun earlier."""
NO_DRAFT = "No form was begun and left."
NOT_OPEN = "The studio is not open yet: press the key once more in a moment."
LEAVE_FIRST = "Leave the form that is open first (Esc); then Ctrl+B goes on."


def as_it_was(app: Bench, looks: Memory) -> None:
    """Colours, aims and sheet of the last time, and a word about drafts."""
    if looks.theme in {one.name for one in THEMES} and looks.theme != app.theme:
        app.theme = looks.theme
    app.gloves = looks.gloves
    app.sheet_before = looks.sheet
    app.set_class(looks.gloves, "-gloves")
    # Opening takes a while at the very first start: what somebody types meanwhile is not for these screens.
    if app.first_words and len(app.screen_stack) == 1:
        _once_nothing_is_typed(app, looks)
    if (kept := app.drafts.get(SPOT)) is not None and app.draft is None:
        # As if the program had not ended: T asks about it, and a new test does not write it over.
        app.draft = _spot_test(kept)
    if app.drafts:
        last, *others = map(_short, app.drafts.values())
        says = f"{last}, and {len(others)} more. Ctrl+B lists them." if others else f"{last}. Ctrl+B goes on."
        # As a warning: the next word, often said in the same moment, does not take its place.
        app.say(f"Kept from before: {says}", title="Drafts", warn=True)


def _once_nothing_is_typed(app: Bench, looks: Memory) -> None:
    """What is being typed is a question, and would else become the name of who writes."""
    if not app.screen_stack or app.current_mode != "home":
        # The program is closing and the timer was quicker; or who found another place needs no greeting over
        # it. The next start asks who writes.
        return
    if len(app.screen_stack) > 1 or _being_typed(app):
        app.set_timer(LATER_S, partial(_once_nothing_is_typed, app, looks))
    else:
        _first_words(app, looks)


def _first_words(app: Bench, looks: Memory) -> None:
    """What there is to do, once; on top of it who writes, if nobody has said so."""
    from kb.tui.screens.settings import SettingsScreen
    from kb.tui.screens.welcome import welcome

    if not looks.welcomed:
        welcome(app, empty=app.empty_book)
    if app.nobody_writes and not looks.asked_who:
        app.push_screen(SettingsScreen(first=True))


def _being_typed(app: Bench) -> bool:
    from kb.tui.widgets.blank import Blank

    return any(one.value for one in app.screen.query(Input)) or any(
        one.holds for one in app.screen.query(Blank)
    )


def go_on(app: Bench, passed: int = 0) -> None:
    """Open the draft, or ask which one; beyond those that were ``passed``."""
    if not app.drafts:
        app.say(NO_DRAFT if app.opened else NOT_OPEN)
        return
    if getattr(app.screen, "passing", False):
        # Whoever goes on with a form needs no greeting over the question after it.
        app.screen.dismiss(None)
    kept = list(app.drafts.values())[passed:]
    if len(kept) == 1 and not passed:
        _open(app, kept[0])
        return
    from kb.tui.screens.note import AskScreen

    answers = (
        ("0", "", "None of them"),
        *((str(place), one.form, _short(one)) for place, one in enumerate(kept[:DIGITS], 1)),
        *((("m", MORE, f"{len(kept) - DIGITS} more, begun earlier"),) if len(kept) > DIGITS else ()),
    )

    def answered(form: str | None) -> None:
        if form == MORE:
            go_on(app, passed + DIGITS)
        elif form in app.drafts:
            _open(app, app.drafts[form])

    app.push_screen(AskScreen("Go on with a form", "Begun and not stored:", answers), answered)


def _short(draft: Draft) -> str:
    """What it is about; of a long one the end stays too, where its sheet stands, and behind it the place."""
    says = draft.says
    return says if len(says) <= LONGEST else f"{cut(says, LONGEST - 64)}{says[-64:]}"


def _open(app: Bench, draft: Draft) -> None:
    """The form it was begun on, as it was."""
    from kb.book.kinds.table import KINDS
    from kb.desk.drafts import restored
    from kb.tui.form import FORM, FormScreen
    from kb.tui.screens.ask_why import LINES
    from kb.tui.screens.records.amend import AMENDS

    if draft.form == SPOT or draft.form.startswith(ASIDE):
        if (test := _spot_test(draft)) is not None:
            _open_test(app, draft.form, test)
            return
    elif draft.form.rstrip(PLACE) == "batch":
        from kb.tui.screens.making.batch_form import BatchDraft

        if (batch := restored(draft.values, BatchDraft)) is not None:
            at(app, "recipes", "_begun", batch, draft.form)
            return
    elif (kind := draft.form.removeprefix(FORM).rstrip(PLACE)) in KINDS and (
        values := _texts(draft.values)
    ) is not None:
        app.push_screen(FormScreen(kind, values.get("sheet", ""), draft.form, values))
        return
    elif draft.form.startswith(AMENDS):
        at(app, "book", "correct", draft.form.removeprefix(AMENDS))
        return
    elif draft.form.startswith(LINES):
        with suppress(TypeError):
            _open_small(app, draft)
            return
    app.say(f"The draft of {draft.says} was written by another version and cannot be opened.", warn=True)
    app.drop_draft(draft.form)


def _open_test(app: Bench, form: str, test: SpotDraft) -> None:
    """One that was put aside takes the form, and what lies there goes aside for it."""
    if form != SPOT:
        if len(app.screens_at("home")) > 1:
            app.say(LEAVE_FIRST)
            return
        app.put_test_aside()
        app.drop_draft(form)
        app.keep_draft(SPOT, test.says, test)
    app.draft = test
    at(app, "home", "_open_form")


def _open_small(app: Bench, draft: Draft) -> None:
    """A form that lay over another screen, now over the one that is shown; the draft says which it is."""
    from msgspec import ValidationError, convert

    from kb.tui.screens.ask_why import AskWhy, from_name
    from kb.tui.screens.few_lines import Asked, FewLines

    if app.screen.is_modal:
        app.say(LEAVE_FIRST)
        return
    again = draft.again if isinstance(draft.again, dict) else {}
    try:
        if "work" in again:
            from kb.tui.screens.long_work import ASKING, ask_for

            ask_for(app, next(one for one in ASKING if one.title == again["work"]))
            return
        if "series" in again:
            at(app, "home", "series_again", draft.form, draft.says)
            return
        form: FewLines | AskWhy
        if "own" in again:
            from kb.tui.screens.materials.own_form import OwnForm

            form = OwnForm(again["own"])
        elif "lines" in again:
            lines = convert(again["lines"], tuple[Asked, ...])
            form = FewLines(again["title"], lines, from_name(again), again["before"], says=again["says"])
        else:
            form = AskWhy(again["title"], again["says"], again["does"], from_name(again))
    except (LookupError, StopIteration, ImportError, ValidationError):
        app.say(f"Open {draft.says} again where you began it: what you wrote stands on it.")
        return
    # Found by what it was written under, whatever a later version would call it.
    form.draft_name = draft.form
    app.push_screen(form, partial(_small_stored, app))


def _small_stored(app: Bench, answer: Any) -> None:
    """Say that it is in the book; the screen below may show what was changed."""
    from kb.tui.screens.long_work import LongWork, Work

    if isinstance(answer, Work):
        app.push_screen(LongWork(answer))
    elif answer:
        app.say(answer if isinstance(answer, str) else "Stored in the bench book.")
        _read_anew(app)


def _spot_test(kept: Draft) -> SpotDraft | None:
    from kb.desk.drafts import restored
    from kb.tui.screens.records.draft import Draft

    return restored(kept.values, Draft)


def _texts(values: Any) -> dict[str, str] | None:
    """The lines of a form, if they are that."""
    texts = isinstance(values, dict) and all(isinstance(one, str) for one in values.values())
    return values if texts else None


def at(app: Bench, mode: str, method: str, *given: Any) -> None:
    """Go to a place, and call a method of its first screen once that is there, if nothing lies on top."""
    app.action_go(mode)

    def call() -> None:
        screens = app.screens_at(mode)
        if len(screens) == 1 and app.screen is screens[0]:
            getattr(screens[0], method)(*given)
        elif screens:
            app.say(LEAVE_FIRST)

    app.call_later(call)


async def found_over(app: Bench, mode: str, kind: type[Screen[Any]]) -> bool:
    """Whether such a screen lies over a place already; it is gone to then, unless a form lies over it."""
    await app.switch_mode(mode)
    lie = app.screens_at(mode)
    found = next((place for place, one in enumerate(lie) if isinstance(one, kind)), None)
    if found is None:
        return False
    if all(getattr(one, "shows_only", False) for one in lie[found + 1 :]):
        for _ in lie[found + 1 :]:
            await app.pop_screen()
    else:
        app.say(LEAVE_FIRST)
    return True


def take_back(app: Bench) -> None:
    """Withdraw what was stored in the last minute, in a thread."""
    from kb.desk.records.book_list import undo_last

    def work() -> None:
        last = app.studio.last_written
        try:
            said, warn = app.desk(undo_last), False
        except Exception as error:
            said, warn = in_words(error), True
        app.call_from_thread(_taken_back, app, said, warn, last.id if last else "")

    app.run_worker(work, thread=True, group="take-back", exit_on_error=False)


def _taken_back(app: Bench, said: str, warn: bool, record: str) -> None:
    from kb.tui.screens.choose.home import HomeScreen

    if not warn and app.stored_draft and app.stored_draft[0] == record and SPOT not in app.drafts:
        # To be mended and stored again; a test that was begun since is not put aside for it.
        app.draft, app.stored_draft = app.stored_draft[1], None
        app.keep_draft(SPOT, app.draft.says, app.draft)
        said = f"{said} T goes on with it on the form."
    app.say(said, warn=warn)
    if not warn and isinstance(app.screen, HomeScreen):
        # Its line may still say that the record was stored.
        app.screen.note = said
    if not warn:
        _read_anew(app)


def _read_anew(app: Bench) -> None:
    """The screen that is shown, if it shows what may have changed."""
    for name in ("action_fresh", "look", "rank"):
        if callable(verb := getattr(app.screen, name, None)):
            app.call_later(partial(verb))
            return


def value_here(node: Widget | None) -> str:
    """What the widget in focus stands on, in one line."""
    found = getattr(node, "value_here", "")
    if isinstance(found, str) and found:
        return found
    if isinstance(node, OptionList) and node.highlighted is not None:
        return " ".join(str(node.get_option_at_index(node.highlighted).prompt).split())
    return ""
