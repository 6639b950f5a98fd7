"""The question as the blanks hold it: ids with their names. No widgets, no I/O."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.question import Possible, Question

SIGNS = "signs"
"""Kind of what stands in the blank of the tape where signs leave several things possible."""


class Filled(NamedTuple):
    """What stands in a blank: its kind of entry, id and name."""

    kind: str
    id: str
    name: str


class BlankKind(NamedTuple):
    """One blank: the word before it, what stands in it while empty, the kinds that fit."""

    name: str
    lead: str
    hint: str
    kinds: tuple[str, ...]
    many: bool = False
    """Whether it holds more than one entry."""


BLANKS = (
    BlankKind("tape", "Lift", "tape or adhesive", ("tape", "adhesive")),
    BlankKind("stage", "", "stage", ("stage",)),
    BlankKind("medium", "from", "medium", ("medium",)),
    BlankKind("paper", "on", "paper", ("paper",)),
    BlankKind("carrier", "carrier", "not known", ("carrier",)),
    BlankKind("method", "by", "swab", ("method",)),
    BlankKind("sheet", "sheet", "none", ()),
    BlankKind("also", "also near", "no other medium", ("medium",), many=True),
    BlankKind("back", "on the back", "no medium", ("medium",), many=True),
)
BY_NAME: Mapping[str, BlankKind] = {blank.name: blank for blank in BLANKS}
ASKED_FIRST = ("tape", "stage", "medium", "paper")
"""The blanks of the sentence; the others may stay empty without a word."""


@dataclass
class Asked:
    """The filled blanks by name; a blank that is not known is absent.

    ``adhesive`` is no blank of its own: it was named beside a tape that usually bears another.

    Other media within reach of the drop, on either face, stand in blanks that hold several.
    """

    filled: dict[str, Filled] = field(default_factory=dict)
    several: dict[str, tuple[Filled, ...]] = field(default_factory=dict)
    may_be: tuple[Possible, ...] = ()
    """What the tape may be by its signs; counts while the blank of the tape says so."""
    signs: tuple[str, ...] = ()
    """The signs themselves, to be kept with what is written down."""
    _brought: tuple[str, ...] = ()
    """Blanks that were filled along with the tape, or by what was stored of it, and go with it."""

    def put(self, blank: str, what: Filled | None, brings: Mapping[str, Filled] | None = None) -> None:
        """Fill a blank, or empty it with None. ``brings`` fills others, as a tape does its carrier."""
        if blank == "tape":
            for name in (*self._brought, "adhesive"):
                self.filled.pop(name, None)
            self._brought, self.may_be, self.signs = tuple(brings or {}), (), ()
        self._brought = tuple(name for name in self._brought if name != blank)
        if what is None:
            self.filled.pop(blank, None)
            self.several.pop(blank, None)
        elif blank in BY_NAME and BY_NAME[blank].many:
            self.several[blank] = tuple(dict.fromkeys((*self.several.get(blank, ()), what)))
        else:
            self.filled[blank] = what
        self.filled.update(brings or {})

    def put_sheet(self, sheet: str) -> None:
        """Ask about this sheet; what stood there about another gives way."""
        if self.id_of("sheet") not in {"", sheet}:
            self.clear()
        self.put("sheet", Filled("sheet", sheet, sheet))

    def put_tested(self, sheet: str) -> bool:
        """The sheet that a test was stored on, if the question named none; another tape empties it again.

        Whoever asks of the next object would else write its first test down on the sheet before.
        """
        if not sheet or "sheet" in self.filled:
            return False
        self.put("sheet", Filled("sheet", sheet, sheet))
        self._brought += ("sheet",)
        return True

    def put_signs(self, possible: tuple[Possible, ...], signs: tuple[str, ...]) -> None:
        """The tape may be several things, as its signs leave open."""
        self.put("tape", Filled(SIGNS, "", possible_words(possible, by_signs=bool(signs))))
        self.may_be, self.signs = possible, signs

    def put_whole(self, question: Question, filled: Mapping[str, tuple[Filled, ...]]) -> None:
        """A question asked in one line takes the place of what stood in the blanks; the sheet stays.

        A line about what lies under the tape alone is about the tape that was named before.
        """
        sheet = self.filled.get("sheet") if "sheet" not in self._brought else None
        if names_tape(question):
            self.clear()
        elif filled["medium"]:
            # Its media are all of them; those of the line before may lie on another sheet.
            for blank in ("medium", "also", "back"):
                self.put(blank, None)
        for blank, held in filled.items():
            for one in held:
                self.put(blank, one)
        if question.may_be:
            self.put_signs(question.may_be, question.signs)
        if sheet is not None:
            self.put("sheet", sheet)

    def copy(self) -> Asked:
        """The question as it is now, for a thread."""
        return Asked(dict(self.filled), dict(self.several), self.may_be, self.signs, self._brought)

    def clear(self) -> None:
        self.filled.clear()
        self.several.clear()
        self.may_be, self.signs, self._brought = (), (), ()

    def shown(self, blank: str) -> str:
        """The words in a blank; empty if nothing is."""
        if blank in self.several:
            return " + ".join(short(one.name) for one in self.several[blank])
        if blank not in self.filled:
            return ""
        glue = self.filled.get("adhesive") if blank == "tape" else None
        # In front: a long name of a tape is cut.
        on = f"{short(glue.name)} on " if glue else ""
        return f"{on}{self.filled[blank].name}"

    @property
    def empty(self) -> bool:
        """Whether nothing of the sentence is filled in."""
        return not any(name in self.filled for name in ASKED_FIRST) and not self.several

    def id_of(self, blank: str) -> str:
        """Id in a blank, empty if not known."""
        found = self.filled.get(blank)
        return found.id if found else ""

    def question(self, studio: Studio) -> Question:
        """The question as the desk takes it. A tape states its adhesive; its carrier may be overruled."""
        from kb.model.question import Question

        first = self.filled.get("tape")
        tape = first.id if first and first.kind == "tape" else ""
        adhesive = first.id if first and first.kind == "adhesive" else ""
        carrier = self.id_of("carrier")
        if tape:
            _, adhesive, usual = studio.compiled.tapes.get(tape, ("", "", ""))
            adhesive = self.id_of("adhesive") or adhesive
            carrier = carrier or usual
        return Question(
            tape=tape,
            adhesive=adhesive,
            carrier=carrier,
            stage=self.id_of("stage"),
            medium=self.id_of("medium"),
            paper=self.id_of("paper"),
            method=self.id_of("method") or "swab",
            sheet=self.id_of("sheet"),
            also_media=tuple(one.id for one in self.several.get("also", ())),
            back_media=tuple(one.id for one in self.several.get("back", ())),
            may_be=self.may_be if first and first.kind == SIGNS else (),
            signs=self.signs if first and first.kind == SIGNS else (),
        )

    def in_words(self, adhesive: str = "") -> str:
        """The sentence, without the stage where that is not known and with "?" for the rest.

        ``adhesive``: name of what the tape is taken to bear, which a record will say.
        """
        said = {name: short(self.filled[name].name) if name in self.filled else "?" for name in ASKED_FIRST}
        if adhesive and said["tape"] != short(adhesive):
            said["tape"] += f" ({short(adhesive)})"
        stage = f", {said['stage']}," if "stage" in self.filled else ""
        return f"Lift {said['tape']}{stage} from {said['medium']} on {said['paper']}"


def names_tape(question: Question) -> bool:
    """Whether a typed line says anything of the tape."""
    return any((question.tape, question.adhesive, question.carrier, question.stage, question.may_be))


def possible_words(possible: tuple[Possible, ...], *, by_signs: bool = True) -> str:
    """What stands in the blank of the tape when it may be several things."""
    from kb.science.numbers import counted

    said = f"not sure: {counted(len(possible), 'possibility', 'possibilities')}"
    return f"{said} (signs)" if by_signs else said


def short(name: str) -> str:
    """A name without what stands in brackets after it."""
    return name.partition(" (")[0]
