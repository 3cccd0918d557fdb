"""Walks for tests: points along an edge, receiver errors, and files in the three formats."""

import datetime
from collections.abc import Sequence
from itertools import count
from pathlib import Path

import numpy as np
import shapely

from fieldgeo.frame import FloatArray, Frame
from fieldgeo.outline.clean import clean_outline
from fieldgeo.outline.evidence import Evidence, WalkReport
from fieldgeo.outline.raw import Reading
from fieldgeo.outline.rules import WalkRules
from fieldgeo.outline.walk.read import read_walk

HERE = Frame(lon_deg=-93.5, lat_deg=42.1)
SQUARE = shapely.box(-100, -100, 100, 100)
GPX_11 = "http://www.topografix.com/GPX/1/1"


def walked(polygon: shapely.Polygon, step_m: float = 1.2, laps: float = 1.0) -> FloatArray:
    """Points a step apart along the outer ring, from its first corner; the last is a step or less before it."""
    length_m = polygon.exterior.length
    at = np.arange(0, laps * length_m, step_m) % length_m
    return shapely.get_coordinates(shapely.line_interpolate_point(polygon.exterior, at))


def drifting(generator: np.random.Generator, walks: int, number: int, sd_m: float, memory: float) -> FloatArray:
    """Errors of walks, of shape (walks, number, 2), with covariance sd^2 exp(-k / memory) between points k apart.

    Memory 0: independent.
    """
    errors = generator.normal(size=(number, walks, 2))
    if memory > 0:
        kept = np.exp(-1 / memory)
        for index in range(1, number):
            errors[index] = kept * errors[index - 1] + np.sqrt(1 - kept**2) * errors[index]
    return sd_m * errors.transpose(1, 0, 2)


def write_table(path: Path, points_m: FloatArray, *, quality: int = 1) -> Path:
    lon, lat = HERE.to_lonlat(*points_m.T)
    rows = [f"{b:.9f},{a:.9f},{t},{quality}" for t, (a, b) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True))]
    path.write_text("\n".join(["lat,lon,time,quality", *rows]) + "\n", encoding="utf-8")
    return path


def write_gpx(path: Path, tracks: Sequence[Sequence[FloatArray]], waypoints: str = "") -> Path:
    """Write tracks of segments, one point a second."""
    second = count()
    lines = [f'<?xml version="1.0"?><gpx version="1.1" creator="test" xmlns="{GPX_11}">', waypoints]
    for track in tracks:
        lines.append("<trk>")
        for segment in track:
            lines.append("<trkseg>")
            lon, lat = HERE.to_lonlat(*segment.T)
            for a, b in zip(lon.tolist(), lat.tolist(), strict=True):
                moment = datetime.datetime(2026, 5, 1) + datetime.timedelta(seconds=next(second))
                lines.append(
                    f'<trkpt lat="{b:.9f}" lon="{a:.9f}"><time>{moment.isoformat()}Z</time><hdop>1.0</hdop></trkpt>'
                )
            lines.append("</trkseg>")
        lines.append("</trk>")
    path.write_text("\n".join([*lines, "</gpx>"]), encoding="utf-8")
    return path


def waypoint(name: str, x_m: float, y_m: float, kind: str = "") -> str:
    lon, lat = HERE.to_lonlat(x_m, y_m)
    of_kind = f"<type>{kind}</type>" if kind else ""
    return f'<wpt lat="{float(lat):.9f}" lon="{float(lon):.9f}"><name>{name}</name>{of_kind}</wpt>'


def sentence(body: str) -> str:
    check = 0
    for byte in body.encode():
        check ^= byte
    return f"${body}*{check:02X}"


def gga(tod: str, lat_deg: float, lon_deg: float, *, quality: int = 4, hdop: str = "0.8", talker: str = "GN") -> str:
    north, east = "S" if lat_deg < 0 else "N", "W" if lon_deg < 0 else "E"
    lat, lon = abs(lat_deg), abs(lon_deg)
    places = f"{int(lat):02d}{lat % 1 * 60:010.7f},{north},{int(lon):03d}{lon % 1 * 60:010.7f},{east}"
    return sentence(f"{talker}GGA,{tod},{places},{quality},12,{hdop},300.0,M,-30.0,M,,")


def as_walk(path: Path, **rules: float | str) -> Reading:
    kinds = {".gpx": "gpx", ".nmea": "nmea", ".csv": "csv"}
    return read_walk(path, kinds[path.suffix], WalkRules(**rules))  # type: ignore[arg-type]


def ground_of(reading: Reading) -> shapely.MultiPolygon:
    """The outline as the rest of the package sees it."""
    cleaned = clean_outline(reading.parts)
    assert cleaned.faults == ()
    assert cleaned.shape is not None
    return cleaned.shape


def evidence_of(reading: Reading) -> tuple[Evidence, WalkReport, float]:
    """The evidence, its report, and half of the range of the area."""
    report, half_m2 = reading.evidence.report, reading.evidence.area_uncertainty_m2
    assert isinstance(report, WalkReport)
    assert half_m2 is not None
    return reading.evidence, report, half_m2
