"""The command line: one file per noun.

Loading is most of what a short answer takes, so what its libraries load in vain does not come with them.
"""

from __future__ import annotations

import collections
import sys
import typing
from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from types import CodeType, FunctionType, ModuleType
from typing import Any


class Later(ModuleType):
    """Stands for a module until something of it is asked for, which hardly ever happens."""

    def __getattr__(self, name: str) -> object:
        # Whoever imports asks for these of the stand-in itself.
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(import_module(self.__name__), name)


class _Quoting(Later):
    """All that paths take from the module of addresses, for a method that nothing here calls."""

    def quote_from_bytes(self, *given: bytes) -> object:
        return Later.__getattr__(self, "quote_from_bytes")(*given)  # type: ignore[operator]


class _English(Later):
    """What the reader of options asks a translation for, which this program has none of."""

    @staticmethod
    def gettext(text: str) -> str:
        return text

    @staticmethod
    def ngettext(one: str, many: str, count: int) -> str:
        return one if count == 1 else many


def load(name: str, stands_in: Mapping[str, ModuleType | None]) -> None:
    """Load a module with others in place of what it loads in vain; whoever asks for these later gets them."""
    if name not in sys.modules:
        mine = {one: sys.modules.setdefault(one, it) for one, it in stands_in.items()}  # type: ignore[arg-type]
        import_module(name)
        for one, it in stands_in.items():
            if mine[one] is it:
                del sys.modules[one]


def make_tuples_quickly() -> None:
    """Have types of named fields made without compiling a text for each type and each of its fields.

    A command makes fifty to a hundred of them, which took a tenth of its time. What the fields are annotated
    with stays the text that it is, as in any class, and is read by whoever asks for it.
    """
    make: Any = collections.namedtuple
    templates: dict[int, CodeType] = {}
    start = "lambda _cls, "

    def made(text: str, names: dict[str, Any]) -> Any:
        # Types of as many fields differ in the names of their arguments alone.
        fields = text.removeprefix(start).partition(":")[0].rstrip(",").split(", ")
        if not (text.startswith(start) and all(fields)):
            return eval(text, names)
        if len(fields) not in templates:
            templates[len(fields)] = eval(text, names).__code__
        return FunctionType(templates[len(fields)].replace(co_varnames=("_cls", *fields)), names)

    def named(name: str, types: Iterable[tuple[str, Any]], module: str, defaults: Sequence[Any] = ()) -> Any:
        annotated = dict(types)
        found = make(name, annotated, defaults=defaults, module=module)
        found.__annotations__ = found.__new__.__annotations__ = annotated
        return found

    # Later versions of Python ask for annotations in a way of their own.
    if sys.version_info < (3, 14):
        vars(collections)["eval"] = made
        vars(typing)["_make_nmtuple"] = named


load("pathlib", {"urllib.parse": _Quoting("urllib.parse"), "ntpath": Later("ntpath")})
load("argparse", {"gettext": _English("gettext")})
