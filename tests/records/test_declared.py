"""A kind that is declared here, and a field added to a declaration, go everywhere by themselves."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Annotated, Any

import msgspec
import pytest

from kb.book.kinds.field import Says, asked, fields
from kb.book.kinds.kind import Kind, rows_of
from kb.book.kinds.parts import BatchId, NeededSheet, Remarks
from kb.book.kinds.spot_test import APART, TEST, SpotTest
from kb.book.kinds.table import KINDS
from kb.cli.main import main
from kb.cli.test import options
from kb.desk.errors import DeskError
from kb.desk.package.fields import label_of, shapes
from kb.desk.package.write import export
from kb.desk.records import typed as spot_tests
from kb.desk.records.book_list import amend_record, changes_from_words, list_records, show_record
from kb.desk.records.fill import understood
from kb.desk.records.record_text import record_text
from kb.desk.records.typed_fields import plain_from_words
from kb.desk.studio import Studio
from kb.model.record import BookStruct
from kb.tui.form import FormScreen


class Humidified(BookStruct, frozen=True, kw_only=True):
    """A sheet that was humidified."""

    sheet: NeededSheet
    minutes: Annotated[
        float | None, Says("time", "min", "Time in the chamber.", "such as 20 min", low=0, high=1_000)
    ] = None
    chamber: Annotated[str, Says("chamber", meaning="Which chamber.")] = ""
    batch: BatchId = ""
    remarks: Remarks = ""


HUMIDIFIED = Kind("humidified", "humidification", "humidifications", Humidified, {"sheet": "-"})


@pytest.fixture
def declared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(KINDS, "humidified", HUMIDIFIED)


@pytest.mark.usefixtures("declared")
def test_a_kind_goes_everywhere(studio: Studio, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Form, command, book, list, amend, package and paper, from the one declaration."""
    screen = FormScreen("humidified", "S1")
    assert [group[0].key for row in screen.rows for group in row] == [
        "sheet",
        "minutes",
        "chamber",
        "batch",
        "remarks",
    ]
    typed = {"sheet": "S1", "minutes": "1.5 h", "chamber": "dome"}
    assert understood(studio, kind="humidified", values=typed).words == (
        "It will say: time (min) 90, chamber dome",
    )
    root = str(studio.root)
    given = ("--new-sheet", "--minutes", "1.5 h", "--chamber", "dome")
    assert main(["humidified", "add", "S1", *given, "--studio", root]) == 0
    assert "Stored and on disk: humidification" in capsys.readouterr().out
    studio.refresh()
    (listed,) = list_records(studio, kinds=("humidified",))
    assert listed.what == "Humidification: time (min) 90, chamber dome"
    assert main(["humidified", "add", "S1", "--minutes", "-1 min", "--studio", root]) != 0
    changes = changes_from_words(studio, "humidified", ["minutes=2 min 30 s"])
    amend_record(studio, listed.id, changes, "read again")
    assert dict(show_record(studio, listed.id).fields)["time (min)"] == "2.5"
    export(studio, tmp_path / "out")
    table = (tmp_path / "out" / "tables" / "humidifications.csv").read_text("utf-8")
    assert '"minutes","chamber"' in table.splitlines()[0]
    assert "2.5" in table
    paper = record_text(studio, listed.id)
    assert "HUMIDIFICATION" in paper
    assert "2.5 min" in paper


def test_a_field_added_to_the_spot_test_goes_into_command_table_and_paper(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One more declared field: its option, its row, its column with meaning and unit, its label."""
    says = Says("pressure", "kPa", "Pressure on the swab.", "such as 2 kPa", low=0, high=100)
    more: Any = msgspec.defstruct(
        "SpotTest",
        [("pressure_kpa", Annotated[float | None, says], None)],
        bases=(SpotTest,),
        frozen=True,
        kw_only=True,
    )
    assert "pressure_kpa" in {field.name for field in fields(more)}
    kind = TEST._replace(type=more)
    monkeypatch.setitem(KINDS, "test", kind)
    assert "pressure_kpa" in asked(more)
    assert "pressure_kpa" in {group[0].key for row in rows_of(kind) for group in row}
    column = next(one for one in shapes()["test"].columns if one.name == "pressure_kpa")
    assert (column.unit, column.about, label_of(column)) == ("kPa", "Pressure on the swab.", "pressure")
    parser = argparse.ArgumentParser()
    options(parser)
    words = vars(
        parser.parse_args(["add", "--liquid", "n-heptane", "--pressure-kpa", "2", "--light", "raking"])
    )
    made: Any = spot_tests.test_from_words(studio, words, plain_from_words(studio, kind, words, APART))
    assert (made.pressure_kpa, made.light, made.remarks) == (2.0, "raking", "")
    with pytest.raises(DeskError, match="pressure"):
        plain_from_words(studio, kind, {"pressure_kpa": "hard"}, APART)
