"""Short YAML examples and unit words for the fields of a record, made from its type."""

from __future__ import annotations

from typing import Any

from msgspec import inspect

_NUMBERS: dict[str, str] = {
    "d": "15.5",
    "p": "10.4",
    "h": "7.0",
    "r0": "8.0",
    "weight": "0.5",
    "molar_mass_g_mol": "58.08",
    "density_g_ml": "0.79",
    "molar_volume_cm3_mol": "74.0",
    "boiling_point_c": "56.1",
    "vapour_pressure_20c_kpa": "24.6",
    "vapour_pressure_25c_kpa": "30.8",
    "evaporation_rate_butyl_acetate_1": "5.6",
    "flash_point_c": "-20",
    "lower_explosive_limit_vol_pct": "2.5",
    "upper_explosive_limit_vol_pct": "13",
    "at_c": "25",
}
_TEXTS: dict[str, str] = {
    "id": "white-spirit",
    "name": "White spirit",
    "also": "mineral spirits",
    "cas": "67-64-1",
    "text": "Softens in warm water",
    "from": "memory",
    "family": "ketones",
    "agent": "acetone",
    "cite": "Author, A. (1990) Title. Journal 1, 1-10",
    "none_known": "a mixture without a fixed value",
}
_UNITS: tuple[tuple[str, str], ...] = (
    ("_20c_kpa", "kPa at 20 degrees Celsius"),
    ("_25c_kpa", "kPa at 25 degrees Celsius"),
    ("_butyl_acetate_1", "multiples of n-butyl acetate"),
    ("_vol_pct", "per cent by volume"),
    ("_cm3_mol", "cm3 per mol"),
    ("_g_mol", "g per mol"),
    ("_mg_m3", "mg per m3"),
    ("_g_ml", "g per ml"),
    ("_g_l", "g per litre"),
    ("_ppm", "ppm"),
    ("_kpa", "kPa"),
    ("_c", "degrees Celsius"),
)


def unit(key: str) -> str:
    """The unit that the name of a field says, in words; empty if it says none."""
    # By the ending, as names of fields bear their units.
    return next((words for ending, words in _UNITS if key.endswith(ending)), "")


def example(key: str, wanted: inspect.Type) -> str:
    """One line of YAML that would be right for the field ``key`` of type ``wanted``."""
    return f"{key}: {_value(key, wanted)}"


def words(wanted: inspect.Type, key: str = "") -> str:
    """What is due at a field, in words."""
    wanted = bare(wanted)
    if isinstance(wanted, inspect.LiteralType):
        return "one of: " + ", ".join(str(value) for value in wanted.values)
    if isinstance(wanted, inspect.FloatType | inspect.IntType):
        number = "a whole number" if isinstance(wanted, inspect.IntType) else "a number"
        return f"{number} in {unit(key)}" if unit(key) else number
    if isinstance(wanted, inspect.BoolType):
        return "true or false"
    if isinstance(wanted, inspect.VarTupleType):
        return "a list of ids of sources" if key == "from" else "a list"
    if isinstance(wanted, inspect.DictType):
        words_due = isinstance(wanted.value_type, inspect.LiteralType)
        return "a map of ids and words" if words_due else "a map of ids and numbers"
    if isinstance(wanted, inspect.StructType):
        # A struct of options alone still needs something to show.
        keys = [field.encode_name for field in wanted.fields if field.required] or ["value"]
        if is_figure(wanted):
            keys = ["value (or low and high)", "from"]
        return "a map with the keys " + ", ".join(keys)
    return "text"


def bare(wanted: inspect.Type) -> inspect.Type:
    """The type without the choice of leaving it out."""
    if isinstance(wanted, inspect.UnionType):
        return next(part for part in wanted.types if not isinstance(part, inspect.NoneType))
    return wanted


def is_figure(wanted: inspect.StructType) -> bool:
    """Whether the struct is a figure: a value or a range with its sources."""
    names = {field.name for field in wanted.fields}
    return {"value", "low", "high"} <= names


def _value(key: str, wanted: inspect.Type) -> str:
    wanted = bare(wanted)
    if isinstance(wanted, inspect.StructType):
        pairs = [f"value: {_NUMBERS.get(key, '1.5')}"] if is_figure(wanted) else []
        needed = [field for field in wanted.fields if field.required]
        pairs += [example(field.encode_name, field.type) for field in needed]
        return "{" + ", ".join(pairs) + "}"
    if isinstance(wanted, inspect.VarTupleType):
        return f"[{_value(key, wanted.item_type)}]"
    if isinstance(wanted, inspect.DictType):
        if isinstance(wanted.value_type, inspect.LiteralType):
            return f"{{glossy: {wanted.value_type.values[0]}}}"
        return "{acetone: 0.5, ethanol: 0.5}"
    return _scalar(key, wanted)


def _scalar(key: str, wanted: inspect.Type) -> str:
    fixed: Any
    if isinstance(wanted, inspect.LiteralType):
        fixed = wanted.values[0]
    elif isinstance(wanted, inspect.BoolType):
        fixed = "true"
    elif isinstance(wanted, inspect.IntType):
        fixed = "1"
    elif isinstance(wanted, inspect.FloatType):
        fixed = _NUMBERS.get(key, "1.5")
    else:
        fixed = _TEXTS.get(key, "text")
    return str(fixed)
