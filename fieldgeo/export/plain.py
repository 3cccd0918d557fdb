"""Frozen objects as plain dictionaries and lists, and back: what a column of JSON text holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

Thing = TypeVar("Thing")


def from_plain(value: Any, kind: type[Thing]) -> Thing:
    """Return a frozen object rebuilt from what `dataclasses.asdict` and JSON made of it.

    Parameters
    ----------
    value : dict
        Its fields by name.
    kind : type
        The dataclass. Its fields may hold plain values, tuples, dataclasses, or one of several dataclasses: then the
        one that has just these fields.
    """
    rebuilt: Thing = _rebuilt(value, kind)
    return rebuilt


def _rebuilt(value: Any, kind: Any) -> Any:
    if isinstance(kind, UnionType):
        return _rebuilt(value, _fitting(value, get_args(kind)))
    if isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        return kind(**{name: _rebuilt(part, hints[name]) for name, part in value.items()})
    if get_origin(kind) is tuple and isinstance(value, list):
        kinds = get_args(kind)
        of_each = [kinds[0]] * len(value) if kinds[-1] is Ellipsis else kinds
        return tuple(_rebuilt(part, one) for part, one in zip(value, of_each, strict=True))
    return value


def _fitting(value: Any, kinds: tuple[Any, ...]) -> Any:
    names = set(value) if isinstance(value, Mapping) else None
    for kind in kinds:
        if isinstance(kind, type) and is_dataclass(kind) and names == {field.name for field in fields(kind)}:
            return kind
    return next(kind for kind in kinds if not is_dataclass(kind))
