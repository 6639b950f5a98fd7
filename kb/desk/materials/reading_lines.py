"""An entry of the catalogue as lines to read: readable words, each line with its sources and mark."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import msgspec

from kb.catalogue.references import AGENTS
from kb.desk.choose.cautions import where
from kb.desk.materials.cited import BASIS, Cited, Line, mark_of
from kb.desk.materials.reading_words import (
    EVIDENCE,
    PICTOGRAMS,
    in_words,
    label_of,
    limit_words,
    plain_words,
    step_words,
)
from kb.index.queries import entry
from kb.model.base import UNSTATED
from kb.model.guidance import When
from kb.model.liquid import ExposureLimit
from kb.science.liquids.solubility import hildebrand
from kb.science.numbers import counted
from kb.science.quantities import convert

if TYPE_CHECKING:
    from kb.desk.studio import Studio

IDS = {
    "family": "family",
    "carrier": "carrier",
    "adhesive": "adhesive",
    "usual_adhesives": "adhesive",
    "polymers": "polymer",
    "needs_all_of": "polymer",
    "stage": "stage",
    "medium": "medium",
    "paper": "paper",
    "method": "method",
    "thinned_by": "recipe",
}
"""Fields that hold ids of another kind; names are shown instead."""
NAMES = (
    *("cas", "family", "topic", "category", "made", "group", "kin", "agent", "related", "roles", "cost"),
    *("dated", "severity", "when", "tape", "adhesive", "stage", "carrier", "medium", "paper", "method"),
    *("polymers", "needs_all_of", "usual_adhesives", "lets_liquid_through", "position", "contact", "era"),
    "target",
    *("basis", "seen", "extent", "url", "confidence", "evidence"),
)
"""What an entry is; read first, in this order."""
FIGURES = {"sphere", "other_spheres", "hansen", "teas", "water", "solubility_parameter", "liquids"}
SAFETY = ("signal_word", "pictogram", "hazard_class", "classification", "limits", "restrictions")
SKIPPED = {"id", "name", "also", "shared_names", "title", "cite", "from", "cas_sources", "supplier_sources"}
UNVERIFIED = "unverified"
"""Mark of an exposure limit that nobody saw in its own list, where its source has no weaker mark."""


def lines_of(studio: Studio, kind: str, record: Mapping[str, Any], cited: Mapping[str, Cited]) -> list[Line]:
    """All lines of an entry: what it is, then figures, safety, and what is said of it."""
    writer = _Writer(studio, kind, record, cited)
    keys = sorted((key for key in record if key not in SKIPPED), key=_rank)
    return [line for key in keys for line in writer.field(key, record[key])] + [*writer.ending()]


def _rank(key: str) -> int:
    """Where a field stands; those of one rank stay in the order of the record."""
    if key in NAMES:
        return NAMES.index(key)
    place = len(NAMES)
    if key in FIGURES or label_of(key)[1]:
        return place
    return place + 1 + (SAFETY.index(key) if key in SAFETY else len(SAFETY))


class _Names(Mapping[tuple[str, str], str]):
    """Names of entries by the word of their kind and their id, looked up when they are asked for."""

    def __init__(self, studio: Studio) -> None:
        self._conn = studio.index.conn

    def __getitem__(self, key: tuple[str, str]) -> str:
        row = entry(self._conn, *key)
        if row is None:
            raise KeyError(key)
        return row.name

    def __iter__(self) -> Iterator[tuple[str, str]]:
        return iter(())

    def __len__(self) -> int:
        return 0


class _Writer:
    """Writes the lines of one entry. What names no source of its own rests on those of the entry."""

    def __init__(
        self, studio: Studio, kind: str, record: Mapping[str, Any], cited: Mapping[str, Cited]
    ) -> None:
        self.kind, self.record, self.cited = kind, record, cited
        self.names = _Names(studio)
        self.own: tuple[str, ...] = tuple(record.get("from", ()))
        self.special: dict[str, Callable[[Any], Iterable[Line]]] = {
            "cas": self._cas,
            "classification": self._classification,
            "limits": self._limits,
            "hansen": self._hansen,
            "when": self._when,
            "stages": self._stages,
            "sensitivity": self._agents,
            "responses": self._agents,
            "steps": self._steps,
            "findings": self._findings,
            "ingredients": self._ingredients,
            "weight": self._weight,
        }
        if kind == "report":
            self.special |= {
                "adhesive": self._adhesive,
                "adhesive_assumed": lambda _: (),
                "evidence": self._evidence,
                "liquids": self._reported,
            }
        elif kind == "source":
            self.special |= {"basis": self._basis, "seen": self._seen}
        elif kind == "look":
            self.special["signs"] = self._signs
        elif kind == "guideline":
            self.special |= {"unit": lambda _: (), "figure": self._guided}

    def line(self, label: str, value: str, sources: Sequence[str] | None = None, mark: str = "") -> Line:
        """A line with its mark; ``sources`` None: those of the entry."""
        found = self.own if sources is None else tuple(sources)
        return Line(label=label, value=value, sources=found, mark=mark_of(found, self.cited) or mark)

    def name(self, kind: str, entry_id: str) -> str:
        """The name of another entry; its id if there is none."""
        return self.names.get((kind, entry_id), entry_id)

    def field(self, key: str, value: Any) -> Iterable[Line]:
        if isinstance(value, Mapping) and not any(value.values()):
            # One side of a pair may be no entry of the catalogue: nothing to read.
            return ()
        return self.special[key](value) if key in self.special else self._any(key, value)

    def _any(self, key: str, value: Any) -> Iterator[Line]:
        label, _ = label_of(key)
        if isinstance(value, list):
            plain = [self._plain(key, one) for one in value if not isinstance(one, dict)]
            if plain:
                # Sentences stand on lines of their own, single words on one.
                together = all(len(one) < 40 for one in plain) or key in IDS
                for one in [("; " if key in IDS else ", ").join(plain)] if together else plain:
                    yield self.line(label, one)
            for one in value:
                if isinstance(one, dict):
                    yield from self._map(key, one)
        elif isinstance(value, dict):
            yield from self._map(key, value)
        elif value is not False:
            yield self.line(label, self._plain(key, value))

    def _plain(self, key: str, value: Any) -> str:
        return self.name(IDS[key], str(value)) if key in IDS else plain_words(key, value)

    def _guided(self, value: Mapping[str, Any]) -> Iterator[Line]:
        yield from self._map("figure", value, str(self.record.get("unit", "")))

    def _map(self, key: str, value: Mapping[str, Any], given: str = "") -> Iterator[Line]:
        """A figure, sphere or claim; a figure that disagrees stands below it with its own sources."""
        label, unit = label_of(key)
        unit = given or unit
        for number, one in enumerate((value, *value.get("others", ()))):
            # A temperature that the label tells need not be told again.
            told = "at_c" in one and label.endswith(f"at {one['at_c']:g} °C")
            figure = {name: inner for name, inner in one.items() if not (told and name == "at_c")}
            said = f"{label} (also printed)" if number else label
            yield self.line(said, in_words(figure, unit, self.name), one.get("from"))

    def ending(self) -> Iterator[Line]:
        """What a report leaves open, and what the entry as a whole rests on."""
        if self.kind == "report":
            told = ("adhesive", "stage", "carrier", "medium", "paper", "method")
            if missing := [key for key in told if not self.record.get(key)]:
                yield self.line("not stated", ", ".join(missing))
        if self.own:
            read = sum(self.cited[one].mark == "read" for one in self.own if one in self.cited)
            yield self.line(
                "rests on",
                f"{counted(len(self.own), 'source')}, {read or 'none'} of them read for this catalogue",
            )

    # -- liquids and labels -----------------------------------------------------------------------

    def _cas(self, value: str) -> Iterator[Line]:
        yield self.line(label_of("cas")[0], value or "none given", self.record.get("cas_sources", ()))

    def _statement(self, code: str) -> str:
        """A code with its official wording; suffix and organ stay with the code."""
        plain = code.split(" ", 1)[0]
        text = self.names.get(("hazard", plain)) or self.names.get(("hazard", plain[:4]), "")
        return f"{code} {text}".strip()

    def _classification(self, value: Mapping[str, Any]) -> Iterator[Line]:
        sources = value.get("from", ())
        codes = [*value.get("statements", ()), *value.get("euh", ())]
        said = "; ".join(map(self._statement, codes)) or "no statement"
        word = f"{value['signal_word']}: " if value.get("signal_word") else ""
        yield self.line("on the label", f"{word}{said}", sources)
        if value.get("supplier_statements"):
            printed = "; ".join(map(self._statement, value["supplier_statements"]))
            yield self.line("suppliers print", printed, value.get("supplier_sources", ()))
        if value.get("classes"):
            yield self.line("hazard classes", ", ".join(value["classes"]), sources)
        if value.get("pictograms"):
            signs = (f"{PICTOGRAMS.get(one, 'sign')} ({one})" for one in value["pictograms"])
            yield self.line("pictograms", ", ".join(signs), sources)
        note = value.get("note", "")
        about = [f"Note {one}" for one in value.get("notes", ()) if not note.startswith(f"Note {one}")]
        if value.get("index_no"):
            about.insert(0, f"index number {value['index_no']}")
        if note:
            about.append(note)
        if about:
            yield self.line("entry in the list", "; ".join(about), sources)

    def _limits(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for one in value:
            limit = msgspec.convert(one, ExposureLimit)
            note = f" ({limit.note.removesuffix('.')})" if limit.note else ""
            mark = "" if limit.verified else UNVERIFIED
            said = limit_words(limit).removeprefix(limit.authority).strip()
            yield self.line(f"limit, {limit.authority}", f"{said}{note}", limit.sources, mark)

    def _hansen(self, value: Mapping[str, Any]) -> Iterator[Line]:
        yield from self._map("hansen", value)
        total = hildebrand((value["d"], value["p"], value["h"]))
        old = convert(total, "solubility parameter", "(cal/cm3)^0.5")
        said = f"{total:.1f} MPa^0.5, that is {old:.1f} (cal/cm3)^1/2: the length of the three"
        yield self.line("Hildebrand, total", said, value.get("from"))

    # -- what liquids act on ----------------------------------------------------------------------

    def _agents(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for one in value:
            grade = one.get("grade") or one.get("response", "")
            said = ": ".join(filter(None, (grade, one.get("text", ""))))
            yield self.line(f"with {one['agent']}", said, one.get("from"))
        left = [agent for agent in AGENTS if agent not in {one["agent"] for one in value}]
        if left and value and "grade" in value[0]:
            said = f"{UNSTATED}: nothing found in writing; this project's own choice"
            yield self.line(f"with {', '.join(left)}", said, ())

    def _stages(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for one in value:
            stage = self.name("stage", one["stage"]).partition(" (")[0]
            claims = [(key, claim) for key, found in one.items() if key != "stage" for claim in found]
            for key, claim in claims:
                yield self.line(f"{stage}: {key}", in_words(claim, ""), claim.get("from"))
            if not claims:
                yield self.line("stage", f"{stage}: not described here")

    # -- cautions and hazards ---------------------------------------------------------------------

    def _when(self, value: Mapping[str, Any]) -> Iterator[Line]:
        yield self.line("applies", where(msgspec.convert(value, When), self.names))

    def _weight(self, value: float) -> Iterator[Line]:
        yield self.line("weight", f"{value:g} of 1; orders liquids by hazard, this project's own choice")

    # -- reports ----------------------------------------------------------------------------------

    def _adhesive(self, value: str) -> Iterator[Line]:
        assumed = self.record.get("adhesive_assumed")
        doubt = " (an assumption: the report does not name it)" if assumed else ""
        yield self.line("adhesive", f"{self.name('adhesive', value)}{doubt}")

    def _evidence(self, value: str) -> Iterator[Line]:
        read = []
        for source in (self.cited[one] for one in self.own if one in self.cited):
            who = f"{source.id}: " if len(self.own) > 1 else ""
            parts = (
                (source.extent,) if source.mark == "read" and source.extent else (source.mark, source.extent)
            )
            read.append(f"{who}{', '.join(filter(None, parts))}")
        told = f"; what was read: {'; '.join(read)}" if read else ""
        yield self.line("evidence", f"grade {value}, {EVIDENCE.get(value, value)}{told}")

    def _reported(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for one in value:
            yield self.line("liquid", in_words(one, "", self.name), one.get("from"))

    def _steps(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for number, one in enumerate(value, 1):
            said = step_words(one) if "outcome" in one else in_words(one, "", self.name)
            yield self.line(f"step {number}", said, one.get("from"))

    def _ingredients(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for one in value:
            told = {
                key: inner for key, inner in one.items() if key not in {"name", "liquid", "role", "recipe"}
            }
            made = f"made by the recipe {self.name('recipe', one['recipe'])}" if one.get("recipe") else ""
            said = "; ".join(filter(None, (one.get("role", ""), in_words(told, ""), made)))
            yield self.line("ingredient", f"{one['name']}: {said}", one.get("from"))

    # -- looks and sources ------------------------------------------------------------------------

    def _findings(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        for one in value:
            also = f" (also: {', '.join(one['also'])})" if one.get("also") else ""
            years = [str(one[key]) for key in ("first_year", "last_year") if one.get(key)]
            span = f"; {' to '.join(years)}" if years else ""
            yield self.line("may show", f"{one['words']}{span}{also}")

    def _signs(self, value: Sequence[Mapping[str, Any]]) -> Iterator[Line]:
        words = {one["id"]: one["words"] for one in self.record.get("findings", ())}
        for one in value:
            tapes = {key: one[key] for key in ("tapes", "carriers", "adhesives", "stages") if key in one}
            often = "; ".join(f"{words.get(key, key)} {how}" for key, how in one["finds"].items())
            note = f" ({one['note'].removesuffix('.')})" if one.get("note") else ""
            said = f"{where(msgspec.convert(tapes, When), self.names)}: {often}{note}"
            yield self.line("sign", said, one.get("from"))

    def _basis(self, value: str) -> Iterator[Line]:
        yield self.line("rests on", BASIS.get(value, value))

    def _seen(self, value: bool) -> Iterator[Line]:
        yield self.line("read", "read for this catalogue" if value else "not read for this catalogue")
