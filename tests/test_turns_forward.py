"""Shortest forward paths: closed forms, a second way to find them, force, and a radius that differs left and right."""

from itertools import product
from math import acos, cos, hypot, pi, sin, sqrt

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fieldgeo.travel.forward import WORDS, forward_paths, shortest_paths
from fieldgeo.travel.paths import Paths, Radii, curvatures, drive_all, drive_path


def in_radii(parts_m: np.ndarray, radius: float) -> tuple[float, ...]:
    return tuple((parts_m / radius).tolist())


def one_path(goal: tuple[float, float, float], radius: float = 1.0) -> tuple[float, str, tuple[float, ...]]:
    found = shortest_paths(np.zeros((1, 2)), np.zeros(1), np.array([goal[:2]]), np.array([goal[2]]), radius)
    word = WORDS[found.word[0]]
    return float(found.length_m[0]), word, in_radii(found.parts_m[0], radius)


def drive(word: str, parts: tuple[float, ...], pose: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> np.ndarray:
    """Return where a path of unit radius ends, part by part: x, y and heading."""
    x, y, heading = pose
    for letter, part in zip(word, parts, strict=True):
        if letter == "S":
            x, y = x + part * cos(heading), y + part * sin(heading)
            continue
        side = 1 if letter == "L" else -1
        after = heading + side * part
        x, y = x + side * (sin(after) - sin(heading)), y - side * (cos(after) - cos(heading))
        heading = after
    return np.array([x, y, heading])


def turned_by(side: int, heading: float, target: float) -> float:
    """Return the arc from one heading to another on one side; a hair less than a full circle is none."""
    arc = (side * (target - heading)) % (2 * pi)
    return 0.0 if arc > 2 * pi - 1e-9 else arc


def by_circles(goal: tuple[float, float, float]) -> float:
    """Return the length of the shortest path from the origin by tangents of circles: a way of its own.

    The two circles beside the start and the two beside the goal are joined by the common tangent that keeps the sense
    of driving, or by a third circle that touches both.
    """
    x, y, heading = goal
    lengths = []
    for first, last in product((1, -1), (1, -1)):
        a = np.array([0.0, first])
        b = np.array([x - last * sin(heading), y + last * cos(heading)])
        apart = hypot(*(b - a))
        bearing = float(np.arctan2(*(b - a)[::-1]))
        if first == last:
            straight, along = apart, bearing
            lengths.append(turned_by(first, 0.0, along) + straight + turned_by(last, along, heading))
            if apart <= 4:
                # The circle between lies to either side of the line of centres.
                for side in (1, -1):
                    to_middle = bearing + side * acos(apart / 4)
                    middle = a + 2 * np.array([cos(to_middle), sin(to_middle)])
                    at_first = to_middle + first * pi / 2
                    at_last = float(np.arctan2(*(middle - b)[::-1])) + last * pi / 2
                    arcs = (
                        turned_by(first, 0.0, at_first),
                        turned_by(-first, at_first, at_last),
                        turned_by(last, at_last, heading),
                    )
                    lengths.append(sum(arcs))
        elif apart >= 2:
            straight = sqrt(apart**2 - 4)
            along = bearing + first * acos(min(1.0, straight / apart))
            lengths.append(turned_by(first, 0.0, along) + straight + turned_by(last, along, heading))
    return min(lengths)


coordinate = st.floats(-8, 8, allow_subnormal=False)
angle = st.floats(-7, 7, allow_subnormal=False)


@settings(max_examples=400)
@given(x=coordinate, y=coordinate, heading=angle)
@example(x=0.0, y=4.97808994873271e-12, heading=1.192092896e-07)
def test_length_equals_that_by_circles(x: float, y: float, heading: float) -> None:
    length, word, parts = one_path((x, y, heading))
    end = drive(word, parts)
    # Where the two poses are all but one, a straight run is the root of a rounding error: 1e-4 of a radius is 1 mm.
    close = 1e-6 if hypot(x, y) > 1e-3 else 1e-4
    assert end[:2] == pytest.approx([x, y], abs=close)
    assert cos(end[2] - heading) == pytest.approx(1.0, abs=1e-9)
    assert min(parts) >= 0
    assert length == pytest.approx(sum(parts), abs=1e-12)
    expected = by_circles((x, y, heading))
    # No longer than the other way; shorter only where that one rounds an arc of nothing up to a full circle.
    assert length <= expected + 1e-5
    assert length == pytest.approx(expected, abs=1e-5) or expected - length == pytest.approx(2 * pi, abs=1e-4)


def test_no_other_path_of_up_to_three_parts_is_shorter() -> None:
    # By force: every word of three letters with parts on a grid; each ends somewhere, and no path there may be longer.
    grid = np.linspace(0.0, 2 * pi, 9)[:-1]
    for letters in product("LRS", repeat=3):
        for parts in product(grid, repeat=3):
            x, y, heading = drive("".join(letters), parts)
            DRIVEN.append((x, y, heading, sum(parts)))
    ends = np.array(DRIVEN)
    found = shortest_paths(np.zeros((len(ends), 2)), np.zeros(len(ends)), ends[:, :2], ends[:, 2], 1.0)
    assert (found.length_m <= ends[:, 3] + 1e-6).all()


DRIVEN: list[tuple[float, float, float, float]] = []


def test_every_path_ends_where_it_should() -> None:
    rng = np.random.default_rng(7)
    count = 3000
    start, end = rng.uniform(-40, 40, (count, 2)), rng.uniform(-40, 40, (count, 2))
    heading, goal = rng.uniform(-7, 7, count), rng.uniform(-7, 7, count)
    found = shortest_paths(start, heading, end, goal, 6.0)
    assert len(set(found.word.tolist())) == 6  # every word occurs
    for row in range(0, count, 10):
        word, parts = WORDS[found.word[row]], in_radii(found.parts_m[row], 6.0)
        at = drive(word, parts, (start[row, 0] / 6, start[row, 1] / 6, heading[row]))
        assert at[:2] * 6 == pytest.approx(end[row], abs=1e-6)
        bend = tuple(curvatures((word,), Radii(6.0, 6.0))[0].tolist())
        driven = tuple(found.parts_m[row].tolist())
        line, headings = drive_path((start[row, 0], start[row, 1]), heading[row], bend, driven, step_m=0.05)
        assert line[0] == pytest.approx(start[row], abs=1e-9)
        assert line[-1] == pytest.approx(end[row], abs=1e-6)
        assert np.cos(headings[-1] - goal[row]) == pytest.approx(1.0)
        # Chords of 0.05 m on a 6 m radius are shorter than their arcs by 3e-6 of the length.
        length = float(np.hypot(*np.diff(line, axis=0).T).sum())
        assert length == pytest.approx(found.length_m[row], rel=1e-5, abs=1e-6)


# Derived, each recomputed with its endpoint driven: DB01 to DB15 of the project's geometry checks. Unit radius, the
# start at the origin heading along +x; goal x, y and heading (counter-clockwise), length.
GOALS = [
    (4, 0, 0, 4.0),
    (0, 2, pi, 3.141593),
    (0, 4, pi, 5.141593),
    (0, 1, pi, 6.03253),
    (0, 0, pi, 7.330383),
    (4, 1, 0, 4.128483),
    (0, 1, 0, 7.283185),
    (3, 3, pi / 2, 4.399223),
    (-2, 0, 0, 8.283185),
    (2.5, -1.5, -2.5, 4.426705),
]


@pytest.mark.parametrize(("x", "y", "heading", "length"), GOALS)
def test_shortest_path_derived(x: float, y: float, heading: float, length: float) -> None:
    assert one_path((x, y, heading))[0] == pytest.approx(length, abs=1e-4)


def test_path_grows_with_the_radius_derived_db16() -> None:
    assert one_path((30, 7.5, 0), radius=7.5)[0] == pytest.approx(30.96362, abs=1e-4)


def test_many_paths_at_once_equal_one_at_a_time() -> None:
    rng = np.random.default_rng(3)
    start, end = rng.uniform(-9, 9, (40, 2)), rng.uniform(-9, 9, (40, 2))
    heading, goal = rng.uniform(-4, 4, 40), rng.uniform(-4, 4, 40)
    together = shortest_paths(start, heading, end, goal, 2.0)
    for row in range(40):
        one = slice(row, row + 1)
        alone = shortest_paths(start[one], heading[one], end[one], goal[one], 2.0)
        assert alone.length_m[0] == together.length_m[row]


radius_m = st.floats(2, 15)


@given(x=coordinate, y=coordinate, heading=angle, left=radius_m, right=radius_m)
def test_every_word_of_two_radii_ends_at_its_goal(
    x: float, y: float, heading: float, left: float, right: float
) -> None:
    goal = np.array([[5 * x, 5 * y]])
    radii = Radii(left, right)
    paths = forward_paths(np.zeros((1, 2)), np.zeros(1), goal, np.array([heading]), radii)
    ends = drive_all(np.zeros((1, 2)), np.zeros(1), paths)
    is_path = ~np.isnan(paths.parts_m).any(axis=-1)
    assert is_path[0, :2].all()  # the same side first and last always joins
    assert (paths.parts_m[is_path] >= 0).all()
    assert ends[0][is_path] == pytest.approx(goal[0, 0], abs=1e-5)
    assert ends[1][is_path] == pytest.approx(goal[0, 1], abs=1e-5)
    assert np.cos(ends[2][is_path] - heading) == pytest.approx(1.0, abs=1e-9)


@given(x=coordinate, y=coordinate, heading=angle, left=radius_m, right=radius_m)
def test_mirrored_with_the_radii_changed_over_it_is_as_long(
    x: float, y: float, heading: float, left: float, right: float
) -> None:
    start = np.zeros((1, 2)), np.zeros(1)
    one = shortest_paths(*start, np.array([[5 * x, 5 * y]]), np.array([heading]), left, right).length_m[0]
    other = shortest_paths(*start, np.array([[5 * x, -5 * y]]), np.array([-heading]), right, left).length_m[0]
    # A goal just beside the path may cost a full circle on one side and, to float noise, none on the other.
    assert one == pytest.approx(other, rel=1e-6) or abs(one - other) == pytest.approx(2 * pi * left, rel=0.9)


def test_no_path_of_up_to_four_parts_with_two_radii_is_shorter() -> None:
    # By force: words of four letters with parts drawn at random; what they reach is reached by no longer a path.
    rng = np.random.default_rng(4)
    radii = Radii(
        8.33, 4.90
    )  # published, Agriculture 9:224, 2019: an offset trailed machine; left and right changed over
    bends = rng.choice([1 / radii.left_m, -1 / radii.right_m, 0.0], (60_000, 4))
    parts = rng.uniform(0, 1, (60_000, 4)) * rng.choice([3.0, 12.0, 35.0], (60_000, 1))
    x, y, heading = drive_all(np.zeros((60_000, 2)), np.zeros(60_000), Paths(bends, parts))
    found = shortest_paths(np.zeros((60_000, 2)), np.zeros(60_000), np.column_stack([x, y]), heading, *radii)
    assert (found.length_m <= parts.sum(axis=1) + 1e-6).all()


def test_a_wider_radius_on_one_side_is_felt_on_that_side_alone_derived() -> None:
    # Half a circle to the left at twice its radius: pi r of that side.
    for left, right, side in ((7.0, 4.0, 1), (4.0, 7.0, -1)):
        end = np.array([[0.0, side * 14.0]])
        found = shortest_paths(np.zeros((1, 2)), np.zeros(1), end, np.array([pi]), left, right)
        assert found.length_m[0] == pytest.approx(7.0 * pi, abs=1e-9)
