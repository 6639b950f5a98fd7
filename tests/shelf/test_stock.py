"""Papers, tissues and starches beside the bottles: lots, amounts, days; amended and not overwritten."""

from __future__ import annotations

import json
from datetime import date

import pytest

from kb.book.kinds.bottle import Stock
from kb.cli.main import main
from kb.desk.records.record import write
from kb.desk.shelf.shelf import in_stock
from kb.desk.studio import Studio
from kb.model.record import Amend

TODAY = date(2026, 5, 31)


def test_lots_by_sort_and_what_is_past_its_day(studio: Studio) -> None:
    """A month on the label counts to its end; what is used up is not listed."""
    first = write(studio, "stock", Stock(material="rag, 90 g", sort="paper", amount="40 sheets"))
    write(studio, "stock", Stock(material="wheat starch", sort="starch", lot="7", expires="2026-04"))
    write(studio, "stock", Stock(material="gellan", sort="other", expires="2026-05"))
    found = in_stock(studio, TODAY)
    assert [(one.sort, one.past) for one in found] == [("other", False), ("paper", False), ("starch", True)]
    assert "lot 7" in found[2].text
    write(studio, "amend", Amend(of=first.id, set={"finished": "2026-05-30"}, why="used for mends"))
    assert [one.sort for one in in_stock(studio, TODAY)] == ["other", "starch"]
    assert [one.finished for one in in_stock(studio, TODAY, finished=True)] == ["", "2026-05-30", ""]


def test_commands(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Written down by its own word; listed with the bottles."""
    root = ["--studio", str(studio.root)]
    assert main(["stock", "add", *root, "board, 1.5 mm", "--sort", "board", "--amount", "12 sheets"]) == 0
    capsys.readouterr()
    assert main(["shelf", *root]) == 0
    assert "board: board, 1.5 mm, 12 sheets" in capsys.readouterr().out
    assert main(["shelf", *root, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["stock"][0]["sort"] == "board"
