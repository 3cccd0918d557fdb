"""How far a walked outline can be trusted: its accuracy, the uncertainty of its area, and its weak points."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.outline.uncertainty import SURE_95, WalkedRing, independent_area_sd_m2, walk_area_spread
from fieldgeo.outline.walk.edge import GAP_STEPS
from fieldgeo.outline.walk.quality import UNKNOWN, accuracies_m, quality_name
from fieldgeo.units import HECTARE_M2

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.frame import FloatArray
    from fieldgeo.outline.evidence import WalkReport
    from fieldgeo.outline.rules import WalkRules
    from fieldgeo.outline.walk.edge import Edge
    from fieldgeo.outline.walk.fixes import Fixes, Tally
    from fieldgeo.outline.walk.ground import Ring
    from fieldgeo.outline.walk.sift import Dropped

# Each of these is common practice, no source.
POOR_SHARE: Final = 0.2  # of points dropped for their quality
GAP_SHARE: Final = 0.05  # of the perimeter that nobody walked
CLOSURE_NOISES: Final = 5.0
LEAST_CLOSURE_M: Final = 5.0
WIDE_SHARE: Final = 0.05  # of the area: an uncertainty worth a word
WIGGLES: Final = 1.2  # perimeter over perimeter without wiggles


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """All that is known of a walk when its ground has been found."""

    ground: shapely.MultiPolygon  # the field [m]
    edges: Sequence[Edge]
    fixes: Fixes  # kept
    dropped: Dropped
    tally: Tally
    rules: WalkRules
    accuracy_m: float
    report: WalkReport


def accuracy_of(fixes: Fixes, rules: WalkRules) -> tuple[float, str]:
    """Return the standard error of a position along each axis, and where it comes from. [m]

    Without a given one it is the root mean square of the usual errors of the fixes: common practice, no source. It is
    never taken from the HDOP, which is a factor of geometry without a unit.

    Parameters
    ----------
    fixes : Fixes
        The points kept.
    rules : WalkRules
        May give it.
    """
    if rules.accuracy_m is not None:
        return rules.accuracy_m, "as given"
    accuracy_m = float(np.sqrt(np.mean(accuracies_m(fixes.quality) ** 2)))
    values, counts = np.unique(fixes.quality, return_counts=True)
    shares = ", ".join(
        f"{quality_name(int(value))} {count / len(fixes):.0%}"
        for value, count in sorted(zip(values, counts, strict=True), key=lambda pair: -pair[1])
    )
    return accuracy_m, f"common practice for the quality of the fixes ({shares}), no source"


def without_wiggles(ground: shapely.Geometry, accuracy_m: float) -> shapely.Geometry:
    """Return ground whose edge is freed of wiggles smaller than three times the accuracy, to take lengths of.

    Parameters
    ----------
    ground : shapely.Geometry
        Polygons. [m]
    accuracy_m : float
        Standard error of a position along each axis. [m]
    """
    return shapely.simplify(ground, 3 * accuracy_m, preserve_topology=True)


def area_half_range(
    walked_rings: Sequence[tuple[Edge, float]], marked_rings: Sequence[Ring], growth_m2: float, *, accuracy_m: float
) -> tuple[float, str]:
    """Return half of the range that holds the true area 95 times in 100, whatever the correlation, and how it is found.

    The errors of the positions are carried through the area at the correlation in time (along the way, where there are
    no times) that makes their effect largest, see `fieldgeo.outline.uncertainty`. What mending and thinning did to the
    area is taken as one more error of that size. Not in it: sides that nobody walked, corners cut between two points
    (up to an eighth of the squared step at a square corner), an offset that is not what it was said to be, and a walker
    who keeps off the edge.

    Parameters
    ----------
    walked_rings : sequence of (Edge, float)
        Edges in the order in which they were walked, and +1 for outer rings, -1 for holes.
    marked_rings : sequence of Ring
        Holes marked by waypoints, every point with an error of its own.
    growth_m2 : float
        What mending and thinning did to the area of the field. [m2]
    accuracy_m : float
        Standard error of a position along each axis. [m]
    """
    stations, unit = _stations([edge for edge, _ in walked_rings])
    rings = [
        WalkedRing(points_m=edge.knots.points_m, station=station, sign=sign if edge.lap_m2 > 0 else -sign)
        for (edge, sign), station in zip(walked_rings, stations, strict=True)
    ]
    spread = walk_area_spread(rings, accuracy_m=accuracy_m)
    marked = [independent_area_sd_m2(ring.polygon, accuracy_m=accuracy_m) for ring in marked_rings]
    half_m2 = hypot(SURE_95 * hypot(spread.worst_sd_m2, *marked), growth_m2)
    memory = f"lasting about {spread.worst_memory:.0f} {unit}" if spread.worst_memory else "new at every point"
    how = (
        f"position errors of {accuracy_m:.3g} m along each axis, at the correlation that is worst for the area "
        f"({memory}; new ones at every point would make it {SURE_95 * spread.independent_sd_m2:.0f} m2), and what "
        "mending and thinning changed; not in it: sides that nobody walked, and how well the edge was followed"
    )
    return half_m2, how


def weak_points(walked: Walked, half_range_m2: float) -> tuple[str, ...]:
    """Return the weak points of a walk, the worst first.

    Parameters
    ----------
    walked : Walked
        The walk.
    half_range_m2 : float
        Half of the range of its area. [m2]
    """
    # Each with how much it weighs: a share of the area, or of the points, as far as one can say.
    weighed = [*_of_the_way(walked), *_of_the_receiver(walked), *_of_the_size(walked, half_range_m2)]
    return tuple(text for _, text in sorted(weighed, key=lambda pair: -pair[0]))


def _stations(edges: Sequence[Edge]) -> tuple[list[FloatArray], str]:
    """Return the times of the points where they run on through all edges, else the way since the beginning."""
    stations = [edge.knots.station for edge in edges]
    if all(edge.is_timed for edge in edges) and (np.diff(np.concatenate(stations)) >= 0).all():
        return [station - stations[0][0] for station in stations], "s"
    ways = []
    start = 0.0
    for edge in edges:
        steps = np.hypot(*np.diff(edge.knots.points_m, axis=0).T)
        ways.append(start + np.concatenate([[0.0], np.cumsum(steps)]))
        start = float(ways[-1][-1])
    return ways, "m"


def _of_the_way(walked: Walked) -> Iterator[tuple[float, str]]:
    report = walked.report
    perimeter_m = shapely.length(without_wiggles(walked.ground, walked.accuracy_m))
    gaps_m = sum(gap.length_m for gap in report.gaps)
    if gaps_m > 0:
        share = gaps_m / perimeter_m
        count = f"{len(report.gaps)} gaps" if len(report.gaps) > 1 else "a gap"
        rule = "much of the edge was not walked" if share > GAP_SHARE else "short of the edge"
        if share > GAP_SHARE:
            yield 1 + share, f"{count} of {gaps_m:.0f} m in all, {share:.0%} of the perimeter: {rule}"
        else:
            yield share, f"{count} of {gaps_m:.0f} m in all, {share:.1%} of the perimeter, joined by straight sides"
    for edge in walked.edges:
        usual_m = max(CLOSURE_NOISES * walked.accuracy_m, LEAST_CLOSURE_M, GAP_STEPS * edge.usual_step_m)
        if edge.closure_m > usual_m:
            yield (
                1 + edge.closure_m / perimeter_m,
                f"{edge.label or 'it '}closes with a straight side of {edge.closure_m:.0f} m: more than positions of "
                f"{walked.accuracy_m:.3g} m explain, so a piece of the edge was not walked",
            )
    if report.laps > 1:
        yield 0.1, f"it goes round {report.laps} times; only the first was used: compare the others by themselves"
    if walked.dropped.jumps:
        yield (
            0.3,
            f"{walked.dropped.jumps} steps faster than {walked.rules.most_speed_m_s:g} m/s were kept, because the "
            "track goes on from there: look at the map",
        )
    if report.duration_s is None:
        yield 0.04, "it has no times: spikes were told by their length alone"
    wiggles = walked.ground.length / perimeter_m
    if wiggles > WIGGLES:
        yield (
            0.03,
            f"noise lengthens the perimeter by {wiggles - 1:.0%}: without wiggles of less than "
            f"{3 * walked.accuracy_m:.3g} m it is {perimeter_m:.0f} m",
        )


def _of_the_receiver(walked: Walked) -> Iterator[tuple[float, str]]:
    count = walked.dropped
    poor = count.void + count.not_measured + count.poor + count.hdop
    if poor > POOR_SHARE * count.read:
        yield 0.5, f"{poor / count.read:.0%} of the positions were void or poor and were dropped"
    for note in walked.tally.notes:
        yield 0.4, note
    if walked.rules.accuracy_m is None:
        yield (
            0.2,
            f"its accuracy, {walked.accuracy_m:.3g} m, is assumed from the quality of the fixes: give it where it is "
            "known",
        )
    quality = walked.fixes.quality
    is_fixed = quality == 4
    if is_fixed.any() and not is_fixed.all():
        yield 0.25, f"{1 - is_fixed.mean():.1%} of its points are not RTK fixed"
    if (quality == UNKNOWN).any():
        yield 0.05, "the file does not say how good its fixes are"


def _of_the_size(walked: Walked, half_range_m2: float) -> Iterator[tuple[float, str]]:
    area_m2 = walked.ground.area
    is_plain = bool(np.isin(walked.fixes.quality, [UNKNOWN, 1]).mean() > 0.5)
    share = half_range_m2 / area_m2
    if share > WIDE_SHARE:
        yield 0.2 + share, f"the area is sure to {share:.0%} only"
    if area_m2 < HECTARE_M2 and is_plain:
        yield (
            0.6,
            f"it is under 1 ha ({area_m2 / HECTARE_M2:.2f} ha): on small plots areas by tablet were off those by "
            "handheld receiver by 11 to 12 % on the average (World Bank, tablet and handheld area study, Uganda)",
        )
    if is_plain:
        yield (
            0.06,
            "walked with plain receivers, 1 ha came out 1.6 % +/- 1.6 % too large in the open and 4.1 % +/- 12 % under "
            "trees (Revue Forestiere Francaise 56(6), 2004); larger fields less",
        )
