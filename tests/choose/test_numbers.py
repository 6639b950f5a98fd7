"""What is shown and not proposed bears no number among what is proposed."""

from __future__ import annotations

import msgspec
import pytest

from kb.cli.main import main
from kb.desk.choose.choose import choose
from kb.desk.choose.words import before, numbers, series_in_short, warnings
from kb.desk.studio import Studio
from kb.model.question import Answer, Group, Question
from kb.tui.screens.choose.ranking import NOT_PROPOSED, left_out, rank, why

HELD = Question(adhesive="acrylic", stage="aged", medium="ballpoint", paper="paper-woodpulp")
"""Most lines are held back here."""
IN_SERIES = Question(
    adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil", paper="paper-woodpulp"
)


def not_proposed(answer: Answer) -> list[Group]:
    """Lines that neither a spot, nor looks, nor the series speaks for."""
    planned = {step.liquid for step in answer.series}
    return [line for line in answer.groups if line.held and not line.looks and line.liquid not in planned]


@pytest.mark.parametrize("asked", [HELD, IN_SERIES])
def test_only_what_is_proposed_is_numbered(asked: Question, studio: Studio) -> None:
    """From 1 without a gap; the others say that they are not proposed, and why."""
    answer = choose(studio, asked)
    found = dict(zip((line.liquid for line in answer.groups), numbers(answer), strict=True))
    refused = not_proposed(answer)
    assert [n for n in found.values() if n] == list(range(1, len(found) - len(refused) + 1))
    assert {liquid for liquid, n in found.items() if not n} == {line.liquid for line in refused}
    assert all(before(answer, line).startswith("; not proposed: ") for line in refused)
    assert all(not before(answer, line).startswith("; not") for line in answer.groups if found[line.liquid])


def test_a_later_spot_of_the_series_is_proposed_though_held_back_now(studio: Studio) -> None:
    """It keeps its number and says that it waits for its place."""
    answer = choose(studio, IN_SERIES)
    later = {step.liquid for step in answer.series[1:]}
    waiting = [line for line in answer.groups if line.held and not line.looks and line.liquid in later]
    assert waiting
    for line in waiting:
        assert before(answer, line).startswith("; only in its place in the series")


def test_warnings_call_a_line_by_its_number_or_its_name(studio: Studio) -> None:
    """No number is said that no line bears; what holds whatever the liquid says so and bears none."""
    answer = choose(studio, HELD)
    assert answer.cautions
    borne = {str(n) for n in numbers(answer) if n} | {line.name for line in not_proposed(answer)}
    said = warnings(answer)
    about_sheet = [text for text in said if text.startswith("This sheet: ")]
    assert len(about_sheet) == len(answer.cautions) < len(said)
    for text in said[len(about_sheet) :]:
        called = text.partition(": ")[0]
        assert any(called == one or called.startswith(f"{one}, ") for one in borne), text


def test_command_and_screen_give_no_number(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """A dash on both, and the word beside it; under V it stands by itself."""
    refused = not_proposed(choose(studio, HELD))
    assert refused
    words = ["--adhesive", "acrylic", "--stage", "aged", "--medium", "ballpoint", "--paper", "wood-pulp"]
    assert main(["choose", *words, "--studio", str(studio.root)]) == 0
    printed = capsys.readouterr().out
    ranked = rank(studio, HELD, None)
    for line in refused:
        assert f"  - {line.name}" in printed
        assert ranked.places[[one.liquid for one in ranked.rows].index(line.liquid)] == NOT_PROPOSED
        assert ranked.place_of(line.liquid).startswith("not proposed (")
    assert "not proposed:" in printed
    behind = left_out(ranked.answer).partition("Shown, but not proposed")[2]
    assert all(f"- {line.name}: {line.held}" in behind for line in refused)


def test_the_head_says_that_its_chance_is_of_the_whole_series(studio: Studio) -> None:
    """Beside the chance of the first row a bare "safe release" was read as another figure for it."""
    answer = choose(studio, IN_SERIES)
    assert answer.expected_spots is not None
    said = series_in_short(answer)
    assert f"released without harm in the end {100 * answer.expected_spots.release:.0f} %" in said
    assert ".0 spot" not in said


def test_a_row_with_a_number_never_says_that_it_is_not_proposed(studio: Studio) -> None:
    """Why and the move after a test say what it waits for, as the list and the command do."""
    ranked = rank(studio, IN_SERIES, None)
    later = {step.liquid for step in ranked.answer.series[1:]}
    waiting = [one for one in ranked.rows if one.refused and not one.looks and one.liquid in later]
    assert waiting
    for one in waiting:
        said = why(ranked, one)
        assert "Not proposed" not in said
        assert f"Only in its place in the series, now held back: {one.refused}." in said
        assert ranked.place_of(one.liquid).endswith(", held back until its place comes")
    # The same row, were it free after looks.
    row = msgspec.structs.replace(waiting[0], looks=2)
    groups = (
        msgspec.structs.replace(line, looks=2) if line.liquid == row.liquid else line
        for line in ranked.answer.groups
    )
    looked = ranked._replace(
        answer=msgspec.structs.replace(ranked.answer, groups=tuple(groups)),
        rows=tuple(row if one.liquid == row.liquid else one for one in ranked.rows),
    )
    said = why(looked, row)
    assert "Not proposed" not in said
    assert "First 2 clean looks at a margin, then the spot" in said
    assert f"Without looks held back: {row.refused}." in said
    assert looked.place_of(row.liquid).endswith(", after 2 clean looks at a margin")


def test_a_liquid_above_the_ceiling_says_why_it_is_free(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """It stood there like any other, while a milder one was held back by the ceiling."""
    asked = Question(adhesive="natural-rubber-resin", stage="fresh", medium="toner", paper="paper-rag")
    answer = choose(studio, asked)
    first = answer.groups[0]
    assert first.lead is not None
    assert (first.held, first.lead.harm.high > 0.6) == ("", True)
    said = "; harm up to 64.2 % is above your ceiling, but it rather releases without harm than not"
    assert before(answer, first, 0.6) == said
    # Where the ceiling is higher, or is not said, there is nothing to explain.
    assert before(answer, first, 0.8) == before(answer, first) == ""
    assert all("ceiling, but" not in before(answer, line, 0.6) for line in answer.groups if line.held)
    words = ["--adhesive", "natural-rubber", "--stage", "fresh", "--medium", "toner", "--paper", "rag paper"]
    assert main(["choose", "--studio", str(studio.root), *words]) == 0
    assert "above your ceiling, but" in " ".join(capsys.readouterr().out.split())
    assert main(["choose", "--studio", str(studio.root), *words, "--ceiling", "0.8"]) == 0
    assert "above your ceiling, but" not in " ".join(capsys.readouterr().out.split())
