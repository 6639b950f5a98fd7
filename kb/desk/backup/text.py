"""What a backup says of itself, in plain words and for somebody who never saw this program."""

from __future__ import annotations

from kb.book.kinds.spot_test import HARM_KINDS, HARM_WORDS, RELEASE_WORDS

README = "README.txt"
SUMS = "SHA256SUMS"
ABOUT = "backup.json"
PHOTO_LIST = "photographs.tsv"
BELOW = "\n" + 11 * " "


def readme(name: str, made_at: str, records: int, files: int) -> str:
    return f"""\
A COPY OF THE BENCH BOOK AND CATALOGUE OF A PAPER CONSERVATION STUDIO

Name of the studio folder: {name}
Copied at (UTC):           {made_at}
Lines in the bench book:   {records}
Files copied:              {files}

This folder can be read without the program that made it. All that matters is plain text in UTF-8; any text
editor opens it, on any computer.

WHAT IS HERE

studio/book/        the bench book: one file for each bench (workplace), one line for each entry
studio/catalogue/   materials that the studio described itself, as text (YAML)
studio/shelf.yaml   which solvents the studio held, and which were forbidden and why
studio/studio.yaml  name and settings of the studio
studio/working/     notes on work in hand
studio/pool/        counts of tests that other studios gave
studio/...          anything else that lay in the studio folder, photographs above all
photographs/        photographs that entries name and that lay outside the studio folder
{PHOTO_LIST}    every photograph that an entry names: where it is here, and its path in the entry
{SUMS}          a check sum of every file
Some of these may be missing: then there was nothing of that kind.

HOW TO READ THE BENCH BOOK

Each line of a file in studio/book/ is one entry, in a notation called JSON: names in quotation marks, a
colon, and what is said. An entry is never changed. Read the lines of all files together, in the order of id.

  id      name of the entry; entries sort by it in the order of time
  at      when it was written down, in universal time (UTC)
  who     who wrote it
  bench   at which workplace
  kind    test: a spot test. amend: a correction of an earlier entry. withdraw: an earlier entry does not
          count. bottle, batch, reading and other words: what they say.
  body    the entry itself
  prev    a check sum (SHA-256) of the line before it in the same file, without its line end; zeros in the
          first line. If one does not fit, the line before it was altered or lost.

A correction (amend) names the entry in "of", what is to be put in place of what in "set", and the reason in
"why". A withdrawal names the entry in "of". A withdrawal may itself be withdrawn; then it does not count.

In a spot test, "parts" are the liquids by share of volume, "rounds" the applications with their time in
seconds ("dwell_s"), "release" how far the adhesive let go, and "harm" what was seen on the sheet. A kind of
harm that is not named was not looked for: that does not mean that there was none.

  release  {BELOW.join(RELEASE_WORDS)}
  harm     {BELOW.join(HARM_WORDS)}
  kinds of harm: {", ".join(HARM_KINDS)}

HOW TO SEE WHETHER THIS COPY IS WHOLE

Each line of {SUMS} holds the SHA-256 of a file and its name. On many systems this command, given in
this folder, compares all of them:

    sha256sum -c {SUMS}

HOW TO USE IT AGAIN

With the program: benchleaf backup restore THIS-FOLDER --into A-NEW-FOLDER
Without it: copy the folder studio to wherever it is wanted. Nothing else is needed.
"""


def sums_line(digest: str, name: bytes) -> bytes:
    """One line as ``sha256sum`` writes and reads it. Odd names are marked by a backslash in front."""
    escaped = name.replace(b"\\", b"\\\\").replace(b"\n", b"\\n").replace(b"\r", b"\\r")
    mark = b"\\" if escaped != name else b""
    return mark + digest.encode() + b"  " + escaped + b"\n"


def read_sums_line(line: bytes) -> tuple[str, bytes]:
    """Check sum and name of a file. Raises ValueError if the line is no such line."""
    marked = line.startswith(b"\\")
    digest, sign, name = line.removeprefix(b"\\").partition(b"  ")
    text = digest.decode("ascii", errors="replace")
    if not sign or not name or len(text) != 64 or set(text) - set("0123456789abcdef"):
        raise ValueError("no line of check sums")
    if marked:
        # One pass, so that a backslash that stands for itself is not read twice.
        name = (
            name.replace(b"\\\\", b"\0").replace(b"\\n", b"\n").replace(b"\\r", b"\r").replace(b"\0", b"\\")
        )
    return text, name
