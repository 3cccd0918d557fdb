"""The verb slope: its answer, its notes and cautions, its picture, and every way it is refused."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from command import SAMPLES, SHED, SQUARE, answer, geojson, message, run
from conftest import DATA
from rasterio.transform import Affine
from terrain import FOOT_M, FRAME, Floats, plane, raster_of, write_raster

from fieldgeo.frame import Frame

CREEK = [str(SAMPLES / "creek.geojson"), str(SAMPLES / "creek_heights.tif")]
TOOL = ["--width", "40ft", "--direction", "90", "--headland", "2"]


def flat_text(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def outline(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A square of 400 m about the origin of the rasters."""
    from terrain import square

    from fieldgeo.frame import shape_to_lonlat

    ring = shape_to_lonlat(square().shape, FRAME).geoms[0].exterior.coords
    feature = {"type": "Polygon", "coordinates": [[list(place) for place in ring]]}
    return geojson(tmp_path_factory.mktemp("outline"), feature, name="square.geojson")


def refused(outline: str, raster: str, *more: str, code: int = 1) -> str:
    return flat_text(message(run("slope", outline, raster, *TOOL, *more), code))


def test_a_tilted_plane_derived(outline: str, tmp_path: Path) -> None:
    # Derived: passes 30 degrees off the fall line of a 6 % plane: 5.196152 % along, 3 % across; Po 0.5, so
    # 0.5 + 0.5 sqrt(cos 30) = 0.9653.
    figures = answer("slope", outline, raster_of(tmp_path / "plane.tif", plane(0.06, 120)), *TOOL)
    assert figures["slope_pct_median"] == pytest.approx(6.0, abs=1e-4)
    assert figures["along_pct_p90"] == pytest.approx(5.196152, abs=1e-4)
    assert figures["across_pct_p90"] == pytest.approx(3.0, abs=1e-4)
    assert figures["p_factor"] == pytest.approx(0.9653, abs=1e-3)
    assert figures["row_grade_limit_pct"] == pytest.approx(2.0)
    assert figures["over_row_grade_pct"] == pytest.approx(100.0)
    assert figures["side_limit_pct"] is None
    assert figures["raster"]["is_unit_assumed"] is True
    passes = [line for line in figures["lines"] if line["kind"] == "pass"]
    assert [line["number"] for line in passes] == list(range(1, figures["passes"] + 1))
    assert all(line["along_pct_max"] == pytest.approx(5.196152, abs=1e-4) for line in passes)


def test_degrees_with_feet_as_heights_derived(outline: str, tmp_path: Path) -> None:
    surface = {"crs": "EPSG:4326", "cell": 1 / 10800, "reach": 0.004, "scale": FOOT_M}
    stated = raster_of(tmp_path / "stated.tif", plane(0.06, 120), unit="ft", **surface)
    unstated = raster_of(tmp_path / "unstated.tif", plane(0.06, 120), **surface)
    for raster, more in ((stated, []), (unstated, ["--heights", "ft"])):
        assert answer("slope", outline, raster, *TOOL, *more)["slope_pct_median"] == pytest.approx(6.0, abs=1e-3)
    # Derived: feet taken as metres are 3.2808 times as steep; the answer says what was assumed.
    result = run("slope", outline, unstated, *TOOL)
    assert "slope, median 19.7 %" in flat_text(result.stdout)
    assert "metres are assumed; --heights ft says otherwise" in flat_text(result.stderr)


def test_creek_by_both_ways() -> None:
    along = answer("slope", *CREEK, "--shed", SHED, "--tool", "16-row planter", "--direction", "0")
    across = answer("slope", *CREEK, "--shed", SHED, "--tool", "16-row planter", "--direction", "90")
    # Derived: turned by a right angle, along becomes across; passes differ a little in where they lie.
    assert along["along_pct_p90"] == pytest.approx(across["across_pct_p90"], rel=0.1)
    assert along["p_factor"] < across["p_factor"] <= 1.0
    assert along["slope_pct_median"] == across["slope_pct_median"]
    assert along["p_contour"] < along["p_factor"]
    assert along["p_contour_strips"] < along["p_contour"]


def test_lines_fit_a_terminal_and_cautions_are_said() -> None:
    result = run("slope", *CREEK, *TOOL, "--side-limit", "5%")
    assert result.exit_code == 0
    assert max(map(len, (result.stdout + result.stderr).splitlines())) <= 80
    assert "recalled from memory, not read" in flat_text(result.stderr)
    assert "the limit is the one you gave" in flat_text(result.stderr)
    assert "of the way is over 5 %: pass" in result.stdout
    plain = run("slope", *CREEK, *TOOL)
    assert "operator's manual" in plain.stderr
    assert "seat belt" in plain.stderr
    assert "side limit" not in plain.stdout


def test_side_limit_in_degrees_derived() -> None:
    # Derived: 15 % is 8.53077 degrees.
    assert answer("slope", *CREEK, *TOOL, "--side-limit", "8.53077deg")["side_limit_pct"] == pytest.approx(15.0)


def test_without_a_tool_one_is_assumed_and_told() -> None:
    result = run("slope", *CREEK, "--direction", "0")
    assert result.exit_code == 0
    assert "no tool is given: one of 40ft is assumed" in flat_text(result.stderr)


def test_rough_heights_are_told() -> None:
    # Common sense: receiver heights of one field differ by decimetres from pass to pass (see tests/data/SOURCES.md).
    arguments = [str(DATA / "mn_corn_2011_outline.geojson"), str(DATA / "mn_corn_2011_elev_10m.asc")]
    result = run("slope", *arguments, "--width", "30ft", "--direction", "0")
    assert "the heights are rough: smoothed to 90 ft" in flat_text(result.stderr)
    smooth = answer("slope", *arguments, "--width", "30ft", "--direction", "0", "--smooth", "90ft")
    rough = answer("slope", *arguments, "--width", "30ft", "--direction", "0")
    assert smooth["slope_pct_median"] == pytest.approx(rough["slope_pct_median_wider"])
    assert smooth["slope_pct_median"] < rough["slope_pct_median"]


def test_the_picture_is_drawn_and_not_over_a_file(tmp_path: Path) -> None:
    for name in ("slope.svg", "slope.png"):
        target = tmp_path / name
        assert run("slope", *CREEK, *TOOL, "--map", str(target)).exit_code == 0
        assert target.stat().st_size > 20_000
        assert "exists and is left alone" in message(run("slope", *CREEK, *TOOL, "--map", str(target)), 1)


def test_ground_too_steep_for_row_crops_is_told_published(outline: str, tmp_path: Path) -> None:
    # Published: Iowa State University extension: above 18 % row crops lose more than is tolerable. Seen from 5 ft 7 in
    # level, ground that steep is met within 31 ft: 67 / 372 = 18.01 % (derived).
    for grade, is_told in ((0.17, False), (0.19, True)):
        raster = raster_of(tmp_path / f"steep{is_told}.tif", plane(grade, 120))
        text = flat_text(run("slope", outline, raster, *TOOL).stderr)
        assert ("100.0 % of the field is steeper than 18 %" in text) is is_told


def test_level_ground(outline: str, tmp_path: Path) -> None:
    figures = answer(
        "slope", outline, raster_of(tmp_path / "level.tif", plane(0.0, 0)), *TOOL, "--map", str(tmp_path / "level.svg")
    )
    assert figures["slope_pct_median"] == 0.0
    assert figures["over_row_grade_pct"] == 0.0
    assert figures["p_factor"] == 1.0


def test_the_sample_raster_is_drawn_the_same_again(tmp_path: Path) -> None:
    root = SAMPLES.parent
    (tmp_path / "scripts").mkdir()
    (tmp_path / "sample_fields").mkdir()
    (tmp_path / "sample_fields/creek.geojson").write_bytes((SAMPLES / "creek.geojson").read_bytes())
    script = tmp_path / "scripts/make_sample_terrain.py"
    script.write_bytes((root / "scripts/make_sample_terrain.py").read_bytes())
    subprocess.run([sys.executable, script], check=True, env={"PYTHONPATH": str(root)})
    with (
        rasterio.open(SAMPLES / "creek_heights.tif") as first,
        rasterio.open(tmp_path / "sample_fields/creek_heights.tif") as second,
    ):
        assert first.profile == second.profile
        assert (first.read(1) == second.read(1)).all()


def test_what_the_file_says_is_overruled_in_the_open(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "plane.tif", plane(0.06, 120), unit="m")
    text = flat_text(run("slope", outline, raster, *TOOL, "--dem-crs", "EPSG:32615", "--heights", "ft").stderr)
    assert "names the coordinate system NAD83 / UTM zone 15N, and EPSG:32615 is used" in text
    assert "says that its heights are in m; the unit you gave is used" in text
    assert "is used" not in run("slope", outline, raster, *TOOL, "--dem-crs", "EPSG:26915").stderr


def test_row_grade_given_goes_before_the_standard(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "plane.tif", plane(0.06, 120))
    for grade, over in (("5.1%", 100.0), ("5.3%", 0.0)):
        figures = answer("slope", outline, raster, *TOOL, "--row-grade", grade)
        assert figures["over_row_grade_pct"] == pytest.approx(over)
        assert figures["is_row_grade_given"] is True


def test_a_field_that_is_all_headland_has_no_passes(tmp_path: Path) -> None:
    corners = [FRAME.to_lonlat(x, y) for x, y in ((-150, -12), (150, -12), (150, 12), (-150, 12), (-150, -12))]
    strip = {"type": "Polygon", "coordinates": [[[float(lon), float(lat)] for lon, lat in corners]]}
    narrow = geojson(tmp_path, strip)
    raster = raster_of(tmp_path / "plane.tif", plane(0.06, 120))
    tool = ["--width", "40ft", "--direction", "90", "--headland", "1", "--sides", "all"]
    figures = answer("slope", narrow, raster, *tool)
    assert figures["passes"] == 0
    assert (figures["along_pct_p90"], figures["p_factor"], figures["over_row_grade_pct"]) == (None, None, None)
    assert figures["headland_along_pct_p90"] > 0
    result = run("slope", narrow, raster, *tool, "--map", str(tmp_path / "map.svg"))
    assert result.exit_code == 0
    assert "along the passes - %" in flat_text(result.stdout)


# Refused


def test_a_raster_that_misses_the_field(outline: str, tmp_path: Path) -> None:
    away = raster_of(tmp_path / "away.tif", plane(0.06, 120), frame=Frame(lon_deg=-93.1, lat_deg=42.0))
    text = refused(outline, away)
    assert "misses field" in text
    assert "which lies at -93.0000 E, 42.0000 N; it covers -93.10" in text
    assert "--dem-crs sets it right" in text
    assert "misses field" in refused(SQUARE, CREEK[1], "--dem-crs", "EPSG:32760")


def test_a_raster_that_covers_half(outline: str, tmp_path: Path) -> None:
    half = raster_of(tmp_path / "whole.tif", plane(0.06, 120))
    with rasterio.open(half) as file:
        height, transform = file.read(1)[:, :30], file.transform
    half = write_raster(tmp_path / "half.tif", height, transform=transform)
    assert "covers 50% of field" in refused(outline, half)
    result = run("slope", outline, half, *TOOL, "--any-cover")
    assert result.exit_code == 0
    assert "of the field is not known, and left out of every figure" in flat_text(result.stderr)


def test_a_raster_without_any_data(outline: str, tmp_path: Path) -> None:
    def nothing(east: Floats, _: Floats) -> Floats:
        return np.full(east.shape, -9999.0)

    for nodata in (-9999.0, None):
        raster = raster_of(tmp_path / f"none{nodata}.tif", nothing, nodata=nodata)
        text = refused(outline, raster)
        assert "none of its cells about field" in text
        assert ("too low or too high for any ground" in text) is (nodata is None)
    raster = raster_of(tmp_path / "nan.tif", lambda east, _: np.full(east.shape, np.nan))
    assert "none of its cells about field" in refused(outline, raster)


def test_a_raster_that_names_no_system(outline: str, tmp_path: Path) -> None:
    named = raster_of(tmp_path / "named.tif", plane(0.06, 120))
    with rasterio.open(named) as file:
        height, transform = file.read(1), file.transform
    bare = write_raster(tmp_path / "bare.tif", height, transform=transform, crs=None)
    assert "it names no coordinate system. Give it with --dem-crs" in refused(outline, bare)
    assert answer("slope", outline, bare, *TOOL, "--dem-crs", "EPSG:26915")["slope_pct_median"] == pytest.approx(6.0)
    assert "names no known system" in refused(outline, bare, "--dem-crs", "EPSG:0")


def test_a_map_in_feet_whose_heights_may_be_either(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "ft.tif", plane(0.06, 120), crs="EPSG:3418", cell=30.0, reach=1000.0, scale=FOOT_M)
    assert "its map is in US survey foot" in refused(outline, raster)
    figures = answer("slope", outline, raster, *TOOL, "--heights", "ft")
    assert figures["slope_pct_median"] == pytest.approx(6.0, abs=1e-3)


def test_heights_in_an_unknown_unit(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "cubits.tif", plane(0.06, 120), unit="cubit")
    assert "its heights are in 'cubit', which is no known unit" in refused(outline, raster)
    assert answer("slope", outline, raster, *TOOL, "--heights", "m")["slope_pct_median"] == pytest.approx(6.0)


def test_a_picture_is_no_elevation(outline: str, tmp_path: Path) -> None:
    with rasterio.open(
        tmp_path / "rgb.tif", "w", driver="GTiff", count=3, width=9, height=9, dtype="uint8", crs="EPSG:26915",
        transform=Affine(10, 0, 0, 0, -10, 0),
    ) as file:  # fmt: skip
        file.write(np.zeros((3, 9, 9), dtype="uint8"))
    assert "it has 3 bands, as a picture has" in refused(outline, str(tmp_path / "rgb.tif"))


def test_complex_numbers_are_no_heights(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "complex.tif", plane(0.06, 120), dtype="complex64")
    assert "They must be plain numbers" in refused(outline, raster)


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_a_raster_without_a_place(outline: str, tmp_path: Path) -> None:
    raster = write_raster(tmp_path / "nowhere.tif", np.zeros((9, 9)), transform=None)
    assert "it does not say where on the map its cells lie" in refused(outline, raster)


def test_whole_metres_are_told(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "whole.tif", plane(0.06, 120), dtype="int16")
    assert "slopes come in steps" in flat_text(run("slope", outline, raster, *TOOL).stderr)


def test_two_cells_are_no_slope(outline: str, tmp_path: Path) -> None:
    raster = raster_of(tmp_path / "coarse.tif", plane(0.06, 120), cell=300.0)
    assert "It takes three cells by three with heights" in refused(outline, raster)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("none.tif", None, "there is no such file"),
        ("text.tif", b"II*\0 not a raster at all", "cannot be read"),
        ("plain.txt", b"hello", "that can be read. Give a GeoTIFF"),
        ("empty.tif", b"", "that can be read. Give a GeoTIFF"),
        (
            "link.vrt",
            b"<VRTDataset><SourceFilename>/etc/passwd</SourceFilename></VRTDataset>",
            "that can be read. Give a GeoTIFF",
        ),
        (
            "web.xml",
            b"<GDAL_WMS><ServerUrl>http://localhost/</ServerUrl></GDAL_WMS>",
            "that can be read. Give a GeoTIFF",
        ),
        ("grid.asc", b"ncols 5\nnrows x\n", "cannot be read"),
    ],
)
def test_files_that_are_no_rasters(outline: str, tmp_path: Path, name: str, content: bytes | None, says: str) -> None:
    file = tmp_path / name
    if content is not None:
        file.write_bytes(content)
    assert says in refused(outline, str(file))
    assert sorted(each.name for each in tmp_path.iterdir()) == ([name] if content is not None else [])


def test_a_raster_cut_short(outline: str, tmp_path: Path) -> None:
    whole = Path(raster_of(tmp_path / "whole.tif", plane(0.06, 120)))
    cut = tmp_path / "cut.tif"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size // 3])
    assert "cannot be" in refused(outline, str(cut))


def test_a_folder_is_no_raster(outline: str, tmp_path: Path) -> None:
    assert "this is not a plain file" in refused(outline, str(tmp_path))
    assert "there is no such file" in refused(outline, "/vsicurl/http://localhost/dem.tif")


def test_a_raster_stored_in_one_huge_piece(outline: str, tmp_path: Path) -> None:
    path = tmp_path / "huge.tif"
    with rasterio.open(
        path, "w", driver="GTiff", count=1, width=20_000, height=20_000, dtype="uint8", crs="EPSG:26915",
        transform=Affine(1, 0, 490_000, 0, -1, 4_660_000), tiled=True, blockxsize=19_200, blockysize=19_200,
        SPARSE_OK="TRUE", compress="deflate",
    ):  # fmt: skip
        pass
    assert "stored in pieces of 19,200 x 19,200 cells" in refused(outline, str(path))


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--smooth", "1mi"], "304.8 m at most"),
        (["--side-limit", "15"], "A grade must be a number with its unit"),
        (["--row-grade", "0%"], "A grade must be above 0"),
        (["--heights", "fathom"], "It must be m, ft, ftUS"),
        (["--smooth", "0ft"], "It must be above zero"),
        (["--map", "slope.gif"], "must end in .svg"),
    ],
)
def test_wrong_usage(more: list[str], says: str) -> None:
    assert says in flat_text(message(run("slope", *CREEK, *TOOL, *more), 2))
