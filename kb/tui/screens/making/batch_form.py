"""Write down a batch: what was weighed, the water, the pH, and what came out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Input, Static

from kb.book.kinds.batch import BATCH as BATCH_KIND
from kb.book.kinds.batch import Batch
from kb.book.kinds.field import asked
from kb.book.kinds.kind import plain_of
from kb.book.kinds.parts import Portion
from kb.desk.amounts import amount
from kb.desk.errors import DeskError
from kb.desk.records.typed_fields import plain_from_words
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.day import today
from kb.tui.form import label_of, line_for
from kb.tui.screens.ask_why import OnTop
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.text import line
from kb.tui.widgets.field import Field, FormInput
from kb.tui.widgets.frame import TAKES_BACK

if TYPE_CHECKING:
    from kb.book.kinds.batch import Batch
    from kb.book.kinds.parts import Portion
    from kb.desk.making.recipe import Made
    from kb.desk.studio import Studio
    from kb.tui.screens.making.recipe_words import Opened

FROM = " from "


@dataclass
class BatchDraft:
    """What the form holds, as typed. An ingredient with nothing typed was not weighed."""

    recipe: str
    name: str
    weights: dict[str, str] = field(default_factory=dict)
    """Amounts by ingredient: ``14.3 g``, or ``30 ml from 01ABC`` for one taken from another batch."""
    wanted: dict[str, str] = field(default_factory=dict)
    """What the recipe asks for, in the amount that was chosen."""
    made: str = ""
    plain: dict[str, str] = field(default_factory=dict)
    """What else the kind declares, by the word of the field, as typed."""
    use_by: str = ""
    """What the last day is, where nobody types one."""
    dirty: bool = False

    @classmethod
    def begin(cls, recipe_id: str, name: str, made: Made | None) -> BatchDraft:
        """A form for a recipe. Nothing counts as weighed until it is typed or taken over."""
        draft = cls(recipe_id, name)
        for part in made.parts if made else ():
            draft.wanted[part.name] = part.words
            draft.weights[part.name] = ""
        if made is not None and made.by:
            # What was planned is no yield, but the record would else not say how much was meant to be made.
            draft.plain["remarks"] = f"planned: {made.by}"
        return draft

    def take_over(self) -> None:
        """What the recipe asks for was what was weighed, where nothing else is typed."""
        for name, words in self.wanted.items():
            self.weights[name] = self.weights[name] or _one(words)

    @property
    def nothing_weighed(self) -> bool:
        """Whether the recipe names what goes in, and neither that nor the yield was written down."""
        return bool(self.weights) and not self.made.strip() and not any(map(str.strip, self.weights.values()))

    def batch(self, studio: Studio) -> Batch:
        """The record. Raises DeskError for words that are no amount, no number or no batch."""
        made = amount(self.made) if self.made.strip() else (None, "")
        return Batch(
            recipe=self.recipe,
            name="" if self.recipe else self.name,
            weights=tuple(
                _portion(studio, name, text) for name, text in self.weights.items() if text.strip()
            ),
            made_amount=made[0],
            made_unit=made[1],
            **plain_from_words(studio, BATCH_KIND, self.plain),
        )


def _one(words: str) -> str:
    """An amount that can be taken over: a range or parts cannot, for nobody weighs those."""
    try:
        amount(words)
    except DeskError:
        return ""
    return words


def _portion(studio: Studio, name: str, text: str) -> Portion:
    from kb.desk.making.batches import batch_id

    weighed, _, start = text.strip().partition(FROM)
    try:
        value, unit = amount(weighed)
    except DeskError as error:
        raise DeskError(f"{name}: {error}") from error
    taken = batch_id(studio, start) if start.strip() else ""
    return Portion(name=name, amount=value, unit=unit, batch=taken)


BATCH = (
    Act("store", "ctrl+s", "Store", "Store the batch in the bench book"),
    Act("take_over", "ctrl+t", "As asked", "Take the amounts of the recipe over as weighed"),
    Act("throw_away", "f9", "Throw away", "Throw away what is typed here", foot=False),
    Act("leave", "escape", "Back", "Back; what is typed is kept as a draft"),
)
NOT_WEIGHED = (
    "Nothing is stored yet: nothing was weighed, so the record would not say what went in. Write it, or take "
    "it over with Ctrl+T; Ctrl+S once more stores it so. Left empty, use by is the shortest the recipe keeps."
)
FORM = "batch"
"""Under which its draft is kept; those of other recipes bear a figure behind it."""


class BatchFormScreen(OnTop, DeskScreen["str | None"]):
    """Gives back the id of the batch, or None."""

    SAID = "#batch-said"
    TITLE_WORDS = "Write down a batch"
    HELP = (
        "Write what the balance and the meter showed, not what the recipe asks for. Beside each ingredient "
        "stands what the recipe asks for in the amount you chose; Ctrl+T takes that over where it was "
        "weighed so. What stays empty was not weighed and is not written down.\n\n"
        "An ingredient that was itself made up here: 30 ml from 01ABC, with the beginning of that batch's "
        "id. A bad batch can then be traced through this one to every sheet.\n\n"
        f"{keys_in_words(BATCH)}"
    )
    BINDINGS = bindings(BATCH)
    CSS = """
    BatchFormScreen #weighed { height: auto; }
    BatchFormScreen #weighed .field > .label { width: 34; }
    BatchFormScreen #batch-said { height: auto; max-height: 4; padding: 0 1; }
    """

    def __init__(self, draft: BatchDraft, name: str = FORM) -> None:
        super().__init__()
        self.draft, self.draft_name = draft, name
        self._warned = False

    @property
    def unstored(self) -> str:
        return "A batch on the form" if self.draft_name in self.bench.drafts else ""

    def body(self) -> ComposeResult:
        draft = self.draft
        left = "As it was left: a" if draft.dirty else "A"
        yield Static(line(f"{left} batch of {draft.name}"), classes="heading", markup=False)
        with VerticalScroll(id="form", can_focus=False):
            yield Static("Weighed or measured", classes="heading", markup=False)
            with Vertical(id="weighed"):
                for place, (name, wanted) in enumerate(draft.wanted.items()):
                    hint = f"asked for: {wanted}" if wanted else ""
                    yield Field(f"part-{place}", name, draft.weights[name], hint)
            yield Static("Also noted", classes="heading", markup=False)
            plain = plain_of(BATCH_KIND)
            for key, (declared, *_) in asked(BATCH_KIND.type).items():
                if key == "made_amount":
                    # Amount and unit are typed in one line, as a balance shows them.
                    yield Field("made", "Yield", draft.made, "such as 118 g")
                elif key == "expires":
                    yield Field(key, label_of(declared), draft.plain.get(key, ""), draft.use_by)
                elif key in plain:
                    yield line_for(declared, draft.plain.get(key, ""))
        yield Static("", id="batch-said", markup=False)

    def on_mount(self) -> None:
        self.set_focus(self.query(FormInput).first())

    def on_input_changed(self, event: Input.Changed) -> None:
        name, value = event.input.name or "", event.value
        if name.startswith("part-"):
            part = list(self.draft.wanted)[int(name.removeprefix("part-"))]
            self.draft.dirty |= self.draft.weights[part] != value
            self.draft.weights[part] = value
        elif name == "made":
            self.draft.dirty |= self.draft.made != value
            self.draft.made = value
        elif name:
            self.draft.dirty |= self.draft.plain.get(name, "") != value
            self.draft.plain[name] = value
        self.typed()

    def typed(self) -> None:
        if self.draft.dirty:
            self.bench.keep_draft(self.draft_name, f"a batch of {self.draft.name}", self.draft)

    def action_take_over(self) -> None:
        self.draft.take_over()
        self.draft.dirty = True
        for place, name in enumerate(self.draft.wanted):
            field = self.query_one(f"#field-part-{place}", FormInput)
            field.value, field.select_on_focus = self.draft.weights[name], True
            if field.has_focus:
                field.action_select_all()
        left = [name for name, text in self.draft.weights.items() if not text]
        self.tell(
            f"Still to be written: {', '.join(left)}." if left else "Correct what was weighed otherwise."
        )

    def action_store(self) -> None:
        if self.draft.nothing_weighed and not self._warned:
            self._warned = True
            self.tell(NOT_WEIGHED)
        else:
            self.store_by(self._write, self._stored)

    def _write(self, studio: Studio) -> str:
        """In a thread: make the record and write it. What comes after the write cannot undo it."""
        from kb.desk.making import batches, steps
        from kb.desk.making.recipe import work

        written = batches.record(studio, self.draft.batch(studio), today())
        try:
            made = work(studio, self.draft.recipe) if self.draft.recipe else None
            if made and (state := steps.state_of(made)).ticked and not state.next:
                steps.start_over(studio, made)
        except Exception:
            # The ticks can be taken back by hand; the batch is on disk.
            return written.id
        return written.id

    def _stored(self, batch_id: str) -> None:
        self.stored(batch_id)
        self.bench.say(f"Stored and on disk: batch {batch_id}. P shows its label. {TAKES_BACK}")


def begin(studio: Studio, *, opened: Opened) -> BatchDraft:
    """The form for a recipe in the amount it was opened in."""
    from kb.desk.making.batches import keeps_words

    draft = BatchDraft.begin(opened.recipe.id, opened.recipe.name, opened.made)
    draft.use_by = keeps_words(opened.recipe)
    return draft
