"""Textual's own styling with a memory: what it works out for a place in the tree is kept for the next app.

Styling is a quarter of what a screen test takes, and each app asks the same. The rules of a widget follow
from those that may hold for its names, from kind, and id and classes that these ask for, of it and of all
that it lies in, and from those of their pseudo-classes that a rule asks for; nothing else is read.
``test_styles.py`` holds it against Textual's own.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from textual.css.model import RuleSet, SelectorType
from textual.css.styles import RulesMap, Styles
from textual.css.stylesheet import Stylesheet
from textual.dom import DOMNode

OWN_APPLY = Stylesheet.apply
OWN_REPLACE = vars(Stylesheet)["replace_rules"].__func__
FLAGS = ("_has_hover_style", "_has_focus_within", "_has_order_style", "_has_odd_or_even")
State = tuple[bool, ...]


class Named(NamedTuple):
    """The rules that may hold for a node, by its own names, in their order; and the names they ask for."""

    number: int
    rules: list[RuleSet]
    ids: frozenset[str | None]
    classes: frozenset[str]


class Found(NamedTuple):
    """What was found for a place in a state: the flags, the rules, and how a node holds these."""

    flags: list[bool]
    rules: RulesMap | None
    held: RulesMap


class Place(NamedTuple):
    """A place in the tree: the pseudo-classes that are asked there, each of which node; what was found."""

    asked: list[tuple[int, str]]
    found: dict[State, Found]


PLACES: dict[Any, Place] = {}
SHEETS: dict[tuple[int, ...], tuple[int, list[RuleSet]]] = {}
"""A number for each list of rules. The rules are kept, as their addresses would be given out again."""
BY_NAMES: dict[Any, Named] = {}
BY_RULES: dict[tuple[int, ...], Named] = {}
"""Each screen brings rules of its own, but few that could ever hold for a node of another."""
PARTS: dict[type[DOMNode], list[str]] = {}
"""The classes of the parts of each kind of widget."""
CAUGHT: dict[DOMNode, RulesMap | None] = {}


def apply(sheet: Stylesheet, node: DOMNode, *, animate: bool = False, cache: Any = None) -> None:
    """As ``Stylesheet.apply``, but what was found before for the same place and state is taken again."""
    path = node.css_path_nodes
    place = _place(sheet, node, path)
    state = tuple([path[at].has_pseudo_class(name) for at, name in place.asked])
    found = place.found.get(state)
    if found is None:
        CAUGHT[node] = None
        OWN_APPLY(sheet, node, animate=animate)
        flags, held = [getattr(node, name) for name in FLAGS], dict(node.styles.base._rules)
        place.found[state] = Found(flags, CAUGHT.pop(node), held)  # type: ignore[arg-type]
        return
    for name, flag in zip(FLAGS, found.flags, strict=True):
        setattr(node, name, flag)
    base: Styles = node.styles.base
    if found.rules is None:
        pass
    elif type(node) is DOMNode and not base._rules:
        # A part of a widget, made for its looks alone: nothing is laid out or painted when one is set.
        base._rules.update(found.held)
        base._updates += len(found.held)
    else:
        sheet.replace_rules(node, found.rules, animate=animate)
    if type(node) not in PARTS:
        PARTS[type(node)] = sorted(node._get_component_classes())
    if PARTS[type(node)]:
        sheet._process_component_classes(node)


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


def _place(sheet: Stylesheet, node: DOMNode, path: list[DOMNode]) -> Place:
    number = _number(sheet)
    key: Any = (number, type(node), node._id, frozenset(node._classes))
    named = BY_NAMES.get(key) or BY_NAMES.setdefault(key, _named(sheet, node))
    ids, classes = named.ids, named.classes
    key = (
        named.number,
        *[(type(one), one._id if one._id in ids else None, classes & one._classes) for one in path],
    )
    return PLACES.get(key) or PLACES.setdefault(key, Place(_asked(named.rules, node, path), {}))


def _named(sheet: Stylesheet, node: DOMNode) -> Named:
    by_name = sheet.rules_map
    mine = {rule for name in by_name.keys() & node._selector_names for rule in by_name[name]}
    rules = [rule for rule in sheet.rules if rule in mine]
    key = tuple(map(id, rules))
    if key not in BY_RULES:
        asked = [one for rule in rules for chain in rule.selector_set for one in chain.selectors]
        ids = frozenset[str | None](one.name for one in asked if one.type is SelectorType.ID)
        classes = frozenset(one.name for one in asked if one.type is SelectorType.CLASS)
        BY_RULES[key] = Named(len(BY_RULES), rules, ids, classes)
    return BY_RULES[key]


def _asked(rules: list[RuleSet], node: DOMNode, path: list[DOMNode]) -> list[tuple[int, str]]:
    """Of which node on the way to this one some rule may ask for which pseudo-class."""
    asked = set()
    for chain in [one.selectors for rule in rules for one in rule.selector_set]:
        for at, one in enumerate(path):
            # The last of a chain speaks of the node itself, those before it of any on the way.
            meant = chain if one is node else chain[:-1]
            asked |= {(at, name) for each in meant if each._check(one) for name in each.pseudo_classes}
    return sorted(asked)
