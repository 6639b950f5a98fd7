"""What must hold for all that the program prints or writes, whatever text went in."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from html.parser import HTMLParser
from xml.etree import ElementTree

UNCLEAN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""Characters that steer a terminal, turn text round, or are half a character."""
CRASH = "Something went wrong inside the program"
CODES = {0, 1, 2, 3}
SVG = "{http://www.w3.org/2000/svg}"
SVG_TAGS = {"svg", "g", "rect", "circle", "path", "polygon", "polyline", "text", "title", "clipPath"}
HTML_TAGS = {
    "html", "head", "meta", "title", "style", "body", "h1", "h2", "div", "p", "ul", "li",
    "table", "thead", "tbody", "tr", "th", "td", "pre", "section", "article", "span", "br",
}  # fmt: skip
HTML_ATTRIBUTES = {"lang", "charset", "class", "id", "colspan", "scope"}


def unclean(text: str) -> str:
    """The first character that must not be there, as its code point and surroundings; else nothing."""
    found = UNCLEAN.search(text)
    return (
        f"U+{ord(found[0]):04X} in {text[max(0, found.start() - 30) : found.end() + 10]!r}" if found else ""
    )


def trouble(code: object, out: str, err: str, *, as_json: bool) -> str:
    """What is wrong with the outcome of a command, in words; nothing if all is well."""
    if CRASH in err or "Traceback (most recent" in out + err:
        return f"crash: {err[:300]!r}"
    if code not in CODES:
        return f"exit code {code!r}"
    if wrong := unclean(out) or unclean(err):
        return f"printed {wrong}"
    if len(err) > 5_000:
        return f"a message of {len(err)} characters"
    if as_json and out:
        try:
            json.loads(out)
        except ValueError as error:
            return f"not JSON: {error}"
    if code in {2, 3} and not err.strip():
        return f"exit code {code} and not a word why"
    return ""


def svg_texts(svg: str) -> list[str]:
    """All texts of a drawing. Asserts that it is XML of our own elements, without anything that acts."""
    assert not unclean(svg)
    assert "<!" not in svg
    assert "<script" not in svg.lower()
    root = ElementTree.fromstring(svg)
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in SVG_TAGS, element.tag
        for name, value in element.attrib.items():
            assert not name.lower().startswith("on"), name
            assert "href" not in name, name
            assert "javascript" not in value.lower(), value
    return [element.text or "" for element in root.iter() if element.tag in {f"{SVG}text", f"{SVG}title"}]


class _Page(HTMLParser):
    """Collects tags, attributes and text of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.strange: list[str] = []
        self._in_style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._in_style = tag == "style"
        if tag not in HTML_TAGS:
            self.strange.append(f"<{tag}>")
        self.strange += [name for name, _ in attrs if name not in HTML_ATTRIBUTES]

    def handle_endtag(self, tag: str) -> None:
        self._in_style = False

    def handle_data(self, data: str) -> None:
        if not self._in_style:
            self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        self.strange.append(f"<!--{data[:20]}-->")

    def handle_pi(self, data: str) -> None:
        self.strange.append(f"<?{data[:20]}>")

    def unknown_decl(self, data: str) -> None:
        self.strange.append(f"<![{data[:20]}]>")


def html_text(page: str) -> str:
    """The text of a page. Asserts that it holds only elements and attributes of our own."""
    assert not unclean(page)
    parser = _Page()
    parser.feed(page)
    parser.close()
    assert parser.strange == []
    return "\n".join(parser.texts)


def strings_in(value: object) -> Iterable[str]:
    """Every text in a tree of lists and dicts."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, item in value.items():
            yield str(key)
            yield from strings_in(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from strings_in(item)
