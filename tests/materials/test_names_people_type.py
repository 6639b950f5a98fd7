"""What the trade looks up, and what it is called elsewhere and earlier, leads to the entry that is meant.

Sixty things and more than sixty other names; nomenclature is common practice, no source.
"""

from __future__ import annotations

import json

import pytest

from kb.desk.errors import Unclear
from kb.desk.materials.lookup import find, read
from kb.desk.materials.resolve import resolve
from kb.desk.studio import Studio

LOOKED_UP = """
adhesive: poly(vinyl acetate) dispersion, EVA hot glue, cellulose nitrate adhesive, contact cement
adhesive: polyurethane
adhesive: epoxy, gum arabic, casein, flour paste, wax, dry mounting tissue, cyanoacrylate
adhesive: shellac glue, glue stick, poly(vinyl alcohol), methyl cellulose
carrier: silk gossamer (silking), nylon gossamer (spun web), polyethylene laminate, tracing cloth
carrier: cellulose nitrate film
carrier: cellulose film
liquid: diethyl carbonate, pentan-1-ol, ethylene dichloride, hydrogen peroxide, aqueous ammonia, 1_3-dioxolane
liquid: cyclopentanone, denatured ethanol, isoparaffin
medium: acrylic paint, tempera, bistre, sepia, red chalk, metallic paint, emerald green
medium: lead white, logwood ink, sealing wax, beeswax seal, wafer, varnish, gold leaf, albumen print
medium: collodion print, salted paper print, platinum print, thermal paper
medium: liquid toner, thermal fax, carbonless copy, mimeograph, dry transfer
paper: papyrus, wallpaper, marbled paper, polyester drafting film, blotting paper
method: heated spatula, hot air, microemulsion, enzyme poultice, eraser, cellulose powder
method: humidification chamber, laser
recipe: amylase poultice, solvent gel, xanthan, surfactant wash, reducing bleach with chelator, hypochlorite
recipe: peroxide bleach, calcium propionate, pulp infill
tissue: nanocellulose film, xuan paper
"""
"""Section by section what an audit found missing. An underscore stands for a comma inside a name."""

CALLED = {
    "liquid": {
        "Essigester": "ethyl-acetate",
        "acetic ether": "ethyl-acetate",
        "acétate d'éthyle": "ethyl-acetate",
        "acetato de etilo": "ethyl-acetate",
        "Holzgeist": "methanol",
        "wood spirit": "methanol",
        "alcool méthylique": "methanol",
        "Weingeist": "ethanol",
        "esprit de vin": "ethanol",
        "spirits of wine": "ethanol",
        "alcool etilico": "ethanol",
        "Brennspiritus": "denatured-ethanol",
        "alcool à brûler": "denatured-ethanol",
        "alcohol de quemar": "denatured-ethanol",
        "methylated spirits": "denatured-ethanol",
        "Benzol": "benzene",
        "benceno": "benzene",
        "Testbenzin": "white-spirit-aromatic",
        "Terpentinersatz": "white-spirit-aromatic",
        "turps": "turpentine",
        "essence de térébenthine": "turpentine",
        "aguarrás": "turpentine",
        "Schwefeläther": "diethyl-ether",
        "éther sulfurique": "diethyl-ether",
        "etere": "diethyl-ether",
        "Petroläther": "petroleum-ether",
        "éter de petróleo": "petroleum-ether",
        "trielina": "trichloroethylene",
        "perc": "tetrachloroethylene",
        "liqueur des Hollandais": "1-2-dichloroethane",
        "Dutch liquid": "1-2-dichloroethane",
        "Salmiakgeist": "aqueous-ammonia-25",
        "hartshorn": "aqueous-ammonia-25",
        "alcali volatil": "aqueous-ammonia-25",
        "eau oxygénée": "hydrogen-peroxide-30",
        "acqua ossigenata": "hydrogen-peroxide-30",
        "agua oxigenada": "hydrogen-peroxide-30",
        "Wasser": "water",
        "aseton": "acetone",
        "junsui": "water",
    },
    "recipe": {
        "shofu nori": "wheat-paste-hot-plate",
        "Weizenstärkekleister": "wheat-paste-hot-plate",
        "colle d'amidon": "wheat-paste-hot-plate",
        "furu-nori": "aged-paste",
        "Hausenblase": "isinglass",
        "ichtyocolle": "isinglass",
        "colla di storione": "isinglass",
        "Kalkwasser": "limewater-stock",
        "eau de chaux": "limewater-stock",
        "eau de Javel": "old-hypochlorite",
        "Chlorkalk": "old-hypochlorite",
    },
    "medium": {
        "Eisengallustinte": "iron-gall",
        "encre métallo-gallique": "iron-gall",
        "sumi": "carbon-ink",
        "Rötel": "red-chalk",
        "sanguigna": "red-chalk",
        "Schweinfurter Grün": "arsenic-pigment",
        "Bleiweiß": "lead-pigment",
        "Kugelschreiber": "ballpoint",
        "Kopierstift": "copying-pencil",
        "cianotipo": "blueprint",
        "ciclostile": "mimeograph",
    },
    "paper": {
        "Hadernpapier": "paper-rag",
        "papier calque": "paper-tracing-natural",
        "pergamena": "parchment",
        "Tapete": "paper-wallpaper",
        "suminagashi": "paper-marbled",
    },
    "adhesive": {
        "nikawa": "animal-glue",
        "Hautleim": "animal-glue",
        "Kasein": "casein",
        "Mehlkleister": "flour-paste",
        "gomme arabique": "gum-arabic",
        "Weißleim": "pvac-emulsion",
        "Sekundenkleber": "cyanoacrylate",
    },
    "tissue": {"gampi": "gampi-10-14", "tengujo": "tengujo-5", "Chinapapier": "xuan-paper"},
}


def _looked_up() -> list[tuple[str, str]]:
    found = []
    for line in LOOKED_UP.strip().splitlines():
        kind, _, names = line.partition(":")
        found += [(kind, name.strip().replace("_", ",")) for name in names.split(",")]
    return found


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody here writes in it."""
    return untouched


def test_there_are_sixty_of_each() -> None:
    """The lists are as long as they say."""
    assert len(_looked_up()) >= 60
    assert sum(len(names) for names in CALLED.values()) >= 60


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "name"), _looked_up())
def test_what_is_looked_up_is_there(studio: Studio, kind: str, name: str) -> None:
    """Found by the name, first in the list of finds, and its entry can be read with sources."""
    found = resolve(studio, kind, name)
    assert read(studio, kind, found).sources
    assert (kind, found) in {(hit.kind, hit.id) for hit in find(studio, name) if not hit.near}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "name", "meant"),
    [(kind, name, to) for kind, names in CALLED.items() for name, to in names.items()],
)
def test_other_names_lead_to_the_entry(studio: Studio, kind: str, name: str, meant: str) -> None:
    """With and without accents and capitals."""
    assert resolve(studio, kind, name) == meant
    assert resolve(studio, kind, name.upper()) == meant


@pytest.mark.parametrize(
    ("kind", "name", "bearers"),
    [
        ("liquid", "alcohol", {"ethanol", "denatured-ethanol", "propan-2-ol"}),
        ("liquid", "amyl acetate", {"n-pentyl-acetate", "isoamyl-acetate"}),
        ("liquid", "TCE", {"trichloroethylene", "1-1-1-trichloroethane"}),
        ("liquid", "butanol", {"butan-1-ol", "butan-2-ol", "tert-butanol"}),
        ("liquid", "benzine", {"petroleum-ether", "white-spirit-aromatic"}),
        ("adhesive", "hot melt", {"hot-melt-sbc", "eva-hot-melt"}),
        ("medium", "Blaupause", {"blueprint", "diazo"}),
    ],
)
def test_a_name_for_several_things_asks(studio: Studio, kind: str, name: str, bearers: set[str]) -> None:
    """And names all that bear it."""
    with pytest.raises(Unclear) as asked:
        resolve(studio, kind, name)
    assert asked.value.borne
    assert {one.id for one in asked.value.choices} == bearers


def test_a_shared_name_is_borne_by_two_at_least(studio: Studio) -> None:
    """One bearer alone would make it an ordinary other name."""
    rows = studio.index.conn.execute("SELECT kind, body FROM entry").fetchall()
    names = [(kind, name) for kind, body in rows for name in json.loads(body).get("shared_names", ())]
    assert names
    alone = []
    for kind, name in names:
        try:
            alone.append((kind, name, resolve(studio, kind, name)))
        except Unclear:
            continue
    assert alone == []
