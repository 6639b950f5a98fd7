"""The safety note of a liquid or blend on one printed page, as text or as HTML that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from textwrap import wrap

from kb.desk.materials.safety import SafetyNote, sections
from kb.science.numbers import counted

WIDTH = 78
UNREADABLE = dict.fromkeys(
    (*range(0x20), *range(0x7F, 0xA0), *range(0x202A, 0x202F), *range(0x2066, 0x206A)), " "
)
STYLE = (
    "@page{size:A4;margin:12mm}"
    "body{font:9.5pt/1.3 sans-serif;margin:0 auto;max-width:186mm;color:#000;background:#fff}"
    "h1{font-size:16pt;margin:0}"
    "h2{font-size:10pt;margin:6pt 0 1pt;border-bottom:1px solid #000;break-after:avoid}"
    "ul{margin:0;padding-left:12pt}li{break-inside:avoid}"
    ".word{font-size:13pt;font-weight:bold;border:2px solid #000;padding:1pt 6pt;display:inline-block;"
    "margin:4pt 0}"
    ".two{columns:2;column-gap:8mm}"
    ".defer{border:1px solid #000;padding:3pt;margin-top:6pt}"
)


def card_text(note: SafetyNote, made_on: str = "") -> str:
    lines = [_clean(note.name).upper(), f"Signal word: {_clean(note.signal_word)}"]
    for title, items in sections(note):
        lines += ["", title.upper()]
        for item in items:
            lines += wrap(_clean(item), WIDTH, initial_indent="- ", subsequent_indent="  ")
    lines += ["", *wrap(_clean(note.defer), WIDTH)]
    lines += [piece for line in _foot(note, made_on) for piece in wrap(line, WIDTH)]
    return "\n".join(lines) + "\n"


def card_html(note: SafetyNote, made_on: str = "") -> str:
    """The card as one HTML page for A4, without scripts, pictures or outside files; all text escaped."""
    body = [
        f"<h1>{_safe(note.name)}</h1>",
        f'<div class="word">Signal word: {_safe(note.signal_word)}</div>',
        '<div class="two">',
    ]
    for title, items in sections(note):
        listed = "".join(f"<li>{_safe(item)}</li>" for item in items)
        body.append(f"<h2>{_safe(title)}</h2><ul>{listed}</ul>")
    body.append("</div>")
    body.append(f'<p class="defer">{_safe(note.defer)}</p>')
    body += [f"<p>{_safe(line)}</p>" for line in _foot(note, made_on)]
    return (
        '<!DOCTYPE html>\n<html lang="en-GB"><head><meta charset="utf-8">'
        f"<title>{_safe(note.name)}: safety card</title><style>{STYLE}</style></head>\n<body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )


def _foot(note: SafetyNote, made_on: str) -> Sequence[str]:
    said: Iterable[str] = (
        # On one page there is no room for their names.
        f"Gloves and precautions: {counted(len(note.sources), 'source')}, named by benchleaf safety."
        if note.sources
        else "",
        f"Printed {made_on}; limits and labels change." if made_on else "",
    )
    return [_clean(one) for one in said if one]


def _clean(text: str) -> str:
    return text.translate(UNREADABLE)


def _safe(text: str) -> str:
    return escape(_clean(text), quote=True)
