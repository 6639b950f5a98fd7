"""A kind that is declared here, and a field added to a declaration, go everywhere by themselves."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Annotated, Any

import msgspec
import pytest

from kb.book.kinds.field import ENDINGS, QUANTITIES, Says, asked, fields, leaves
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import BatchId, NeededSheet, Remarks
from kb.book.kinds.table import KINDS
from kb.cli.main import NOUNS, main
from kb.desk.package.write import export
from kb.desk.records.book_list import amend_record, changes_from_words, list_records, show_record
from kb.desk.records.fill import understood
from kb.desk.records.record_text import record_text
from kb.desk.studio import Studio
from kb.model.record import BookStruct
from kb.tui.form import FormScreen
from kb.tui.screens.records.amend import draft_of
from kb.tui.screens.records.record_words import described


class Humidified(BookStruct, frozen=True, kw_only=True):
    """A sheet that was humidified."""

    sheet: NeededSheet
    minutes: Annotated[
        float | None, Says("time", "Time in the chamber.", "such as 20 min", unit="min", low=0, high=1_000)
    ] = None
    chamber: Annotated[str, Says("chamber", "Which chamber.")] = ""
    batch: BatchId = ""
    remarks: Remarks = ""


HUMIDIFIED = Kind("humidified", "humidification", "humidifications", Humidified, {"sheet": "-"})


@pytest.fixture
def declared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(KINDS, "humidified", HUMIDIFIED)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda one: one.key)
def test_a_kind_names_what_is_there(kind: Kind) -> None:
    """Rows of the form, day, subject, tables and what is apart are fields; its command is its own."""
    words, names = asked(kind.type), {field.name for field in fields(kind.type)}
    assert [word for row in kind.rows for word in row if word not in words] == [], f"rows: one of {[*words]}"
    assert {kind.when or kind.subject, kind.subject, *kind.apart, *kind.tables} <= names
    assert kind.verb not in NOUNS, "another command has this name: give it one by `command`"
    assert [one.key for one in KINDS.values() if one.verb == kind.verb != ""] in ([], [kind.key])


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda one: one.key)
def test_a_field_that_is_new_has_a_usual_value(kind: Kind) -> None:
    """Else no record can be read that was written before it."""
    needed = {one.name for one in msgspec.structs.fields(kind.type) if one.required}
    assert needed <= set(kind.least), "give the field a usual value, such as None: older records have none"


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda one: one.key)
def test_a_name_says_in_which_unit_it_is_kept(kind: Kind) -> None:
    """As the column of a package it stands without its declaration."""
    bare = [
        f"{field.name} ({field.says.unit})"
        for field in leaves(kind.type)
        if field.says.unit in QUANTITIES and field.says.unit != "% RH" and not field.name.endswith(ENDINGS)
    ]
    assert bare in ([], ["minutes (min)"]), f"one of {', '.join(ENDINGS)} ends the name"


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
    read = dict(dict(described(studio, listed.id).sections)["What it says"])
    assert (read["time (min)"], read["chamber"]) == ("2.5", "dome")
    correcting = {field.label: field for field in draft_of(studio, listed.id).fields}
    assert correcting["chamber"].read(studio, "tent") == {"chamber": "tent"}
    assert correcting["time (min)"].how == "Such as 20 min; nothing takes it out"
    export(studio, tmp_path / "out")
    table = (tmp_path / "out" / "tables" / "humidifications.csv").read_text("utf-8")
    assert '"minutes","chamber"' in table.splitlines()[0]
    assert "2.5" in table
    paper = record_text(studio, listed.id)
    assert "HUMIDIFICATION" in paper
    assert "2.5 min" in paper


@pytest.mark.slow
def test_a_field_added_to_the_spot_test_goes_everywhere(studio: Studio, tmp_path: Path) -> None:
    """Its file alone is changed, in a fresh interpreter: command, form, list, book, amend, package, paper."""
    ran = subprocess.run(
        [sys.executable, "-c", WITH_ONE_MORE_FIELD, str(studio.root), str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert ran.returncode == 0, ran.stderr
    said: dict[str, Any] = json.loads(ran.stdout.splitlines()[-1])
    assert said["refused"] == "Nothing was recorded"
    for place in ("command", "list", "everything"):
        assert ", pressed with 2 kPa" in said[place], place
    assert said["form line"] == ["Pressure", "such as 2 kPa"]
    # Typed on the form, stored by it, and corrected afterwards by the app's own list of fields.
    assert said["from the form"] == 3.0
    assert said["read"] == {"heading": "What was done", "pressure (kPa)": "2"}
    assert said["amended"] == {"reading": "pressure (kPa): 2 -> 4.5", "book": 4.5}
    assert tuple(said["column"]) == ("pressure_kpa", "kPa", "Pressure on the swab.")
    assert "4.5" in said["table"]
    assert "pressure 4.5 kPa" in " ".join(said["paper"].split())


WITH_ONE_MORE_FIELD = """
import asyncio, contextlib, importlib.util, io, json, sys
from pathlib import Path

name = "kb.book.kinds.spot_test"
spec = importlib.util.find_spec(name)
text = Path(spec.origin).read_text("utf-8")
before = '    remarks: Remarks = ""\\n'
assert text.count(before) == 1
says = "Says('pressure', 'Pressure on the swab.', 'such as 2 kPa', unit='kPa', low=0, high=100"
says += ", line='pressed with {:g} kPa')"
text = text.replace(before, f"    pressure_kpa: Annotated[float | None, {says}] = None\\n" + before)
module = importlib.util.module_from_spec(spec)
sys.modules[name] = module
exec(compile(text, spec.origin, "exec"), module.__dict__)

from kb.cli.main import main
from kb.desk.materials.names import Names
from kb.desk.package.tables import shapes
from kb.desk.package.write import export
from kb.desk.records.book_list import list_records
from kb.desk.records.record import list_tests, show_test
from kb.desk.records.record_text import record_text
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.tui.app import BenchleafApp
from kb.tui.screens.records import amend
from kb.tui.screens.records.draft import Chosen, Draft
from kb.tui.screens.records.record_words import described, row_words
from kb.tui.screens.records.spot_test import SpotTestScreen, store
from kb.tui.widgets.field import Field, FormInput

root, out = sys.argv[1:]
said = {}


def run(*words):
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        code = main([*words, "--studio", root])
    return code, printed.getvalue()


add = ("test", "add", "--liquid", "n-heptane", "--release", "2", "--adhesive", "natural-rubber")
code, refused = run(*add, "--pressure-kpa", "hard")
assert code
said["refused"] = "Nothing was recorded" if "Nothing was recorded" in refused else refused
assert run(*add, "--pressure-kpa", "2")[0] == 0
said["command"] = run("test", "list")[1].replace("  pressed", ", pressed")
studio = Studio(Path(root))
studio.refresh()
(test,) = list_tests(studio)
said["list"] = row_words(Names(studio), test).said.replace("; pressed", ", pressed")
said["everything"] = list_records(studio)[0].what
sections = dict(described(studio, test.id).sections)
said["read"] = next(
    {"heading": heading, **{label: words for label, words in lines if label.startswith("pressure")}}
    for heading, lines in sections.items()
    if any(label.startswith("pressure") for label, _ in lines)
)


async def form():
    draft = Draft.begin(Question(adhesive="natural-rubber-resin"), Chosen("Acetone", {"acetone": 1.0}), "")
    async with BenchleafApp(studio).run_test(size=(120, 40)) as pilot:
        screen = SpotTestScreen(draft)
        await pilot.app.push_screen(screen)
        line = screen.query_one("#field-pressure_kpa", FormInput)
        said["form line"] = [line.parent.label, line.placeholder]
        line.value = "3"
        await pilot.pause()
        return draft


stored = store(studio, asyncio.run(form()))
said["from the form"] = show_test(studio, stored.id).test.pressure_kpa
draft = amend.draft_of(studio, test.id)
field = next(field for field in draft.fields if field.label == "pressure (kPa)")
reading = amend.reading_of(studio, draft, {field.label: "4.5"})
amend.store(studio, draft, {field.label: "4.5"}, "read again")
studio.refresh()
said["amended"] = {"reading": reading, "book": show_test(studio, test.id).test.pressure_kpa}
column = next(one for one in shapes()["test"].columns if one.name == "pressure_kpa")
said["column"] = [column.name, column.unit, column.about]
export(studio, Path(out))
said["table"] = (Path(out) / "tables" / "spot_tests.csv").read_text("utf-8")
said["paper"] = record_text(studio, test.id)
print(json.dumps(said))
"""
