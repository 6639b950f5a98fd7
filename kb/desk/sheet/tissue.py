"""Repair tissue for a sheet: which weight, how much of it, what it adds, and whether it gives way first."""

from __future__ import annotations

from typing import Literal, NamedTuple

from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.materials.measured import Maker, Measured, Told, ends, told
from kb.desk.studio import Studio
from kb.index.queries import records
from kb.model.material import Tissue
from kb.model.question import Plain
from kb.science.cited import Span
from kb.science.sheet.paper import MendAgainstSheet, mend_against_sheet
from kb.science.sheet.tissue import (
    STRIP_WIDTH_MM,
    TORN_LOSS_MM,
    Job,
    Strips,
    added_g,
    customary,
    fits,
    layers_for,
    strips_for,
    wanted_weight,
    with_wastage,
)

Tear = Literal["plain", "scarfed", "through", "inside", "loss", "lifting"]
TEARS: dict[str, tuple[int, str]] = {
    "plain": (1, "A tear from one edge: short strips along it, the last one past the edge of the sheet."),
    "scarfed": (
        1,
        "Torn in overlapping layers: rejoin the layers with paste first; tissue may not be needed.",
    ),
    "through": (2, "Torn through from edge to edge: hold it with bridges first, then short strips along it."),
    "inside": (0, "A tear that reaches no edge: short strips, none past an edge."),
    "loss": (
        0,
        "A hole or lost corner: a bevelled infill as thick as the sheet, and a tissue over the join.",
    ),
    "lifting": (
        0,
        "A layer that lifts: run paste under it and press it down; tissue only where it is torn as well.",
    ),
}
"""Kinds of tear: how many edges they cross, and what to do."""
MODEL_WEIGHT = "customary weights by grammage"
MODEL_STRIPS = "equal pieces that overlap"
MODEL_ADDED = "area x grammage"
JUDGED_BY = "grammage stands in for strength"
WASTAGE = 0.1
"""Share of tissue lost besides the torn sides; this project's own."""
STRONGER = (
    "As heavy as the sheet or heavier: the sheet would tear beside the mend before the mend gives way. "
    "Take a lighter tissue, or mend one face only."
)
LIGHTER = (
    "Lighter than the sheet. That does not prove that it gives way first: long fibres are stronger for their "
    "weight than short ones."
)
INFILL = "About as heavy as the sheet, as an infill must be; what holds it at the join must be lighter."
HEAVY = "Heavier than is customary for such a sheet: it may be stronger than the sheet."


class Wanted(NamedTuple):
    """What is to be mended. Zero: not known."""

    grammage_g_m2: float
    thickness_um: float = 0.0
    tear: Tear = "plain"
    both_faces_seen: bool = False
    tear_mm: float = 0.0
    fill_mm2: float = 0.0
    strip_mm: float = 0.0
    adhesive_g_m2: float = 0.0
    mend_faces: Literal[1, 2] = 1
    wastage: float = WASTAGE
    tissue: str = ""
    """Id of one tissue to judge, whether customary or not."""
    dry: bool = False
    """The sheet bears no water."""

    @property
    def job(self) -> Job:
        """What is lost takes an infill, a tear a mend."""
        return "infill" if self.tear == "loss" else "mend"


class StripsView(Plain, frozen=True, kw_only=True):
    """Strips for the tear, or the piece for a loss; a layer that lifts takes none."""

    pieces: int
    piece_length: Measured
    width: Measured
    area_on_sheet: Measured
    area_to_cut: Measured
    """Torn sides and wastage included."""


class TissueView(Plain, frozen=True, kw_only=True):
    """One tissue against the sheet."""

    id: str
    name: str
    fibre: str
    opacity: str
    strength: str
    grammage: Measured
    thickness: Measured
    customary: bool
    layers: int
    """How many of it come to the wanted weight; more than one for an infill only."""
    share_of_sheet: Measured
    stronger_than_sheet: Literal["no sign", "may be", "yes"]
    verdict: str
    adds_thickness: Measured
    too_thick: bool
    adds_mass: Measured | None
    note: str


class TissueAnswer(Plain, frozen=True, kw_only=True):
    """Tissues in use for such a sheet, the lightest first: choose the lightest that holds."""

    job: Job
    wanted: Measured | None
    tear: str
    advice: str
    strips: StripsView | None
    tissues: tuple[TissueView, ...]
    rules: tuple[Told, ...]
    without_water: tuple[Told, ...] = ()
    """What goes before all of it where the sheet bears no water."""


def propose(studio: Studio, wanted: Wanted) -> TissueAnswer:
    """Tissues for a sheet. Raises DeskError for figures that cannot be or a tissue that is not known."""
    with in_a_sentence():
        span = wanted_weight(wanted.grammage_g_m2, wanted.job, both_faces_seen=wanted.both_faces_seen)
        area_mm2, strips = _area(studio, wanted)
        # Of an own tissue nobody may have measured the thickness: it cannot be held against a sheet.
        known = (
            one
            for one in records(studio.index.conn, "tissue", Tissue)
            if ends(one.grammage_g_m2) and ends(one.thickness_um)
        )
        chosen = [one for one in known if _chosen(one, span, wanted)]
        if wanted.tissue and not chosen:
            raise DeskError(
                f'There is no tissue "{wanted.tissue}" whose weight and thickness are known; choose another.'
            )
        found = [_view(studio, one, span, wanted, area_mm2) for one in chosen]
    make = Maker(studio)
    return TissueAnswer(
        job=wanted.job,
        wanted=None
        if span is None
        else make.span(span.low, span.high, "g/m2", MODEL_WEIGHT, (span.source,), span.note),
        tear=wanted.tear,
        advice=TEARS[wanted.tear][1] + _without(span, wanted),
        strips=strips,
        tissues=tuple(sorted(found, key=lambda one: (one.grammage.low or 0.0, one.id))),
        rules=told(studio, "mending"),
        without_water=told(studio, "mending without water") if wanted.dry else (),
    )


def named_of_weight(studio: Studio, low_g_m2: float, high_g_m2: float) -> list[tuple[str, str]]:
    """Pure tissues of which some lies in a range of grammage, the lightest first: name, and name with weight.

    What carries a sheet by its hinges is chosen by weight alone.
    """
    asked = Span(low_g_m2, high_g_m2, "project", False, "")
    found = []
    for one in records(studio.index.conn, "tissue", Tissue):
        weight = ends(one.grammage_g_m2)
        if one.pure and weight and fits(weight[0], weight[1], asked):
            found.append((weight, one.name))
    return [(name, f"{name}, {low:g} to {high:g} g/m2") for (low, high), name in sorted(found)]


def _without(span: Span | None, wanted: Wanted) -> str:
    if span is not None:
        return ""
    if customary(wanted.grammage_g_m2) is None:
        return " No tissue is customary for a sheet below 20 g/m2: take the thinnest, and try on a scrap."
    return f" No single tissue is customary as an {wanted.job} for such a sheet: build it up in layers."


def _chosen(one: Tissue, span: Span | None, wanted: Wanted) -> bool:
    if wanted.tissue:
        return one.id == wanted.tissue
    low, high = ends(one.grammage_g_m2)
    return span is not None and wanted.job in one.uses and _layers(low, high, wanted.job, span) is not None


def _layers(low: float, high: float, job: str, span: Span) -> int | None:
    """Layers of a tissue in the wanted weight: a mend is one, an infill may be built up."""
    layers = layers_for(low, high, span)
    return layers if job == "infill" or layers == 1 else None


def _view(studio: Studio, one: Tissue, span: Span | None, wanted: Wanted, area_mm2: float) -> TissueView:
    make, job = Maker(studio), wanted.job
    low, high = ends(one.grammage_g_m2)
    thin, thick = ends(one.thickness_um)
    row = customary(wanted.grammage_g_m2)
    layers = 1 if span is None else _layers(low, high, job, span)
    # What is built up weighs and stands as all its layers together.
    laid = layers or 1
    light, heavy = (
        _against(wanted, laid, grammage, um, row.high if row and job == "mend" else None)
        for grammage, um in ((low, thin), (high, thick))
    )
    sources = tuple(dict.fromkeys((*one.grammage_g_m2.sources, *one.thickness_um.sources)))
    stronger, verdict = _verdict(light, heavy, job)
    adds = None
    if area_mm2:
        masses = [
            laid * added_g(area_mm2, grammage, adhesive_g_m2=wanted.adhesive_g_m2, faces=wanted.mend_faces)
            for grammage in (low, high)
        ]
        note = "" if wanted.adhesive_g_m2 else "dry adhesive not counted"
        adds = make.span(masses[0], masses[1], "g", MODEL_ADDED, sources, note)
    return TissueView.taken_from(
        one,
        grammage=make.span(low, high, "g/m2", "catalogue", one.grammage_g_m2.sources, one.grammage_g_m2.note),
        thickness=make.span(thin, thick, "µm", "catalogue", one.thickness_um.sources),
        customary=span is not None and layers is not None,
        layers=laid,
        share_of_sheet=make.span(
            100.0 * light.grammage_share, 100.0 * heavy.grammage_share, "%", JUDGED_BY, sources
        ),
        stronger_than_sheet=stronger,
        verdict=verdict,
        adds_thickness=make.span(light.added_um, heavy.added_um, "µm", "faces x thickness", sources),
        # An infill replaces the sheet; only what lies over the join adds to it.
        too_thick=heavy.too_thick and job == "mend",
        adds_mass=adds,
        note=_note(one, laid),
    )


def _note(one: Tissue, layers: int) -> str:
    said = [f"In {layers} layers."] if layers > 1 else []
    if not one.pure:
        said.append("Holds wood pulp: not for lasting contact.")
    return " ".join(said)


def _against(wanted: Wanted, layers: int, grammage: float, um: float, most: float | None) -> MendAgainstSheet:
    return mend_against_sheet(
        wanted.grammage_g_m2,
        layers * grammage,
        layers * um,
        customary_most_g_m2=most,
        sheet_um=wanted.thickness_um or None,
        adhesive_g_m2=layers * wanted.adhesive_g_m2,
        faces=wanted.mend_faces,
    )


def _verdict(
    light: MendAgainstSheet, heavy: MendAgainstSheet, job: str
) -> tuple[Literal["no sign", "may be", "yes"], str]:
    if job == "infill":
        return "no sign", INFILL
    if light.verdict == "as heavy as the sheet":
        return "yes", STRONGER
    if heavy.verdict == "as heavy as the sheet":
        return "may be", STRONGER
    if heavy.verdict == "heavier than customary":
        return "may be", HEAVY
    return "no sign", LIGHTER


def _area(studio: Studio, wanted: Wanted) -> tuple[float, StripsView | None]:
    """Area on one face, and the strips; nothing where no length or area is given."""
    make = Maker(studio)
    if wanted.tear == "loss":
        if not wanted.fill_mm2:
            return 0.0, None
        cut = with_wastage(wanted.fill_mm2, wanted.wastage)
        side = wanted.fill_mm2**0.5
        one = Strips(1, side, side, wanted.fill_mm2, cut)
        return wanted.fill_mm2, _strips_view(make, one, cut, wanted)
    # What lifts is pasted down: a strip that is planned would be read as one that was put on.
    if not wanted.tear_mm or wanted.tear == "lifting":
        return 0.0, None
    width = wanted.strip_mm or (STRIP_WIDTH_MM.low + STRIP_WIDTH_MM.high) / 2.0
    one = strips_for(wanted.tear_mm, width, edges_crossed=TEARS[wanted.tear][0])
    cut = with_wastage(one.cut_area_mm2, wanted.wastage) * wanted.mend_faces
    return one.area_mm2, _strips_view(make, one, cut, wanted)


def _strips_view(make: Maker, one: Strips, cut: float, wanted: Wanted) -> StripsView:
    sources = ("bookrepair", TORN_LOSS_MM.source, "project")
    note = f"torn sides and {100 * wanted.wastage:g} % of wastage included"
    if wanted.tear == "loss":
        note = f"for each layer; {100 * wanted.wastage:g} % of wastage included"
    return StripsView(
        pieces=one.pieces * wanted.mend_faces,
        piece_length=make.one(one.piece_mm, "mm", MODEL_STRIPS, sources),
        width=make.one(one.width_mm, "mm", MODEL_STRIPS, (STRIP_WIDTH_MM.source,)),
        area_on_sheet=make.one(one.area_mm2 / 100.0, "cm2", MODEL_STRIPS, sources, "one face"),
        area_to_cut=make.one(cut / 100.0, "cm2", MODEL_STRIPS, sources, note),
    )
