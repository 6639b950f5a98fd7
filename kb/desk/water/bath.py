"""Alkaline baths: how much reagent, what pH, what drops, how it drifts, and what it does for a sheet.

For a sheet: capacity against its acid, the reserve it leaves, and how many baths that takes.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from typing import NamedTuple

from kb.desk.choose.cautions import CautionView, seen
from kb.desk.choose.rule import KEYS
from kb.desk.errors import DeskError, sentence
from kb.desk.materials.measured import Maker, Measured, span_of, value_of
from kb.desk.materials.names import Names
from kb.desk.studio import Studio
from kb.desk.water.bath_view import (
    Air,
    BathAnswer,
    BathRefused,
    CapacityView,
    DriftView,
    Moment,
    Named,
    Precipitate,
    ReserveView,
    SheetView,
)
from kb.model.kinds import plain_id
from kb.science.water.baths import (
    OUTDOOR_CO2_PPM,
    PURE_CO2_PPM,
    SOLID_MOLAR_MASS_G_MOL,
    UNSTEADY_PH,
    CannotReach,
    Dose,
    against_acid,
    air_balanced_co2_mol_l,
    amount_for_ph,
    bath_of,
    baths_for_reserve,
    capacity,
    dose_of,
    drift,
    expected_reserve,
    find_reagent,
    ph_after,
    reserve_percent,
    saturated,
)
from kb.science.water.speciation import Bath

LYE = "Fresh, this is a lye"
"""So begins what is told before anything is weighed."""
BALANCE = "mass balance of one dip, dried in place"
UNIT_PERCENT = "% CaCO3"


def capacity_view(make: Maker, now: Bath) -> CapacityView:
    """Acid that a litre takes up, in mmol of H+."""
    found = capacity(now)
    model, unit = "metals over strong acid", "mmol/l"
    return CapacityView(
        hydroxide=make.one(found.hydroxide_mmol_l, unit, model, CONSTANTS, "at once: what is caustic"),
        neutralising=make.one(found.neutralising_mmol_l, unit, model, CONSTANTS, "all that is dissolved"),
        with_solids=make.one(
            found.with_solids_mmol_l, unit, model, CONSTANTS, "with what has dropped, slowly"
        ),
    )


def reserve_view(make: Maker, reagent: str, now: Bath, acid_mmol_kg: float | None) -> ReserveView:
    """The reserve to expect, against the floor of permanent paper."""
    studio = make.studio
    pickup, floor = span_of(studio, "bath-pickup"), value_of(studio, "reserve-floor")
    # Acid that was not measured is left out and said to be.
    acid = (acid_mmol_kg or 0.0) / 1000.0
    found = expected_reserve(now, acid, pickup)
    sources = (*CONSTANTS, pickup.source)
    low, high = found
    return ReserveView(
        mol_kg=make.span(low, high, "mol/kg", BALANCE, sources),
        percent_caco3=make.span(reserve_percent(low), reserve_percent(high), UNIT_PERCENT, BALANCE, sources),
        floor=make.guide("reserve-floor"),
        floor_percent_caco3=make.one(
            reserve_percent(floor), UNIT_PERCENT, "conversion by molar mass", ("astm4988", "loc-perm")
        ),
        # In three words, since the reserve is a range and may lie on both sides of the floor.
        meets_floor="yes" if low >= floor else "in part" if high >= floor else "no",
        dips_for_floor=_dips(make, floor, (low + acid, high + acid), acid, sources),
        told_in_practice=_told(make, reagent),
        acid_known=acid_mmol_kg is not None,
    )


def _dips(
    make: Maker, floor: float, gained: tuple[float, float], acid: float, sources: tuple[str, ...]
) -> Measured | None:
    """Dips with drying in between: few if the sheet holds much liquid, many if it holds little."""
    low, high = gained
    # A dip that leaves nothing cannot be repeated into something.
    if low <= 1e-9:
        return None
    note = "dry between them; baths one after another without drying leave no more than one does"
    return make.span(
        baths_for_reserve(floor, high, acid),
        baths_for_reserve(floor, low, acid),
        "dips",
        BALANCE,
        (*sources, "astm4988"),
        note,
    )


def _told(make: Maker, reagent: str) -> Measured | None:
    try:
        return make.guide(f"reserve-uptake-{reagent}")
    except DeskError:
        return None


def against_sheet(
    make: Maker, now: Bath, volume_l: float, dry_g: float, acid_mmol_kg: float | None
) -> SheetView | None:
    """The bath against a sheet of known mass; None where the mass is not known."""
    if dry_g <= 0:
        return None
    least_ml = value_of(make.studio, "wash-water-per-gram") * dry_g
    met = against_acid(now, volume_l, dry_g, acid_mmol_kg or 0.0)
    model = "alkali of the bath against the acid of the sheet"
    times = None
    # Without acid any alkali is infinitely enough, which is no figure to show.
    if math.isfinite(met.times_over):
        times = make.one(met.times_over, "times", model, CONSTANTS)
    note = "" if acid_mmol_kg is not None else "acid not known, taken as none"
    return SheetView(
        dry_mass=make.one(dry_g, "g", "asked for", ("computed",)),
        acid=make.one(met.acid_mmol, "mmol", model, ("computed",), note),
        offered=make.one(met.offered_mmol, "mmol", model, CONSTANTS),
        times_over=times,
        baths_for_acid=make.one(met.baths, "bath" if met.baths == 1 else "baths", model, CONSTANTS, note),
        least_water=make.one(least_ml / 1000.0, "l", "guideline", ("common-practice",)),
        enough_water=volume_l * 1000.0 >= least_ml,
    )


MODEL = "charge and mass balance with Davies activities"
CONSTANTS = ("pdb", "pb1982")
ABLE = (
    "calcium-hydroxide",
    "calcium-bicarbonate",
    "magnesium-bicarbonate",
    "calcium-carbonate",
    "magnesium-hydroxide",
    "magnesium-carbonate",
)
ALSO = {
    "limewater": "calcium-hydroxide",
    "lime-water": "calcium-hydroxide",
    "slaked-lime": "calcium-hydroxide",
    "ca(oh)2": "calcium-hydroxide",
    "ca(hco3)2": "calcium-bicarbonate",
    "mg(hco3)2": "magnesium-bicarbonate",
    "chalk": "calcium-carbonate",
    "caco3": "calcium-carbonate",
    "mg(oh)2": "magnesium-hydroxide",
    "mgco3": "magnesium-carbonate",
}
# Close together at first: most of the way is gone in the first hours.
HOURS = (0.5, 1.0, 2.0, 4.0, 8.0, 24.0)
LEAST_SPECIES_MMOL_L = 1e-4
"""Species below this are not listed."""
LYE_PH = 11.0
"""From here on a bath is called a lye (project)."""
SHIFT_PH = 0.3
"""A bath that drifts by more than this is told so (project)."""
DISCLAIMER = (
    "Computed, to begin with. Measure the pH when the bath is made and again when the sheet comes out; the "
    "second decimal is not to be trusted. Test each colour and the size with this bath before the sheet."
)


class Sheet(NamedTuple):
    """What is known of the sheet that goes in. Zero mass: not known; no acid: not measured."""

    dry_g: float = 0.0
    acid_mmol_kg: float | None = None
    media: tuple[str, ...] = ()
    """All that lie within reach of the bath, on both faces."""
    paper: str = ""


class _Made(NamedTuple):
    """A dose, however it was found."""

    dose: Dose
    fresh: Bath


def reagent_id(text: str) -> str:
    """The id of a reagent from its id, formula or trade word. Raises DeskError naming those there are."""
    typed = plain_id(text)
    found = ALSO.get(typed, typed)
    if found not in ABLE:
        raise DeskError(f'No bath is made here from "{text}"; there are {", ".join(ABLE)}.')
    return found


def bath(
    studio: Studio,
    reagent: str,
    volume_l: float,
    target_ph: float | None,
    temp_c: float,
    air: Air,
    *,
    strength_mol_l: float | None = None,
    sheet: Sheet | None = None,
    depth_mm: float | None = None,
) -> BathAnswer:
    """A bath of ``volume_l`` at ``target_ph``, or of a strength in mol of the metal per litre.

    ``air`` open: the figures are those of the bath balanced with outdoor air, which is where it ends.
    Closed: those of the fresh bath under a lid. Raises BathRefused with the reason and the nearest pH where
    there is no such bath, and DeskError for input that cannot be.
    """
    reagent = reagent_id(reagent)
    if (target_ph is None) == (strength_mol_l is None):
        raise DeskError("Give either a pH to reach or a strength, and not both.")
    if target_ph is not None and not 0.0 < target_ph <= 14.0:
        raise DeskError(f"A pH to reach lies above zero and up to 14, not at {target_ph:g}.")
    if sheet and (sheet.dry_g < 0 or (sheet.acid_mmol_kg or 0.0) < 0):
        raise DeskError("The mass and the acid of the sheet cannot be below zero.")
    try:
        made = _made(reagent, volume_l, target_ph, strength_mol_l, temp_c, air)
        return _answer(studio, reagent, target_ph, temp_c, air, made, sheet or Sheet(), depth_mm)
    except CannotReach as error:
        raise _refused(error, reagent, target_ph, temp_c) from error
    except ValueError as error:
        raise DeskError(sentence(error)) from error


def _refused(error: CannotReach, reagent: str, target_ph: float | None, temp_c: float) -> BathRefused:
    """The refusal, with the deeper reason where even a fresh bath under a lid could not be made."""
    if error.why == "air-takes-it-down" and target_ph is not None:
        most = saturated(reagent, temp_c)
        if target_ph > most.ph:
            text = (
                f"{find_reagent(reagent).name} is saturated at pH {most.ph:.2f} at {temp_c:g} °C even under "
                f"a lid, and in the air it ends at pH {error.nearest_ph:.2f}"
            )
            return BathRefused("above-saturation", text, error.nearest_ph)
    return BathRefused(error.why, str(error), error.nearest_ph)


def _made(
    reagent: str, volume_l: float, target_ph: float | None, strength: float | None, temp_c: float, air: Air
) -> _Made:
    held = air_balanced_co2_mol_l(temp_c)
    if target_ph is not None:
        dose = amount_for_ph(reagent, target_ph, volume_l, temp_c, air)
    else:
        dose = _of_strength(reagent, volume_l, strength or 0.0, temp_c, air)
    per_litre = dose.amount_mol / dose.volume_l
    _under_gas(reagent, per_litre, temp_c, air)
    return _Made(dose, dose.bath if air == "closed" else bath_of(reagent, per_litre, temp_c, None, held))


def _of_strength(reagent: str, volume_l: float, strength: float, temp_c: float, air: Air) -> Dose:
    if not 0.0 < strength < 1.0 or not 0.0 < volume_l < float("inf"):
        raise ValueError("the strength lies above 0 and below 1 mol per litre, and the volume above 0")
    ppm = OUTDOOR_CO2_PPM.value if air == "open" else None
    water = 0.0 if air == "open" else air_balanced_co2_mol_l(temp_c)
    # A tenth off is what a scoop or an old solution makes.
    baths = [bath_of(reagent, strength * by, temp_c, ppm, water) for by in (0.9, 1.0, 1.1)]
    # Only hydroxides leave solid behind under a lid; the others drop it in the air, and that is told as a
    # drop.
    if reagent in {"calcium-hydroxide", "magnesium-hydroxide"} and air == "closed":
        most = saturated(reagent, temp_c)
        solid = "portlandite" if reagent.startswith("calcium") else "brucite"
        if baths[1].solids_mol_l.get(solid, 0.0) > 1e-6:
            name = find_reagent(reagent).name
            text = f"{name} is saturated at pH {most.ph:.2f} at {temp_c:g} °C; more of it stays down"
            raise CannotReach("above-saturation", most.ph, text)
    return dose_of(reagent, strength, volume_l, temp_c, baths)


def _under_gas(reagent: str, per_litre: float, temp_c: float, air: Air) -> None:
    """Refuse a bicarbonate that not even pure carbon dioxide at 1 atm brings into solution."""
    if not reagent.endswith("bicarbonate"):
        return
    most = saturated(reagent, temp_c, PURE_CO2_PPM)
    dissolved = most.dissolved.calcium_mol_l + most.dissolved.magnesium_mol_l
    # A hair above, or the saturated bath itself would be refused.
    if per_litre > dissolved * 1.001:
        name = find_reagent(reagent).name
        raise CannotReach(
            "above-saturation",
            bath_of(reagent, dissolved, temp_c, OUTDOOR_CO2_PPM.value if air == "open" else None).ph,
            f"under carbon dioxide of 1 atm at {temp_c:g} °C water takes up {dissolved:.4f} mol/l of {name}, "
            f"and {per_litre:.4f} is asked for; colder water or pressure holds more",
        )


def _answer(
    studio: Studio,
    reagent: str,
    target_ph: float | None,
    temp_c: float,
    air: Air,
    made: _Made,
    sheet: Sheet,
    depth_mm: float | None,
) -> BathAnswer:
    make, dose, known = Maker(studio), made.dose, find_reagent(reagent)
    now = dose.bath
    moving = _drift(make, made.fresh, depth_mm, dose.volume_l)
    cautions, here = bath_cautions(studio, sheet.media, sheet.paper)
    return BathAnswer(
        reagent=reagent,
        name=known.name,
        formula=known.formula,
        volume=make.one(dose.volume_l, "l", "asked for", ("computed",)),
        temperature=make.one(temp_c, "°C", "asked for", ("computed",)),
        air=air,
        target_ph=target_ph,
        amount=make.one(dose.amount_mol, "mol", MODEL, CONSTANTS),
        weigh=tuple(
            Named(name=name, amount=make.one(grams, "g", MODEL, CONSTANTS))
            for name, grams in dose.weigh_g.items()
        ),
        stock=None if dose.stock_ml is None else _stock(make, dose, temp_c),
        how=_how(reagent, air),
        ph=make.one(now.ph, "pH", MODEL, CONSTANTS),
        ph_under_gas=_under_gas_ph(make, dose, temp_c),
        ph_if_a_tenth_off=make.span(dose.ph_tenth_less, dose.ph_tenth_more, "pH", MODEL, CONSTANTS),
        unsteady=dose.unsteady,
        ionic_strength=make.one(now.ionic_strength_mol_l, "mol/l", MODEL, CONSTANTS),
        beyond_model=now.beyond_davies or made.fresh.beyond_davies,
        species=_species(make, now),
        precipitates=_precipitates(make, now, dose.volume_l),
        drift=moving,
        capacity=capacity_view(make, now),
        reserve=reserve_view(make, reagent, now, sheet.acid_mmol_kg),
        reserve_fresh=reserve_view(make, reagent, _dipped_at_once(made, temp_c), sheet.acid_mmol_kg),
        sheet=against_sheet(make, now, dose.volume_l, sheet.dry_g, sheet.acid_mmol_kg),
        cautions=cautions,
        cautions_here=here,
        warnings=_warnings(studio, made, air, sheet),
        model=f"{MODEL}; constants over temperature from {' and '.join(CONSTANTS)}; air of "
        f"{OUTDOOR_CO2_PPM.value:g} ppm carbon dioxide ({OUTDOOR_CO2_PPM.source})",
        disclaimer=DISCLAIMER,
    )


def _dipped_at_once(made: _Made, temp_c: float) -> Bath:
    """The bath as the sheet meets it when it is new: a bicarbonate is then still full of gas."""
    dose = made.dose
    if not dose.reagent.endswith("bicarbonate"):
        return made.fresh
    return bath_of(dose.reagent, dose.amount_mol / dose.volume_l, temp_c, PURE_CO2_PPM)


def _under_gas_ph(make: Maker, dose: Dose, temp_c: float) -> Measured | None:
    """What a meter reads while the bath is still full of carbon dioxide."""
    if not dose.reagent.endswith("bicarbonate"):
        return None
    full = _dipped_at_once(_Made(dose, dose.bath), temp_c)
    return make.one(full.ph, "pH", MODEL, CONSTANTS, "under carbon dioxide of 1 atm")


def _stock(make: Maker, dose: Dose, temp_c: float) -> Measured:
    note = f"clear limewater, saturated at {temp_c:g} °C, made up with water to the volume"
    return make.one(dose.stock_ml or 0.0, "ml", MODEL, CONSTANTS, note)


def _species(make: Maker, now: Bath) -> tuple[Named, ...]:
    """Dissolved species in mmol per litre, the most first."""
    found = sorted(now.species_mol_l.items(), key=lambda one: -one[1])
    return tuple(
        Named(name=name, amount=make.one(1000.0 * amount, "mmol/l", MODEL, CONSTANTS))
        for name, amount in found
        if 1000.0 * amount >= LEAST_SPECIES_MMOL_L
    )


def _precipitates(make: Maker, now: Bath, volume_l: float) -> tuple[Precipitate, ...]:
    grams = {name: amount * SOLID_MOLAR_MASS_G_MOL[name] for name, amount in now.solids_mol_l.items()}
    return tuple(
        Precipitate(
            name=name,
            per_litre=make.one(one, "g/l", MODEL, CONSTANTS),
            in_bath=make.one(one * volume_l, "g", MODEL, CONSTANTS),
        )
        for name, one in grams.items()
        # Less than a nanogram a litre is rounding.
        if one > 1e-9
    )


def _drift(make: Maker, fresh: Bath, depth_mm: float | None, volume_l: float) -> DriftView:
    """The way from fresh to balanced; the depth of the tray sets the pace."""
    depth = (
        make.guide("bath-depth") if depth_mm is None else make.one(depth_mm, "mm", "asked for", ("computed",))
    )
    if depth_mm is None:
        # A tray's depth is seldom measured; the middle of what is usual sets the pace, which is rough
        # anyway.
        span = span_of(make.studio, "bath-depth")
        depth_mm = (span.low + span.high) / 2.0
    path = drift(fresh, depth_mm)
    name, sources = "gas transfer through still water, film theory", (*CONSTANTS, "project")
    return DriftView(
        fresh_ph=make.one(fresh.ph, "pH", MODEL, CONSTANTS),
        moments=tuple(
            Moment(hours=hours, ph=make.span(*ph_after(path, hours), "pH", name, sources)) for hours in HOURS
        ),
        end_ph=make.one(path.end.ph, "pH", MODEL, CONSTANTS),
        drops_at_end=_precipitates(make, path.end, volume_l),
        depth=depth,
        note="The way is computed, the pace is an order of magnitude without a source: measure.",
    )


def bath_cautions(
    studio: Studio, media: Collection[str] = (), paper: str = ""
) -> tuple[tuple[CautionView, ...], int]:
    """Every rule about alkaline baths, and how many are to be heeded whatever else lies on the sheet.

    Those that speak of the named media or paper come first, then those of any bath.
    """
    rules = [one for one in studio.compiled.cautions if "alkaline" in one.when.agents]
    about = {one.id: one.when for one in rules}

    def apart(one: CautionView) -> int:
        when = about[one.id]
        if set(media) & set(when.media) or (paper and paper in when.papers):
            return 0
        return 2 if any(getattr(when, key) for key in KEYS) else 1

    # Sorting keeps the order of severity within each part.
    found = tuple(sorted(seen(studio, rules), key=apart))
    return found, sum(apart(one) < 2 for one in found)


def _against(studio: Studio, sheet: Sheet) -> Iterator[str]:
    """What alkali does to the very media and paper that go in; rules about all others stand further down."""
    names, compiled = Names(studio), studio.compiled
    stops = [one for one in compiled.cautions if "alkaline" in one.when.agents and one.severity == "stop"]
    for kind, id in (*(("medium", one) for one in sheet.media), ("paper", sheet.paper)):
        rule = next(
            (one for one in stops if id in (one.when.media if kind == "medium" else one.when.papers)), None
        )
        if rule is not None:
            yield f"STOP, {names.of(kind, id)}: {rule.text} {rule.instead}".rstrip()
        elif id in compiled.media and compiled.media[id].grades.get("alkaline") == "usually bleeds":
            yield f"{names.of(kind, id)} usually suffers in alkali, by its grade: test it before any bath."


def _how(reagent: str, air: Air) -> tuple[str, ...]:
    """How it is made up, as far as that changes what the figures mean."""
    if reagent.endswith("bicarbonate"):
        solid = "chalk" if reagent.startswith("calcium") else "magnesium hydroxide or carbonate"
        return (
            f"Stir the {solid} into cold water and lead in carbon dioxide until it is clear; let it settle.",
            "Fresh it is near neutral to a meter, because it is full of carbonic acid. Do not correct that: "
            "the alkali shows as the gas leaves, while the sheet dries.",
        )
    if reagent == "calcium-hydroxide":
        made = "Measure out clear limewater and make it up with water; if cloudy it has already taken air."
        return (made,) if air == "closed" else (made, "Let it stand open until it no longer changes.")
    return ("It dissolves slowly: stir, let it settle, and use what is clear.",)


def _warnings(studio: Studio, made: _Made, air: Air, sheet: Sheet) -> tuple[str, ...]:
    dose, fresh, said = made.dose, made.fresh, list(_against(studio, sheet))
    # Fresh or in the end, whichever is worse for eyes and hands.
    highest = max(fresh.ph, dose.bath.ph)
    if highest >= LYE_PH:
        said.append(f"{LYE} of pH {fresh.ph:.1f}: goggles and gloves.")
    if dose.unsteady:
        said.append(
            f"It has hardly any buffer: a tenth more or less reagent moves it by over {UNSTEADY_PH:g} pH. "
            "Take the amount as a start, then measure."
        )
    if air == "open" and abs(fresh.ph - dose.bath.ph) > SHIFT_PH:
        said.append(
            f"It is made at pH {fresh.ph:.1f} and reaches pH {dose.bath.ph:.1f} only after standing open: "
            "see the drift."
        )
    if air == "closed":
        said.append("The pH holds only under a lid: uncovered, it goes the way of the drift.")
    if highest > value_of(studio, "bath-ph-oxidised-paper"):
        said.append("Too alkaline for paper that is oxidised, brittle or struck by light: stay below pH 9.")
    if highest > value_of(studio, "bath-ph-drain"):
        said.append("Not for the sink while above pH 9, and ask what local rules say below it.")
    if sheet.acid_mmol_kg is None:
        said.append("The acid of the sheet is not known: the reserve and the number of dips leave it out.")
    return tuple(said)
