"""What layers are made of: shapes in the frame with attributes, and what each layer holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any, Literal, NamedTuple

import shapely

Properties = dict[str, Any]
Layers = dict[str, list[tuple[shapely.Geometry, Properties]]]
Members = Sequence[tuple[shapely.Geometry, Properties]]
Column = Literal["int64", "float64", "bool", "str"]


class LayerKind(NamedTuple):
    """What a layer holds."""

    geometry: Literal["MultiPolygon", "Polygon", "LineString", "Point"]
    columns: Mapping[str, Column]  # name of each attribute and its type


Kinds = Mapping[str, LayerKind]


def storable(value: object) -> object:
    """Return an attribute as a table or a text file can hold it.

    Parameters
    ----------
    value : object
        Any attribute. Of text, half a character, as broken files have, becomes "?", and what XML and databases know no
        way to hold (control characters but tab and line ends) is left out. A number that is none becomes None.
    """
    if isinstance(value, float) and not isfinite(value):
        return None
    if not isinstance(value, str):
        return value
    text = value.encode("utf-8", "replace").decode("utf-8")
    return "".join(letter for letter in text if letter >= " " or letter in "\t\n\r").translate(_NO_LETTERS)


_NO_LETTERS = dict.fromkeys((0x7F, 0xFFFE, 0xFFFF))
