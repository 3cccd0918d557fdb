"""The whole way from a log to an outline: what is said of it, and what is refused with one clear message."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from conftest import ACRE_M2
from walks import GPX_11, HERE, SQUARE, as_walk, drifting, evidence_of, ground_of, walked, write_gpx, write_table

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.frame import LONLAT
from fieldgeo.outline.rules import WalkRules
from fieldgeo.outline.walk.read import read_walk

HECTARE = shapely.box(-50, -50, 50, 50)


def test_a_clean_walk_comes_out_as_it_went_in(tmp_path: Path) -> None:
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)]]), thin_m=0.0)
    evidence, report, half_m2 = evidence_of(reading)
    # Derived: chords over 1.2 m cut at most 1.2^2 / 8 = 0.18 m2 off each corner.
    assert ground_of(reading).area == pytest.approx(SQUARE.area, abs=0.8)
    assert (reading.source_crs, evidence.kind, evidence.is_placed) == (LONLAT, "walk", True)
    assert report.points_read == report.points_kept == 667
    assert sum(step.dropped for step in report.steps) == 0
    assert report.closure_m == pytest.approx(0.8, abs=0.01)
    assert report.closure_share == pytest.approx(0.001, abs=1e-5)
    assert report.duration_s == 666
    assert report.bound_m2 == pytest.approx(800 * report.accuracy_m, rel=1e-3)
    assert half_m2 < report.bound_m2
    assert report.laps == 1


def test_all_three_formats_give_the_same_outline(tmp_path: Path) -> None:
    points = walked(shapely.Polygon([(0, 0), (220, 30), (180, 190), (20, 140)]))
    gpx = ground_of(as_walk(write_gpx(tmp_path / "a.gpx", [[points]])))
    table = ground_of(as_walk(write_table(tmp_path / "a.csv", points)))
    assert shapely.hausdorff_distance(gpx, table) < 0.001


def test_the_accuracy_is_that_of_the_fixes_unless_it_is_given(tmp_path: Path) -> None:
    """Common practice, no source: 3 m for plain fixes, 2 cm for RTK fixed; never taken from the HDOP."""
    path = tmp_path / "a.csv"
    plain = evidence_of(as_walk(write_table(path, walked(SQUARE))))
    assert plain[1].accuracy_m == 3.0
    assert "common practice" in plain[1].accuracy_from
    assert "gps 100%" in plain[1].accuracy_from
    given = evidence_of(as_walk(path, accuracy_m=1.5))
    assert (given[1].accuracy_m, given[1].accuracy_from) == (1.5, "as given")
    assert given[2] == pytest.approx(plain[2] / 2, rel=0.01)
    fixed = evidence_of(as_walk(write_table(path, walked(SQUARE), quality=4)))
    assert fixed[1].accuracy_m == pytest.approx(0.02)
    assert not any("1 ha" in point for point in fixed[0].weak_points)


def test_one_hectare_with_a_plain_receiver_published_gp06(tmp_path: Path) -> None:
    """Published (check GP06): Revue Forestiere Francaise 56:529-536, 2004: 1 ha read 1.6 % high, +/- 1.6 %."""
    evidence, _, half_m2 = evidence_of(as_walk(write_table(tmp_path / "a.csv", walked(HECTARE))))
    assert (-(1.6 + 1.6), -(1.6 - 1.6)) == (-3.2, 0.0)  # where the true area lies, in per cent of the one read
    assert 100 * half_m2 / HECTARE.area > 3.2  # the stated range takes it in
    assert any("1.6 % +/- 1.6 %" in point and "4.1 % +/- 12 %" in point for point in evidence.weak_points)


def test_thirty_acres_with_a_plain_receiver_published_gp07(tmp_path: Path) -> None:
    """Published (check GP07): Stephen F. Austin State University, 2013: RMSE of tracts 0.22 to 4.67 % of the area."""
    tracts_ac = (0.07 / 0.0022, 1.32 / 0.0467)
    assert tracts_ac == pytest.approx((31.8, 28.3), abs=0.2)
    side_m = float(np.sqrt(30 * ACRE_M2))
    tract = shapely.box(0, 0, side_m, side_m)
    _, _, half_m2 = evidence_of(as_walk(write_table(tmp_path / "a.csv", walked(tract))))
    assert 0.22 < 100 * half_m2 / 1.96 / tract.area < 4.67


def test_a_small_plot_is_warned_of_published(tmp_path: Path) -> None:
    """Published: World Bank, tablet and handheld area study (Uganda): 11 to 12 % on small plots."""
    evidence, _, _ = evidence_of(as_walk(write_table(tmp_path / "a.csv", walked(shapely.box(0, 0, 60, 60)))))
    assert any("under 1 ha (0.36 ha)" in point for point in evidence.weak_points)


def test_noise_is_mended_told_and_stays_within_the_range(tmp_path: Path) -> None:
    (error,) = drifting(np.random.default_rng(4), 1, 667, 3.0, 0)
    reading = as_walk(write_gpx(tmp_path / "a.gpx", [[walked(SQUARE) + error]]), accuracy_m=3.0)
    _, report, half_m2 = evidence_of(reading)
    assert report.loops > 50
    assert any(f"{report.loops} small loops cut out" in change.what for change in reading.changes)
    assert abs(ground_of(reading).area - SQUARE.area) < half_m2
    told = sum(change.area_change_m2 for change in reading.changes)
    assert told == pytest.approx(report.loops_area_change_m2 + report.thin_area_change_m2, abs=0.01)


def test_poor_fixes_are_a_weak_point(tmp_path: Path) -> None:
    path = write_table(tmp_path / "a.csv", walked(SQUARE))
    rows = path.read_text(encoding="utf-8").splitlines()
    rows[1::3] = [row[:-1] + "6" for row in rows[1::3]]
    path.write_text("\n".join(rows), encoding="utf-8")
    evidence, _, _ = evidence_of(as_walk(path))
    assert any("33% of the positions were void or poor" in point for point in evidence.weak_points)


def refused(path: Path, kind: str, **rules: float) -> str:
    with pytest.raises(OutlineError) as caught:
        read_walk(path, kind, WalkRules(**rules))  # type: ignore[arg-type]
    assert str(path) in str(caught.value)
    return str(caught.value)


def test_a_track_of_one_point_is_refused(tmp_path: Path) -> None:
    path = write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)[:1]]])
    assert "it has 1 point after cleaning; an edge needs three or more" in refused(path, "gpx")


@pytest.mark.parametrize("kind", ["gpx", "nmea", "csv"])
def test_an_empty_file_is_refused(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "empty"
    path.write_bytes(b"")
    refused(path, kind)


def test_a_walk_that_stays_where_it_is_is_refused(tmp_path: Path) -> None:
    path = write_table(tmp_path / "a.csv", np.zeros((50, 2)) + np.random.default_rng(0).normal(scale=0.5, size=(50, 2)))
    assert "does not leave the place where it began" in refused(path, "csv")


def test_swapped_latitude_and_longitude_are_told(tmp_path: Path) -> None:
    lon, lat = HERE.to_lonlat(*walked(SQUARE).T)
    path = tmp_path / "a.csv"
    for header, rows in (("lon,lat", zip(lat, lon, strict=True)), ("lon,lat", zip(lat, lon + 5, strict=True))):
        path.write_text(header + "\n" + "".join(f"{a:.8f},{b:.8f}\n" for a, b in rows), encoding="utf-8")
        assert "swapped" in refused(path, "csv")


def test_a_track_with_the_way_from_town_is_refused(tmp_path: Path) -> None:
    far = np.column_stack([np.linspace(-60_000, -100, 12_000), np.full(12_000, -100.0)])
    path = write_table(tmp_path / "a.csv", np.vstack([far, walked(SQUARE)]))
    assert "60 km across" in refused(path, "csv")


def test_missing_files_and_folders(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="there is no such file"):
        as_walk(tmp_path / "none.gpx")
    with pytest.raises(FileError, match="not a plain file"):
        read_walk(tmp_path, "gpx", WalkRules())
    with pytest.raises(FileError, match="there is no such file"):
        read_walk(Path("a\0b"), "gpx", WalkRules())


def test_names_from_strangers_are_made_fit_to_print(tmp_path: Path) -> None:
    path = write_gpx(tmp_path / "a.gpx", [[walked(SQUARE)]])
    text = path.read_text(encoding="utf-8").replace("<trk>", "<trk><name>North\n\x7f40</name>", 1)
    path.write_text(text, encoding="utf-8")
    assert as_walk(path).name == "North��40"


def test_a_walk_across_180_degrees(tmp_path: Path) -> None:
    """Derived: the same walk, moved in longitude, has the same area to the digits of the file."""
    lon, lat = HERE.to_lonlat(*walked(SQUARE).T)
    moved = (lon - HERE.lon_deg + 180 + 180) % 360 - 180
    path = tmp_path / "a.csv"
    path.write_text(
        "lat,lon\n" + "".join(f"{b:.9f},{a:.9f}\n" for a, b in zip(moved, lat, strict=True)), encoding="utf-8"
    )
    here = as_walk(write_gpx(tmp_path / "b.gpx", [[walked(SQUARE)]]))
    assert ground_of(as_walk(path)).area == pytest.approx(ground_of(here).area, abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["gpx", "nmea", "csv"])
def test_memory_does_not_grow_with_the_file(tmp_path: Path, kind: str) -> None:
    """A file of 400,000 points and one of 40,000, both of 2,000 kept: memory taken by Python objects, not time."""
    import tracemalloc

    from walks import gga

    def peak(number: int) -> int:
        path = tmp_path / f"{number}.{kind}"
        points = walked(SQUARE, 800 / number)[:number]
        lon, lat = HERE.to_lonlat(*points.T)
        with path.open("w", encoding="ascii") as file:
            if kind == "gpx":
                file.write(f'<gpx version="1.1" xmlns="{GPX_11}"><trk><trkseg>\n')
            elif kind == "csv":
                file.write("lat,lon\n")
            for t, (a, b) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True)):
                if kind == "gpx":
                    file.write(f'<trkpt lat="{b:.9f}" lon="{a:.9f}"><hdop>1.0</hdop></trkpt>\n')
                elif kind == "csv":
                    file.write(f"{b:.9f},{a:.9f}\n")
                else:
                    file.write(gga(f"{t // 3600 % 24:02d}{t // 60 % 60:02d}{t % 60:02d}", b, a) + "\n")
            if kind == "gpx":
                file.write("</trkseg></trk></gpx>")
        tracemalloc.start()
        read_walk(path, kind, WalkRules())  # type: ignore[arg-type]
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    assert peak(400_000) < 1.2 * peak(40_000) + 2_000_000
