"""Layers as KML: a folder for each, with a style, and the attributes of every shape in its table.

Format: OGC 12-007r2, "OGC KML 2.3", 2015 (elements used are those of 2.2 too): longitude, latitude WGS 84; colours are
aabbggrr; children of a Placemark in the order of its schema.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree

import shapely

from fieldgeo.export.files import PathLike, write_whole
from fieldgeo.export.geojson import DECIMALS, shape_to_places
from fieldgeo.export.kinds import storable
from fieldgeo.export.styles import PLAIN, POINTS_PER_MM, STYLES

if TYPE_CHECKING:
    from fieldgeo.export.kinds import Layers, Properties
    from fieldgeo.export.styles import LayerStyle
    from fieldgeo.frame import Frame

_NAMESPACE: Final = "http://www.opengis.net/kml/2.2"
_HATCHED: Final = "66"  # KML has no hatching: such ground is tinted, this much opaque
_FILLED: Final = "ff"


def write_kml(layers: Layers, frame: Frame, path: PathLike, *, force: bool) -> None:
    """Write layers to a KML file, whole or not at all.

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

    Raises
    ------
    FileError
        If the file exists and `force` is not set, or it cannot be written.
    """
    root = ElementTree.Element("kml", xmlns=_NAMESPACE)
    document = ElementTree.SubElement(root, "Document")
    for name in layers:
        _style(document, name, STYLES.get(name, PLAIN))
    for name, members in layers.items():
        folder = ElementTree.SubElement(document, "Folder")
        ElementTree.SubElement(folder, "name").text = name
        for number, (shape, properties) in enumerate(members, start=1):
            _placemark(folder, name, number, shape_to_places(shape, frame), properties)
    ElementTree.indent(root, space=" ")
    write_whole(path, ElementTree.tostring(root, encoding="utf-8", xml_declaration=True), force=force)


def _style(document: ElementTree.Element, name: str, style: LayerStyle) -> None:
    element = ElementTree.SubElement(document, "Style", id=name)
    line = ElementTree.SubElement(element, "LineStyle")
    ElementTree.SubElement(line, "color").text = _colour(style.colour, _FILLED)
    ElementTree.SubElement(line, "width").text = f"{style.width_mm * POINTS_PER_MM:.2f}"
    polygon = ElementTree.SubElement(element, "PolyStyle")
    opacity = _FILLED if style.fill else _HATCHED if style.hatch_deg is not None else "00"
    ElementTree.SubElement(polygon, "color").text = _colour(style.fill or style.colour, opacity)


def _colour(colour: str, opacity: str) -> str:
    return opacity + colour[5:7] + colour[3:5] + colour[1:3]


def _placemark(
    folder: ElementTree.Element, layer: str, number: int, place: shapely.Geometry | None, properties: Properties
) -> None:
    element = ElementTree.SubElement(folder, "Placemark")
    own = properties.get("name") or f"{layer.removesuffix('s')} {properties.get('number', number)}"
    ElementTree.SubElement(element, "name").text = str(storable(str(own)))
    ElementTree.SubElement(element, "styleUrl").text = f"#{layer}"
    table = ElementTree.SubElement(element, "ExtendedData")
    for key, value in properties.items():
        data = ElementTree.SubElement(table, "Data", name=key)
        kept = storable(value)
        ElementTree.SubElement(data, "value").text = "" if kept is None else str(kept)
    if place is not None:  # else it is a sliver that vanishes at the decimals written; its attributes are kept
        _geometry(element, place)


def _geometry(parent: ElementTree.Element, shape: shapely.Geometry) -> None:
    if isinstance(shape, shapely.Polygon):
        polygon = ElementTree.SubElement(parent, "Polygon")
        _ring(ElementTree.SubElement(polygon, "outerBoundaryIs"), shape.exterior)
        for hole in shape.interiors:
            _ring(ElementTree.SubElement(polygon, "innerBoundaryIs"), hole)
    elif isinstance(shape, shapely.LineString):
        line = ElementTree.SubElement(parent, "LineString")
        ElementTree.SubElement(line, "tessellate").text = "1"
        _coordinates(line, shape)
    elif isinstance(shape, shapely.Point):
        _coordinates(ElementTree.SubElement(parent, "Point"), shape)
    else:
        several = ElementTree.SubElement(parent, "MultiGeometry")
        for part in shapely.get_parts(shape):
            _geometry(several, part)


def _ring(parent: ElementTree.Element, ring: shapely.LinearRing) -> None:
    _coordinates(ElementTree.SubElement(parent, "LinearRing"), ring)


def _coordinates(parent: ElementTree.Element, shape: shapely.Geometry) -> None:
    points = shapely.get_coordinates(shape).tolist()
    text = " ".join(f"{lon:.{DECIMALS}f},{lat:.{DECIMALS}f}" for lon, lat in points)
    ElementTree.SubElement(parent, "coordinates").text = text
