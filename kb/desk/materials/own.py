"""Entries of the studio's own, from a few typed lines: checked as they are typed, written as YAML.

What stands in the file already keeps its comments, its order and its wording; only the entry changes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, NamedTuple

from msgspec import json

from kb.catalogue.checks import check
from kb.catalogue.form import bare, convert, shape, unit, words
from kb.catalogue.problems import Fault, parts
from kb.desk.amounts import named_range, three
from kb.desk.errors import DeskError, refuse_lost_link
from kb.desk.materials.reading_words import label_of
from kb.index.queries import entry
from kb.model.kinds import BY_WORD, plain_id
from kb.model.question import Plain
from kb.science.quantities import parse_number

if TYPE_CHECKING:
    from kb.desk.studio import Studio

OWN_FILE = "own.yaml"
HEADER = """\
# Entries of this studio's own. Figures name their source under "from"; benchleaf check says what is wrong.
# "benchleaf own" and the materials screen write here; comments stay.
"""
KINDS = ("liquid", "recipe", "paper", "medium", "adhesive", "carrier", "tissue")
"""Words of the kinds that a form is offered for; any other kind is written by hand."""
WAIT_S = 10.0
_RANGE = re.compile(r"(-?\d[\d.,]*)\s*(?:to|-|–)\s*(-?\d[\d.,]*)")
_WET = frozenset({"ml", "l", "drop", "drops"})


class Line(NamedTuple):
    """One line of the form: its key in YAML, its heading, what is due there, whether it must be filled."""

    key: str
    label: str
    due: str
    needed: bool


class Own(Plain, frozen=True, kw_only=True, omit_defaults=True):
    """An entry as it would be written, and what is wrong with it; empty if nothing is."""

    kind: str
    id: str
    body: dict[str, Any]
    problems: tuple[str, ...]
    replaces: str = ""
    """The entry of the studio's own whose place it would take, all of it; empty if none."""
    lost: tuple[str, ...] = ()
    """Keys of the lines of that entry which are not typed again and fall away."""


def lines(kind: str) -> tuple[Line, ...]:
    """The lines of a kind, in the order of its record. Raises DeskError for a kind without a form."""
    if kind not in KINDS:
        raise DeskError(f'There is no form for "{kind}"; there is one for {", ".join(KINDS)}.')
    found = []
    for field in _fields(kind).values():
        if field.encode_name == "id" or not _typable(field.type):
            continue
        label, of = label_of(field.encode_name)
        due = DUE.get(_form(field.type), "") or words(field.type, field.encode_name)
        in_unit = unit(field.encode_name) or of
        heading = label if label[1:2].isupper() else f"{label[:1].upper()}{label[1:]}"
        found.append(
            Line(field.encode_name, heading, f"{in_unit}: {due}" if in_unit else due, field.required)
        )
    if all(one.key != "from" for one in found):
        found.append(Line("from", "Source", DUE["from"], True))
    return tuple(one._replace(due=DUE["from"], label="Source") if one.key == "from" else one for one in found)


DUE = {
    "Figure": "a number or a range: 12, or 12 to 14",
    "Claim": "sentences, parted by semicolons",
    "RecipeStep": "steps in order, parted by semicolons",
    "Ingredient": "wheat starch 20 g; water 100 ml; name, amount, unit of each",
    "Hansen": "dispersion polar hydrogen-bonding: 15.5 10.4 7",
    "str": "words, parted by commas",
    "from": "the id of a source, or what you read: the maker's sheet of May 2026",
}
"""How the lines of a form are filled in, by what they hold."""


def understood(studio: Studio, kind: str, typed: Mapping[str, str]) -> Own:
    """What was typed as an entry, with every fault of form and figure. Nothing is written."""
    fields = _fields(kind)
    body: dict[str, Any] = {"id": plain_id(re.sub(r"[^A-Za-z0-9 _-]", "", typed.get("name", "")))}
    source = _source_id(studio, typed.get("from", ""))
    problems = []
    for key, text in typed.items():
        if key != "from" and key not in fields:
            problems.append(f"{key}: not known here; one of {', '.join(one.key for one in lines(kind))}")
        elif text.strip() and (known := _grouped(studio, kind, key)) and text.strip() not in known:
            problems.append(f"{key}: {text.strip()!r} is that of no entry; one of {', '.join(known)}")
        elif text.strip() and key != "from":
            body[key] = _value(studio, key, fields[key].type, text.strip(), source)
    if "from" in fields:
        body["from"] = [source]
    there = entry(studio.index.conn, kind, body["id"])
    ours = there.name if there is not None and there.origin == "studio" else ""
    if there is not None and not ours:
        # It would take the place of the shipped one, with its cautions and figures.
        problems.append(f"name: the catalogue has {there.name} already; give yours another name")
    empty = [one.key for one in lines(kind) if one.needed and not typed.get(one.key, "").strip()]
    missing = [f"still empty: {', '.join(empty)}"] if empty else []
    wrong = (*problems, *_faults(kind, body), *missing)
    lost = _said_in(there.body) - {*body, "id"} if there is not None and ours else frozenset[str]()
    return Own(kind=kind, id=body["id"], body=body, problems=wrong, replaces=ours, lost=tuple(sorted(lost)))


def _said_in(body: bytes) -> frozenset[str]:
    """Keys of an entry under which anything stands."""
    return frozenset(key for key, held in json.decode(body).items() if held not in (None, "", [], {}, False))


def _grouped(studio: Studio, kind: str, key: str) -> list[str]:
    """Words by which entries lend to one another, as there are: in its own an entry stands alone."""
    if (kind, key) == ("adhesive", "group"):
        return sorted({one.group for one in studio.compiled.adhesives.values()})
    media = studio.compiled.media.values() if (kind, key) == ("medium", "kin") else ()
    return sorted({one.kin for one in media if one.kin})


def store(studio: Studio, kind: str, typed: Mapping[str, str]) -> Own:
    """Write the entry into the studio's own file; one of the same name is replaced.

    The whole catalogue is read with it first. Raises DeskError, with the file as it was, if anything would
    be wrong, or if it cannot be written.
    """
    from kb.book.storage import locked_folder, make_folder, put_whole

    own = understood(studio, kind, typed)
    if own.problems:
        raise DeskError(f"Not stored: {'; '.join(own.problems)}.")
    file = studio.catalogue_dir / OWN_FILE
    refuse_lost_link(file)
    try:
        studio.make()
        make_folder(studio.catalogue_dir)
        with locked_folder(studio.root, WAIT_S):
            before = file.read_text(encoding="utf-8-sig") if file.exists() else HEADER
            added = {BY_WORD[kind].key: own.body}
            if (cited := _own_source(studio, typed["from"])) is not None:
                added["sources"] = cited
            text = _with(before, added)
            _refuse_problems(studio, text)
            # A link is followed, so that entries kept elsewhere stay there.
            put_whole(file.resolve(), text.encode())
    except UnicodeDecodeError as error:
        row = error.object[: error.start].count(b"\n") + 1
        raise DeskError(
            f"{file.name}, line {row}: this is not text in UTF-8. Save it as such; nothing in it was changed."
        ) from error
    except OSError as error:
        raise DeskError(
            f"{file.name} cannot be written ({error.strerror or error}); see the rights of the studio folder."
        ) from error
    studio.refresh()
    return own


def own_entries(studio: Studio) -> list[tuple[str, str, str, str]]:
    """Kind, id, name and file of every entry that is the studio's own."""
    from kb.index.queries import entries

    return [
        (row.kind, row.id, row.name, f"{row.file}:{row.line}")
        for word in BY_WORD
        for row in entries(studio.index.conn, word)
        if row.origin == "studio"
    ]


def _fields(kind: str) -> dict[str, Any]:
    found: Any = shape(BY_WORD[kind].type)
    return {field.encode_name: field for field in found.fields}


def _form(wanted: Any) -> str:
    """What a line holds: the name of its record, or ``str`` for words in a list."""
    wanted = bare(wanted)
    inner = bare(getattr(wanted, "item_type", wanted))
    if hasattr(inner, "cls"):
        return str(inner.cls.__name__)
    return "str" if inner is not wanted else ""


def _typable(wanted: Any) -> bool:
    """Whether one line can hold it: words, numbers and lists of them, figures, claims, parts of a recipe."""
    inner = bare(getattr(bare(wanted), "item_type", wanted))
    return not hasattr(inner, "cls") or inner.cls.__name__ in DUE


def _value(studio: Studio, key: str, wanted: Any, text: str, source: str) -> Any:
    """What a line says, as the plain value that its field takes; text that does not fit stays text."""
    form = _form(wanted)
    if form == "Figure":
        return {**_figure(text), "from": [source]}
    if form == "Hansen":
        found = three(text)
        # "15,5 8 6" are three numbers; as four they would be those of another liquid.
        if len(found) > 3:
            raise DeskError(f'{text!r} is not three numbers; write d p h, for instance "15.5 8.2 6".')
        return {**dict(zip("dph", map(_number, found), strict=False)), "from": [source]}
    if form in ("Claim", "RecipeStep"):
        return [{"text": one, "from": [source]} for one in _pieces(text, ";")]
    if form == "Ingredient":
        return [_ingredient(studio, one) for one in _pieces(text, ";")]
    if form == "str":
        return _pieces(text, ",")
    due = words(wanted, key)
    if due == "true or false":
        return {"true": True, "yes": True, "false": False, "no": False}.get(text.casefold(), text)
    return _number(text) if due.startswith(("a number", "a whole number")) else text


def _pieces(text: str, between: str) -> list[str]:
    return [one.strip() for one in text.split(between) if one.strip()]


def _number(text: str) -> Any:
    """As amounts are read; what is no number, or may be two, stays text, so that the check names it."""
    try:
        number = parse_number(text)
    except ValueError:
        return text
    return int(number) if number.is_integer() else number


def _figure(text: str) -> dict[str, Any]:
    """A value or a range; a text that is neither stays one, so that the check names it."""
    if ends := _RANGE.fullmatch(text):
        return {"low": _number(ends[1]), "high": _number(ends[2])}
    return {"value": _number(text)}


def _ingredient(studio: Studio, text: str) -> dict[str, Any]:
    """``wheat starch 20 g``: solid by weight, liquid by volume; a liquid of the catalogue is linked."""
    from kb.index.search import exactly

    found = named_range(text)
    if found is None and not re.search(r"\s\d[\d.,]*\s*$", text):
        return {"name": text, "role": "additive", "until": "as needed"}
    if found is None or not re.fullmatch(r"[a-zA-Zµ%]+", found[3]):
        # It was kept as a name, and the recipe lacked the amount at every size.
        raise DeskError(f'{text!r} has an amount without a unit of one word; write "wheat starch 20 g".')
    name, low, high, measured = found
    known = exactly(studio.index.conn, name, "liquid")
    wet = measured.casefold() in _WET or len(known) == 1
    amount = {"amount": _number(low), **({"amount_high": _number(high)} if high else {}), "unit": measured}
    linked = {"liquid": known[0].id} if len(known) == 1 else {}
    return {"name": name, "role": "liquid" if wet else "solid", **amount, **linked}


def _source_id(studio: Studio, text: str) -> str:
    typed = text.strip()
    if entry(studio.index.conn, "source", typed) is not None or not typed:
        return typed or "memory"
    return f"own-{plain_id(re.sub(r'[^A-Za-z0-9 ]', '', typed))[:60].strip('-')}"


def _own_source(studio: Studio, text: str) -> dict[str, Any] | None:
    """A source for what the studio itself read; None where the catalogue has it."""
    named = _source_id(studio, text)
    if entry(studio.index.conn, "source", named) is not None:
        return None
    return {
        "id": named,
        "cite": text.strip(),
        "basis": "published",
        "seen": True,
        "extent": "named by this studio",
    }


def _faults(kind: str, body: dict[str, Any]) -> Iterator[str]:
    found = convert(body, BY_WORD[kind].type)
    if isinstance(found, list):
        # Lines of the form that are still empty are told together, in their own words.
        yield from (_said(one) for one in found if one.at or "is missing" not in one.message)
        return
    yield from map(_said, check(tuple(parts(found))))


def _said(fault: Fault) -> str:
    where = next((step for step in fault.at if isinstance(step, str)), "")
    of = f" ({unit(where)})" if unit(where) else ""
    return f"{where}{of}: {fault.message}; due: {fault.expected}".removeprefix(": ")


def _with(text: str, added: Mapping[str, Mapping[str, Any]]) -> str:
    """The file with entries put in, or in place of those of the same id; all else stays as it is."""
    from io import StringIO

    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    kept_as_written = YAML()  # plain values with their comments; it makes no objects
    kept_as_written.width = 110
    kept_as_written.indent(mapping=2, sequence=2, offset=0)
    try:
        document = kept_as_written.load(text)
    except YAMLError as error:
        said = " ".join(str(error).split())
        raise DeskError(f"{OWN_FILE} cannot be read, so nothing was changed: {said}.") from error
    document = {} if document is None else document
    for key, body in added.items():
        rows = document.setdefault(key, [])
        places = [place for place, row in enumerate(rows) if row.get("id") == body["id"]]
        if places:
            rows[places[0]] = dict(body)
        else:
            rows.append(dict(body))
    out = StringIO()
    kept_as_written.dump(document, out)
    # A file of nothing but comments is no document yet, and its comments would be lost.
    return ("" if _entries_in(text) else f"{text.rstrip()}\n") + out.getvalue()


def _entries_in(text: str) -> bool:
    return any(row.strip() and not row.lstrip().startswith("#") for row in text.splitlines())


def _refuse_problems(studio: Studio, text: str) -> None:
    """Read the whole catalogue with the new file; raises DeskError if it has a problem that it had not."""
    from shutil import copytree

    from kb.catalogue.load import load
    from kb.catalogue.paths import shipped_data

    with TemporaryDirectory() as place:
        trial = Path(place) / "catalogue"
        copytree(studio.catalogue_dir, trial)
        before = {(one.path, one.message) for one in load([shipped_data(), trial])[1]}
        (trial / OWN_FILE).write_text(text, encoding="utf-8")
        after = load([shipped_data(), trial])[1]
    if new := [one for one in after if (one.path, one.message) not in before]:
        raise DeskError(f"Not stored: {'; '.join(f'{one.message}; due: {one.expected}' for one in new)}.")
