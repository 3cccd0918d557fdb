"""The shipped sample fields: right GeoJSON, right sizes, apart from each other, and drawn the same again."""

import itertools
import json
import subprocess
import sys
from pathlib import Path

import pyproj
import pytest
import shapely
import shapely.geometry

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "sample_fields"
FILES = sorted(FOLDER.glob("*.geojson"))
ACRE_M2 = 4046.8564224

# Derived from the drawings in feet; 43,560 ft2 to the acre.
ACRES = {
    "square_forty": 40.0,  # 1320 x 1320
    "half_mile": 40.0,  # 2640 x 660
    "railroad": 2050 * 1500 / 2 / 43560,
    "ell": 30.0,  # 40 less a quarter of it
    "narrow_strip": 100 * 2000 / 43560,
    "pivot": 72 * 0.0436193873653360 * 1250**2 / 43560,  # n/2 sin(2 pi/n) r^2 with n = 144
    "slant_road": (2300 + 1620) / 2 * 1180 / 43560,
    "farmstead": (1980 * 1320 - 550 * 520) / 43560,
}
CORNERS = {"square_forty": 4, "railroad": 3, "ell": 6, "creek": 300, "across_the_road": 8, "pivot": 144, "farmstead": 8}


def outline(file: Path) -> shapely.Polygon | shapely.MultiPolygon:
    shape = shapely.geometry.shape(json.loads(file.read_text(encoding="utf-8"))["geometry"])
    assert isinstance(shape, shapely.Polygon | shapely.MultiPolygon)
    return shape


def parts(shape: shapely.Polygon | shapely.MultiPolygon) -> list[shapely.Polygon]:
    return list(shape.geoms) if isinstance(shape, shapely.MultiPolygon) else [shape]


def acres(file: Path) -> float:
    area, _ = pyproj.Geod(ellps="WGS84").geometry_area_perimeter(outline(file))
    return float(area) / ACRE_M2


def test_there_are_twelve() -> None:
    assert len(FILES) == 12


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_each_is_one_feature_as_rfc_7946_has_it(file: Path) -> None:
    feature = json.loads(file.read_text(encoding="utf-8"))
    assert feature["type"] == "Feature"
    assert "crs" not in feature  # RFC 7946, section 4: longitude and latitude on WGS 84, and nothing else
    assert feature["properties"]["name"]
    assert feature["properties"]["note"] == "invented field"
    shape = outline(file)
    assert shape.is_valid
    for part in parts(shape):
        assert part.exterior.is_ccw  # RFC 7946, section 3.1.6
        assert not any(hole.is_ccw for hole in part.interiors)
    lon, lat = shape.centroid.x, shape.centroid.y
    assert lon == pytest.approx(-94.35, abs=0.05)
    assert lat == pytest.approx(42.45, abs=0.05)


@pytest.mark.parametrize(("stem", "expected"), ACRES.items())
def test_derived_acres_on_the_ellipsoid(stem: str, expected: float) -> None:
    # Coordinates are rounded to 1e-8 degree, about 1 mm: under 1e-5 of the area of the narrowest field.
    assert acres(FOLDER / f"{stem}.geojson") == pytest.approx(expected, rel=2e-5)


@pytest.mark.parametrize(("stem", "corners"), CORNERS.items())
def test_corners(stem: str, corners: int) -> None:
    shape = outline(FOLDER / f"{stem}.geojson")
    assert sum(len(ring.coords) - 1 for part in parts(shape) for ring in (part.exterior, *part.interiors)) == corners


def test_the_shapes_that_matter_are_there() -> None:
    holes = {file.stem: sum(len(part.interiors) for part in parts(outline(file))) for file in FILES}
    assert {stem: n for stem, n in holes.items() if n} == {"crooked_quarter": 2, "waterway": 1}
    assert [file.stem for file in FILES if len(parts(outline(file))) > 1] == ["across_the_road"]
    assert acres(FOLDER / "crooked_quarter.geojson") * ACRE_M2 / 1e4 == pytest.approx(65, abs=0.5)


def test_no_two_overlap() -> None:
    for one, other in itertools.combinations(FILES, 2):
        assert not outline(one).intersects(outline(other)), (one.stem, other.stem)


def test_names_and_acres_stand_in_the_readme() -> None:
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert "invented" in text
    for file in FILES:
        assert f"| `{file.name}` | {acres(file):.2f} |" in text
    assert len({json.loads(file.read_text(encoding="utf-8"))["properties"]["name"] for file in FILES}) == 12


def test_the_script_draws_them_again(tmp_path: Path) -> None:
    subprocess.run([sys.executable, ROOT / "scripts/make_sample_fields.py", tmp_path], check=True, timeout=60)
    assert sorted(file.name for file in tmp_path.iterdir()) == [file.name for file in FILES]
    for file in FILES:
        # Another release of the libraries may differ in the last digit.
        redrawn = outline(tmp_path / file.name)
        assert shapely.get_coordinates(redrawn) == pytest.approx(shapely.get_coordinates(outline(file)), abs=2e-8)
