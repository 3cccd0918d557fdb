"""Draw the invented fields of sample_fields/ and write them as GeoJSON (RFC 7946, one feature a file).

    python scripts/make_sample_fields.py [FOLDER]

Each field is drawn in feet in a plane of its own, turned, moved to its place on the invented farm and projected to
longitude and latitude. The seed is fixed: the same files come out every time.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyproj
import shapely
from shapely import affinity

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

FOOT_M = 0.3048
FARM_LON_DEG, FARM_LAT_DEG = -94.35, 42.45
SEED = 20260401
DECIMALS = 8  # of a degree, about a millimetre on the ground

Shape = shapely.geometry.base.BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """One field: how it is drawn, and where it lies on the farm."""

    file: str
    name: str
    draw: Callable[[], Shape]  # in feet, x east and y north before turning
    east_m: float  # centre of the drawing from the centre of the farm [m]
    north_m: float
    turn_deg: float = 0.0  # clockwise, as an azimuth [deg]


def rectangle(width_ft: float, height_ft: float) -> shapely.Polygon:
    return shapely.box(0, 0, width_ft, height_ft)


def blob(x_ft: float, y_ft: float, *, radius_ft: float, corners: int, roughness: float, salt: int) -> shapely.Polygon:
    """A rounded, uneven patch such as a pond or a clump of trees."""
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    phase = np.random.default_rng([SEED, salt]).uniform(0, 2 * np.pi, 3)
    waves = sum(np.sin((k + 2) * angle + phase[k]) / (k + 2) for k in range(3))
    radius = radius_ft * (1 + roughness * waves)
    return shapely.Polygon(np.column_stack([x_ft + 1.3 * radius * np.cos(angle), y_ft + radius * np.sin(angle)]))


def square_forty() -> shapely.Polygon:
    """A quarter of a quarter section: 40 acres."""
    return rectangle(1320, 1320)


def half_mile() -> shapely.Polygon:
    return rectangle(2640, 660)


def narrow_strip() -> shapely.Polygon:
    return rectangle(100, 2000)


def railroad() -> shapely.Polygon:
    return shapely.Polygon([(0, 0), (2050, 0), (0, 1500)])


def ell() -> shapely.Polygon:
    return shapely.Polygon([(0, 0), (1320, 0), (1320, 660), (660, 660), (660, 1320), (0, 1320)])


def waterway() -> Shape:
    """A grassed waterway cut in from the south edge, and a pond."""
    run = np.linspace(-60, 1050, 24)
    middle = np.column_stack([1010 + 0.16 * run + 45 * np.sin(run / 170), run])
    grass = shapely.LineString(middle).buffer(22, cap_style="flat", join_style="mitre")
    pond = blob(520, 830, radius_ft=105, corners=40, roughness=0.18, salt=1)
    return rectangle(1980, 1320).difference(grass).difference(pond)


def creek() -> shapely.Polygon:
    """Three straight sides and 298 corners along a winding creek: 300 in all."""
    north = np.linspace(0, 2200, 298)
    phase = np.random.default_rng([SEED, 2]).uniform(0, 2 * np.pi, 5)
    bends_ft = ((90, 900), (60, 430), (28, 210), (10, 90), (4, 40))  # reach and length of each winding
    east = (
        1250
        + 0.11 * north
        + sum(a * np.sin(2 * np.pi * north / b + p) for (a, b), p in zip(bends_ft, phase, strict=True))
    )
    return shapely.Polygon([(0, 2200), (0, 0), *zip(east.tolist(), north.tolist(), strict=True)])


def across_the_road() -> Shape:
    """Two parts with a 66 ft road between them that crosses on a slant."""
    whole = shapely.Polygon([(0, 0), (1650, 0), (1650, 1400), (0, 1400)])
    road = shapely.LineString([(-100, 500), (1750, 800)]).buffer(33, cap_style="flat")
    return whole.difference(road)


def pivot() -> shapely.Polygon:
    angle = np.linspace(0, 2 * np.pi, 144, endpoint=False)
    return shapely.Polygon(1250 * np.column_stack([np.cos(angle), np.sin(angle)]))


def crooked() -> Shape:
    """About 65 ha with no two sides square to each other, an island of trees and a power pole."""
    outline = [
        (0, 0),
        (1150, 60),
        (1420, -110),
        (2560, 150),
        (3120, 1080),
        (2790, 1500),
        (2960, 2340),
        (1780, 2860),
        (1530, 2590),
        (430, 2700),
        (190, 1480),
    ]
    trees = blob(1180, 1500, radius_ft=95, corners=28, roughness=0.25, salt=3)
    pole = shapely.box(2180, 870, 2192, 882)
    return shapely.Polygon(outline).difference(trees).difference(pole)


def slant_road() -> shapely.Polygon:
    return shapely.Polygon([(0, 0), (2300, 0), (1620, 1180), (0, 1180)])


def farmstead() -> Shape:
    """A U: the yard, the buildings and the lane lie in a notch in the south edge."""
    return rectangle(1980, 1320).difference(shapely.box(740, -1, 1290, 520))


DRAWINGS = (
    Drawing(file="square_forty", name="Square Forty", draw=square_forty, east_m=-1800, north_m=1100),
    Drawing(file="half_mile", name="Half Mile", draw=half_mile, east_m=-800, north_m=1250, turn_deg=2),
    Drawing(file="railroad", name="Railroad", draw=railroad, east_m=250, north_m=1150),
    Drawing(file="ell", name="Ell", draw=ell, east_m=1050, north_m=1150, turn_deg=-1.5),
    Drawing(file="waterway", name="Waterway", draw=waterway, east_m=-1750, north_m=150, turn_deg=4),
    Drawing(file="creek", name="Creek", draw=creek, east_m=-950, north_m=400),
    Drawing(file="across_the_road", name="Across the Road", draw=across_the_road, east_m=-250, north_m=350, turn_deg=3),
    Drawing(file="narrow_strip", name="Narrow Strip", draw=narrow_strip, east_m=250, north_m=450, turn_deg=12),
    Drawing(file="pivot", name="Pivot", draw=pivot, east_m=950, north_m=300),
    Drawing(file="crooked_quarter", name="Crooked Quarter", draw=crooked, east_m=-1550, north_m=-750, turn_deg=7),
    Drawing(file="slant_road", name="Slant Road", draw=slant_road, east_m=-450, north_m=-550),
    Drawing(file="farmstead", name="Farmstead", draw=farmstead, east_m=500, north_m=-500, turn_deg=-3),
)


def to_lon_lat(shape: Shape, *, east_m: float, north_m: float) -> Shape:
    """Return a shape given in metres round its own centre as longitude and latitude [deg]."""
    centre = plane_at(FARM_LON_DEG, FARM_LAT_DEG)(east_m, north_m, inverse=True)
    plane = plane_at(*centre)

    def unproject(points: NDArray[np.float64]) -> NDArray[np.float64]:
        lon, lat = plane(points[:, 0], points[:, 1], inverse=True)
        return np.round(np.column_stack([lon, lat]), DECIMALS)

    return shapely.transform(shape, unproject)


def plane_at(lon_deg: float, lat_deg: float) -> pyproj.Proj:
    """Return a metric equal-area plane centred on a place."""
    return pyproj.Proj(proj="laea", lon_0=lon_deg, lat_0=lat_deg, datum="WGS84", units="m")


def feature(drawing: Drawing) -> dict[str, object]:
    """Return one field as a GeoJSON feature: outer rings counter-clockwise, holes clockwise."""
    drawn = drawing.draw()
    box = shapely.box(*drawn.bounds).centroid
    centred = affinity.translate(drawn, -box.x, -box.y)
    turned = affinity.rotate(centred, -drawing.turn_deg, origin=(0, 0))
    metres = affinity.scale(turned, FOOT_M, FOOT_M, origin=(0, 0))
    outline = shapely.orient_polygons(to_lon_lat(metres, east_m=drawing.east_m, north_m=drawing.north_m))
    properties = {"name": drawing.name, "farm": "Thistle Corner Farm", "note": "invented field"}
    return {"type": "Feature", "properties": properties, "geometry": json.loads(shapely.to_geojson(outline))}


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for drawing in DRAWINGS:
        text = json.dumps(feature(drawing)) + "\n"
        (folder / f"{drawing.file}.geojson").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent / "sample_fields")
