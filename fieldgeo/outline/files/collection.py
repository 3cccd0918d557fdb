"""A GeoJSON file as a layer. Its features may name the layer they belong to in the property `layer`, as ours do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.errors import OutlineError
from fieldgeo.outline.files.condition import rows_that_meet
from fieldgeo.outline.files.geojson import plain_name, read_geojson
from fieldgeo.outline.files.layer import Feature, Given, Layer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.rules import FileRules

_OWN_OUTLINE: Final = "outline"
_MOST_LAYERS: Final = 20


def read_collection(given: Given, rules: FileRules) -> Layer:
    """Return the features of a GeoJSON file that are asked for.

    Parameters
    ----------
    given : Given
        The file.
    rules : FileRules
        Layer and condition that choose features.

    Returns
    -------
    Layer
        Where every feature names its layer and one of these is ``outline``, the features of that.

    Raises
    ------
    FileError
        If the file cannot be read.
    OutlineError
        If it is no GeoJSON, no feature is of the layer, or the condition cannot be used.
    """
    document = read_geojson(given.path)
    features = [
        Feature(number=number, attributes=properties, outline=outline)
        for number, (properties, outline) in enumerate(
            zip(document.properties, document.outlines, strict=True), start=1
        )
    ]
    kept, layers, notes = _of_layer(features, given, rules.layer)
    if rules.where is not None:
        rows = rows_that_meet([feature.attributes for feature in kept], rules.where, given.name)
        kept = [kept[row] for row in rows]
    return Layer(
        form="geojson",
        features=tuple(kept),
        columns=tuple(dict.fromkeys(key for feature in features for key in feature.attributes)),
        crs=document.crs,
        layers=layers,
        faults=document.faults,
        notes=notes,
    )


def _of_layer(
    features: Sequence[Feature], given: Given, asked: str | None
) -> tuple[list[Feature], tuple[str, ...], tuple[str, ...]]:
    """Return the features of the layer asked for, all layers, and what there is to tell of the choice."""
    named = [feature.attributes.get("layer") for feature in features]
    layers = tuple(dict.fromkeys(name for name in named if isinstance(name, str)))
    if asked is not None:
        if asked not in layers:
            known = [f"layer {plain_name(name)!r}" for name in layers[:_MOST_LAYERS]]
            raise OutlineError(
                f"{given.name}: it has no layer {asked!r}: no feature has it in its property 'layer'.",
                known or ["no feature names a layer; leave out --layer"],
            )
        return [feature for feature, name in zip(features, named, strict=True) if name == asked], layers, ()
    if _OWN_OUTLINE not in layers or len(layers) == 1 or not all(isinstance(name, str) for name in named):
        return list(features), (), ()
    kept = [feature for feature, name in zip(features, named, strict=True) if name == _OWN_OUTLINE]
    others = [name for name in layers if name != _OWN_OUTLINE]
    left = len(features) - len(kept)
    note = (
        f"layer 'outline' was read; {left} {'feature' if left == 1 else 'features'} of other layers left out "
        f"({', '.join(map(plain_name, others[:_MOST_LAYERS]))})"
    )
    return kept, layers, (note,)
