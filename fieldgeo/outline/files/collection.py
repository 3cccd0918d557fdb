"""A GeoJSON file as a layer. Its features may name the layer they belong to in the property `layer`, as ours do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.errors import OutlineError
from fieldgeo.outline.files.condition import rows_that_meet
from fieldgeo.outline.files.geojson import plain_name, read_geojson
from fieldgeo.outline.files.kinds import OWN_OUTLINE
from fieldgeo.outline.files.layer import Feature, Given, Layer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.rules import FileRules

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
    numbers, layers, notes = of_layer([feature.attributes.get("layer") for feature in features], given, rules.layer)
    kept = [features[number] for number in numbers]
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


def of_layer(
    named: Sequence[object], given: Given, asked: str | None
) -> tuple[list[int], tuple[str, ...], tuple[str, ...]]:
    """Return which features are of the layer asked for, all layers, and what there is to tell of the choice.

    Parameters
    ----------
    named : sequence
        The attribute `layer` of each feature; anything but text is no name.
    given : Given
        The file.
    asked : str or None
        The layer asked for.

    Returns
    -------
    tuple of list of int, tuple of str and tuple of str
        Where none is asked for all features, unless every one names its layer and one of these is ``outline``.

    Raises
    ------
    OutlineError
        If no feature is of the layer asked for.
    """
    layers = tuple(dict.fromkeys(name for name in named if isinstance(name, str)))
    if asked is not None:
        if asked not in layers:
            known = [f"layer {plain_name(name)!r}" for name in layers[:_MOST_LAYERS]]
            raise OutlineError(
                f"{given.name}: it has no layer {asked!r}: no feature has it in its property 'layer'.",
                known or ["no feature names a layer; leave out --layer"],
            )
        return [number for number, name in enumerate(named) if name == asked], layers, ()
    if OWN_OUTLINE not in layers or len(layers) == 1 or not all(isinstance(name, str) for name in named):
        return list(range(len(named))), (), ()
    kept = [number for number, name in enumerate(named) if name == OWN_OUTLINE]
    others = [name for name in layers if name != OWN_OUTLINE]
    left = len(named) - len(kept)
    note = (
        f"layer {OWN_OUTLINE!r} was read; {left} {'feature' if left == 1 else 'features'} of other layers left out "
        f"({', '.join(map(plain_name, others[:_MOST_LAYERS]))})"
    )
    return kept, layers, (note,)
