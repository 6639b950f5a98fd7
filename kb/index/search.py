"""Find entries by names half remembered or misspelt, by CAS number, or by words in their text."""

import sqlite3
from collections.abc import Callable, Collection, Iterable, Sequence
from unicodedata import combining, normalize
from weakref import WeakKeyDictionary

from msgspec.structs import replace

from kb.index.index_file import SealedConnection
from kb.index.queries import state_of_index
from kb.model.question import Plain

WHOLE_SCAN = 20_000
"""Up to this many names are compared one by one; above, three-letter pieces choose candidates."""
CANDIDATES = 400
PIECES_READ = 4_000
"""Names that are looked at for the pieces they share with what was typed: about 3 ms of work."""
TOO_COMMON = 2_000
"""What more entries than these hold tells none of them from the others; ranking them all would take 30 ms."""
IN_TEXT = 60
"""Entries that are found by words of their text, at most."""
BEST_IN_TEXT = 80.0
LONGEST_QUERY = 1_000
"""Characters. A longer text is no name; comparing it with every name would take minutes."""
# Below this, what is offered has little to do with what was typed.
MIN_SCORE = 55.0
EXACT = 100.0
BEGUN = 92.0
BESIDE_EXACT = 76.0
"""Where a name matches exactly, only matches this good are listed with it."""


def normal(text: str) -> str:
    """Text as names are compared: no case, accents or apostrophes, hyphens and underscores as single blanks.

    Colour is one word however it is spelt, and gelatin: the catalogue is British, its readers need not be.
    """
    folded = (
        text.casefold()
        .replace("color", "colour")
        .replace("gelatine", "gelatin")
        .replace("'", "")
        .replace("\u2019", "")
    )
    if not folded.isascii():
        folded = "".join(one for one in normalize("NFKD", folded) if not combining(one))
    return " ".join(folded.replace("-", " ").replace("_", " ").replace(",", " ").split())


class Found(Plain, frozen=True):
    """An entry that matches: its kind and id, its name, the name that matched, and a score up to 100.

    ``near`` is True where the words stand neither in its names nor in its text: only the spelling is alike.
    """

    kind: str
    id: str
    name: str
    matched: str
    score: float
    near: bool = False


NameRow = tuple[str, str, str, str, int]


class _Seen:
    """What was read of an index for the last question: the next one is mostly the same with a letter more."""

    def __init__(self, state: tuple[int, int]) -> None:
        self.state = state
        """What changes as soon as anything is written to the index; then nothing here holds."""
        self.whole: dict[tuple[str, ...], list[NameRow]] = {}
        """By kinds, all their names; none where they are too many for all to be compared."""
        self.held: dict[str, int] = {}
        """How many names hold each three-letter piece."""
        self.read: dict[str, tuple[int, list[int]]] = {}
        """By piece, how many names were asked for and the rowids of those that hold it."""
        self.rows: dict[int, NameRow] = {}
        """The candidates by rowid."""
        self.words, self.told = "", TOO_COMMON + 1
        """What was looked for in texts, and how many entries were told to hold it."""


_SEEN: WeakKeyDictionary[SealedConnection, _Seen] = WeakKeyDictionary()


def _seen(conn: sqlite3.Connection) -> _Seen:
    if not isinstance(conn, SealedConnection):
        return _Seen((0, 0))
    state = state_of_index(conn)
    if (known := _SEEN.get(conn)) is None or known.state != state:
        known = _SEEN[conn] = _Seen(state)
    return known


def find(conn: sqlite3.Connection, text: str, kinds: Sequence[str] = (), limit: int = 20) -> list[Found]:
    """Best matches first; ties by kind and name. Nothing for an empty query or one over LONGEST_QUERY."""
    # One more than the limit, so that a text that is too long is still seen as such.
    query = normal(text[: LONGEST_QUERY + 1])
    if not query or len(text) > LONGEST_QUERY:
        return []
    best: dict[tuple[str, str], Found] = {}
    _gather(best, (*_exact(conn, query), *_fuzzy(conn, query, kinds)), kinds)
    first = _in_order(best.values())[:limit]
    # What stands in a text comes behind such names; where they fill the list, looking for it changes nothing.
    if len(first) < limit or any(hit.near or round(hit.score, 1) <= BEST_IN_TEXT for hit in first):
        _gather(best, _in_text(conn, text), kinds)
        first = _in_order(best.values())[:limit]
    return first


def _in_order(hits: Collection[Found]) -> list[Found]:
    # Who types a whole name wants that entry and not twenty that sound like it.
    if any(hit.score >= EXACT - 0.5 for hit in hits):
        hits = [hit for hit in hits if hit.score >= BESIDE_EXACT]
    order = {"tape": 0, "liquid": 1, "adhesive": 2, "medium": 3, "paper": 4}
    # Rounded: the last digits of a likeness must not decide the order between two machines.
    return sorted(hits, key=lambda h: (-round(h.score, 1), order.get(h.kind, 9), h.name, h.id))


def _gather(best: dict[tuple[str, str], Found], hits: Iterable[Found], kinds: Sequence[str]) -> None:
    """Each entry once, with its best match."""
    for hit in hits:
        if kinds and hit.kind not in kinds:
            continue
        known = best.get((hit.kind, hit.id))
        if known is None:
            best[hit.kind, hit.id] = hit
        else:
            better = hit if hit.score > known.score else known
            # Found in its text as well, it is no mere likeness of spelling.
            best[hit.kind, hit.id] = replace(better, near=hit.near and known.near)


def exactly(conn: sqlite3.Connection, text: str, kind: str) -> list[Found]:
    """Entries of a kind that bear exactly this id, name, other name or CAS number, each once.

    An id belongs to one entry and decides. A name that two entries bear brings both, even where it is the
    main name of one: in some trade or country it means the other.
    """
    query = normal(text)
    hits = {hit.id: hit for hit in _exact(conn, query) if hit.kind == kind}
    # Two entries may share a name but never an id.
    owner = next((hit for hit in hits.values() if normal(hit.id) == query), None)
    return [owner] if owner else sorted(hits.values(), key=lambda hit: (-hit.score, hit.name, hit.id))


def kinds_bearing(conn: sqlite3.Connection, *names: str) -> set[str]:
    """Kinds of which some entry bears one of these; mostly none, so that nobody asks for each kind."""
    return {hit.kind for name in dict.fromkeys(map(normal, names)) for hit in _exact(conn, name)}


def names_of(conn: sqlite3.Connection, kind: str) -> list[tuple[str, str]]:
    """Id and name of every entry of a kind, by name."""
    sql = "SELECT id, name FROM entry WHERE kind = ? ORDER BY name COLLATE NOCASE, id"
    return [(row[0], row[1]) for row in conn.execute(sql, (kind,))]


def _exact(conn: sqlite3.Connection, query: str) -> Iterable[Found]:
    rows = conn.execute("SELECT kind, id, name, norm, main FROM name WHERE norm = ?", (query,))
    for kind, entry_id, name, norm, main in rows:
        yield Found(kind, entry_id, name, norm, EXACT if main else EXACT - 0.5)


def _fuzzy(conn: sqlite3.Connection, query: str, kinds: Sequence[str]) -> list[Found]:
    from rapidfuzz import fuzz, process

    ratio = fuzz.ratio
    rows = _candidates(conn, query, kinds)
    norms = [row[3] for row in rows]
    # Rough first over all names, fine over the best: comparing word by word is dear.
    rough = process.extract(query, norms, scorer=fuzz.WRatio, limit=120, score_cutoff=35)
    words = query.split()
    hits = []
    for norm, whole, index in rough:
        kind, entry_id, name, _, _ = rows[index]
        # By words, since people turn them round ("acetate ethyl"); the whole keeps the shorter name ahead.
        score = 0.8 * _by_word(words, norm.split(), ratio) + 0.2 * whole
        begins = norm.startswith(query)
        if begins:
            # A beginning is typing in progress; a shorter rest is a better match.
            score = max(score, 97.0 - min(20, len(norm) - len(query)) * 0.3)
        if score >= MIN_SCORE:
            hits.append(Found(kind, entry_id, name, norm, min(score, 99.0), not begins))
    return hits


def _by_word(query: Sequence[str], name: Sequence[str], ratio: Callable[[str, str], float]) -> float:
    """How well each word of the query is met by some word of the name, longer words counting more."""
    total = weight = 0.0
    for word in query:
        best = 0.0
        for other in name:
            best = max(best, ratio(word, other))
            # The beginning of a longer word is nearly the word.
            if best < BEGUN and len(word) >= 3 and other.startswith(word):
                best = BEGUN
        total += best * len(word)
        weight += len(word)
    # A long name must not win by having many words to be alike.
    unmatched = max(0, len(name) - len(query))
    return total / weight - min(6.0, 0.6 * unmatched) if weight else 0.0


def _candidates(conn: sqlite3.Connection, query: str, kinds: Sequence[str]) -> list[NameRow]:
    where, values = "", list[str]()
    if kinds:
        where = f"WHERE kind IN ({', '.join('?' * len(kinds))})"
        values = list(kinds)
    columns = "SELECT kind, id, name, norm, main FROM name"
    seen = _seen(conn)
    # A catalogue of usual size is compared whole: pieces would miss a name with an error in each.
    if (whole := seen.whole.get(tuple(kinds))) is None:
        some = f"SELECT 1 FROM name {where} LIMIT {WHOLE_SCAN + 1}"
        few = conn.execute(f"SELECT count(*) FROM ({some})", values).fetchone()[0] <= WHOLE_SCAN
        whole = conn.execute(f"{columns} {where}", values).fetchall() if few else []
        seen.whole[tuple(kinds)] = whole
    if whole:
        return whole
    rowids = sorted({*_beginning(conn, query), *_by_pieces(conn, query, seen)})
    new = [one for one in rowids if one not in seen.rows]
    marks = ", ".join("?" * len(new))
    read = conn.execute(f"SELECT rowid, kind, id, name, norm, main FROM name WHERE rowid IN ({marks})", new)
    known = seen.rows | {row[0]: row[1:] for row in read}
    seen.rows = {one: known[one] for one in rowids if one in known}
    return [row for row in seen.rows.values() if not kinds or row[0] in kinds]


def _beginning(conn: sqlite3.Connection, query: str) -> list[int]:
    """Rowids of names that begin with the query, which may be too short to have pieces."""
    sql = "SELECT rowid FROM name WHERE norm >= ? AND norm < ? LIMIT ?"
    return [row[0] for row in conn.execute(sql, (query, query + "\U0010ffff", CANDIDATES))]


def _by_pieces(conn: sqlite3.Connection, query: str, seen: _Seen) -> list[int]:
    """Rowids of names that share the most three-letter pieces with the query, the rarest pieces first."""
    from collections import Counter

    pieces = {query[i : i + 3] for i in range(len(query) - 2)}
    new = dict.fromkeys(pieces - seen.held.keys(), 0)
    marks = ", ".join("?" * len(new))
    sql = f"SELECT term, doc FROM name_tri_in WHERE term IN ({marks})"
    held = seen.held | new | dict(conn.execute(sql, [*new]).fetchall())
    seen.held = {one: held[one] for one in pieces}
    counts: Counter[int] = Counter()
    left, read = PIECES_READ, dict[str, tuple[int, list[int]]]()
    for piece in sorted(filter(seen.held.get, pieces), key=lambda one: (seen.held[one], one)):
        asked, found = seen.read.get(piece, (0, []))
        if asked < left:
            quoted = '"' + piece.replace('"', '""') + '"'
            rows = conn.execute("SELECT rowid FROM name_tri WHERE name_tri MATCH ? LIMIT ?", (quoted, left))
            asked, found = left, [row[0] for row in rows]
        read[piece] = asked, found
        counts.update(found[:left])
        left -= len(found)
        if left <= 0:
            break
    seen.read = read
    # Sorting is stable, so among equals those of the rarest pieces stay first.
    return sorted(counts, key=counts.__getitem__, reverse=True)[:CANDIDATES]


_APART = "\x01"
_PARTED = str.maketrans("\x00'\u2019", " " + 2 * _APART)
"""A text holds words with an apostrophe as two in a row; names are compared without it."""


def _in_text(conn: sqlite3.Connection, text: str) -> list[Found]:
    """Full-text matches, each word quoted so that nothing typed acts as query syntax."""
    words = [word for word in normal(text.translate(_PARTED)).split() if word.strip(_APART)]
    if not words:
        return []
    # With a star: the last word is often still being typed.
    quoted = " ".join('"' + word.replace('"', '""').replace(_APART, " ") + '"*' for word in words)
    held = "FROM entry_fts WHERE entry_fts MATCH ?"
    seen, typed = _seen(conn), " ".join(words)
    # Letters more find less. Signs that are no letters do not: they stand for no word at all.
    narrower = typed.startswith(seen.words) and typed.isascii() and typed.replace(" ", "").isalnum()
    told = seen.told if narrower else TOO_COMMON + 1
    if not told:
        return []
    # A hit in the name weighs more than one somewhere in the notes.
    ranked = "ORDER BY bm25(entry_fts, 0, 0, 8.0, 6.0, 1.0)"
    try:
        if told > TOO_COMMON:
            told = len(conn.execute(f"SELECT 1 {held} LIMIT ?", (quoted, TOO_COMMON + 1)).fetchall())
        many = told > TOO_COMMON
        sql = f"SELECT kind, id, name {held} {'' if many else ranked} LIMIT {IN_TEXT}"
        rows = conn.execute(sql, (quoted,)).fetchall()
    except sqlite3.OperationalError:
        return []
    seen.words, seen.told = (typed, min(told, len(rows)) if len(rows) < IN_TEXT else told)
    return [
        # By rank and not by bm25's figure, which depends on the length of the whole catalogue.
        Found(kind, entry_id, name, "", max(56.0, BEST_IN_TEXT - place))
        for place, (kind, entry_id, name) in enumerate(rows)
    ]
