"""What one place takes - 1:30, 1.5 min, 0.18 mS, 66 F, 35 x 22 mm - every field of every kind takes."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator

import pytest

from kb.book.kinds.field import Field, asked, leaves
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import Site
from kb.book.kinds.table import KINDS
from kb.cli.main import Parser, _command, main, nouns
from kb.desk.air.inputs import Room, room_of
from kb.desk.air.inputs import number as per_hour
from kb.desk.amounts import number, portion, strength_mol_l
from kb.desk.errors import DeskError
from kb.desk.making.dilute import strength
from kb.desk.records.book_list import amend_record, changes_from_words
from kb.desk.records.record import list_tests, show_test
from kb.desk.records.typed_fields import TOGETHER, value
from kb.desk.studio import Studio
from kb.science.liquids.blends import parse_blend
from kb.tui.screens.records.amend import draft_of, store
from tests.screens.drafts import a_draft

SAME = {
    "s": (90.0, "90", "90 s", "1:30", "1 min 30 s", "1.5 min", "1,5 min", "0.025 h"),
    "min": (90.0, "90", "90 min", "1.5 h", "1:30:00", "1 h 30 min", "5400 s"),
    "mm": (35.0, "35", "35 mm", "3.5 cm", "3,5 cm", "0.035 m"),
    "mm²": (120.0, "120", "120 mm2", "120 mm²", "1.2 cm2"),
    "ml": (2.0, "2", "2 ml", "0.2 cl", "2000 µl"),
    "g": (25.0, "25", "25 g", "25000 mg", "0.025 kg"),
    "g/m²": (100.0, "100", "100 g/m2", "100 g/m²", "100 gsm"),
    "lux": (50.0, "50", "50 lux", "50 lx"),
    "µS/cm": (180.0, "180", "180 uS", "180 µS/cm", "0.18 mS", "0,18 mS/cm"),
    "°C": (18.9, "18.9", "18,9 C", "66 F", "66 °F"),
    "%": (45.0, "45", "45 %", "45,0 per cent"),
    "pH": (7.2, "7.2", "7,2"),
    "px/mm": (12.5, "12.5", "12,5"),
    "% RH": (45.0, "45", "45 %", "45 % RH"),
}
"""Of each unit in which fields are kept: a figure, and ways to type it."""
TOGETHER_SAME = {
    "size": ((35.0, 22.0), "35 x 22 mm", "35x22", "3.5 x 2.2 cm", "35 mm x 2.2 cm", "35 × 22"),
    "both": ((35.0, 22.0), "35 x 22 mm", "3.5 x 2.2 cm"),
    "range": ((45.0, 55.0), "45-55 %", "45 to 55 % RH", "45-55"),
}
UNTYPED = {"grade 0-4", "0 to 4", "CIELAB L*", "CIELAB a*", "CIELAB b*"}
"""Units of what is no amount: read as grades and as one colour."""
PLAIN_NUMBERS = {
    *("limit", "at_least", "weight", "px_per_mm", "days", "port", "tick", "untick", "within"),
    *("harm_aversion", "ceiling", "worth", "good_from", "width", "max_hazard", "of", "wait", "keep"),
}
"""Options that count something or have no unit; seconds to wait are for another program."""


def measured() -> Iterator[tuple[Kind, Field]]:
    """Every field with a unit, parts of fields too."""
    for kind in KINDS.values():
        for field in leaves(kind.type):
            if field.is_figure and field.says.unit:
                yield kind, field


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "field"), measured(), ids=lambda one: one.name)
def test_every_field_takes_every_way(studio: Studio, kind: Kind, field: Field) -> None:
    """The form, the command and the correction read one figure, however it is typed."""
    if field.says.unit in UNTYPED:
        return
    told = f"{field.says.unit!r}: read by BY_UNIT of kb/desk/amounts.py; ways to type it stand in SAME"
    assert field.says.unit in SAME, told
    figure, *ways = SAME[field.says.unit]
    for typed in ways:
        assert value(studio, field, typed) == pytest.approx(figure, rel=1e-12), typed
        if kind.key != "test" or "." in ".".join(field.path):
            changed = changes_from_words(studio, kind.key, [f"{'.'.join(field.path)}={typed}"])
            assert list(changed.values()) == [pytest.approx(figure, rel=1e-12)], typed
    for typed in ("nan", "inf", "1_000", *(("0,4",) if field.says.unit == "% RH" else ())):
        with pytest.raises(DeskError):
            value(studio, field, typed)


@pytest.mark.parametrize(
    ("kind", "key"),
    [(kind, key) for kind in KINDS.values() for key, group in asked(kind.type).items() if len(group) > 1],
)
def test_what_is_typed_together(kind: Kind, key: str) -> None:
    """Width x height, from and to."""
    reads = asked(kind.type)[key][0].says.reads
    figures, *ways = TOGETHER_SAME[reads]
    for typed in ways:
        assert TOGETHER[reads](typed) == pytest.approx(figures), typed


NINE = {"1,5": 1.5, "1.5": 1.5, " 2 ": 2.0, "1 000": 1000.0, "1e3": 1000.0}
NEVER = ("1,000", "1.000", "2.500", "nan", "inf", "-1", "1_000")
READERS: dict[str, Callable[[str], float | None]] = {
    "times per hour": lambda typed: per_hour(typed, "the number of times per hour"),
    "mixing factor": lambda typed: _room(typed).mixing.low,
    "mixing factor, up to": lambda typed: _room(f"1 to {typed}").mixing.high,
    "air changes": lambda typed: _room("1 to 3", typed).air_changes_per_h.high,
    "acid": lambda typed: number(typed, "an amount of acid"),
    "strength of a bath": lambda typed: 1000.0 * strength_mol_l("calcium-hydroxide", f"{typed} mmol/l"),
    "strength": lambda typed: strength(f"{typed} g/l").value,
    "weighed": lambda typed: portion(f"wheat starch: {typed} g").amount,
    "weighed, no colon": lambda typed: portion(f"wheat starch {typed} g").amount,
    "part of a blend": lambda typed: _ratio(f"acetone {typed}, water 1"),
    "part of a blend, first": lambda typed: _ratio(f"{typed} acetone + 1 water"),
}
NOT_TAKEN = {"weighed": {"1e3"}} | {
    name: {"1 000", "1e3"} for name in READERS if "blend" in name or "mixing" in name or "colon" in name
}
"""What is refused although another place takes it: a name beside it may end in a figure; no room mixes so."""


def _room(mixing: str, air_changes: str = "2") -> Room:
    return room_of(room="60 m3", air_changes=air_changes, mixing=mixing)


def _ratio(blend: str) -> float:
    shares = parse_blend(blend)
    return shares["acetone"] / shares["water"]


@pytest.mark.parametrize("place", READERS)
def test_a_bare_number_is_read_alike_everywhere(place: str) -> None:
    """Or refused: a wrong figure of air or of a blend can hurt someone."""
    for typed, figure in NINE.items():
        if typed not in NOT_TAKEN.get(place, ()):
            assert READERS[place](typed) == pytest.approx(figure, rel=1e-9), typed
    for typed in (*NEVER, *NOT_TAKEN.get(place, ())):
        if (place, typed) != ("acid", "-1"):  # what is below zero is refused by the bath
            with pytest.raises((DeskError, ValueError)):
                READERS[place](typed)


def test_a_place_is_read_alike_by_command_form_and_correction(studio: Studio) -> None:
    """Of a spot test, which asks for it in ways of its own."""
    given = (
        "--liquid",
        "acetone",
        "--release",
        "1",
        "--sheet",
        "S1",
        "--new-sheet",
        "--x",
        "3.5 cm",
        "--y",
        "12,5",
    )
    assert main(["test", "add", *given, "--studio", str(studio.root)]) == 0
    studio.refresh()
    (listed,) = list_tests(studio)
    site = show_test(studio, listed.id).test.site
    assert (site.x_mm, site.y_mm) == (35.0, 12.5)
    draft = a_draft(x_mm="3.5 cm", y_mm="12,5")
    assert draft.test(studio).site == Site(x_mm=35.0, y_mm=12.5)
    begun = draft_of(studio, listed.id)
    field = next(field for field in begun.fields if field.label == "from top edge")
    assert field.read(studio, "3 cm") == {"site": {"x_mm": 35.0, "y_mm": 30.0}}
    # The form keeps the rules that the command keeps, and what was corrected while it stood open.
    with pytest.raises(DeskError, match="Release is not graded on a control"):
        store(studio, begun, {"control": "yes"}, "slip")
    amend_record(studio, listed.id, {"site": {"x_mm": 70.0, "y_mm": 12.5}}, "measured again")
    store(studio, begun, {"from top edge": "3 cm"}, "measured again")
    site = show_test(studio, listed.id).test.site
    assert (site.x_mm, site.y_mm) == (70.0, 30.0)


def options(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """All of a command and of its verbs."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for below in action.choices.values():
                yield from options(below)
        else:
            yield action


@pytest.mark.parametrize("noun", nouns())
def test_no_option_reads_an_amount_by_itself(noun: str) -> None:
    """An amount goes to the one reader as it was typed; only counts and bare numbers are read by argparse."""
    parser = Parser(prog=noun)
    _command(noun).options(parser)
    read = {one.dest for one in options(parser) if one.type in {int, float}}
    told = "take an amount as text, for kb/desk/amounts.py; what only counts stands in PLAIN_NUMBERS"
    assert read <= PLAIN_NUMBERS, f"{sorted(read - PLAIN_NUMBERS)}: {told}"
