"""Layers as GPX: what is to be driven as routes, stops as waypoints, the outline and the way between as tracks.

Format: GPX 1.1 schema: waypoints, then routes, then tracks; WGS 84. GPX knows points and lines only. No times are
written: nothing has been driven yet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree

import shapely

from fieldgeo.export.files import PathLike, write_whole
from fieldgeo.export.geojson import DECIMALS, shape_to_places
from fieldgeo.export.kinds import storable

if TYPE_CHECKING:
    from fieldgeo.export.kinds import Layers, Properties
    from fieldgeo.frame import Frame

_NAMESPACE: Final = "http://www.topografix.com/GPX/1/1"
_ROUTES: Final = ("guidance", "headland_rounds", "passes")  # layers that are followed; other lines are tracks
_PLACES: Final = ("lon_deg", "lat_deg")  # what attributes in degrees that tell a place end in
_RINGS: Final = ("outline",)  # layers of polygons whose edge says it all


def write_gpx(layers: Layers, frame: Frame, path: PathLike, *, force: bool) -> tuple[str, ...]:
    """Write layers to a GPX file, whole or not at all, and say what it does not hold.

    Parameters
    ----------
    layers : dict of str to list of (shapely.Geometry, dict)
        Shapes in the frame [m] with their attributes.
    frame : Frame
        The plane of the shapes.
    path : str or path
        The file.
    force : bool
        Whether an existing file may be replaced.

    Returns
    -------
    tuple of str
        What GPX cannot hold and was left out.

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    root = ElementTree.Element("gpx", version="1.1", creator="fieldgeo", xmlns=_NAMESPACE)
    parts: dict[str, list[ElementTree.Element]] = {"wpt": [], "rte": [], "trk": []}
    left_out: dict[str, int] = {}
    vanished = 0
    # A device lists routes as they come: what to be guided by first, then the rest in the order that it is driven.
    for layer in sorted(layers, key=lambda name: _ROUTES.index(name) if name in _ROUTES else len(_ROUTES)):
        for number, (shape, properties) in enumerate(layers[layer], start=1):
            if shapely.get_dimensions(shape) == 2 and layer not in _RINGS:
                left_out[layer] = left_out.get(layer, 0) + 1
                continue
            place = shape_to_places(shape, frame)
            if place is None:
                vanished += 1
                continue
            for element in _elements(layer, number, place, properties):
                parts[element.tag].append(element)
    for elements in parts.values():
        root.extend(elements)
    ElementTree.indent(root, space=" ")
    write_whole(path, ElementTree.tostring(root, encoding="utf-8", xml_declaration=True), force=force)
    areas = tuple(f"GPX holds no areas: {layer} ({count}) is left out" for layer, count in left_out.items())
    closed = ("GPX holds no areas: the outline is a closed track",) if layers.get("outline") else ()
    tiny = (f"{vanished} lines shorter than 0.1 mm are left out",) if vanished else ()
    return (*areas, *closed, *tiny)


def _elements(layer: str, number: int, place: shapely.Geometry, properties: Properties) -> list[ElementTree.Element]:
    name = f"{layer.removesuffix('s').replace('_', ' ')} {properties.get('number', number)}"
    said = {key: _said(key, storable(value)) for key, value in properties.items()}
    about = ", ".join(f"{key} {text}" for key, text in said.items() if text)
    pieces = list(shapely.get_parts(shapely.boundary(place) if layer in _RINGS else place))
    if isinstance(place, shapely.Point):
        return [_waypoint(place, name, about)]
    if layer not in _ROUTES:
        track = _titled("trk", str(storable(properties.get("name") or name)), about)
        for piece in pieces:
            _points(ElementTree.SubElement(track, "trkseg"), "trkpt", piece)
        return [track]
    routes = []
    for count, piece in enumerate(pieces, start=1):
        # A route is one line; one cut at 180 degrees becomes several.
        route = _titled("rte", name if len(pieces) == 1 else f"{name} ({count} of {len(pieces)})", about)
        ElementTree.SubElement(route, "number").text = str(properties.get("number", number))
        _points(route, "rtept", piece)
        routes.append(route)
    return routes


def _said(key: str, value: object) -> str:
    """Return an attribute as a person reads it on a small screen: places to 0.1 mm, the rest to a thousandth."""
    if value is None:
        return ""
    return f"{value:.{DECIMALS if key.endswith(_PLACES) else 3}f}" if isinstance(value, float) else str(value)


def _waypoint(place: shapely.Point, name: str, about: str) -> ElementTree.Element:
    element = _titled("wpt", name, about)
    element.set("lat", f"{place.y:.{DECIMALS}f}")
    element.set("lon", f"{place.x:.{DECIMALS}f}")
    return element


def _titled(tag: str, name: str, about: str) -> ElementTree.Element:
    element = ElementTree.Element(tag)
    ElementTree.SubElement(element, "name").text = name
    ElementTree.SubElement(element, "desc").text = about
    return element


def _points(parent: ElementTree.Element, tag: str, line: shapely.Geometry) -> None:
    for lon, lat in shapely.get_coordinates(line).tolist():
        ElementTree.SubElement(parent, tag, lat=f"{lat:.{DECIMALS}f}", lon=f"{lon:.{DECIMALS}f}")
