"""Names that are one slip apart and mean different things; each is asked for
wherever a name is typed.

Chemical nomenclature, common practice, no source. ``typed`` is what a hand or a half-memory types,
``not_it`` the entry that it must never be taken for.
"""

from __future__ import annotations

from typing import NamedTuple


class LookAlike(NamedTuple):
    kind: str
    typed: str
    not_it: str


PAIRS = (
    LookAlike("liquid", "benzine", "benzene"),
    LookAlike("liquid", "benzin", "benzene"),
    LookAlike("liquid", "methanal", "methanol"),
    LookAlike("liquid", "methenol", "methanol"),
    LookAlike("liquid", "ethanal", "ethanol"),
    LookAlike("liquid", "ethanel", "ethanol"),
    LookAlike("liquid", "ethane", "ethanol"),
    LookAlike("liquid", "propanal", "propan-1-ol"),
    LookAlike("liquid", "propan-3-ol", "propan-2-ol"),
    LookAlike("liquid", "butanal", "butan-1-ol"),
    LookAlike("liquid", "butane", "butanone"),
    LookAlike("liquid", "hexene", "n-hexane"),
    LookAlike("liquid", "heptene", "n-heptane"),
    LookAlike("liquid", "pentene", "n-pentane"),
    LookAlike("liquid", "cyclohexene", "cyclohexane"),
    LookAlike("liquid", "cyclohexanol", "cyclohexanone"),
    LookAlike("liquid", "cyclopentanol", "cyclopentanone"),
    LookAlike("liquid", "acetyl", "acetone"),
    LookAlike("liquid", "acetol", "acetone"),
    LookAlike("liquid", "acetonitril oxide", "acetonitrile"),
    LookAlike("liquid", "chloroforms", "chloroform"),
    LookAlike("liquid", "chlorofluoroform", "chloroform"),
    LookAlike("liquid", "dichloroethylene", "dichloromethane"),
    LookAlike("liquid", "1,1-dichloroethane", "1-2-dichloroethane"),
    LookAlike("liquid", "trichloroethane", "trichloroethylene"),
    LookAlike("liquid", "tetrachloroethane", "tetrachloroethylene"),
    LookAlike("liquid", "tetrachloromethane", "tetrachloroethylene"),
    LookAlike("liquid", "petrol", "petroleum-ether"),
    LookAlike("liquid", "petroleum", "petroleum-ether"),
    LookAlike("liquid", "ethyl acetat", "ethyl-acetate"),
    LookAlike("liquid", "vinyl acetate", "ethyl-acetate"),
    LookAlike("liquid", "ethyl lactone", "ethyl-lactate"),
    LookAlike("liquid", "nitroethane", "nitromethane"),
    LookAlike("liquid", "pyrimidine", "pyridine"),
    LookAlike("liquid", "pyrrolidine", "n-methyl-2-pyrrolidone"),
    LookAlike("liquid", "dimethylamine", "dimethylformamide"),
    LookAlike("liquid", "formamide", "dimethylformamide"),
    LookAlike("liquid", "dimethyl sulfone", "dimethyl-sulfoxide"),
    LookAlike("liquid", "dimethyl sulfate", "dimethyl-sulfoxide"),
    LookAlike("liquid", "toluidine", "toluene"),
    LookAlike("liquid", "xylidine", "xylene"),
    LookAlike("liquid", "1,3-dioxane", "1-3-dioxolane"),
    LookAlike("liquid", "2-methoxyethanol", "2-ethoxyethanol"),
    LookAlike("liquid", "sodium peroxide", "hydrogen-peroxide-30"),
    LookAlike("liquid", "meth", "methanol"),
    LookAlike("liquid", "white spirit", "white-spirit-low-aromatic"),
    LookAlike("recipe", "funori", "aged-paste"),
    LookAlike("recipe", "agar", "agarose-gel"),
    LookAlike("recipe", "lime", "limewater-stock"),
    LookAlike("recipe", "magnesium bicarbonate", "calcium-bicarbonate"),
    LookAlike("recipe", "calcium phosphate", "calcium-phytate"),
    LookAlike("recipe", "methyl cellulose 5 per cent", "methyl-cellulose-2"),
    LookAlike("recipe", "hydroxyethyl cellulose", "hydroxypropyl-cellulose-ethanol"),
    LookAlike("recipe", "protease poultice", "amylase-poultice"),
    LookAlike("recipe", "sodium borate", "old-borohydride"),
    LookAlike("medium", "ink", "iron-gall"),
    LookAlike("medium", "iron ink pencil", "iron-gall"),
    LookAlike("medium", "copying ink", "copying-pencil"),
    LookAlike("medium", "red lead pencil", "lead-pigment"),
    LookAlike("medium", "watercolor crayon", "watercolour"),
    LookAlike("medium", "colour pencil copy", "coloured-pencil"),
    LookAlike("tissue", "kozo", "kozo-9"),
    LookAlike("tissue", "kitaka", "mitsumata-wood-pulp"),
    LookAlike("tissue", "gampi 30", "gampi-20-40"),
    LookAlike("paper", "coated", "paper-coated"),
    LookAlike("paper", "vegetable parchment", "parchment"),
    LookAlike("paper", "wood pulp typed", "paper-glassine"),
    LookAlike("paper", "polyester film", "drafting-film-polyester"),
)
"""At least forty. ``white spirit`` is the name of three entries, and asks."""
