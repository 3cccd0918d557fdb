"""How each layer is drawn by a general GIS program that opens it: colour, width, dashes, hatching.

Two forms of the same style. SLD 1.0.0 (OGC 02-070, "Styled Layer Descriptor Implementation Specification", 2002) is the
open standard. The other is the style document of QGIS, a free general GIS program, which takes it from the table
`layer_styles` of a GeoPackage when the layer is opened (form as its own files have it; checked by opening one).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree

from fieldgeo.export import palette

if TYPE_CHECKING:
    from collections.abc import Mapping

POINTS_PER_MM: Final = 72 / 25.4  # SLD gives widths in pixels; one to a point here


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerStyle:
    """How the shapes of one layer are drawn."""

    colour: str  # of lines, and of hatching, "#rrggbb"
    width_mm: float = 0.3
    fill: str = ""  # of polygons, "#rrggbb"; empty is none
    hatch_deg: float | None = None  # direction of hatching lines, counter-clockwise from east
    dash_mm: tuple[float, ...] = ()  # on, off
    has_arrow: bool = False  # lines show which way they are driven
    label: str = ""  # attribute written beside each shape; empty is none


STYLES: Final[Mapping[str, LayerStyle]] = {
    "outline": LayerStyle(colour=palette.OUTLINE, width_mm=0.5, label="name"),
    "parts": LayerStyle(colour=palette.TURN, width_mm=0.3),
    "seams": LayerStyle(colour=palette.OUTLINE, width_mm=0.6, dash_mm=(3.0, 1.0)),
    "swaths": LayerStyle(colour=palette.HOLE, width_mm=0.1),
    "key_line": LayerStyle(colour=palette.DIFFER, width_mm=0.5, dash_mm=(2.0, 1.0)),
    "operations": LayerStyle(colour=palette.OUTLINE, width_mm=0.4, label="field"),
    "headland_rounds": LayerStyle(colour=palette.HEADLAND, width_mm=0.5, dash_mm=(2.0, 0.6), has_arrow=True),
    "passes": LayerStyle(colour=palette.PASS, width_mm=0.4, has_arrow=True, label="number"),
    "guidance": LayerStyle(colour=palette.DIFFER, width_mm=0.9, has_arrow=True),
    "turns": LayerStyle(colour=palette.TURN, width_mm=0.2),
    "travel": LayerStyle(colour=palette.TURN, width_mm=0.3, dash_mm=(0.5, 0.5)),
    "overlap": LayerStyle(colour=palette.OVERLAP, width_mm=0.2, hatch_deg=45.0),
    "skip": LayerStyle(colour=palette.SKIP, width_mm=0.2, hatch_deg=135.0),
    "back_furrows": LayerStyle(colour=palette.RIDGE, width_mm=1.0),
    "dead_furrows": LayerStyle(colour=palette.OUTLINE, width_mm=0.8, dash_mm=(1.6, 0.8)),
    "stops": LayerStyle(colour=palette.OUTLINE, fill=palette.DIFFER, label="number"),
    "stands": LayerStyle(colour=palette.OUTLINE, fill=palette.HEADLAND, width_mm=0.6),
}
# Of labels: around a point, along a line, over ground.
_PLACEMENTS: Final = {"Point": "0", "LineString": "2"}
_LABELS_DRAWN: Final = {
    "drawLabels": "1", "scaleVisibility": "0", "scaleMin": "0", "scaleMax": "0", "obstacle": "0", "displayAll": "0",
    "limitNumLabels": "0", "maxNumLabels": "2000", "minFeatureSize": "0", "fontLimitPixelSize": "0", "zIndex": "0",
}  # fmt: skip
PLAIN: Final = LayerStyle(colour=palette.TURN)  # of a layer that has no style of its own


def qgis_style(name: str, geometry: str) -> str:
    """Return the style of a layer as QGIS reads it, XML.

    Parameters
    ----------
    name : str
        The layer.
    geometry : str
        What it holds: ``"Point"``, ``"LineString"``, ``"Polygon"`` or ``"MultiPolygon"``.
    """
    style = STYLES.get(name, PLAIN)
    categories = "Symbology|Labeling" if style.label else "Symbology"
    root = ElementTree.Element(
        "qgis", version="3.22.0", styleCategories=categories, labelsEnabled=str(int(bool(style.label)))
    )
    renderer = ElementTree.SubElement(root, "renderer-v2", type="singleSymbol", symbollevels="0", enableorderby="0")
    symbols = ElementTree.SubElement(renderer, "symbols")
    if geometry == "Point":
        symbol = _symbol(symbols, "marker", "0")
        values = {"name": "circle", "size": "2.4", "size_unit": "MM", "color": _rgba(style.fill or style.colour)}
        _qgis_layer(symbol, "SimpleMarker", values | {"outline_color": _rgba(style.colour), "outline_width": "0.3"})
    elif geometry == "LineString":
        symbol = _symbol(symbols, "line", "0")
        _qgis_layer(symbol, "SimpleLine", _qgis_line(style))
        if style.has_arrow:
            # Numbers stand in the middle of a line: arrows near its start, and on again along long ones.
            along = {"placement": "interval", "interval": "60", "interval_unit": "MM", "rotate": "1"}
            along |= {"offset_along_line": "5", "offset_along_line_unit": "MM"}
            arrow = _qgis_layer(symbol, "MarkerLine", along)
            marker = _symbol(arrow, "marker", "@0@1")
            values = {"name": "filled_arrowhead", "size": "2.2", "size_unit": "MM", "color": _rgba(style.colour)}
            _qgis_layer(marker, "SimpleMarker", values | {"outline_color": _rgba(style.colour), "angle": "0"})
    else:
        symbol = _symbol(symbols, "fill", "0")
        if style.hatch_deg is not None:
            values = {"angle": f"{style.hatch_deg:g}", "distance": "1.6", "distance_unit": "MM", "line_width": "0.3"}
            hatch = _qgis_layer(symbol, "LinePatternFill", values | {"color": _rgba(style.colour)})
            _qgis_layer(_symbol(hatch, "line", "@0@0"), "SimpleLine", _qgis_line(style))
        edge = {"style": "solid" if style.fill else "no", "color": _rgba(style.fill or style.colour)}
        edge |= {"outline_color": _rgba(style.colour), "outline_width": f"{style.width_mm:g}"}
        _qgis_layer(symbol, "SimpleFill", edge | {"outline_width_unit": "MM", "outline_style": "solid"})
    if style.label:
        _qgis_label(root, style, geometry)
    return "<!DOCTYPE qgis>\n" + ElementTree.tostring(root, encoding="unicode")


def sld_style(name: str, geometry: str) -> str:
    """Return the style of a layer as SLD 1.0.0, XML. Hatching, which SLD 1.0.0 has no word for, becomes a thin tint.

    Parameters
    ----------
    name : str
        The layer.
    geometry : str
        What it holds: ``"Point"``, ``"LineString"``, ``"Polygon"`` or ``"MultiPolygon"``.
    """
    style = STYLES.get(name, PLAIN)
    root = ElementTree.Element("StyledLayerDescriptor", version="1.0.0", xmlns="http://www.opengis.net/sld")
    layer = ElementTree.SubElement(root, "NamedLayer")
    ElementTree.SubElement(layer, "Name").text = name
    user = ElementTree.SubElement(layer, "UserStyle")
    rule = ElementTree.SubElement(ElementTree.SubElement(user, "FeatureTypeStyle"), "Rule")
    if geometry == "Point":
        graphic = ElementTree.SubElement(ElementTree.SubElement(rule, "PointSymbolizer"), "Graphic")
        mark = ElementTree.SubElement(graphic, "Mark")
        ElementTree.SubElement(mark, "WellKnownName").text = "circle"
        _sld_fill(mark, style.fill or style.colour, 1.0)
        _sld_stroke(mark, style)
        ElementTree.SubElement(graphic, "Size").text = "8"
    elif geometry == "LineString":
        _sld_stroke(ElementTree.SubElement(rule, "LineSymbolizer"), style)
    else:
        polygon = ElementTree.SubElement(rule, "PolygonSymbolizer")
        if style.fill or style.hatch_deg is not None:
            _sld_fill(polygon, style.fill or style.colour, 1.0 if style.fill else 0.25)
        _sld_stroke(polygon, style)
    return ElementTree.tostring(root, encoding="unicode")


def _symbol(parent: ElementTree.Element, kind: str, name: str) -> ElementTree.Element:
    return ElementTree.SubElement(parent, "symbol", type=kind, name=name, alpha="1", clip_to_extent="1")


def _qgis_layer(symbol: ElementTree.Element, kind: str, values: Mapping[str, str]) -> ElementTree.Element:
    attributes = {"class": kind, "enabled": "1", "pass": "0", "locked": "0"}
    layer = ElementTree.SubElement(symbol, "layer", attributes)
    options = ElementTree.SubElement(layer, "Option", type="Map")
    for name, value in values.items():
        ElementTree.SubElement(options, "Option", name=name, type="QString", value=value)
    return layer


def _qgis_label(root: ElementTree.Element, style: LayerStyle, geometry: str) -> None:
    labeling = ElementTree.SubElement(root, "labeling", type="simple")
    settings = ElementTree.SubElement(labeling, "settings")
    text = {"fieldName": style.label, "fontSize": "8", "fontSizeUnit": "Point", "textColor": _rgba(style.colour)}
    written = ElementTree.SubElement(settings, "text-style", text)
    halo = {"bufferDraw": "1", "bufferSize": "0.8", "bufferSizeUnits": "MM", "bufferColor": "255,255,255,255"}
    ElementTree.SubElement(written, "text-buffer", halo)
    where = {"placement": _PLACEMENTS.get(geometry, "1"), "placementFlags": "9", "priority": "5", "dist": "0"}
    ElementTree.SubElement(settings, "placement", where)
    ElementTree.SubElement(settings, "rendering", _LABELS_DRAWN)


def _qgis_line(style: LayerStyle) -> dict[str, str]:
    values = {"line_color": _rgba(style.colour), "line_width": f"{style.width_mm:g}", "line_width_unit": "MM"}
    values |= {"line_style": "solid", "capstyle": "flat"}
    if style.dash_mm:
        dashes = ";".join(f"{part:g}" for part in style.dash_mm)
        values |= {"use_custom_dash": "1", "customdash": dashes, "customdash_unit": "MM"}
    return values


def _rgba(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"


def _sld_fill(parent: ElementTree.Element, colour: str, opacity: float) -> None:
    fill = ElementTree.SubElement(parent, "Fill")
    _sld_value(fill, "fill", colour)
    _sld_value(fill, "fill-opacity", f"{opacity:g}")


def _sld_stroke(parent: ElementTree.Element, style: LayerStyle) -> None:
    stroke = ElementTree.SubElement(parent, "Stroke")
    _sld_value(stroke, "stroke", style.colour)
    _sld_value(stroke, "stroke-width", f"{style.width_mm * POINTS_PER_MM:.2f}")
    if style.dash_mm:
        _sld_value(stroke, "stroke-dasharray", " ".join(f"{part * POINTS_PER_MM:.2f}" for part in style.dash_mm))


def _sld_value(parent: ElementTree.Element, name: str, value: str) -> None:
    ElementTree.SubElement(parent, "CssParameter", name=name).text = value
