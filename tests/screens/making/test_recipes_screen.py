"""Making up by keyboard alone: recipes, amounts, steps with timers and ticks, batches, labels."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from textual.app import App
from textual.pilot import Pilot
from textual.widgets import Input, Static

from kb.desk.drafts import drafts
from kb.desk.making.batches import all_batches, record, show
from kb.desk.making.recipe import make as made_by
from kb.desk.making.recipe import steps_state
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.clock import Timers
from kb.tui.screens.ask_why import AskWhy
from kb.tui.screens.making import batches as batches_module
from kb.tui.screens.making.batch_form import BatchDraft, BatchFormScreen
from kb.tui.screens.making.batches import BATCHES, BatchesScreen
from kb.tui.screens.making.recipe_words import Opened, lines
from kb.tui.screens.making.recipes import RECIPES, RecipesScreen, due_words
from kb.tui.screens.materials.own_form import OwnForm
from kb.tui.screens.note import AskScreen
from tests.screens.conftest import HandClock, popped_up
from tests.screens.making_help import IDS, SIZES, NewApp, invented_recipes, make, opened, to_step
from tests.screens.screen_help import flat, keys, keys_fit, settle, shown, write

__all__ = ["invented_recipes"]
PASTE = "wheat-paste-hot-plate"
OWN_RECIPE = {
    "name": "Our paste",
    "category": "starch paste",
    "basis": "w/v added",
    "ingredients": "wheat starch 20 g; water 100 ml",
    "steps": "cook; cool",
    "read": "read",
    "from": "common-practice",
}


def notices(app: App[Any]) -> str:
    """All notices in the corner."""
    return " ".join(notice.message for notice in app._notifications)


# -- finding and amounts ---------------------------------------------------------------------------


async def test_all_recipes_are_listed_and_a_misspelt_name_narrows(new_app: NewApp) -> None:
    """With nothing typed the whole list; letters narrow it, Esc leads back step by step."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f6")
        screen = pilot.app.screen
        assert isinstance(screen, RecipesScreen)
        assert len(screen.found) >= 25
        await write(pilot, "gelan")
        assert "gellan" in screen.found[0].name
        await keys(pilot, "enter", "escape")
        assert screen.focused is screen.hits
        await keys(pilot, "escape", "escape")
        assert not screen.typed.value
        assert len(screen.found) >= 25
        await write(pilot, "qqqqqq")
        assert "No recipe is named like that" in flat(pilot.app)


async def test_a_recipe_of_ones_own_by_form(new_app: NewApp, studio: Studio) -> None:
    """N opens the form at once, since only recipes are here; what was stored is found without leaving."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f6", "down", "n", "down", "down", "down")
        form = pilot.app.screen
        assert isinstance(form, OwnForm)
        assert form.kind == "recipe"
        await write(pilot, "x")
        assert "! Category: " in flat(pilot.app)
        assert "thinning guide, washing water" in flat(pilot.app), "cut by the line"
        await keys(pilot, "backspace")
        assert "Category: one of: alkaline bath" in flat(pilot.app), "also before anything is typed"
        for key, words in OWN_RECIPE.items():
            form.query_one(f"#field-{key}", Input).focus()
            await write(pilot, words)
        sound = form.query_one("#field-ingredients", Input).value
        form.query_one("#field-ingredients", Input).value = "starch 1 000 g"
        await keys(pilot, "ctrl+s")
        assert "Nothing is wrong" not in flat(pilot.app)
        assert "two ways" in str(form.query_one("#form-said", Static).content)
        form.query_one("#field-ingredients", Input).value = sound
        await settle(pilot)
        assert "Nothing is wrong so far: our-paste" in flat(pilot.app)
        await keys(pilot, "ctrl+s")
        screen = pilot.app.screen
        assert isinstance(screen, RecipesScreen)
        await keys(pilot, "slash")
        await write(pilot, "Our paste")
        assert screen.found[0].id == "our-paste"
    assert "our-paste" in (studio.catalogue_dir / "own.yaml").read_text()


async def test_an_amount_scales_and_one_that_cannot_be_says_why(new_app: NewApp) -> None:
    """By yield, by what is at hand; words that are no amount are named and the recipe stays readable."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert "57 g wheat starch" in flat(pilot.app)
        await make(pilot, "wheat starch 20 g")
        assert "20 g wheat starch" in flat(pilot.app)
        assert "Take for wheat starch 20 g" in flat(pilot.app)
        await keys(pilot, "m", "home", "ctrl+k")
        await write(pilot, "20 bananas")
        assert "Shown as written" in flat(pilot.app)
        assert "57 g wheat starch" in flat(pilot.app)
        assert screen.amount.value == "20 bananas"


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_the_everyday_paste_leads_and_no_bleach_is_a_paste(
    new_app: NewApp, size: tuple[int, int]
) -> None:
    """What the data call everyday leads, what is seldom made ends the list; what is no paste is left out."""
    async with new_app().run_test(size=size) as pilot:
        screen = await opened(pilot, "paste")
        assert [screen.found[0].id, screen.found[-1].id] == ["wheat-paste-hot-plate", "aged-paste"]
        assert all("paste" in f"{one.name} {one.category}".casefold() for one in screen.found)
        assert screen.opened is not None
        assert screen.opened.recipe.id == "wheat-paste-hot-plate"


async def test_an_ingredient_that_is_made_itself_leads_to_its_recipe(new_app: NewApp) -> None:
    """Enter on its line opens that recipe."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "remoistenable tissue")
        place = next(at for at, one in enumerate(screen.pane.lines) if one.recipe)
        await keys(pilot, "home", *["down"] * place, "enter")
        assert screen.opened is not None
        assert screen.opened.recipe.id == "paste-and-gel-one-to-two"


# -- steps -----------------------------------------------------------------------------------------


async def test_ticks_survive_a_restart_with_the_amount(studio: Studio) -> None:
    """What was ticked is on disk: another run of the program finds it, and what it was made for."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await make(pilot, "120 ml")
        await to_step(pilot, screen, 1)
        await keys(pilot, "space")
        assert screen.pane.here is not None
        assert screen.pane.here.step == 2
        await keys(pilot, "enter")
    studio.close()
    again = Studio(studio.root)
    async with BenchleafApp(again).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, "gellan")
        await keys(
            pilot, "m", *"50 ml", "escape", "escape", "slash", "ctrl+u", *"wheet past hot plate", "down"
        )
        assert screen.opened is not None
        assert (screen.opened.recipe.id, screen.amount.value) == (PASTE, "50 ml"), "only looked at"
        await keys(pilot, "enter")
        assert screen.amount.value == "120 ml", "that of its ticks, and not of the recipe before"
        await keys(pilot, "m", "ctrl+u", *"1 l", "enter")
        await to_step(pilot, screen, 3)
        await keys(pilot, "space")
        assert "so far were for: 120 ml. The amount now is: 1 l" in popped_up(pilot.app)
        await keys(pilot, "t")
        assert (steps_state(again, PASTE).by, screen.amount.value) == ("120 ml", "120 ml")
        await to_step(pilot, screen, 3)
        await keys(pilot, "space", "escape", "slash", "ctrl+u", *"gellan", "down", "enter")
        assert screen.amount.value == "", "nobody typed one"
        await keys(pilot, "escape", "slash", "ctrl+u", *"wheet past hot plate", "down", "enter")
        assert screen.amount.value == "120 ml"
        assert "Steps: 2 of 4 ticked" in flat(pilot.app)
        assert "[x] 1." in flat(pilot.app)
        assert "[ ] 3." in flat(pilot.app)
        await to_step(pilot, screen, 1)
        await keys(pilot, "space")
        assert list(steps_state(again, PASTE).ticked) == [2]
        await keys(pilot, "z")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "delete")
        assert not steps_state(again, PASTE).ticked
        assert "Steps: 0 of 4 ticked" in flat(pilot.app)


async def test_several_timers_run_ring_once_and_are_seen_elsewhere(
    new_app: NewApp, hand_clock: HandClock
) -> None:
    """Each rings at the shortest time its step names, on whatever screen one is; a pause keeps the time."""
    async with new_app().run_test(size=(80, 40)) as pilot:
        app = pilot.app
        assert isinstance(app, BenchleafApp)
        screen = await opened(pilot)
        await to_step(pilot, screen, 1)
        await keys(pilot, "t")
        await to_step(pilot, screen, 2)
        await keys(pilot, "t")
        hand_clock.on(14 * 60)
        app.tick()
        screen.tick()
        await settle(pilot)
        assert "timer 14:00 of 30:00, running" in flat(app)
        assert "timer 14:00 of 15:00, running" in flat(app)
        await keys(pilot, "f3")
        assert "timer 14:00" in shown(app)
        hand_clock.on(90)
        app.tick()
        app.tick()
        await settle(pilot)
        assert notices(app).count("step 2: the time is reached") == 1
        await keys(pilot, "f6", "t")
        hand_clock.on(3600)
        app.tick()
        await settle(pilot)
        assert "15:30 of 15:00, paused, REACHED" in flat(app)
        assert notices(app).count("step 1: the time is reached") == 1
        await keys(pilot, "space")
        assert "paused" not in flat(app)


async def test_a_key_on_a_line_that_is_no_step_says_so(new_app: NewApp) -> None:
    """Nothing is ticked or timed by mistake."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "home", "t")
        assert "Stand on a step to time it" in notices(pilot.app)
        await keys(pilot, "space")
        assert "Stand on a step to tick it" in notices(pilot.app)


# -- batches ---------------------------------------------------------------------------------------


async def test_a_batch_keeps_what_was_weighed_and_its_label_is_written(
    new_app: NewApp, studio: Studio
) -> None:
    """Actual weights, water and pH; the label as text and as a drawing that a second look does not change."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await make(pilot, "120 ml")
        await keys(pilot, "b")
        form = pilot.app.screen
        assert isinstance(form, BatchFormScreen)
        assert "asked for: 16.2 g" in flat(pilot.app)
        hint = form.query_one("#field-expires", Input).placeholder
        assert str(hint).startswith("3 days on, if left empty; keeps 3 to 7 days")
        await keys(pilot, "ctrl+t", "ctrl+k", "home", "ctrl+k")
        await write(pilot, "16.5 g")
        await keys(pilot, "down", "down")
        await write(pilot, "deionised")
        await keys(pilot, "down", "down")
        await write(pilot, "seven")
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is form
        assert "Not stored" in flat(pilot.app)
        assert '"seven" (pH) is not a number' in flat(pilot.app)
        await keys(pilot, "home", "ctrl+k", "6", "full_stop", "9", "ctrl+s")
        assert isinstance(pilot.app.screen, BatchesScreen)
        (one,) = all_batches(studio)
        assert [(part.amount, part.unit) for part in one.weights] == [(16.5, "g"), (113.0, "ml")]
        assert (one.water, one.ph, one.recipe) == ("deionised", 6.9, PASTE)
        assert one.expires

        await keys(pilot, "p")
        words = popped_up(pilot.app)
        assert "pH 6.9" in words
        assert one.expires in words
        await keys(pilot, "escape", "p")
        (drawing,) = (studio.root / "exports").iterdir()
        assert drawing.read_text(encoding="utf-8").startswith("<svg")


async def test_ticks_are_taken_back_by_a_batch_only_when_all_is_done(new_app: NewApp, studio: Studio) -> None:
    """Half-done work is not forgotten because a batch was written down early."""
    for done in (3, 4):
        async with new_app().run_test(size=(80, 24)) as pilot:
            screen = await opened(pilot)
            for step in range(1, done + 1):
                await to_step(pilot, screen, step)
                if step not in steps_state(studio, PASTE).ticked:
                    await keys(pilot, "space")
            await keys(pilot, "b", "ctrl+s", "ctrl+s")
            assert isinstance(pilot.app.screen, BatchesScreen)
        assert len(steps_state(studio, PASTE).ticked) == (3 if done == 3 else 0)


async def test_a_form_that_was_begun_is_not_lost_by_one_key(new_app: NewApp, studio: Studio) -> None:
    """Escape keeps a draft, which comes back; F9 throws it away after asking; nothing is written."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "b")
        await write(pilot, "16 g")
        await keys(pilot, "escape")
        screen = pilot.app.screen
        assert isinstance(screen, RecipesScreen)
        for recipe, amount in (("paste and methyl cellulose one to two", "2 ml"), ("gelatin", "3 g")):
            await keys(pilot, "slash", "home", "ctrl+k")
            await write(pilot, recipe)
            await keys(pilot, "enter", "b")
            await write(pilot, amount)
            await keys(pilot, "escape")
        await keys(pilot, "slash", "home", "ctrl+k")
        await write(pilot, "wheat starch paste")
        await keys(pilot, "enter", "b")
        assert pilot.app.screen.query(Input).first().value == "16 g", "that of another recipe took its place"
        assert "As it was left: a batch of" in flat(pilot.app), "as if it had been weighed now"
        await keys(pilot, "f9")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "delete")
        assert isinstance(pilot.app.screen, RecipesScreen)
        await keys(pilot, "b")
        assert pilot.app.screen.query(Input).first().value == ""
        screen.bench.drop_draft("batch-2")
        await keys(pilot, "escape", "ctrl+b")
        form = pilot.app.screen
        assert isinstance(form, BatchFormScreen)
        assert form.query(Input).first().value == "3 g"
        assert [form.draft_name] == list(drafts(studio.root)), "stored, the draft would stay behind"
    assert all_batches(studio) == []


async def test_bad_used_up_and_expired_batches_say_so(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In words, first in the list, and under the recipes."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "b", "ctrl+s", "ctrl+s", "escape", "b", "ctrl+s", "ctrl+s")
        await keys(pilot, "d")
        assert isinstance(pilot.app.screen, AskWhy)
        await write(pilot, "mould")
        await keys(pilot, "enter", "enter")
        assert "BAD" in flat(pilot.app)
        await keys(pilot, "home", "p")
        assert "DO NOT USE: mould" in popped_up(pilot.app)
        await keys(pilot, "escape", "enter")
        assert "MUST NOT BE USED: mould" in popped_up(pilot.app)
        # Twice the key that opened it, as a key that bounces sends it, uses nothing up.
        await keys(pilot, "escape", "u", "u")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "y")
        assert len(all_batches(studio)) == 1
        await keys(pilot, "a")
        assert "used up" in flat(pilot.app)
        await keys(pilot, "a")
        monkeypatch.setattr(batches_module, "today", lambda: date(2090, 1, 1))
        await keys(pilot, "f9")
        assert "EXPIRED" in flat(pilot.app)
        await keys(pilot, "w")
        await write(pilot, "never made")
        await keys(pilot, "enter", "enter")
        assert "No batch is in use" in flat(pilot.app)


def test_what_was_not_weighed_is_not_written_down(studio: Studio) -> None:
    """Taking over fills only amounts that one can weigh; a range stays open."""
    draft = BatchDraft("lime-wash", "Lime wash", {"stock": "", "water": ""}, {"stock": "0.9 to 6 ml"})
    draft.wanted["water"] = "2 l"
    draft.take_over()
    assert draft.weights == {"stock": "", "water": "2 l"}
    (part,) = draft.batch(studio).weights
    assert (part.name, part.amount, part.unit) == ("water", 2000.0, "ml")


async def test_a_batch_with_nothing_weighed_is_asked_about_and_keeps_what_was_planned(
    new_app: NewApp, studio: Studio
) -> None:
    """The first Ctrl+S says so, the second stores; the amount asked for stands on the record."""
    draft = BatchDraft.begin(PASTE, "Paste", made_by(studio, PASTE, "150 ml"))
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        pilot.app.push_screen(BatchFormScreen(draft))
        await settle(pilot)
        await keys(pilot, "ctrl+s")
        assert "nothing was weighed" in flat(pilot.app)
        assert all_batches(studio) == []
        await keys(pilot, "ctrl+s")
        (one,) = all_batches(studio)
        assert one.remarks == "planned: 150 ml"


async def test_a_weight_typed_over_what_was_asked_for_takes_its_place(
    new_app: NewApp, studio: Studio
) -> None:
    """^T fills in what was asked for, to be corrected: what is typed there stood behind it, 113 ml100 ml."""
    draft = BatchDraft.begin(PASTE, "Paste", made_by(studio, PASTE, "120 ml"))
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        pilot.app.push_screen(BatchFormScreen(draft))
        await settle(pilot)
        await keys(pilot, "ctrl+t")
        await write(pilot, "16.5 g")
        await keys(pilot, "down")
        await write(pilot, "100 ml")
        assert list(draft.weights.values()) == ["16.5 g", "100 ml"]


def test_batches_that_are_due_take_few_words(studio: Studio) -> None:
    """The first of them by name took a second line from every recipe; the list under L names them all."""
    for name in ("first", "second"):
        draft = BatchDraft("", name, {"starch": "20 g"}, {"starch": "20 g"})
        draft.plain["expires"] = "2020-01-01"
        draft.plain["made_on"] = "2019-12-01"
        record(studio, draft.batch(studio), date(2026, 1, 1))
    assert due_words(studio) == "2 batches to look at (L)"


async def test_an_ingredient_may_come_from_another_batch(new_app: NewApp, studio: Studio) -> None:
    """By the beginning of its id; the first batch then says where it went."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "b", "ctrl+s", "ctrl+s", "escape")
        (first,) = all_batches(studio)
        await keys(pilot, "slash", "home", "ctrl+k")
        await write(pilot, "paste and methyl cellulose one to two")
        await keys(pilot, "enter", "b")
        form = pilot.app.screen
        assert isinstance(form, BatchFormScreen)
        place = next(at for at, name in enumerate(form.draft.wanted) if "paste" in name)
        form.query_one(f"#field-part-{place}", Input).focus()
        await write(pilot, f"30 ml from {first.short.lower()}")
        await keys(pilot, "ctrl+s")
        assert screen.bench.screen is not form
        await keys(pilot, "end", "enter")
        assert "into batch" in popped_up(pilot.app)
    assert show(studio, first.id).id == first.id


# -- looks -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_fits(new_app: NewApp, size: tuple[int, int]) -> None:
    """No key is cut off on any of these screens, and the title names them."""
    async with new_app().run_test(size=size) as pilot:
        screen = await opened(pilot)
        assert keys_fit(pilot.app)
        assert "[F6 Make]" in shown(pilot.app)
        await to_step(pilot, screen, 1)
        await keys(pilot, "space")
        assert "Z Untick" in shown(pilot.app)
        assert keys_fit(pilot.app)
        await keys(pilot, "b")
        assert keys_fit(pilot.app)
        await keys(pilot, "ctrl+s")
        assert keys_fit(pilot.app)


async def test_how_long_a_batch_keeps_is_not_cut(new_app: NewApp) -> None:
    """It read "keeps eight": beside the long names of ingredients there was no room for the hours."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot, "calcium hydroxide wash")
        await keys(pilot, "b")
        assert "the same day, if left empty; keeps eight hours: make it for" in flat(pilot.app)
        assert "for the label, such as 12.5 % w/w" in flat(pilot.app), "of another recipe it is an example"


@pytest.mark.usefixtures("invented_recipes")
async def test_hostile_words_are_shown_as_they_are(new_app: NewApp) -> None:
    """Brackets stay brackets in the list and among the ingredients."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "f6", "enter")
        assert flat(pilot.app).count("[TODO]") == 2


async def test_help_names_every_key(new_app: NewApp) -> None:
    """F1 explains both screens."""
    async with new_app().run_test(size=(110, 70)) as pilot:
        await opened(pilot)
        for acts, back in ((RECIPES, "l"), (BATCHES, "escape")):
            await keys(pilot, "f1")
            text = flat(pilot.app)
            for act in acts:
                assert " ".join(act.says.split())[:40] in text
            await keys(pilot, "escape", back)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
@pytest.mark.usefixtures("invented_recipes")
def test_picture_of_a_recipe(new_app: NewApp, size: tuple[int, int], snap_compare: Any) -> None:
    """Ingredients, steps and marks."""

    async def before(pilot: Pilot[Any]) -> None:
        await settle(pilot)
        await keys(pilot, "f6", "enter", *["down"] * 8)

    assert snap_compare(new_app(), terminal_size=size, run_before=before)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_slash_finds_also_where_one_types_already(new_app: NewApp, size: tuple[int, int]) -> None:
    """It is no part of a name; the foot says what ends the line, and Enter then opens the marked recipe."""
    async with new_app().run_test(size=size) as pilot:
        await settle(pilot)
        await keys(pilot, "f6", "slash")
        await write(pilot, "wheat paste")
        screen = pilot.app.screen
        assert isinstance(screen, RecipesScreen)
        assert screen.typed.value == "wheat paste"
        foot = shown(pilot.app).splitlines()[-1]
        assert "Enter Open the marked one" in foot
        assert "Tab Amount" in foot
        marked = screen.hits.key_here
        await keys(pilot, "enter")
        assert marked
        assert screen.opened is not None
        assert screen.opened.recipe.id == marked


def test_a_recipe_asked_for_in_grams_says_the_weight_of_its_water(studio: Studio) -> None:
    """Beside the volume, also where it is made up to one; asked for in ml it says millilitres alone."""
    for recipe, by, said in (
        ("methyl-cellulose-2", "80 g", "(80 g)"),
        (PASTE, "150 g", " ml ("),
        (PASTE, "150 ml", ""),
    ):
        made = made_by(studio, recipe, by)
        text = "\n".join(
            one.text for one in lines(Opened(made.recipe, made, steps_state(studio, recipe)), Timers())
        )
        assert said in text
        assert said or " ml (" not in text


def test_what_goes_in_and_what_comes_out_are_told_apart(studio: Studio) -> None:
    """Makes 440 g stood above together 456.2 g, and nothing said why; one figure is said once."""
    made = made_by(studio, PASTE)
    text = [one.text for one in lines(Opened(made.recipe, made, steps_state(studio, PASTE)), Timers())]
    assert any("456 g goes in, 440 g comes out: after some water" in one for one in text)
    assert sum("some water has boiled off" in one for one in text) == 1
    same = made_by(studio, "wheat-paste-stove-one-to-four")
    assert same.total == same.makes
    text = [one.text for one in lines(Opened(same.recipe, same, steps_state(studio, same.id)), Timers())]
    assert not any(one.startswith("  together") for one in text)


async def test_what_can_hurt_stands_before_the_first_step(new_app: NewApp) -> None:
    """That lime powder can cost the sight stood below the fold; and a kilogram as 1e+03 g."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot, "calcium hydroxide, saturated stock")
        seen = flat(pilot.app)
        assert seen.index("The powder burns eyes and can cost the sight") < seen.index("[ ] 1.")
        assert "together 1 kg, before anything evaporates" in seen
