"""What is dissolved in a bath and what drops out of it: charge and mass balance with Davies activities.

The solution holds H+, OH-, CO2(aq), HCO3-, CO3--, Ca++ and Mg++ with their pairs, and the anion of a
strong acid. Three nested searches, each with the answer enclosed: free carbonate so that carbon is
conserved, pH so that charges cancel, and ionic strength so that the activities fit.
"""

import math
from functools import lru_cache
from typing import NamedTuple

from kb.science.cited import need_not_negative
from kb.science.numbers import bracketed_root
from kb.science.water.aqueous import DAVIES_LIMIT, constants, davies

METALS = ("Ca", "Mg")
METAL_SPECIES = tuple((f"{metal}++", f"{metal}OH+", f"{metal}HCO3+", f"{metal}CO3(aq)") for metal in METALS)
PH_BOUNDS = (-1.0, 14.6)
CARBON_TOLERANCE = 1e-9
PH_TOLERANCE = 1e-10
STRENGTH_TOLERANCE = 1e-9
STRENGTH_ROUNDS = 60
MAX_TOTAL_MOL_L = 2.0
"""More than that per litre of anything is far outside what these equations describe."""
MAX_CO2_PPM = 1.0e6


class Solid(NamedTuple):
    """A solid: its metal, and hydroxide and carbonate per atom of metal."""

    metal: str
    hydroxide: float
    carbonate: float
    metal_atoms: float = 1.0
    """Atoms of metal in the formula that the equilibrium constant is written for."""


SOLIDS: dict[str, Solid] = {
    "calcite": Solid("Ca", 0.0, 1.0),
    "aragonite": Solid("Ca", 0.0, 1.0),
    "vaterite": Solid("Ca", 0.0, 1.0),
    "portlandite": Solid("Ca", 2.0, 0.0),
    "brucite": Solid("Mg", 2.0, 0.0),
    "nesquehonite": Solid("Mg", 0.0, 1.0),
    "magnesite": Solid("Mg", 0.0, 1.0),
    "hydromagnesite": Solid("Mg", 0.4, 0.8, 5.0),
}
FORMING = ("calcite", "portlandite", "brucite", "nesquehonite")
"""The solids that drop within bench time. Magnesite and hydromagnesite form too slowly (from memory)."""


class Totals(NamedTuple):
    """What is in a litre, dissolved and solid together, in mol. ``acid`` counts equivalents."""

    calcium_mol_l: float = 0.0
    magnesium_mol_l: float = 0.0
    carbon_mol_l: float = 0.0
    acid_mol_l: float = 0.0


class Bath(NamedTuple):
    """A bath at equilibrium. Amounts in mol per litre; ``solids_mol_l`` counts atoms of the metal."""

    temp_c: float
    ph: float
    ionic_strength_mol_l: float
    species_mol_l: dict[str, float]
    totals: Totals
    solids_mol_l: dict[str, float]

    @property
    def beyond_davies(self) -> bool:
        """Whether the salts are too strong for the activity equation to be trusted."""
        return self.ionic_strength_mol_l > DAVIES_LIMIT

    @property
    def dissolved(self) -> Totals:
        """The totals without what has dropped."""
        calcium, magnesium, carbon = self.totals[:3]
        for name, amount in self.solids_mol_l.items():
            carbon -= amount * SOLIDS[name].carbonate
            calcium -= amount * (SOLIDS[name].metal == "Ca")
            magnesium -= amount * (SOLIDS[name].metal == "Mg")
        return Totals(max(calcium, 0.0), max(magnesium, 0.0), max(carbon, 0.0), self.totals.acid_mol_l)


class _Chemistry(NamedTuple):
    """The constants at one temperature in the form that the search uses."""

    k_water: float
    k_bicarbonate: float
    """HCO3- activity = this * H+ * CO3--."""
    k_co2: float
    """CO2 activity = this * H+^2 * CO3--."""
    k_henry: float
    pairs: tuple[tuple[float, float, float], ...]
    """For Ca and Mg: association with OH-, HCO3- and CO3--."""
    caps: tuple[tuple[tuple[str, float], ...], ...]
    """For Ca and Mg: the solids that may drop, and of each the constant of the metal activity at which it is
    saturated: constant * H+^hydroxide / CO3--^carbonate."""


class _Point(NamedTuple):
    """The solution at one trial pH and one trial carbonate activity."""

    charge: float
    charges: float
    carbon: float
    species: dict[str, float]
    solids: dict[str, float]


def solve(
    totals: Totals, temp_c: float, co2_ppm: float | None = None, solids: tuple[str, ...] = FORMING
) -> Bath:
    """The equilibrium of a bath.

    Without ``co2_ppm`` the bath is closed: its carbon is that of ``totals``. With it the bath is balanced
    with air of that much CO2 at 1 atm (1 000 000 is pure gas) and the carbon of ``totals`` is ignored.
    ``solids`` may drop. Raises ValueError for amounts, gas or temperature out of range, for solids that
    are not known, and for salts too strong for the activity equation.
    """
    _check(totals, co2_ppm, solids)
    search = _Search(_chemistry(temp_c, solids), totals, co2_ppm)
    strength, ph, width = 0.0, 7.0, 0.0
    before: tuple[float, float] | None = None
    for _ in range(STRENGTH_ROUNDS):
        gammas = (davies(strength, 0, temp_c), davies(strength, 1, temp_c), davies(strength, 2, temp_c))
        new_ph, point = search.balance(gammas, ph, width)
        width, ph = 2.0 * abs(new_ph - ph) + 1e-6, new_ph
        found = _ionic_strength(point.species, totals.acid_mol_l)
        if abs(found - strength) <= STRENGTH_TOLERANCE * max(found, 1e-7):
            totals = totals._replace(carbon_mol_l=point.carbon)
            return Bath(temp_c, ph, found, point.species, totals, point.solids)
        before, strength = (strength, found), _fixed_point(before, (strength, found))
    raise ValueError(f"{totals} is too strong for the activity equation: no ionic strength fits")


def _fixed_point(before: tuple[float, float] | None, now: tuple[float, float]) -> float:
    """The next guess at the ionic strength that reproduces itself, from two (tried, found) pairs."""
    tried, found = now
    if before is None or tried == before[0]:
        return found
    slope = (found - before[1]) / (tried - before[0])
    guess = (found - slope * tried) / (1.0 - slope) if abs(slope) < 0.9 else found
    return guess if guess > 0.0 else found


def _check(totals: Totals, co2_ppm: float | None, solids: tuple[str, ...]) -> None:
    need_not_negative(**totals._asdict())
    for name, value in totals._asdict().items():
        if value > MAX_TOTAL_MOL_L:
            raise ValueError(f"{name} of {value:g} is beyond {MAX_TOTAL_MOL_L:g} mol/L")
    if co2_ppm is not None and not 0 < co2_ppm <= MAX_CO2_PPM:
        raise ValueError(f"CO2 must be above 0 and up to 1000000 ppm, not {co2_ppm}")
    unknown = [name for name in solids if name not in SOLIDS]
    if unknown:
        raise ValueError(f"not a solid known here: {', '.join(unknown)}")


@lru_cache(maxsize=64)
def _chemistry(temp_c: float, solids: tuple[str, ...]) -> _Chemistry:
    k = constants(temp_c)
    caps: dict[str, list[tuple[str, float]]] = {metal: [] for metal in METALS}
    for name in solids:
        solid = SOLIDS[name]
        caps[solid.metal].append((name, k[name] ** (1.0 / solid.metal_atoms)))
    return _Chemistry(
        k["water"],
        1.0 / k["carbonic-2"],
        1.0 / (k["carbonic-1"] * k["carbonic-2"]),
        k["co2-gas"],
        ((k["CaOH+"], k["CaHCO3+"], k["CaCO3(aq)"]), (k["MgOH+"] / k["water"], k["MgHCO3+"], k["MgCO3(aq)"])),
        (tuple(caps["Ca"]), tuple(caps["Mg"])),
    )


def _ionic_strength(species: dict[str, float], acid_mol_l: float) -> float:
    double = species["Ca++"] + species["Mg++"] + species["CO3--"]
    single = math.fsum(amount for name, amount in species.items() if name[-1] in "+-")
    return 0.5 * (single + 3.0 * double + acid_mol_l)


class _Trial:
    """The solution at one H+ activity: what does not hang on the carbonate is worked out once."""

    def __init__(
        self, k: _Chemistry, totals: Totals, hydrogen: float, gammas: tuple[float, float, float]
    ) -> None:
        self.gammas = gammas
        self.hydrogen, self.hydroxide, self.acid = hydrogen, k.k_water / hydrogen, totals.acid_mol_l
        self.k_bicarbonate = k.k_bicarbonate * hydrogen
        self.k_co2 = k.k_co2 * hydrogen * hydrogen
        self.metals = []
        """Total, pairs with OH- per activity, those and the bare ion, association with HCO3- and CO3--, and
        what each solid allows (over the carbonate, if it holds any)."""
        for total, (with_oh, with_hco3, with_co3), caps in zip(totals[:2], k.pairs, k.caps, strict=True):
            paired = with_oh * self.hydroxide / gammas[1]
            allowed = [
                (solid, constant * hydrogen ** SOLIDS[solid].hydroxide, SOLIDS[solid].carbonate)
                for solid, constant in caps
                if total
            ]
            self.metals.append((total, paired, 1.0 / gammas[2] + paired, with_hco3, with_co3, allowed))

    def carbon(self, carbonate: float) -> float:
        """The carbon of :meth:`point` to the last digit: nine of ten trials ask for nothing else."""
        gamma0, gamma1, gamma2 = self.gammas
        bicarbonate = self.k_bicarbonate * carbonate
        found = self.k_co2 * carbonate / gamma0 + bicarbonate / gamma1 + carbonate / gamma2
        # What is not there binds no carbon.
        for total, _, alone, with_hco3, with_co3, caps in self.metals:
            if total:
                carbonic = with_hco3 * bicarbonate / gamma1
                neutral = with_co3 * carbonate / gamma0
                per_activity = alone + carbonic + neutral
                activity, solid = _capped(total / per_activity, caps, carbonate)
                if solid:
                    found += (total - activity * per_activity) * SOLIDS[solid].carbonate
                found += activity * (carbonic + neutral)
        return found

    def point(self, carbonate: float) -> _Point:
        """Everything at one CO3-- activity."""
        gamma0, gamma1, gamma2 = self.gammas
        bicarbonate = self.k_bicarbonate * carbonate
        species = {
            "H+": self.hydrogen / gamma1,
            "OH-": self.hydroxide / gamma1,
            "CO2(aq)": self.k_co2 * carbonate / gamma0,
            "HCO3-": bicarbonate / gamma1,
            "CO3--": carbonate / gamma2,
        }
        solids: dict[str, float] = {}
        carbon = species["CO2(aq)"] + species["HCO3-"] + species["CO3--"]
        plus = species["H+"]
        minus = species["OH-"] + species["HCO3-"] + 2.0 * species["CO3--"] + self.acid
        for names, metal in zip(METAL_SPECIES, self.metals, strict=True):
            total, paired, alone, with_hco3, with_co3, caps = metal
            if not total:
                species.update(dict.fromkeys(names, 0.0))
                continue
            carbonic = with_hco3 * bicarbonate / gamma1
            neutral = with_co3 * carbonate / gamma0
            per_activity = alone + carbonic + neutral
            activity, solid = _capped(total / per_activity, caps, carbonate)
            if solid:
                solids[solid] = total - activity * per_activity
                carbon += solids[solid] * SOLIDS[solid].carbonate
            carbon += activity * (carbonic + neutral)
            plus += activity * (2.0 / gamma2 + paired + carbonic)
            amounts = (activity / gamma2, activity * paired, activity * carbonic, activity * neutral)
            species.update(zip(names, amounts, strict=True))
        return _Point(plus - minus, plus + minus, carbon, species, solids)


def _capped(activity: float, caps: list[tuple[str, float, float]], carbonate: float) -> tuple[float, str]:
    """The metal activity that the least soluble solid allows, and that solid; no solid, no name."""
    solid = ""
    for name, limit, power in caps:
        # Without carbonate a solid that holds it never drops.
        allowed = limit if not power else limit / carbonate**power if carbonate else math.inf
        if allowed < activity:
            activity, solid = allowed, name
    return activity, solid


class _Search:
    """The search for pH and carbonate at given activity coefficients; remembers where it was last."""

    def __init__(self, chemistry: _Chemistry, totals: Totals, co2_ppm: float | None) -> None:
        self.chemistry = chemistry
        self.totals = totals
        self.gas_atm = None if co2_ppm is None else co2_ppm * 1e-6
        self.carbonate = totals.carbon_mol_l or 1e-6

    def balance(
        self, gammas: tuple[float, float, float], near_ph: float, width: float
    ) -> tuple[float, _Point]:
        """The pH at which charges cancel, and the solution there.

        A ``width`` above zero says how far from ``near_ph`` to look first.
        """

        tried: dict[float, _Point] = {}

        def excess(ph: float) -> float:
            point = tried[ph] = self.at_ph(ph, gammas)
            return point.charge / point.charges

        low, high = PH_BOUNDS
        ends = None
        if width > 0:
            below, above = near_ph - width, near_ph + width
            if (first := excess(below)) > 0 > (last := excess(above)):
                low, high, ends = below, above, (first, last)
        ph = bracketed_root(excess, low, high, PH_TOLERANCE, ends)
        return ph, tried[ph]

    def at_ph(self, ph: float, gammas: tuple[float, float, float]) -> _Point:
        """The solution at one pH: carbonate from the gas, or so that carbon is conserved."""
        hydrogen = 10.0**-ph
        trial = _Trial(self.chemistry, self.totals, hydrogen, gammas)
        if self.gas_atm is not None:
            co2 = self.chemistry.k_henry * self.gas_atm
            return trial.point(co2 / (self.chemistry.k_co2 * hydrogen * hydrogen))
        if self.totals.carbon_mol_l <= 0.0:
            return trial.point(0.0)
        self.carbonate = math.exp(self._conserve(trial))
        return self._share(trial.point(self.carbonate), trial)

    def _conserve(self, trial: _Trial) -> float:
        """ln of the carbonate activity at which all carbon is accounted for."""
        target = self.totals.carbon_mol_l

        def lacking(log_c: float) -> float:
            return math.log(trial.carbon(math.exp(log_c)) / target)

        low = high = math.log(self.carbonate)
        below = above = lacking(low)
        step = 0.05
        while below > 0:
            low, step = low - step, step * 4.0
            below = lacking(low)
        step = 0.05
        while above < 0:
            high, step = high + step, step * 4.0
            above = lacking(high)
        return low if low == high else bracketed_root(lacking, low, high, 1e-11, (below, above))

    def _share(self, point: _Point, trial: _Trial) -> _Point:
        """Split a metal between two solids where both are saturated at once, so that carbon closes."""
        missing = self.totals.carbon_mol_l - point.carbon
        if abs(missing) <= CARBON_TOLERANCE * self.totals.carbon_mol_l:
            return point
        for metal, (*_, caps) in zip(METALS, trial.metals, strict=True):
            activity = point.species[f"{metal}++"] * trial.gammas[2]
            for cap in caps:
                solid, _, carbonate = cap
                held = next((name for name in point.solids if SOLIDS[name].metal == metal), solid)
                step = carbonate - SOLIDS[held].carbonate
                allowed, _ = _capped(math.inf, [cap], self.carbonate)
                if not step or allowed > activity * (1.0 + 1e-6):
                    continue
                moved = min(max(missing / step, 0.0), point.solids[held])
                solids = {**point.solids, held: point.solids[held] - moved, solid: moved}
                return point._replace(solids=solids, carbon=point.carbon + moved * step)
        return point
