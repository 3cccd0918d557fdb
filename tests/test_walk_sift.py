"""Cleaning of a track in its fixed order: each rule drops what it must, counts it, and leaves the rest alone."""

import json
from pathlib import Path

import numpy as np
import pytest
from walks import SQUARE, as_walk, evidence_of, gga, walked, write_table

from fieldgeo.errors import InputError, OutlineError
from fieldgeo.frame import FloatArray
from fieldgeo.outline.rules import WalkRules
from fieldgeo.outline.walk import sift
from fieldgeo.outline.walk.fixes import Fixes
from fieldgeo.outline.walk.quality import LEAST_QUALITIES, accuracies_m, is_measured, is_trusted, quality_of_word
from fieldgeo.outline.walk.sift import Dropped, Sieve

CHECKS = {check["id"]: check for check in json.loads((Path(__file__).parent / "data" / "walk_checks.json").read_text())}
M_PER_DEG = 111_320.0  # on the equator, by the sieve's own plane


def sifted(
    xy_m: FloatArray,
    time_s: FloatArray | None = None,
    quality: list[int] | None = None,
    hdop: list[float] | None = None,
    segment: list[int] | None = None,
    **rules: float | str,
) -> tuple[Fixes, Dropped]:
    """Sift points on the equator, where a degree is the same both ways; a chunk of three at a time."""
    number = len(xy_m)
    sieve = Sieve(WalkRules(**rules))  # type: ignore[arg-type]
    for start in range(0, number, 3):
        some = slice(start, start + 3)
        sieve.add(
            Fixes(
                lon_deg=xy_m[some, 0] / M_PER_DEG,
                lat_deg=xy_m[some, 1] / M_PER_DEG,
                time_s=(np.full(number, np.nan) if time_s is None else time_s)[some],
                quality=np.array([1] * number if quality is None else quality, dtype=np.int8)[some],
                hdop=np.array([1.0] * number if hdop is None else hdop)[some],
                track=np.zeros(number, dtype=np.int64)[some],
                segment=np.array([0] * number if segment is None else segment)[some],
            )
        )
    return sieve.end(), sieve.dropped


def test_the_order_of_the_rules_derived_k01() -> None:
    """Derived (check K01; thresholds are common practice, no source): quality, HDOP, spike, stationary."""
    check = CHECKS["K01"]
    points = check["inputs"]["points_local_m"]
    rules = check["inputs"]["rules"]
    kept, dropped = sifted(
        np.array([(point["x"], point["y"]) for point in points]),
        np.array([point["t"] for point in points], dtype=float),
        [point["fix"] for point in points],
        [point["hdop"] for point in points],
        most_hdop=rules["max_hdop"], most_speed_m_s=rules["max_speed_m_s"], step_m=rules["min_step_m"],
    )  # fmt: skip
    expected = check["expected"]
    assert kept.time_s.tolist() == expected["kept_t"]
    assert dropped.void == len(expected["dropped"]["fix"])
    assert dropped.hdop == len(expected["dropped"]["hdop"])
    assert dropped.spikes == len(expected["dropped"]["spike"])
    assert dropped.stationary == len(expected["dropped"]["stationary"])
    assert dropped.read == len(points)
    assert dropped.kept == len(expected["kept_t"])


def test_qualities_are_ordered_by_trust_and_not_by_number() -> None:
    """Published order (receiver manuals, GGA field 6): 5, float, is below 4, fixed; 0 and 6 to 8 are no fixes."""
    quality = np.arange(-1, 10).astype(np.int8)
    assert quality[is_measured(quality)].tolist() == [-1, 1, 2, 3, 4, 5]
    passed = {least: quality[is_trusted(quality, least)].tolist() for least in LEAST_QUALITIES}
    assert passed == {"gps": [-1, 1, 2, 3, 4, 5], "differential": [2, 3, 4, 5], "float": [4, 5], "fixed": [4]}


def test_usual_errors_fall_with_trust_common_practice_no_source() -> None:
    assert accuracies_m(np.array([-1, 1, 2, 3, 5, 4], dtype=np.int8)).tolist() == [4.0, 3.0, 1.0, 1.0, 0.3, 0.02]


def test_words_of_quality() -> None:
    assert quality_of_word("RTK_FLOAT") == quality_of_word("5") == 5
    assert quality_of_word("splendid") is None


def test_what_is_no_measurement_and_what_is_too_poor_are_counted_apart() -> None:
    line = np.column_stack([np.arange(8.0), np.zeros(8)])
    kept, dropped = sifted(line, None, [4, 6, 7, 8, 5, 1, 0, 4], least_quality="float")
    assert kept.quality.tolist() == [4, 5, 4]
    assert (dropped.void, dropped.not_measured, dropped.poor) == (1, 3, 1)


def straight(number: int) -> FloatArray:
    return np.column_stack([np.arange(float(number)), np.zeros(number)])


@pytest.mark.parametrize("where", [0, 1, 5, 9])
def test_one_spike_anywhere_is_dropped_and_nothing_else(where: int) -> None:
    way, times = straight(10), np.arange(10.0)
    way[where] += (0, 200)
    kept, dropped = sifted(way, times)
    assert sorted(set(range(10)) - set(kept.time_s.astype(int).tolist())) == [where]
    assert (dropped.spikes, dropped.jumps) == (1, 0)


def test_a_track_that_goes_on_from_where_it_jumped_is_kept_and_the_jump_counted() -> None:
    way = straight(10) + np.where(np.arange(10) >= 5, 200, 0)[:, np.newaxis]
    kept, dropped = sifted(way, np.arange(10.0))
    assert len(kept) == 10
    assert (dropped.spikes, dropped.jumps) == (0, 1)


def test_without_times_a_spike_is_a_point_that_comes_back() -> None:
    way = straight(10)
    way[5] += (0, 200)
    kept, dropped = sifted(way)
    assert len(kept) == 9
    assert dropped.spikes == 1


def test_without_times_corners_far_apart_are_no_spikes() -> None:
    kept, dropped = sifted(np.array([(0.0, 0), (400, 0), (400, 300), (0, 300)]))
    assert len(kept) == 4
    assert (dropped.spikes, dropped.jumps) == (0, 0)


def test_a_new_segment_is_not_measured_against_the_last() -> None:
    way = straight(10) + np.where(np.arange(10) >= 5, 2000, 0)[:, np.newaxis]
    _, dropped = sifted(way, np.arange(10.0), segment=[0] * 5 + [1] * 5)
    assert (dropped.spikes, dropped.jumps) == (0, 0)


def test_a_stop_leaves_one_point() -> None:
    generator = np.random.default_rng(1)
    way = np.vstack(
        [straight(10), np.array([9.0, 0]) + generator.uniform(-0.2, 0.2, (50, 2)), straight(5) + np.array([10, 0])]
    )
    kept, dropped = sifted(way)
    assert len(kept) == 15
    assert dropped.stationary == 50


def test_positions_off_the_earth_are_counted() -> None:
    way = straight(5)
    way[2] = (0, 91 * M_PER_DEG)
    kept, dropped = sifted(way)
    assert len(kept) == 4
    assert dropped.off_earth == 1


def test_a_walk_across_180_degrees_has_no_jump() -> None:
    lon = np.array([179.99998, 179.99999, -180.0, -179.99999])
    sieve = Sieve(WalkRules())
    nothing = np.zeros(4)
    sieve.add(
        Fixes(lon_deg=lon, lat_deg=nothing, time_s=np.arange(4.0), quality=np.ones(4, np.int8), hdop=nothing,
              track=np.zeros(4, np.int64), segment=np.zeros(4, np.int64))
    )  # fmt: skip
    assert len(sieve.end()) == 4
    assert sieve.dropped.jumps == 0


def test_too_many_kept_points_are_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sift, "MOST_KEPT", 500)
    path = write_table(tmp_path / "a.csv", walked(SQUARE, 0.6))
    with pytest.raises(OutlineError, match="more than 500 points are left after cleaning"):
        as_walk(path)


def test_every_step_stands_in_the_report_in_its_order(tmp_path: Path) -> None:
    """Derived: one fault of each kind is put in."""
    lat, lon = 42.0 + walked(SQUARE).T[1] / 111_080, -93.5 + walked(SQUARE).T[0] / 82_850
    rows = [
        gga(f"12{t // 60:02d}{t % 60:02d}", b, a)
        for t, (a, b) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True))
    ]
    rows[50] = rows[50][:-2] + ("00" if rows[50][-2:] != "00" else "01")  # checksum
    rows[60] = gga("120100", lat[60], lon[60], quality=0)
    rows[70] = gga("120110", lat[70], lon[70], quality=6)
    rows[80] = gga("120120", lat[80], lon[80], quality=1)
    rows[90] = gga("120130", lat[90], lon[90], hdop="9.9")
    rows[101] = gga("120141", lat[101] + 0.01, lon[101])
    rows.insert(120, gga("120159", lat[119] + 1e-6, lon[119]))
    path = tmp_path / "a.nmea"
    path.write_text("\n".join(rows), encoding="ascii")
    _, report, _ = evidence_of(as_walk(path, least_quality="float"))
    words = ["checksum", "cannot be read", "talker", "void", "beyond 90", "no measurements", "poorer than float",
             "HDOP", "spikes", "nearer than 0.5", "beyond the join", "small loops", "within 0.2 m"]  # fmt: skip
    assert len(report.steps) == len(words)
    assert [word for step, word in zip(report.steps, words, strict=True) if word.split()[0] not in step.what] == []
    assert [step.dropped for step in report.steps[:12]] == [1, 0, 0, 1, 0, 1, 1, 1, 1, 1, 0, 0]
    assert report.points_read == len(rows) - 1
    assert report.points_kept == report.points_read - 6


@pytest.mark.parametrize(
    ("rules", "message"),
    [
        ({"least_quality": "good"}, "least quality: got 'good'"),
        ({"accuracy_m": -1.0}, "accuracy: got -1"),
        ({"most_hdop": float("nan")}, "most HDOP: got nan"),
        ({"most_speed_m_s": 0.0}, "most speed: got 0"),
        ({"step_m": -0.1}, "step: got"),
        ({"thin_m": float("inf")}, "tolerance of thinning: got inf"),
        ({"offset_m": 300.0}, "offset: got 300 m. It must be within 100 m"),
    ],
)
def test_rules_out_of_range_are_refused(rules: dict[str, float | str], message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=message):
        as_walk(tmp_path / "never_opened.csv", **rules)
