"""Curved passes: parallel to a key line, a whole spacing apart, never tighter than the tool can work."""

from math import cos, pi, radians

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapes import outlines

from fieldgeo.errors import LayoutError
from fieldgeo.layout.curved.front import Front, back_with_arcs, front_of, move_left
from fieldgeo.layout.curved.key import least_working_radius_m, smooth_key
from fieldgeo.layout.curved.lay import lay_along, placing_between
from fieldgeo.layout.curved.model import CurvedPasses
from fieldgeo.layout.overlay import intersection, union
from fieldgeo.layout.passes import lay_passes
from fieldgeo.layout.strips import FINISHES, Finish
from fieldgeo.machinery.tool import Tool

Floats = NDArray[np.float64]
CORNER = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 400.0]])


def tool(width: float = 12.0, lap: float = 0.0, sections: int = 1, radius: float = 6.0) -> Tool:
    return Tool(name="t", width_m=width, lap_m=lap, sections=sections, turn_radius_m=radius)


def multi(shape: shapely.Geometry) -> shapely.MultiPolygon:
    return shapely.MultiPolygon(list(shapely.get_parts(shape)))


def bent_line(seed: int, *, length_m: float = 700.0, bend_m: float = 60.0) -> Floats:
    """Return a gently bent line through the origin, of a few waves."""
    rng = np.random.default_rng(seed)
    x = np.linspace(-length_m / 2, length_m / 2, 60)
    waves = (rng.uniform(-1, 1) / k * np.sin(k * pi * x / length_m + rng.uniform(0, 2 * pi)) for k in (1, 2, 3))
    return np.column_stack([x, bend_m * sum(waves)])


def least_radius_of(line: Floats, chord_m: float) -> float:
    """Return the least radius of the circles through three points of a line, two chords apart along it. [m]"""
    drawn = shapely.LineString(line)
    at = np.arange(0.0, drawn.length - 2 * chord_m, chord_m / 8)
    a, b, c = (shapely.get_coordinates(shapely.line_interpolate_point(drawn, at + step * chord_m)) for step in range(3))
    sides = [np.hypot(*(one - two).T) for one, two in ((a, b), (b, c), (c, a))]
    twice = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    with np.errstate(divide="ignore"):
        return float((sides[0] * sides[1] * sides[2] / (2 * twice)).min(initial=np.inf))


@pytest.mark.parametrize("turned_deg", [30.0, 90.0, 140.0])
def test_derived_a_corner_is_cut_by_r_over_cos_half_less_r(turned_deg: float) -> None:
    # Derived: an arc of radius r that touches both sides of a corner of t degrees passes the corner at
    # r / cos(t / 2) - r; at a right angle r (sqrt 2 - 1).
    turned = radians(turned_deg)
    line = np.array([[-400.0, 0.0], [0.0, 0.0], [400 * cos(turned), 400 * np.sin(turned)]])
    key = smooth_key(line, tool(), radius_m=30.0, reach_m=1000.0)
    assert key.deviation_m == pytest.approx(30 / cos(turned / 2) - 30, abs=0.01)


def test_derived_fronts_inside_a_bend_keep_their_distance() -> None:
    # Derived: inside a corner every point of the front lies d from one side; the corner moves by d sqrt 2.
    moved = move_left(front_of(CORNER), 50.0)
    assert moved.points == pytest.approx(np.array([[0, 50], [350, 50], [350, 400]]))
    arcs = back_with_arcs(move_left(moved, 30.0), 30.0)
    # Derived: the arc is a chain of chords that touch it, their corners 30 / cos(1 deg) from its middle.
    assert np.hypot(*(arcs.points[1:-1] - [320, 80]).T) == pytest.approx(30 / cos(radians(1.0)), abs=1e-6)


def test_a_front_that_turns_back_on_itself_is_refused() -> None:
    line = np.array([[0.0, 0.0], [100.0, 0.0], [90.0, 5.0], [0.0, 5.0]])
    with pytest.raises(LayoutError, match="turns back on itself"):
        move_left(front_of(line), 5000.0)


@pytest.mark.parametrize("finish", FINISHES)
@pytest.mark.parametrize("sections", [1, 3])
def test_derived_a_straight_key_line_gives_straight_passes(finish: Finish, sections: int) -> None:
    body = multi(shapely.Polygon([(0, 0), (400, 0), (300, 240), (0, 240)]))
    made = tool(sections=sections)
    curved = lay_along(body, np.array([[10.0, 0.0], [40.0, 0.0]]), made, finish, at_m=None)
    straight = lay_passes(body, 90.0, made, finish, turn_s=20.0)
    assert len(curved) == len(straight) == 20
    # Straight strips are laid with a tolerance of a centimetre across, which a slanted end turns into a few along.
    assert curved.swept_m2 == pytest.approx(straight.swept_m2, rel=1e-5)
    assert sorted(curved.length_m) == pytest.approx(sorted(straight.length_m), abs=0.01)
    assert curved.heading_rad == pytest.approx(0.0)


def test_derived_skip_inside_a_right_angle() -> None:
    # Derived: the ground between two neighbouring lines with a sharp corner is one width times the sharp centre line;
    # each rounded line is 2 r - pi r / 2 shorter than that, and so much less is swept.
    body = multi(shapely.box(0, 0, 1000, 1000))
    key = np.array([[0.0, 6.0], [994.0, 6.0], [994.0, 1000.0]])
    passes = lay_along(body, key, tool(), "half", least_radius_m=30.0)
    inside = (passes.offset_m >= 0) & (passes.offset_m < 900)
    lengths = passes.length_m[inside]
    sharp = 2 * (994.0 - passes.offset_m[inside])
    assert lengths == pytest.approx(sharp - 30 * (2 - pi / 2), abs=0.01)
    assert passes.is_smoothed[inside][1:].all()
    # Derived: the key line is an arc of 30 m already; at a distance d from it the arc would have 30 - d.
    moved = np.minimum(passes.offset_m[inside], 30.0) * (2**0.5 - 1)
    assert passes.deviation_m[inside] == pytest.approx(moved, abs=0.01)
    assert passes.key_deviation_m == pytest.approx(30 * (2**0.5 - 1), abs=0.01)


def test_derived_outside_a_bend_nothing_is_left_and_nothing_is_worked_twice() -> None:
    body = multi(shapely.box(0, 0, 900, 700))
    passes = lay_along(body, np.array([[0.0, 300.0], [400.0, 300.0], [900.0, 0.0]]), tool(), "cover", pull_in=False)
    left = [swath for swath, row in zip(passes.swaths(), passes.swath_pass, strict=True) if passes.offset_m[row] > 1]
    ground = union(left)
    assert sum(swath.area for swath in left) == pytest.approx(ground.area, rel=1e-9)
    assert not any(hole.area > 1e-3 for part in ground.geoms for hole in map(shapely.Polygon, part.interiors))


def check_passes(passes: CurvedPasses, body: shapely.MultiPolygon, made: Tool) -> None:
    swaths = passes.swaths()
    assert all(swath.is_valid for swath in swaths)
    if made.sections == 1:
        # Pappus: a bar that does not fold sweeps its width times the way of its middle.
        assert passes.swept_m2 == pytest.approx(float(passes.length_m.sum()) * made.width_m, rel=1e-9)
        assert passes.swept_by_pass_m2() == pytest.approx(passes.length_m * made.width_m)
    for line in passes.lines:
        assert least_radius_of(line, 0.5 * passes.least_radius_m) > 0.9 * passes.least_radius_m
    plain = [swath for swath, row in zip(swaths, passes.swath_pass, strict=True) if not passes.is_pulled[row]]
    if made.lap_m == 0 and len(body.geoms) == 1 and plain:
        assert sum(swath.area for swath in plain) == pytest.approx(union(plain).area, rel=1e-6, abs=0.1)


@given(
    shape=outlines(), seed=st.integers(0, 10**6), bend=st.floats(0, 120), finish=st.sampled_from(FINISHES),
    sections=st.sampled_from([1, 4]), turn=st.floats(0, 360),
)  # fmt: skip
@settings(max_examples=25)
def test_passes_along_bent_lines_on_any_body(
    shape: shapely.MultiPolygon, seed: int, bend: float, finish: Finish, sections: int, turn: float
) -> None:
    made = tool(sections=sections)
    line = shapely.get_coordinates(shapely.affinity.rotate(shapely.LineString(bent_line(seed, bend_m=bend)), turn))
    passes = lay_along(shape, line, made, finish)
    check_passes(passes, shape, made)
    if finish == "clean":
        on = sum(intersection(swath, shape).area for swath in passes.swaths())
        assert on == pytest.approx(passes.swept_m2, rel=1e-4, abs=1.0)


@pytest.mark.parametrize("change", ["turn", "mirror", "reverse"])
def test_a_turned_or_mirrored_field_gives_the_same_passes(change: str) -> None:
    body = multi(shapely.difference(shapely.box(-300, -200, 300, 250), shapely.Point(80, 40).buffer(40)))
    line, made = bent_line(7), tool()
    passes = lay_along(body, line, made, "cover")
    matrix = {"turn": np.array([[0.6, 0.8], [-0.8, 0.6]]), "mirror": np.diag([-1.0, 1.0]), "reverse": np.eye(2)}[change]
    moved = multi(shapely.transform(body, lambda points: points @ matrix))
    other = lay_along(moved, line[:: -1 if change == "reverse" else 1] @ matrix, made, "cover")
    assert other.swept_m2 == pytest.approx(passes.swept_m2, rel=1e-7)
    assert sorted(other.length_m) == pytest.approx(sorted(passes.length_m), abs=1e-3)
    assert other.key_deviation_m == pytest.approx(passes.key_deviation_m, abs=1e-6)


def test_placing_beside_an_edge_and_about_a_line() -> None:
    # Derived: 100 m in strips of 12 m are 9, the last pulled in by 8 m.
    assert placing_between(0.0, 100.0, tool(), "cover", None, pull_in=True).offsets_m[-2:] == (90.0, 94.0)
    assert len(placing_between(0.0, 100.0, tool(), "half", None, pull_in=True).offsets_m) == 8
    about = placing_between(-30.0, 30.0, tool(), "cover", 0.0, pull_in=True)
    assert about.offsets_m == (-24.0, -12.0, 0.0, 12.0, 24.0)
    assert not any(about.pulled)
    assert placing_between(-20.0, 20.0, tool(), "cover", 0.0, pull_in=True).offsets_m == (-14.0, -12.0, 0.0, 12.0, 14.0)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (np.zeros((3, 2)), "no length"),
        (np.array([[0, 0], [100, 0], [100, 50], [50, -50.0]]), "crosses itself"),
        (np.array([[0, 0], [100, 0], [0, 5.0]]), "runs back beside itself"),
    ],
)
def test_key_lines_that_cannot_be_followed_are_refused(line: Floats, words: str) -> None:
    with pytest.raises(LayoutError, match=words):
        lay_along(multi(shapely.box(0, 0, 100, 100)), line, tool(), "cover")


def test_the_least_radius_is_what_the_tool_can_do() -> None:
    assert least_working_radius_m(tool(width=12.0, radius=5.0)) == pytest.approx(6.01)
    assert least_working_radius_m(tool(width=12.0, radius=9.0)) == 9.0
    with pytest.raises(LayoutError, match=r"works on no less than 9\.00 m"):
        lay_along(multi(shapely.box(0, 0, 100, 100)), CORNER, tool(radius=9.0), "cover", least_radius_m=8.0)


def test_zero_moves_nothing() -> None:
    front = front_of(CORNER)
    assert isinstance(front, Front)
    assert move_left(front, 0.0).points == pytest.approx(CORNER)
