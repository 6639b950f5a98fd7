"""Find entries by names half remembered or misspelt, by CAS number, or by words in their text."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from kb.index.catalogue_rows import normal

WHOLE_SCAN = 20_000
"""Up to this many names are compared one by one; above, three-letter pieces choose candidates."""
CANDIDATES = 400
PIECES_READ = 4_000
"""Names that are looked at for the pieces they share with what was typed: about 3 ms of work."""
TOO_COMMON = 2_000
"""What more entries than these hold tells none of them from the others; ranking them all would take 30 ms."""
LONGEST_QUERY = 1_000
"""Characters. A longer text is no name; comparing it with every name would take minutes."""
# Below this, what is offered has little to do with what was typed.
MIN_SCORE = 55.0
EXACT = 100.0
BESIDE_EXACT = 76.0
"""Where a name matches exactly, only matches this good are listed with it."""


class Hit(NamedTuple):
    """A found entry: its kind and id, its name, the name that matched, and a score up to 100.

    ``near`` is True where the words stand neither in its names nor in its text: only the spelling is alike.
    """

    kind: str
    id: str
    name: str
    matched: str
    score: float
    near: bool = False


def find(conn: sqlite3.Connection, text: str, kinds: Sequence[str] = (), limit: int = 20) -> list[Hit]:
    """Best matches first; ties by kind and name. Nothing for an empty query or one over LONGEST_QUERY."""
    # One more than the limit, so that a text that is too long is still seen as such.
    query = normal(text[: LONGEST_QUERY + 1])
    if not query or len(text) > LONGEST_QUERY:
        return []
    best: dict[tuple[str, str], Hit] = {}
    for hit in (*_exact(conn, query), *_fuzzy(conn, query, kinds), *_in_text(conn, text)):
        if kinds and hit.kind not in kinds:
            continue
        known = best.get((hit.kind, hit.id))
        if known is None:
            best[hit.kind, hit.id] = hit
        else:
            better = hit if hit.score > known.score else known
            # Found in its text as well, it is no mere likeness of spelling.
            best[hit.kind, hit.id] = better._replace(near=hit.near and known.near)
    # Who types a whole name wants that entry and not twenty that sound like it.
    if any(hit.score >= EXACT - 0.5 for hit in best.values()):
        best = {key: hit for key, hit in best.items() if hit.score >= BESIDE_EXACT}
    order = {"tape": 0, "liquid": 1, "adhesive": 2, "medium": 3, "paper": 4}
    # Rounded: the last digits of a likeness must not decide the order between two machines.
    hits = sorted(best.values(), key=lambda h: (-round(h.score, 1), order.get(h.kind, 9), h.name, h.id))
    return hits[:limit]


def exactly(conn: sqlite3.Connection, text: str, kind: str) -> list[Hit]:
    """Entries of a kind that bear exactly this id, name, other name or CAS number, each once.

    An id belongs to one entry and decides. A name that two entries bear brings both, even where it is the
    main name of one: in some trade or country it means the other.
    """
    query = normal(text)
    hits = {hit.id: hit for hit in _exact(conn, query) if hit.kind == kind}
    # Two entries may share a name but never an id.
    owner = next((hit for hit in hits.values() if normal(hit.id) == query), None)
    return [owner] if owner else sorted(hits.values(), key=lambda hit: (-hit.score, hit.name, hit.id))


def kinds_bearing(conn: sqlite3.Connection, text: str) -> set[str]:
    """Kinds of which some entry bears exactly this; mostly none, so that nobody asks for each kind."""
    return {hit.kind for hit in _exact(conn, normal(text))}


def names_of(conn: sqlite3.Connection, kind: str) -> list[tuple[str, str]]:
    """Id and name of every entry of a kind, by name."""
    sql = "SELECT id, name FROM entry WHERE kind = ? ORDER BY name COLLATE NOCASE, id"
    return [(row[0], row[1]) for row in conn.execute(sql, (kind,))]


def _exact(conn: sqlite3.Connection, query: str) -> Iterable[Hit]:
    rows = conn.execute("SELECT kind, id, name, norm, main FROM name WHERE norm = ?", (query,))
    for kind, entry_id, name, norm, main in rows:
        yield Hit(kind, entry_id, name, norm, EXACT if main else EXACT - 0.5)


def _fuzzy(conn: sqlite3.Connection, query: str, kinds: Sequence[str]) -> list[Hit]:
    from rapidfuzz import fuzz, process

    rows = _candidates(conn, query, kinds)
    norms = [row[3] for row in rows]
    # Rough first over all names, fine over the best: comparing word by word is dear.
    rough = process.extract(query, norms, scorer=fuzz.WRatio, limit=120, score_cutoff=35)
    words = query.split()
    hits = []
    for norm, whole, index in rough:
        kind, entry_id, name, _, _ = rows[index]
        # By words, since people turn them round ("acetate ethyl"); the whole keeps the shorter name ahead.
        score = 0.8 * _by_word(words, norm.split()) + 0.2 * whole
        begins = norm.startswith(query)
        if begins:
            # A beginning is typing in progress; a shorter rest is a better match.
            score = max(score, 97.0 - min(20, len(norm) - len(query)) * 0.3)
        if score >= MIN_SCORE:
            hits.append(Hit(kind, entry_id, name, norm, min(score, 99.0), not begins))
    return hits


def _by_word(query: Sequence[str], name: Sequence[str]) -> float:
    """How well each word of the query is met by some word of the name, longer words counting more."""
    from rapidfuzz import fuzz

    total = weight = 0.0
    for word in query:
        best = max((_word(word, other, fuzz.ratio(word, other)) for other in name), default=0.0)
        total += best * len(word)
        weight += len(word)
    # A long name must not win by having many words to be alike.
    unmatched = max(0, len(name) - len(query))
    return total / weight - min(6.0, 0.6 * unmatched) if weight else 0.0


def _word(word: str, other: str, ratio: float) -> float:
    """Likeness of two words; the beginning of a longer word is nearly the word."""
    if len(word) >= 3 and other.startswith(word):
        return max(ratio, 92.0)
    return ratio


def _candidates(
    conn: sqlite3.Connection, query: str, kinds: Sequence[str]
) -> list[tuple[str, str, str, str, int]]:
    where, values = "", list[str]()
    if kinds:
        where = f"WHERE kind IN ({', '.join('?' * len(kinds))})"
        values = list(kinds)
    # A catalogue of usual size is compared whole: pieces would miss a name with an error in each.
    some = f"SELECT 1 FROM name {where} LIMIT {WHOLE_SCAN + 1}"
    count = conn.execute(f"SELECT count(*) FROM ({some})", values).fetchone()[0]
    columns = "SELECT kind, id, name, norm, main FROM name"
    if count <= WHOLE_SCAN:
        return conn.execute(f"{columns} {where}", values).fetchall()
    rowids = [*_beginning(conn, query), *_by_pieces(conn, query)]
    marks = ", ".join("?" * len(rowids))
    rows = conn.execute(f"{columns} WHERE rowid IN ({marks})", rowids).fetchall()
    return [row for row in rows if not kinds or row[0] in kinds]


def _beginning(conn: sqlite3.Connection, query: str) -> list[int]:
    """Rowids of names that begin with the query, which may be too short to have pieces."""
    sql = "SELECT rowid FROM name WHERE norm >= ? AND norm < ? LIMIT ?"
    return [row[0] for row in conn.execute(sql, (query, query + "\U0010ffff", CANDIDATES))]


def _by_pieces(conn: sqlite3.Connection, query: str) -> list[int]:
    """Rowids of names that share the most three-letter pieces with the query, the rarest pieces first."""
    from collections import Counter

    pieces = sorted({query[i : i + 3] for i in range(len(query) - 2)})
    marks = ", ".join("?" * len(pieces))
    sql = f"SELECT term FROM name_tri_in WHERE term IN ({marks}) ORDER BY doc, term"
    counts: Counter[int] = Counter()
    left = PIECES_READ
    for (piece,) in conn.execute(sql, pieces):
        quoted = '"' + piece.replace('"', '""') + '"'
        rows = conn.execute("SELECT rowid FROM name_tri WHERE name_tri MATCH ? LIMIT ?", (quoted, left))
        found = [row[0] for row in rows]
        counts.update(found)
        left -= len(found)
        if left <= 0:
            break
    return [rowid for rowid, _ in counts.most_common(CANDIDATES)]


def _in_text(conn: sqlite3.Connection, text: str) -> list[Hit]:
    """Full-text matches, each word quoted so that nothing typed acts as query syntax."""
    words = [word for word in normal(text.replace("\x00", " ")).split() if word]
    if not words:
        return []
    # With a star: the last word is often still being typed.
    quoted = " ".join('"' + word.replace('"', '""') + '"*' for word in words)
    held = "FROM entry_fts WHERE entry_fts MATCH ?"
    # A hit in the name weighs more than one somewhere in the notes.
    ranked = "ORDER BY bm25(entry_fts, 0, 0, 8.0, 6.0, 1.0)"
    try:
        many = len(conn.execute(f"SELECT 1 {held} LIMIT ?", (quoted, TOO_COMMON + 1)).fetchall()) > TOO_COMMON
        sql = f"SELECT kind, id, name {held} {'' if many else ranked} LIMIT 60"
        rows = conn.execute(sql, (quoted,)).fetchall()
    except sqlite3.OperationalError:
        return []
    return [
        # By rank and not by bm25's figure, which depends on the length of the whole catalogue.
        Hit(kind, entry_id, name, "", max(56.0, 80.0 - place))
        for place, (kind, entry_id, name) in enumerate(rows)
    ]
