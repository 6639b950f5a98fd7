"""Textual's own styling with a memory: what it works out for a place in the tree is kept for the next app.

Styling is a quarter of what a screen test takes, and each app asks the same. The rules of a widget follow
from the rules there are, from kind, id and classes of it and of all that it lies in, and from those of their
pseudo-classes that a rule asks for; nothing else is read. ``test_styles.py`` holds it against Textual's own.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from textual.css.model import RuleSet
from textual.css.styles import RulesMap, Styles
from textual.css.stylesheet import Stylesheet
from textual.dom import DOMNode

OWN_APPLY = Stylesheet.apply
OWN_REPLACE = vars(Stylesheet)["replace_rules"].__func__
FLAGS = ("_has_hover_style", "_has_focus_within", "_has_order_style", "_has_odd_or_even")
State = tuple[bool, ...]


class Place(NamedTuple):
    """A place in the tree: the pseudo-classes that are asked there, each of which node; what was found."""

    asked: list[tuple[int, str]]
    found: dict[State, tuple[list[bool], RulesMap | None]]


PLACES: dict[Any, Place] = {}
SHEETS: dict[tuple[int, ...], tuple[int, list[RuleSet]]] = {}
"""A number for each list of rules. The rules are kept, as their addresses would be given out again."""
CAUGHT: dict[DOMNode, RulesMap | None] = {}


def apply(sheet: Stylesheet, node: DOMNode, *, animate: bool = False, cache: Any = None) -> None:
    """As ``Stylesheet.apply``, but what was found before for the same place and state is taken again."""
    path = node.css_path_nodes
    key = (_number(sheet), *[(type(one), one._id, frozenset(one._classes)) for one in path])
    place = PLACES.get(key)
    if place is None:
        place = PLACES[key] = Place(_asked(sheet, node, path), {})
    state = tuple([path[at].has_pseudo_class(name) for at, name in place.asked])
    if state in place.found:
        flags, rules = place.found[state]
        for name, flag in zip(FLAGS, flags, strict=True):
            setattr(node, name, flag)
        if rules is not None:
            sheet.replace_rules(node, rules, animate=animate)
        sheet._process_component_classes(node)
    else:
        CAUGHT[node] = None
        OWN_APPLY(sheet, node, animate=animate)
        place.found[state] = [getattr(node, name) for name in FLAGS], CAUGHT.pop(node)


def replace_rules(sheet: type[Stylesheet], node: DOMNode, rules: RulesMap, animate: bool = False) -> None:
    """As ``Stylesheet.replace_rules``; a rule that is there already is not set again.

    Textual works out all hundred values twice to see what moves, also where no rule lets anything move.
    """
    if node in CAUGHT:
        CAUGHT[node] = rules
    if animate and rules.get("transitions"):
        OWN_REPLACE(sheet, node, rules, animate=True)
        return
    base: Styles = node.styles.base
    held: Any = base._rules
    for name in held.keys() | rules.keys():
        if name not in held or name not in rules or held[name] is not rules[name]:
            setattr(base, name, rules.get(name))
    node.notify_style_update()


def _number(sheet: Stylesheet) -> int:
    rules = sheet.rules
    numbered = vars(sheet).get("_numbered")
    if numbered is None or numbered[1] is not rules:
        numbered = SHEETS.setdefault(tuple(map(id, rules)), (len(SHEETS), rules))
        vars(sheet)["_numbered"] = numbered[0], rules
    return numbered[0]


def _asked(sheet: Stylesheet, node: DOMNode, path: list[DOMNode]) -> list[tuple[int, str]]:
    """Of which node on the way to this one some rule may ask for which pseudo-class."""
    by_name = sheet.rules_map
    rules = {rule for name in by_name.keys() & node._selector_names for rule in by_name[name]}
    asked = set()
    for chain in [one.selectors for rule in rules for one in rule.selector_set]:
        for at, one in enumerate(path):
            # The last of a chain speaks of the node itself, those before it of any on the way.
            meant = chain if one is node else chain[:-1]
            asked |= {(at, name) for each in meant if each._check(one) for name in each.pseudo_classes}
    return sorted(asked)
