"""What a package says of itself: datapackage.json, and README.txt for people."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from textwrap import fill
from typing import Any

from kb import __version__
from kb.desk.package.files import FORMAT, README, Member
from kb.desk.package.tables import AT, Table
from kb.science.numbers import counted

_WIDTH = 76
_DIALECT = {
    "csvddfVersion": 1.2,
    "delimiter": ",",
    "lineTerminator": "\r\n",
    "quoteChar": '"',
    "doubleQuote": True,
    "skipInitialSpace": False,
    "header": True,
}
_MARKED = (
    " Text that begins with = + - @ or ' (blanks in front or not), or with a tab, has one ' put in front, so "
    "that no spreadsheet takes it for a formula; numbers have no such mark."
)
_MEDIA = {
    "jsonl": "application/x-ndjson",
    "json": "application/json",
    "yaml": "application/yaml",
    "yml": "application/yaml",
    "jpg": "image/jpeg",
    "jpeg": "image/jpeg",
    "png": "image/png",
    "tif": "image/tiff",
    "tiff": "image/tiff",
    "webp": "image/webp",
    "svg": "image/svg+xml",
}
_TEXTS = ("jsonl", "json", "yaml", "yml")
ABOUT_FILES = {
    "book": "The bench book of one bench, byte for byte: one record a line as JSON, each with the SHA-256 of "
    "the line before it as prev. This and not the tables is what a program reads back.",
    "catalogue": "Entries that the studio added to the catalogue, byte for byte.",
    "pool": "Counts of tests from other studios, byte for byte.",
    "set-aside": "Lines of the book that sharing could not place, byte for byte.",
    "to-settle": "The other version of a file in dispute between benches, byte for byte.",
    "photographs": "A photograph, named by its SHA-256 and, if its place was blanked, by that of the copy "
    "too; table photographs says to which record it belongs.",
    "studio.yaml": "Settings of the studio, byte for byte.",
    "shelf.yaml": "What the studio holds and forbids, byte for byte.",
}


def descriptor(
    title: str,
    created: str,
    tables: Sequence[tuple[Table, Member, int]],
    files: Sequence[Member],
    *,
    raw: bool,
) -> dict[str, Any]:
    """The descriptor: a resource for every table and file, with size, hash and, of tables, the schema."""
    made: dict[str, Any] = {
        "profile": "data-package",
        "name": _name(title),
        "title": f"{title}: bench book",
        "description": (
            "Everything that the studio wrote down: tables as things stand now, and the book, catalogue, "
            f"settings and photographs byte for byte. See {README}."
        ),
    }
    if created:
        made["created"] = created
    made["benchleaf"] = {"format": FORMAT, "version": __version__, "tables_marked": not raw}
    resources = [_table_resource(*one, raw=raw) for one in tables]
    made["resources"] = [*resources, *_file_resources(files)]
    return made


def _name(title: str) -> str:
    plain = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:80].strip("-")
    return f"bench-book-{plain}" if plain else "bench-book"


def _common(name: str, about: str, file: Member) -> dict[str, Any]:
    return {
        "name": name,
        "path": file.path,
        "description": about,
        "bytes": file.bytes,
        "hash": f"sha256:{file.sha256}",
    }


def _table_resource(table: Table, file: Member, rows: int, *, raw: bool) -> dict[str, Any]:
    return {
        **_common(table.name, _about(table), file),
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "rows": rows,
        "dialect": _DIALECT,
        "schema": _schema(table, raw=raw),
    }


def _about(table: Table) -> str:
    if not any(one.name == "withdrawn_because" for one in table.columns):
        return table.about
    return f"{table.about} One row for each, as it stands now; the column state marks withdrawn ones."


def _schema(table: Table, *, raw: bool) -> dict[str, Any]:
    fields = []
    for one in table.columns:
        field: dict[str, Any] = {"name": one.name, "type": one.type, "description": one.about}
        if one.type == "datetime":
            field["format"] = AT
        if one.unit:
            field["unit"] = one.unit
        limits: dict[str, Any] = {"required": True} if one.name in table.key else {}
        if one.words:
            limits["enum"] = list(one.words)
        if limits:
            field["constraints"] = limits
        fields.append(field)
    about = "An empty cell stands for what was not noted, never for none." + ("" if raw else _MARKED)
    return {
        "description": about,
        "fields": fields,
        "missingValues": [""],
        "primaryKey": list(table.key),
        "foreignKeys": [
            {"fields": [link.column], "reference": {"resource": link.table, "fields": ["id"]}}
            for link in table.links
        ],
    }


def _file_resources(files: Iterable[Member]) -> Iterable[dict[str, Any]]:
    for number, file in enumerate(files, 1):
        folder = file.path.partition("/")[0]
        ending = file.path.rpartition(".")[2].lower()
        made = _common(
            f"file-{number}", ABOUT_FILES.get(folder, "A file of the studio, byte for byte."), file
        )
        # A file and no table: readers must not look for rows in the lines of the book.
        made |= {"profile": "data-resource", "type": "file", "title": file.path, "format": ending}
        made["mediatype"] = _MEDIA.get(ending, "application/octet-stream")
        if ending in _TEXTS:
            made["encoding"] = "utf-8"
        yield made


def readme(title: str, tables: Sequence[tuple[Table, int]], files: int, left_out: int, *, raw: bool) -> str:
    """The package in plain words. It says the same for the same studio, whenever it is written."""
    folder = "tables-raw" if raw else "tables"
    parts = [
        f"{title}: bench book",
        "This folder holds everything that a paper conservation studio wrote down with Benchleaf. It is a "
        "Data Package: datapackage.json lists every file with its size and its SHA-256, and every column of "
        "the tables with its type, unit and meaning. Nothing but a text editor is needed to read it.",
        f"{folder}/ has the records as things stand now, as comma-separated text (UTF-8, comma between "
        "cells, first row names). In a spreadsheet, import a table as UTF-8 text with commas. Start with "
        f"{folder}/spot_tests.csv.",
    ]
    listed = [
        fill(
            f"{table.name}.csv, {counted(rows, 'row')}. {table.about}",
            _WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
        for table, rows in tables
    ]
    rest = [
        "Withdrawn records are among the rows: look at the column state, and leave them out of counts. An "
        "empty cell means that something was not noted or not looked at; it never means none.",
        (
            "The tables are not marked against formulas: do not open them in a spreadsheet. Use them for "
            "programs only."
            if raw
            else "Text in the tables that begins with one of = + - @ ' (blanks in front or not), or with a "
            "tab, has one ' put in front, so that no spreadsheet takes it for a formula; take one ' off to "
            "get the text back. Numbers have no mark: -4 is -4. Text of more than 32,000 characters is cut "
            "short there, with a note."
        ),
        "book/ has the bench book itself, one file for each bench, byte for byte. Each line is one record as "
        "JSON. Each carries as prev the SHA-256 of the line before it, so that a line that was lost or "
        "altered can be found. catalogue/, studio.yaml and shelf.yaml are the studio's own entries and "
        f"settings, if it has any. Files of these kinds and photographs here: {files}.",
        "photographs/ has the photographs that were found, each named by its SHA-256. Where one says in "
        "which place on earth it was taken, that was blanked in the copy and nothing else: its name is the "
        "SHA-256 of the photograph, a hyphen and the SHA-256 of the copy. The table photographs "
        "says where each lay when it was recorded, and why it is not here if it is not."
        + (f" Left out of the package: {left_out}." if left_out else ""),
        "To bring it back: benchleaf import THIS-FOLDER. It reads book/, catalogue/ and the settings, checks "
        "every SHA-256 first, and never reads the tables. To check by hand: sha256sum FILE, and compare.",
        "The date in datapackage.json (created) is that of the newest record, so that the same studio gives "
        "the same package to the last byte. No licence is named: whoever gives the package away says under "
        "which terms, and adds them to datapackage.json (licenses).",
    ]
    folded = [fill(one, _WIDTH) for one in parts] + ["\n".join(listed)] + [fill(one, _WIDTH) for one in rest]
    return "\n\n".join(folded) + "\n"
