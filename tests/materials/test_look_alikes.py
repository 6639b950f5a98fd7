"""A name one slip away from another is never silently taken, whatever is done with it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator

import pytest

from kb.book.kinds.table import KINDS
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.materials.resolve import resolve
from kb.desk.records.record import add_test, show_test
from kb.desk.records.work_records import views
from kb.desk.studio import Studio
from tests.conftest import spot
from tests.materials.look_alikes import PAIRS, LookAlike


def _writes(one: LookAlike) -> Iterator[list[str]]:
    """Every way a name of this kind is typed on the command line: add, safety, show, recipe, batch, bath."""
    add = ["test", "add", "--dwell", "30s", "--release", "1"]
    if one.kind == "liquid":
        yield [*add, "--liquid", one.typed]
        if "," not in one.typed:
            # A comma parts the liquids of a blend, so such a name cannot stand in one.
            yield [*add, "--blend", f"{one.typed} 50, water 50"]
        yield ["safety", one.typed]
        yield ["shelf", "open", one.typed]
    if one.kind == "medium":
        yield [*add, "--liquid", "water", "--medium", one.typed]
    if one.kind == "paper":
        yield [*add, "--liquid", "water", "--paper", one.typed]
    if one.kind in {"medium", "paper"}:
        bath = ["bath", "--reagent", "calcium-hydroxide", "--volume", "2 L", "--target-ph", "8"]
        yield [*bath, f"--{one.kind}", one.typed]
    if one.kind == "recipe":
        yield ["recipe", one.typed]
        yield ["batch", "add", "--recipe", one.typed, "--make", "100 ml"]
    yield ["show", one.kind, one.typed]


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


def test_the_list_is_long_enough_and_spans_the_kinds() -> None:
    """At least forty, over liquids, recipes, media, tissues and papers."""
    assert len(PAIRS) >= 40
    assert {one.kind for one in PAIRS} == {"liquid", "recipe", "medium", "tissue", "paper"}


@pytest.mark.slow
@pytest.mark.parametrize("one", PAIRS, ids=lambda one: f"{one.kind}-{one.typed}".replace(" ", "_"))
def test_a_look_alike_is_asked_for(
    studio: Studio, capsys: pytest.CaptureFixture[str], one: LookAlike
) -> None:
    """Every verb refuses, names candidates on standard error, and stores and prints nothing."""
    with pytest.raises(Unclear):
        resolve(studio, one.kind, one.typed)
    for words in _writes(one):
        code = main([words[0], "--studio", str(studio.root), *words[1:]])
        out, err = capsys.readouterr()
        assert code in {1, 2}, words
        assert "nothing by that name" in err or "may mean several" in err, words
        assert out == "", words
    assert not list(studio.book_dir.glob("*.jsonl"))


def test_the_form_asks_too(studio: Studio) -> None:
    """What the spot-test form reads as a liquid goes the same way as the command."""
    from kb.tui.screens.records.draft import typed_parts

    for one in PAIRS:
        if one.kind == "liquid":
            with pytest.raises(DeskError):
                typed_parts(studio, one.typed)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["test", "add", "--dwell", "30s", "--release", "1", "--liquid", "benzol"], "[benzene, CAS 71-43-2]"),
        (["safety", "benzol"], "[benzene, CAS 71-43-2]"),
        (["safety", "--blend", "acetone 1, water 3"], "[acetone, CAS 67-64-1]"),
        (["shelf", "open", "Holzgeist"], "[methanol, CAS 67-56-1]"),
        (["batch", "add", "--recipe", "furunori"], "[aged-paste]"),
        (
            ["test", "add", "--dwell", "30s", "--release", "1", "--liquid", "water", "--medium", "sumi"],
            "[carbon-ink]",
        ),
    ],
)
def test_what_was_understood_is_said_back(
    new_studio: Callable[[str], Studio], capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    """With id and CAS number, on every write and every safety note."""
    studio = new_studio("own")
    code = main([words[0], "--studio", str(studio.root), *words[1:]])
    assert (code, said in capsys.readouterr().out.replace("\n", " ").replace("  ", " ")) == (0, True)


@pytest.mark.slow
@pytest.mark.parametrize("one", PAIRS, ids=lambda one: f"{one.kind}-{one.typed}".replace(" ", "_"))
def test_a_look_alike_amends_nothing(
    new_studio: Callable[[str], Studio], capsys: pytest.CaptureFixture[str], one: LookAlike
) -> None:
    """Nor does it get into a mend or a toning: what is no entry's name is kept as typed, and that is said."""
    studio = new_studio("own")
    at = ("--studio", str(studio.root))
    if one.kind in {"liquid", "medium", "paper"}:
        field = "blend" if one.kind == "liquid" else one.kind
        typed = f"{one.typed} 50, water 50" if one.kind == "liquid" else one.typed
        test = add_test(studio, spot())
        code = main(["test", *at, "amend", test.id, "--set", f"{field}={typed}", "--why", "misread"])
        assert code in {1, 2, 3}
        assert show_test(studio, test.id).test == show_test(studio, test.id).first
        return
    field = {"tissue": "--tissue", "recipe": "--adhesive"}[one.kind]
    add_test(studio, spot(sheet="Chart"))
    assert main(["mend", *at, "add", "Chart", "--tear", "plain", field, one.typed, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    (view,) = views(studio, KINDS["mend"])
    assert one.not_it not in {view.record.tissue, view.record.adhesive}
    assert any("is kept as typed" in text for text in said["warnings"]), said
    assert said["understood"] == []


def test_json_says_back_what_was_understood(
    new_studio: Callable[[str], Studio], capsys: pytest.CaptureFixture[str]
) -> None:
    """A program that stores a record learns as much as a person."""
    studio = new_studio("own")
    at = ("--studio", str(studio.root))
    assert main(["test", *at, "add", "--liquid", "benzol", "--release", "1", "--dwell", "30s", "--json"]) == 0
    stored = json.loads(capsys.readouterr().out)
    assert "[benzene, CAS 71-43-2]" in stored["understood"][0]
    change = ["amend", stored["id"], "--set", "medium=sumi", "--why", "misread", "--json"]
    assert main(["test", *at, *change]) == 0
    assert "[carbon-ink]" in json.loads(capsys.readouterr().out)["understood"][0]
    add_test(studio, spot(sheet="Chart"))
    mend = ["add", "Chart", "--tear", "plain", "--adhesive", "wheat-paste-hot-plate", "--json"]
    assert main(["mend", *at, *mend]) == 0
    assert "[wheat-paste-hot-plate]" in json.loads(capsys.readouterr().out)["understood"][0]
