"""plan.json: a plan as text and back, field by field as `records.plan` declares them; other records too."""

import json
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from math import isfinite
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from optibuild.errors import UsageError
from optibuild.records import Plan

FORMAT = "optibuild-plan/1"
R = TypeVar("R")
SCHEMA_PATH = Path(__file__).with_name("plan.schema.json")


def to_json(plan: Plan) -> str:
    """The text of plan.json: keys in the order declared, null for inf, nan and what does not apply."""
    return json.dumps(_plain(plan), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def from_json(text: str) -> Plan:
    """The plan that a text holds; UsageError names the first thing that keeps it from being one."""
    return record_from_json(Plan, text, FORMAT, "plan")


def record_from_json(kind: type[R], text: str, marked: str, word: str) -> R:
    """The record that a JSON text of a format holds; keys that the record does not have are passed over.

    UsageError says that this is no `word` and names the first thing that keeps it from being one.
    """
    try:
        tree = json.loads(text, parse_constant=_no_constant)
        if not isinstance(tree, dict) or tree.get("format") != marked:
            raise _Unfit(f"it does not carry the format {marked}")
        found: R = _record(kind, tree, "")
    except _Unfit as error:
        raise UsageError(f"this is no {word}: {error}") from None
    except (ValueError, RecursionError) as error:
        raise UsageError(f"this is no {word}: not readable as JSON ({error})") from None
    return found


class _Unfit(Exception):
    """What keeps a tree from being the record asked for."""


def _no_constant(word: str) -> float:
    raise ValueError(f"{word} is no JSON number")


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, (tuple, list)):
        return [_plain(row) for row in value]
    if isinstance(value, dict):
        return {str(key): _plain(value[key]) for key in sorted(value)}
    if isinstance(value, float) and not isfinite(value):
        return None
    return value


def _wrong(where: str, wanted: str, found: Any) -> _Unfit:
    shown = json.dumps(found, ensure_ascii=False)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    return _Unfit(f"{where or 'the file'} needs {wanted}, found {shown}")


def _read(kind: Any, value: Any, where: str) -> Any:
    """A JSON value as the declared type `kind`."""
    if is_dataclass(kind):
        return _record(kind, value, where)
    origin = get_origin(kind)
    if origin in READERS:
        return READERS[origin](kind, value, where)
    return _scalar(kind, value, where)


def _record(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, dict):
        raise _wrong(where, "an object", value)
    hints = get_type_hints(kind)
    missing = [field.name for field in fields(kind) if field.name not in value]
    if missing:
        raise _Unfit(f"{where or 'the file'} lacks {', '.join(missing)}")
    prefix = f"{where}." if where else ""
    return kind(**{field.name: _read(hints[field.name], value[field.name], prefix + field.name)
                   for field in fields(kind)})


def _tuple(kind: Any, value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise _wrong(where, "a list", value)
    return tuple(_read(get_args(kind)[0], row, f"{where}[{index}]") for index, row in enumerate(value))


def _dict(kind: Any, value: Any, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise _wrong(where, "an object", value)
    return {key: _read(get_args(kind)[1], row, f"{where}.{key}") for key, row in value.items()}


def _literal(kind: Any, value: Any, where: str) -> Any:
    allowed = get_args(kind)
    if not isinstance(value, str) or value not in allowed:
        raise _wrong(where, "one of " + ", ".join(f'"{word}"' for word in allowed), value)
    return value


def _optional(kind: Any, value: Any, where: str) -> Any:
    if value is None:
        return None
    present = next(arm for arm in get_args(kind) if arm is not NoneType)
    return _read(present, value, where)


READERS: dict[Any, Callable[[Any, Any, str], Any]] = {
    tuple: _tuple, dict: _dict, Literal: _literal, Union: _optional, UnionType: _optional,
}


def _scalar(kind: Any, value: Any, where: str) -> Any:
    if kind is float:
        return _number(value, where)
    wanted = {str: "text", int: "a whole number", bool: "true or false"}[kind]
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        raise _wrong(where, wanted, value)
    return value


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _wrong(where, "a number", value)
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if not isfinite(number):
        raise _Unfit(f"{where} is too large a number")
    return number
