"""Curves of a deed: elements, directions, the traps in their wording, and the points they are drawn with."""

import math
from typing import Any

import numpy as np
import pytest
import shapely
from deeds import CHECKS, FOOT_M
from hypothesis import given
from hypothesis import strategies as st

from fieldgeo.errors import InputError
from fieldgeo.outline.deed.calls import read_calls
from fieldgeo.outline.deed.closure import corners_m, signed_area_m2
from fieldgeo.outline.deed.courses import Laid, draw_ring_m, lay_calls, segments_m2, steps_m
from fieldgeo.outline.deed.curve_calls import turn_deg
from fieldgeo.outline.deed.curves import SAGITTA_M, Arc, arc_points_m, radius_of_degree_m, solve_arc
from fieldgeo.outline.deed.values import LengthRules


def lay(text: str) -> Laid:
    deed = read_calls(text, LengthRules(unit="feet"))
    assert deed.faults == (), deed
    return lay_calls(deed.calls)


def azimuth(bearing: str) -> float:
    (call,) = read_calls(f"{bearing} 1 ft", LengthRules()).calls
    assert call.bearing is not None
    return call.bearing.azimuth_deg


def dms(text: str) -> float:
    return sum(float(part) / 60**place for place, part in enumerate(text.split("-")))


def expect_elements(arc: Arc, check: dict[str, Any], unit_m: float) -> None:
    expected, lengths = check["expected"], check["tolerance"]["lengths"]
    found = {"arc": arc.arc_m, "chord": arc.chord_m, "tangent": arc.tangent_m, "middle_ordinate": arc.middle_ordinate_m,
             "external": arc.external_m}  # fmt: skip
    for name, value_m in found.items():
        assert value_m / unit_m == pytest.approx(expected[name], abs=lengths), name
    segment_tolerance = check["tolerance"]["segment_area"]
    assert arc.segment_m2 / unit_m**2 == pytest.approx(expected["segment_area"], abs=segment_tolerance)
    assert arc.delta_deg == pytest.approx(expected["delta_deg"], abs=check["tolerance"]["angles_deg"])


# C01: examples of curve wording in descriptions (land-surveying forum), published arc 92.97, recomputed.
def test_tangent_curve_to_the_right_published_c01() -> None:
    check = CHECKS["C01"]
    laid = lay(
        "N 56-13-49 E 10 ft; thence along a curve to the right, radius 160.00 feet, delta 33-17-28, arc 92.97 feet"
    )
    curve = laid.calls[1].curve
    assert curve is not None
    assert laid.notes == ()
    expect_elements(curve.arc, check, FOOT_M)
    assert curve.arc.arc_m / FOOT_M == pytest.approx(check["expected"]["published_arc"], abs=0.005)
    assert curve.tangent_out_deg == pytest.approx(azimuth(check["expected"]["tangent_out"]), abs=1e-6)


# C03: surveying review solutions, horizontal curves, situation 1: published. C04: course notes, derived answers.
@pytest.mark.parametrize(("number", "unit_m"), [("C03", 1.0), ("C04", FOOT_M)])
def test_curves_between_two_tangents_published_c03_c04(number: str, unit_m: float) -> None:
    check = CHECKS[number]
    turn = turn_deg(azimuth(check["inputs"]["tangent_in"]), azimuth(check["inputs"]["tangent_out"]))
    arc = solve_arc(radius_m=check["inputs"]["radius"] * unit_m, delta_deg=abs(turn))
    expect_elements(arc, check, unit_m)
    published = check["expected"].get("published", {})
    assert arc.delta_deg == pytest.approx(dms(published.get("delta") or check["expected"]["published_delta"]), abs=1e-9)
    assert ("left" if turn < 0 else "right") == check["expected"].get("direction", "right")
    if number == "C03":
        assert arc.tangent_m == pytest.approx(published["tangent"], abs=0.0006)
        assert arc.middle_ordinate_m == pytest.approx(published["middle_ordinate"], abs=0.0006)
    else:
        assert arc.degree_deg == pytest.approx(check["expected"]["degree_of_curve_arc"], abs=1e-6)


# C05: forum example whose radius, arc, delta, chord and outgoing tangent agree, but whose incoming bearing, as it is
# published, points the wrong way: N 89-52-59 W where S 89-52-59 E is needed. The published answer is wrong.
def test_incoming_bearing_turned_round_is_told_published_c05() -> None:
    check = CHECKS["C05"]
    curve = ("thence along a curve to the left, radius 429.99 ft, delta 114-09-46, arc 856.76 ft, "
             "chord bearing N 33-02-08 E, chord 721.9 ft; thence N 24-02-45 W 10 ft")  # fmt: skip
    wrong = lay(f"N 89-52-59 W 100 ft; {curve}")
    assert len(wrong.notes) == 1
    assert (
        "sets off 180 degrees from the direction of the call before (it points the other way round)" in wrong.notes[0]
    )
    right = lay(f"S 89-52-59 E 100 ft; {curve}")
    assert right.notes == ()
    laid = right.calls[1].curve
    assert laid is not None
    expect_elements(laid.arc, check, FOOT_M)
    assert laid.tangent_in_deg == pytest.approx(azimuth(check["expected"]["tangent_in_required"]), abs=1 / 3600)
    assert laid.tangent_out_deg == pytest.approx(azimuth(check["inputs"]["tangent_out"]), abs=1 / 3600)


# C07: route-surveying exercise, 4 degree curve, delta 40: published inputs, derived answers.
def test_degree_of_curve_derived_c07() -> None:
    check = CHECKS["C07"]
    laid = lay("Az 65-35-20 10 ft; thence along a 4° curve to the right, central angle 40°00'00\"")
    curve = laid.calls[1].curve
    assert curve is not None
    expect_elements(curve.arc, check, FOOT_M)
    assert curve.arc.radius_m / FOOT_M == pytest.approx(check["expected"]["radius"], abs=0.0001)
    assert curve.tangent_out_deg == pytest.approx(dms(check["expected"]["azimuth_out"]), abs=1e-9)
    # Stations: PC = PI - tangent, PT = PC + arc.
    start_ft = 2325.0 - curve.arc.tangent_m / FOOT_M
    assert start_ft == pytest.approx(1803.65, abs=0.005)
    assert start_ft + curve.arc.arc_m / FOOT_M == pytest.approx(2803.65, abs=0.005)
    # By the chord definition 2 R sin(D/2) = 100 ft, derived.
    assert 2 * radius_of_degree_m(4.0, is_chord_definition=True) * math.sin(math.radians(2)) == pytest.approx(30.48)


# C09: city boundary description (help forum): published inputs, derived answers.
def test_radial_bearing_of_a_non_tangent_curve_derived_c09() -> None:
    check = CHECKS["C09"]
    east, west = (azimuth(bearing) for bearing in check["expected"]["tangent_bearings"])
    words = "radius 1600 ft, delta 5°, concave northerly"
    for turn, tangent_deg in (("left", east), ("right", west)):
        start = f"N 1 E 10 ft; thence along a non-tangent curve to the {turn}, {words}"
        for radial in ("a radial line to said point bears S 04-03-50 E", "the center bears N 04-03-50 W",
                       "radial bearing S 04-03-50 E"):  # fmt: skip
            curve = lay(f"{start}, {radial}").calls[1].curve
            assert curve is not None
            assert curve.tangent_in_deg == pytest.approx(tangent_deg, abs=1e-6)
    text = "N 1 E 9 ft; thence along a non-tangent curve to the left, radius 160 ft, delta 5°, radial bearing S 4 E"
    told = lay_calls(read_calls(text, LengthRules()).calls)
    assert "may run to the centre or from it" in told.faults[0]


# C10: derived, 660 x 660 less the corner outside a quarter circle of 100 ft: 660^2 - (1 - pi/4) 100^2 = 433453.98.
def test_area_counts_the_segment_derived_c10() -> None:
    check = CHECKS["C10"]
    laid = lay("\n".join(check["inputs"]["calls"]))
    steps = steps_m(laid.calls)
    assert np.hypot(*steps.sum(axis=0)) < 1e-6
    corners = corners_m(steps)
    area_m2 = abs(signed_area_m2(steps) + segments_m2(laid.calls, corners))
    assert area_m2 / FOOT_M**2 == pytest.approx(check["expected"]["area"], abs=check["tolerance"]["area"])
    assert abs(signed_area_m2(steps)) / FOOT_M**2 == pytest.approx(check["expected"]["area_if_chord_used"], abs=0.01)
    ring, owners = draw_ring_m(laid.calls, corners)
    assert shapely.Polygon(ring).area == pytest.approx(area_m2, rel=1e-12)
    assert set(owners.tolist()) == {0, 1, 2, 3, 4}


def test_a_curve_the_other_way_takes_the_segment_off() -> None:
    # Derived: a 600 x 400 rectangle whose east side is bent inward by a half circle of 100 ft radius.
    curve = "curve left, radius 100 ft, delta 180, tangent bearing N 90 W"
    text = f"N 0 E 400\nN 90 E 600\nS 0 E 100\n{curve}\nS 0 E 100\nS 90 W 600"
    laid = lay(text)
    area_m2 = abs(signed_area_m2(steps_m(laid.calls)) + segments_m2(laid.calls, corners_m(steps_m(laid.calls))))
    assert area_m2 / FOOT_M**2 == pytest.approx(600 * 400 - math.pi * 100**2 / 2, rel=1e-12)
    assert "90 degrees from the direction of the call before" in laid.notes[0]  # it is not tangent and does not say so


@given(radius=st.floats(1, 5000), delta=st.floats(0.5, 359))
def test_any_two_elements_give_the_same_arc(radius: float, delta: float) -> None:
    arc = Arc(radius_m=radius, delta_deg=delta)
    if arc.arc_m > 30_000:
        return
    elements = {
        "radius_m": radius,
        "delta_deg": delta,
        "arc_m": arc.arc_m,
        "chord_m": arc.chord_m,
        "tangent_m": arc.tangent_m,
    }
    names = list(elements)
    for place, one in enumerate(names):
        for other in names[place + 1 :]:
            if delta >= 179 and "tangent_m" in (one, other):
                continue
            found = solve_arc(**{one: elements[one], other: elements[other]}, is_over_180=delta > 180)
            # Chord against arc or tangent tells a flat curve by the square of a small angle.
            share = (
                1e-9 if "radius_m" in (one, other) or "delta_deg" in (one, other) else 1e-9 / math.radians(delta) ** 2
            )
            slack = max(share, 1e-7)
            assert found.radius_m == pytest.approx(radius, rel=10 * slack)
            assert found.delta_deg == pytest.approx(delta, rel=10 * slack)


@given(radius=st.floats(0.01, 5000), delta=st.floats(0.01, 359.9))
def test_points_along_an_arc_hold_its_area_and_stay_by_it(radius: float, delta: float) -> None:
    arc = Arc(radius_m=radius, delta_deg=delta)
    points = arc_points_m(arc, is_right=True)
    ring = np.vstack([[[0.0, 0.0]], points, [[arc.chord_m, 0.0]]])
    x, y = ring.T
    area_m2 = -float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2  # it runs clockwise
    assert area_m2 == pytest.approx(arc.segment_m2, rel=1e-9, abs=1e-9 * radius**2)
    center = np.array([arc.chord_m / 2, -radius * math.cos(math.radians(delta) / 2)])
    off_m = np.hypot(*(points - center).T) - radius
    assert np.all((off_m >= -1e-9 * radius) & (off_m <= SAGITTA_M + 1e-9 * radius))
    middles = (ring[1:] + ring[:-1]) / 2
    assert np.all(np.hypot(*(middles - center).T) - radius >= -SAGITTA_M - 1e-9 * radius)
    assert np.allclose(arc_points_m(arc, is_right=False) * [1, -1], points)


@pytest.mark.parametrize(
    ("curve", "words"),
    [
        ("curve to the right, radius 100 ft", "only its radius is told"),
        ("curve to the right", "none is told"),
        ("curve to the right, radius 100 ft, chord 201 ft", "does not fit a radius"),
        ("curve to the right, arc 100 ft, chord 101 ft", "must be shorter than the arc"),
        ("curve to the right, radius 100 ft, delta 360", "it must be under 360"),
        ("curve, radius 100 ft, delta 30", "to the right or to the left"),
        ("non-tangent curve to the right, radius 100 ft, delta 30", "needs a chord bearing"),
        (
            "curve to the right, radius 100 ft, delta 30, concave northwesterly",
            "not the side it is said to be concave to",
        ),
        ("curve to the right, D=181°, delta 30", "degree of curve is 181"),
    ],
)
def test_curves_that_cannot_be_laid_are_refused(curve: str, words: str) -> None:
    deed = read_calls(f"N 10 E 100 ft; thence along a {curve}", LengthRules())
    (fault,) = lay_calls(deed.calls).faults
    assert words in fault
    assert fault.startswith("line 1: call 2")


def test_a_first_call_along_a_curve_needs_a_bearing() -> None:
    deed = read_calls("curve to the right, radius 100 ft, delta 30", LengthRules())
    assert "the first call is a curve" in lay_calls(deed.calls).faults[0]


def test_elements_that_do_not_agree_are_told() -> None:
    laid = lay("N 10 E 100 ft; thence along a curve to the right, radius 100.00 ft, delta 30°00'00\", arc 62.36 ft")
    assert "its arc is written 19.007 m, but the curve it is made of has 15.959 m" in laid.notes[0]
    laid = lay("N 10 E 100 ft; thence along a curve to the right, radius 100.00 ft, delta 30°00'00\", arc 52.36 ft")
    assert laid.notes == ()


def test_radius_and_chord_fit_two_arcs_and_the_longer_must_be_said() -> None:
    laid = lay("N 10 E 100 ft; thence along a curve to the right, radius 100.00 ft, chord 100.00 ft")
    assert laid.calls[1].course.delta_deg == pytest.approx(60.0)
    assert "fit two arcs: the shorter is taken" in laid.notes[0]
    laid = lay("N 10 E 100 ft; thence along a curve to the right, radius 100.00 ft, chord 100.00 ft, the longer arc")
    assert laid.calls[1].course.delta_deg == pytest.approx(300.0)
    assert laid.notes == ()


def test_the_side_it_is_concave_to_tells_the_turn() -> None:
    for side, turn in (("easterly", 1.0), ("west", -1.0), ("to the Southeast", 1.0)):
        laid = lay(f"N 10 E 100 ft; thence along a curve concave {side}, radius 100.00 ft, delta 30°00'00\"")
        assert laid.calls[1].course.radius_m == pytest.approx(turn * 30.48)


def test_two_elements_are_asked_for_in_words() -> None:
    with pytest.raises(InputError, match="needs two of radius"):
        solve_arc(radius_m=3.0)
