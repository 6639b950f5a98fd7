"""Read what a studio says of itself, studio.yaml and shelf.yaml: what is wrong is told with file and line."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

import msgspec

from kb.catalogue.form import convert
from kb.catalogue.form import faults as faults_of_form
from kb.catalogue.problems import Fault, NodePath, printable
from kb.catalogue.references import Reference, dangling
from kb.catalogue.yaml_reader import Document, parse, read
from kb.model.studio import Forbidden, Settings, Shelf

NAMES = ("liquids", "families", "hazards")
"""The keys of a prohibition that say what it is about."""
Known = Mapping[str, Collection[str]]
"""Ids of the catalogue by kind key; those of NAMES are needed."""
MOST_MONTHS, MOST_DAYS = 120, 3650


def read_settings(path: Path) -> tuple[Settings, list[str]]:
    """The studio's settings and what could not be read of them, each as one sentence."""
    if not path.exists():
        return Settings(), _lost_link(path)
    from kb.catalogue.load import read_one

    found, problems = read_one(path, Settings)
    if found is not None:
        return found, []
    if read(path).is_empty:
        return Settings(), []
    # A studio must open with a spoilt settings file; what it says is told and not obeyed in part.
    return Settings(), [*map(str, problems), f"{path.name}: default settings are used until it is mended."]


def _lost_link(path: Path) -> list[str]:
    """What to say of a link that leads to nothing; a file that is not there at all is none."""
    if not path.is_symlink():
        return []
    target = printable(str(path.readlink()))
    return [f"{path.name} is a link to {target}, where nothing is: nothing of it applies."]


def read_shelf_file(path: Path, known: Known) -> tuple[Shelf, list[str]]:
    """The shelf and what is wrong in its file, each as one sentence. No file is an empty shelf.

    A faulty line takes out only itself: above all, one slip must not lift the other prohibitions.
    """
    if not path.exists():
        return Shelf(), _lost_link(path)
    document = read(path)
    if document.is_empty:
        # The reader's complaint is meant for catalogue files; an empty file is an empty shelf.
        return Shelf(), []
    value = _with_lists(document.value)
    # What the reader refused is no value at all, so only the form of the rest can be looked at.
    found = faults_of_form(value, Shelf) if document.faults else convert(value, Shelf)
    faults = [*document.faults]
    if document.faults and not document.value:
        faults.append(Fault((), "nothing in this file applies until it is mended", line=1))
    faults += found if isinstance(found, list) else []
    shelf = _salvaged(value) if isinstance(found, list) else found
    faults += checks(shelf, value, known)
    name = printable(path.name)
    problems = dict.fromkeys(fault.told(name, document.lines) for fault in faults)
    return _sane(shelf), [str(one) for one in problems]


def read_strict(path: Path) -> tuple[Shelf, Document]:
    """The shelf and its document, for a change of the file.

    Raises ValueError, with the first problem of form, if rewriting the file could lose something.
    """
    document = read(path)
    if document.is_empty:
        return Shelf(), Document({}, {}, [])
    found = convert(_with_lists(document.value), Shelf) if not document.faults else document.faults
    if isinstance(found, list):
        raise ValueError(str(found[0].told(printable(path.name), document.lines)))
    return found, document


def parse_shelf(text: str) -> Shelf | None:
    """The shelf that a text gives, or None if it cannot be read."""
    document = parse(text)
    if document.faults:
        return None
    found = convert(_with_lists(document.value), Shelf)
    return None if isinstance(found, list) else found


def _sane(shelf: Shelf) -> Shelf:
    """The shelf with the usual numbers in place of those that cannot be."""
    odd = [str(fault.at[0]) for fault in _odd_numbers(shelf)]
    return msgspec.structs.replace(shelf, **{name: getattr(Shelf(), name) for name in odd})


def _with_lists(value: dict[str, Any]) -> dict[str, Any]:
    """A key with nothing but comments below it is an empty list."""
    return {key: [] if one is None and key in {"holds", "forbids"} else one for key, one in value.items()}


def _salvaged(value: dict[str, Any]) -> Shelf:
    """What can be used of a shelf whose form has faults."""
    items = value.get("forbids")
    kept = [_prohibition(item) for item in items if isinstance(item, dict)] if isinstance(items, list) else []
    forbids = tuple(one for one in kept if one.liquids or one.families or one.hazards)
    shelf = Shelf(holds=_ids(value.get("holds")), forbids=forbids)
    for key in ("peroxide_test_months", "expiry_notice_days"):
        number = convert({key: value[key]}, Shelf) if key in value else []
        if isinstance(number, Shelf):
            shelf = msgspec.structs.replace(shelf, **{key: getattr(number, key)})
    return shelf


def _prohibition(item: dict[str, Any]) -> Forbidden:
    found = convert(item, Forbidden)
    if isinstance(found, Forbidden):
        return found
    why = item.get("why")
    return Forbidden(
        liquids=_ids(item.get("liquids")),
        families=_ids(item.get("families")),
        hazards=_ids(item.get("hazards")),
        why=why if isinstance(why, str) and why.strip() else "no reason can be read in shelf.yaml",
        rule="other",
    )


def _ids(value: Any) -> tuple[str, ...]:
    return tuple(one for one in value if isinstance(one, str)) if isinstance(value, list) else ()


def checks(shelf: Shelf, value: Mapping[str, Any], known: Known) -> Iterator[Fault]:
    """What is wrong with a shelf whose form is right: ids that lead nowhere, empty rules, odd numbers."""
    named = [
        Reference(("holds", number), "liquids", id) for number, id in enumerate(_ids(value.get("holds")))
    ]
    items = value.get("forbids")
    for place, item in enumerate(items if isinstance(items, list) else ()):
        if isinstance(item, dict):
            yield from _checked_item(item, ("forbids", place))
            named += [
                Reference(("forbids", place, key, number), key, id)
                for key in NAMES
                for number, id in enumerate(_ids(item.get(key)))
            ]
    yield from dangling(named, known, ())
    for number, id in enumerate(shelf.holds):
        if id in shelf.holds[:number]:
            yield Fault(("holds", number), f'"{printable(id)}" is listed twice', "each liquid once")
    yield from _odd_numbers(shelf)


def _odd_numbers(shelf: Shelf) -> Iterator[Fault]:
    if not 0 < shelf.peroxide_test_months <= MOST_MONTHS:
        said = f"peroxide_test_months cannot be {shelf.peroxide_test_months:g}"
        expected = f"months, more than 0 and at most {MOST_MONTHS}"
        yield Fault(("peroxide_test_months",), said, expected, "peroxide_test_months: 3")
    if not 0 <= shelf.expiry_notice_days <= MOST_DAYS:
        said = f"expiry_notice_days cannot be {shelf.expiry_notice_days}"
        expected = f"days, 0 or more and at most {MOST_DAYS}"
        yield Fault(("expiry_notice_days",), said, expected, "expiry_notice_days: 30")


def _checked_item(item: dict[str, Any], at: NodePath) -> Iterator[Fault]:
    if not any(item.get(key) for key in NAMES):
        example = "{liquids: [dichloromethane], why: Not allowed in this building, rule: building}"
        yield Fault(at, "this prohibition names nothing", "liquids, families or hazards", example)
    why = item.get("why")
    if isinstance(why, str) and not why.strip():
        yield Fault((*at, "why"), "the text of why is blank", "some words")
