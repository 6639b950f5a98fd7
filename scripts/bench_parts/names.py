"""A catalogue of any size to search in: invented names, written into the index as the catalogue's own are."""

from __future__ import annotations

from pathlib import Path
from random import Random

from kb.desk.studio import Studio
from kb.index.search import normal

SEED = 20_260_102
STARTS = (
    "meth",
    "eth",
    "prop",
    "but",
    "pent",
    "hex",
    "hept",
    "dec",
    "benz",
    "tolu",
    "cyclo",
    "iso",
    "glyc",
    "acet",
)
MIDDLES = (
    "yl",
    "oxy",
    "amin",
    "chlor",
    "hydr",
    "fluor",
    "sulf",
    "carb",
    "phen",
    "furan",
    "pyr",
    "thi",
    "keto",
    "",
)
ENDS = ("ane", "ene", "anol", "anone", "anal", "ate", "ether", "amide", "oate", "oin", "itol", "ose")
FIRST_WORDS = (
    "clear",
    "brown",
    "yellow",
    "matt",
    "glossy",
    "linen",
    "paper",
    "woven",
    "aged",
    "heavy",
    "thin",
)


def some_names(count: int) -> list[str]:
    """That many different names of one to three words, much alike as names of materials are."""
    random = Random(SEED)
    pick = random.choice
    found: dict[str, None] = {}
    while len(found) < count:
        word = f"{pick(STARTS)}{pick(MIDDLES)}{pick(STARTS)}{pick(MIDDLES)}{pick(ENDS)}"
        kind = random.random()
        if kind < 0.4:
            word = f"{int(1 + 9 * random.random())}-{word}"
        elif kind < 0.7:
            word = f"{pick(FIRST_WORDS)} {word} {pick(ENDS)}"
        found[word] = None
    return list(found)


def add_names(root: Path, count: int) -> None:
    """Put that many names into the index of a studio, as entries of kind tape."""
    studio = Studio(root)
    conn = studio.index.conn
    names = some_names(count)
    conn.execute("BEGIN")
    ids = [f"invented-{number}" for number in range(count)]
    entries = [
        ("tape", one, name, "", name, b"{}", "", 0, "shipped") for one, name in zip(ids, names, strict=True)
    ]
    columns = "kind, id, name, also, text"
    conn.executemany(
        f"INSERT INTO entry ({columns}, body, file, line, origin) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", entries
    )
    conn.executemany(f"INSERT INTO entry_fts ({columns}) VALUES (?, ?, ?, ?, ?)", [e[:5] for e in entries])
    conn.executemany(
        "INSERT INTO name (norm, kind, id, name, main) VALUES (?, 'tape', ?, ?, 1)",
        [(normal(name), one, name) for one, name in zip(ids, names, strict=True)],
    )
    conn.execute("INSERT INTO name_tri(rowid, norm) SELECT rowid, norm FROM name WHERE id LIKE 'invented-%'")
    conn.execute("COMMIT")
    studio.close()
