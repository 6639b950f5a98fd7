"""The dwell clock and the draft of a spot test, without any screen."""

from __future__ import annotations

import pytest

from kb.desk.errors import DeskError
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.tui.clock import DwellClock, digits
from kb.tui.screens.records.amend import draft_of, reading_of
from kb.tui.screens.records.draft import seconds
from tests.screens.conftest import HandClock
from tests.screens.drafts import a_draft


def test_clock_counts_only_while_it_runs() -> None:
    """Pauses are left out, starting twice changes nothing, reset goes back to nothing."""
    now = HandClock()
    clock = DwellClock(now)
    clock.start()
    now.on(20)
    clock.start()
    now.on(10)
    assert clock.pause() == 30
    now.on(500)
    clock.toggle()
    now.on(5)
    assert clock.elapsed_s == 35
    assert clock.running
    clock.reset()
    assert (clock.elapsed_s, clock.running) == (0, False)


def test_clock_rings_once_at_its_aim() -> None:
    """The aim is told once; after a reset it may be told again; an aim already passed is not told."""
    now = HandClock()
    clock = DwellClock(now)
    clock.aim(30)
    clock.start()
    now.on(29)
    assert not clock.due()
    now.on(1)
    assert clock.due()
    assert not clock.due()
    clock.reset()
    clock.start()
    now.on(31)
    assert clock.due()
    clock.aim(10)
    assert not clock.due()
    clock.aim(0)
    assert clock.aim_s is None


def test_clock_never_goes_back() -> None:
    """A time function that jumps back does not make a dwell negative."""
    now = HandClock()
    clock = DwellClock(now)
    clock.start()
    now.on(-50)
    assert clock.elapsed_s == 0


@pytest.mark.parametrize(("number", "words"), [(0, "00:00"), (125.9, "02:05"), (3725, "1:02:05")])
def test_digits(number: float, words: str) -> None:
    """Minutes and seconds; hours only when there are any."""
    assert digits(number) == words


def test_untouched_draft_is_not_dirty() -> None:
    """What the question filled in is nothing to lose; a grade, a text or a dwell is."""
    assert not a_draft().dirty
    assert a_draft(plain={"remarks": "x"}).dirty
    assert a_draft(harm={"bleed": "0"}).dirty
    assert not a_draft(harm={"bleed": ""}).dirty
    draft = a_draft()
    draft.rounds[0].dwell = "3"
    assert draft.dirty


def test_the_dwell_is_the_figure_that_was_read() -> None:
    """The clock stood at 00:03 and the record said 4."""
    draft = a_draft()
    for elapsed_s in (3.6, 59.99, 0.4):
        assert draft.rounds[draft.clock_stopped(elapsed_s)].dwell == str(int(elapsed_s))
        assert digits(elapsed_s) == digits(seconds(draft.rounds[0].dwell) or 0)


@pytest.mark.parametrize(
    ("text", "value"),
    [("45", 45), ("45 s", 45), ("1:30", 90), ("1:02:03", 3723), ("2 min", 120), ("12,5", 12.5), ("", None)],
)
def test_dwell_as_people_write_it(text: str, value: float | None) -> None:
    """Seconds, minutes with a colon or a unit, point or comma."""
    assert seconds(text) == value


@pytest.mark.parametrize("text", ["soon", "-5", "1:75", "1:2:3:4", "1e9", "nan", "inf", "9" * 12, "2:"])
def test_dwell_that_is_none_is_refused_in_words(text: str) -> None:
    """Nothing is guessed, and no endless or negative dwell gets into the book."""
    with pytest.raises(ValueError, match="type seconds such as 30"):
        seconds(text)


def test_control_keeps_no_release(studio: Studio) -> None:
    """A control has harm grades but no release."""
    made = a_draft(control="control", release="3", harm={"bleed": "1"}).test(studio)
    assert (made.control, made.release, made.harm) == (True, None, {"bleed": 1})


def test_other_medium_and_method_are_resolved_from_words(studio: Studio) -> None:
    """Typed names become ids; an emptied medium is not known; one that fits nothing is refused."""
    made = a_draft(medium="iron gall", method="swab").test(studio)
    assert (made.medium, made.method) == ("iron-gall", "swab")
    assert a_draft(medium="").test(studio).medium == ""
    with pytest.raises(DeskError, match="medium"):
        a_draft(medium="qqqq").test(studio)


def test_blend_is_told_from_a_name_with_figures(studio: Studio) -> None:
    """A liquid whose name holds commas and figures is found by name; a blend by its shares."""
    named = a_draft(liquid_text="2,2,4-Trimethylpentane").test(studio)
    assert list(named.parts.values()) == [1.0]
    assert a_draft(liquid_text="acetone 1, ethanol 1").test(studio).parts == {"acetone": 0.5, "ethanol": 0.5}


def test_missing_photograph_is_named(studio: Studio) -> None:
    """A path that cannot be opened is told; nothing is stored with half its photographs."""
    with pytest.raises(DeskError, match="cannot be opened"):
        a_draft(photos="/nowhere/a.jpg; /nowhere/b.jpg").test(studio)
    with pytest.raises(DeskError, match=r"~nobody-here/a\.jpg cannot be opened"):
        a_draft(photos="~nobody-here/a.jpg").test(studio)


def test_what_must_not_meet_is_asked_about_by_form_and_correction(studio: Studio) -> None:
    """The form stored chloroform with acetone without a word; the command said STOP."""
    stop = "STOP, both are in this blend: Chloroform and acetone"
    draft = a_draft(liquid_text="acetone 50, chloroform 50", release="1", harm={"bleed": "0"})
    assert draft.to_ask_about
    assert draft.against(studio)[0].startswith(stop)
    assert not a_draft(liquid_text="acetone", release="1", harm={"bleed": "0"}).to_ask_about
    id = add_test(studio, draft.test(studio)).id
    assert "\n" not in reading_of(studio, draft_of(studio, id), {"release": "2"})
    assert stop in reading_of(studio, draft_of(studio, id), {"liquid": "acetone 40 + chloroform 60"})
