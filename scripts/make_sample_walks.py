"""Walk round two of the invented fields of sample_fields/, on paper, and write what a receiver would have logged.

    python scripts/make_sample_walks.py [FOLDER]

`walk_ell.gpx`: Ell with a phone, a point every 3 s, errors that drift; one spike, one stop, and some metres past the
start. `drive_railroad.nmea`: Railroad with a machine whose antenna runs 1.5 m inside the edge, RTK, a fix every 2 s;
some fixes float, two void, one line garbled on the way. The seed is fixed: the same files come out every time.
"""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, timedelta
from functools import reduce
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from make_sample_fields import SEED, plane_at

if TYPE_CHECKING:
    import pyproj
    from numpy.typing import NDArray

FIELDS = Path(__file__).parent.parent / "sample_fields"
START = datetime(2026, 4, 11, 14, 5, 0, tzinfo=UTC)


def field_in_metres(name: str) -> tuple[shapely.Polygon, pyproj.Proj]:
    """Return a sample field in a plane about its middle, and the plane."""
    feature = json.loads((FIELDS / f"{name}.geojson").read_text(encoding="utf-8"))
    outline = shapely.from_geojson(json.dumps(feature["geometry"]))
    plane = plane_at(outline.centroid.x, outline.centroid.y)
    return shapely.transform(outline, lambda lonlat: np.column_stack(plane(*lonlat.T))), plane


def along(edge: shapely.LinearRing, step_m: float, beyond_m: float) -> NDArray[np.float64]:
    """Return points along an edge, and some way past its start."""
    at = np.arange(0, edge.length + beyond_m, step_m) % edge.length
    return shapely.get_coordinates(shapely.line_interpolate_point(edge, at))


def drift(generator: np.random.Generator, number: int, sd_m: float, memory: float) -> NDArray[np.float64]:
    """Return errors that are like the one before, and less so the farther back."""
    errors = generator.normal(size=(number, 2))
    kept = np.exp(-1 / memory)
    for index in range(1, number):
        errors[index] = kept * errors[index - 1] + np.sqrt(1 - kept**2) * errors[index]
    return sd_m * errors


def walk_ell() -> str:
    polygon, plane = field_in_metres("ell")
    generator = np.random.default_rng([SEED, 11])
    points = along(polygon.exterior, 3.9, beyond_m=17)
    points += drift(generator, len(points), 1.5, 40) + drift(generator, len(points), 0.3, 0.1)
    points[150] += (70, -40)  # a spike
    stop = points[230] + generator.uniform(-0.3, 0.3, (12, 2))
    points = np.vstack([points[:231], stop, points[231:]])
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">',
        "<metadata><desc>Invented walk round an invented field</desc></metadata>",
        "<trk><name>Ell on foot</name><trkseg>",
    ]
    for number, (lon, lat) in enumerate(np.column_stack(plane(*points.T, inverse=True)).tolist()):
        time = (START + timedelta(seconds=3 * number)).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines.append(f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><time>{time}</time><hdop>1.1</hdop></trkpt>')
    return "\n".join([*lines, "</trkseg></trk>", "</gpx>"]) + "\n"


def angle(value_deg: float, digits: int) -> str:
    """Return degrees and decimal minutes as NMEA 0183 writes them: ddmm.mmmmmm."""
    minutes = round(abs(value_deg) * 60, 6)
    return f"{int(minutes // 60):0{digits}d}{minutes % 60:09.6f}"


def sentence(body: str) -> str:
    return f"${body}*{reduce(lambda check, byte: check ^ byte, body.encode(), 0):02X}"


def drive_railroad() -> str:
    polygon, plane = field_in_metres("railroad")
    generator = np.random.default_rng([SEED, 12])
    inside = shapely.buffer(polygon, -1.5, join_style="mitre")
    points = along(inside.exterior, 6.0, beyond_m=9) + 0
    quality = np.full(len(points), 4)
    quality[90:110] = 5
    quality[200:202] = 0
    sd_m = np.where(quality == 5, 0.25, 0.015)[:, np.newaxis]
    points = points + sd_m * drift(generator, len(points), 1.0, 20)
    lines = []
    for number, (lon, lat) in enumerate(np.column_stack(plane(*points.T, inverse=True)).tolist()):
        time = START + timedelta(seconds=2 * number)
        tod, day = time.strftime("%H%M%S.00"), time.strftime("%d%m%y")
        place = f"{angle(lat, 2)},N,{angle(lon, 3)},W"
        fix = int(quality[number])
        lines.append(sentence(f"GNGGA,{tod},{place},{fix},14,0.8,351.2,M,-30.1,M,1.0,0001"))
        lines.append(sentence(f"GNRMC,{tod},{'A' if fix else 'V'},{place},5.8,,{day},,,{'R' if fix == 4 else 'F'}"))
    lines[300] = lines[300].replace("42", "4?", 1)  # garbled on the way
    return "\r\n".join(lines) + "\r\n"


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "walk_ell.gpx").write_text(walk_ell(), encoding="utf-8", newline="")
    (folder / "drive_railroad.nmea").write_text(drive_railroad(), encoding="ascii", newline="")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FIELDS)
