"""Shared lists of a studio: what two people changed, what does not go together, how it is settled."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.catalogue.paths import shipped_data
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.sharing import check as share_check
from kb.desk.sharing.share import join, settle, share, state
from kb.desk.studio import Studio
from tests.share_help import SOURCE, Bench, bench, catalogue_file, hub, ids, in_dispute, paper, record

__all__ = ["bench", "hub"]


def test_a_catalogue_conflict_is_told_in_words_and_the_books_are_shared(bench: Bench, hub: Path) -> None:
    """Entry, field and both values are named; both versions stay; neither is forced on anyone."""
    first, second, done = in_dispute(bench, hub)
    assert done.to_settle == ("catalogue/papers.yaml",)
    assert [one.text for one in done.differences] == [
        'catalogue/papers.yaml: papers/blotter-x, name: "Blotter of the south" here, '
        '"Blotter of the north" there'
    ]
    assert (done.sent, done.received) == (1, 1)
    assert "south" in (second.catalogue_dir / "papers.yaml").read_text()
    assert "north" in (second.root / "to-settle/catalogue/papers.yaml").read_text()
    again = share(second)
    assert (again.to_settle, again.differences) == (done.to_settle, done.differences)
    assert share(first).to_settle == ()
    assert "north" in (first.catalogue_dir / "papers.yaml").read_text()
    assert state(second).to_settle == done.to_settle
    assert len(ids(first)) == len(ids(second)) == 2
    # Others go on changing it: the version beside is brought up to date, the one here stays.
    path = first.catalogue_dir / "papers.yaml"
    path.write_text(path.read_text().replace("Blotter of the north", "Blotter of the far north"))
    share(first)
    assert "far north" in share(second).differences[0].there


@pytest.mark.parametrize("theirs", [True, False])
def test_a_conflict_is_settled_by_a_word(bench: Bench, hub: Path, theirs: bool) -> None:
    """What was said to be right is what everybody has after the next share."""
    first, second, _ = in_dispute(bench, hub)
    settle(second, "catalogue/papers.yaml", keep_theirs=theirs)
    done = share(second)
    assert (done.to_settle, done.told) == ((), ())
    share(first)
    texts = [(studio.catalogue_dir / "papers.yaml").read_text() for studio in (first, second)]
    assert texts[0] == texts[1]
    assert ("Blotter of the north" if theirs else "Blotter of the south") in texts[0]
    with pytest.raises(DeskError, match="not in dispute"):
        settle(second, "catalogue/papers.yaml", keep_theirs=theirs)


def test_two_people_add_to_one_list_without_a_conflict(
    bench: Bench, hub: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both added an entry at the end of a file, and both a liquid to the shelf: all of it stays."""
    monkeypatch.setattr(share_check, "shipped", shipped_data)
    first, second = bench("north"), bench("south")
    catalogue_file(first, "papers.yaml", SOURCE + "papers:\n" + paper("blotter-x", "Blotter X"))
    first.shelf_file.write_text("# What is in the cupboard\nholds:\n- water\n")
    join(first, str(hub))
    join(second, str(hub))
    for studio, id, liquid in ((first, "blotter-n", "ethanol"), (second, "blotter-s", "acetone")):
        path = studio.catalogue_dir / "papers.yaml"
        path.write_text(path.read_text() + paper(id, id.title()))
        studio.shelf_file.write_text(studio.shelf_file.read_text() + f"- {liquid}\n")
    share(first)
    done = share(second)
    assert (done.to_settle, done.told) == ((), ())
    share(first)
    text = (first.catalogue_dir / "papers.yaml").read_text()
    assert text == (second.catalogue_dir / "papers.yaml").read_text()
    assert all(id in text for id in ("blotter-x", "blotter-n", "blotter-s"))
    shelf = first.shelf_file.read_text()
    assert shelf == second.shelf_file.read_text()
    assert all(word in shelf for word in ("# What", "- water", "- ethanol", "- acetone"))


def test_weights_and_the_id_of_the_pool_go_together(bench: Bench, hub: Path) -> None:
    """Two benches weigh two other studios; of two ids made apart the shared one stays, and that is told."""
    first, second = bench("north"), bench("south")
    for studio, id in ((first, "a" * 32), (second, "b" * 32)):
        (studio.root / "pool").mkdir()
        (studio.root / "pool" / "weights.yaml").write_text(f"# Weights\n{id}: 0.5\n")
        (studio.root / "pool" / "this-studio.json").write_text(f'{{"studio":"{id}"}}\n')
    join(first, str(hub))
    done = join(second, str(hub))
    assert done.to_settle == ()
    assert "under two ids" in " ".join(done.told)
    share(first)
    for studio in (first, second):
        assert "a" * 32 in (studio.root / "pool" / "this-studio.json").read_text()
        text = (studio.root / "pool" / "weights.yaml").read_text()
        assert text.count("0.5") == 2
        assert text.count("#") == 1


def test_a_catalogue_with_a_fault_is_kept_back_and_the_books_are_not(bench: Bench, hub: Path) -> None:
    """A slip here is not handed on; once mended it goes. Changes by others are taken in meanwhile."""
    first, second = bench("north"), bench("south")
    catalogue_file(first, "papers.yaml", SOURCE + "papers:\n" + paper("blotter-x", "Blotter X"))
    join(first, str(hub))
    join(second, str(hub))
    path = second.catalogue_dir / "papers.yaml"
    path.write_text(path.read_text() + paper("blotter-y", "Blotter Y").replace("also", "allso"))
    record(second)
    done = share(second)
    assert done.sent == 1
    assert "catalogue is not shared until this is mended" in done.told[0]
    assert "catalogue/papers.yaml:" in done.told[0]
    theirs = first.catalogue_dir / "papers.yaml"
    theirs.write_text("# Changed above\n" + theirs.read_text())
    share(first)
    share(second)
    assert path.read_text().startswith("# Changed above")
    assert "allso" in path.read_text()
    path.write_text(path.read_text().replace("allso", "also"))
    assert share(second).told == ()
    share(first)
    assert "blotter-y" in theirs.read_text()


def test_entries_that_do_not_go_together_are_not_sent(bench: Bench, hub: Path) -> None:
    """One id in two files, each sound by itself: told, and what others have is left as it is."""
    first, second = bench("north"), bench("south")
    join(first, str(hub))
    join(second, str(hub))
    catalogue_file(first, "a.yaml", SOURCE + "papers:\n" + paper("blotter-x", "Blotter of a"))
    catalogue_file(
        second,
        "b.yaml",
        "papers:\n"
        + paper("blotter-x", "Blotter of b").replace("studio-", "own-")
        + SOURCE.replace("studio-", "own-"),
    )
    share(first)
    done = share(second)
    assert any("do not go together" in text and "blotter-x" in text for text in done.told)
    share(first)
    assert not (first.catalogue_dir / "b.yaml").exists()
    assert (second.catalogue_dir / "b.yaml").exists()
    assert (second.catalogue_dir / "a.yaml").exists()
    (second.catalogue_dir / "b.yaml").write_text(
        (second.catalogue_dir / "b.yaml").read_text().replace("blotter-x", "blotter-z")
    )
    assert share(second).told == ()
    share(first)
    assert (first.catalogue_dir / "b.yaml").exists()


def test_the_command(bench: Bench, hub: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON for every verb; exit 1 where a person has to look; 3 where it could not be done."""
    first, second, _ = in_dispute(bench, hub)

    def command(studio: Studio, *words: str) -> tuple[int, str]:
        code = main(["share", "--studio", str(studio.root), *words])
        return code, capsys.readouterr().out

    code, out = command(first, "--json")
    assert (code, json.loads(out)["to_settle"]) == (0, [])
    code, out = command(second, "now")
    assert code == 1
    assert "Blotter of the north" in out
    code, out = command(second, "state", "--json")
    found = json.loads(out)
    assert code == 1
    assert found["remote"] == str(hub)
    assert {one["bench"]: one["here"] for one in found["benches"]} == {"north": False, "south": True}
    assert [one["who"] for one in found["benches"]] == ["P. of north", "P. of south"]
    assert command(second, "settle", "catalogue/papers.yaml", "--theirs")[0] == 0
    assert command(second, "now", "--json")[0] == 0
    code, out = command(second, "state")
    assert code == 0
    assert "not yet shared 0 records" in out
    assert command(bench("west"), "state")[0] == 3
    assert command(bench("east"), "join", str(hub), "--json")[0] == 0
    assert command(first, "join", "ext::x")[0] == 3
