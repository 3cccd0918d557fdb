"""Paths a steered tool can drive: arcs to the left or right and straight runs, each forward or in reverse.

Many paths are held as arrays of their parts: how each part bends, and how far it is driven, below zero in reverse.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fieldgeo.layout.axes import Floats
from fieldgeo.layout.strips import Ints

# A part shorter than this is none.
NO_PART_M = 1e-6
_FULL = 2 * np.pi


class Radii(NamedTuple):
    """Least radii to the left and to the right, > 0."""

    left_m: float  # [m]
    right_m: float  # [m]


class Paths(NamedTuple):
    """Paths as arrays of their parts; NaN where a path cannot join its poses."""

    curvature_1_m: Floats  # (..., P) left above zero, 0 straight; only the inverse of a radius or nothing [1/m]
    parts_m: Floats  # (..., P) driven length of each part, below zero in reverse [m]


def path_lengths_m(parts_m: Floats) -> Floats:
    """Return the length driven on each path, forward and in reverse together, shape (...,). [m]

    Parameters
    ----------
    parts_m : ndarray of shape (..., P)
        Driven lengths of the parts, below zero in reverse. [m]
    """
    return np.asarray(np.abs(parts_m).sum(axis=-1))


def reverse_lengths_m(parts_m: Floats) -> Floats:
    """Return the length driven in reverse on each path, shape (...,); parameters of `path_lengths_m`. [m]"""
    return np.asarray(np.maximum(-parts_m, 0.0).sum(axis=-1))


def count_cusps(parts_m: Floats) -> Ints:
    """Return how often each path changes between forward and reverse, shape (...,); parameters of `path_lengths_m`."""
    way = np.where(np.abs(parts_m) > NO_PART_M, np.sign(parts_m), 0.0)
    cusps = np.zeros(parts_m.shape[:-1], dtype=np.int64)
    last = way[..., 0]
    for part in range(1, parts_m.shape[-1]):
        now = way[..., part]
        cusps += now * last < 0
        last = np.where(now == 0, last, now)
    return cusps


def curvatures(words: tuple[str, ...], radii: Radii) -> Floats:
    """Return the curvature of the parts of words of the same length, left above zero, shape (W, P). [1/m]

    Parameters
    ----------
    words : tuple of str
        One letter a part: L, R or S.
    radii : Radii
        Radii of the arcs. [m]
    """
    bend = {"L": 1 / radii.left_m, "R": -1 / radii.right_m, "S": 0.0}
    return np.array([[bend[letter] for letter in word] for word in words])


def step(x: Floats, y: Floats, heading: Floats, curvature: Floats, driven_m: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the poses after one part: x, y and heading.

    Parameters
    ----------
    x, y : ndarray of shape (...,)
        Places before. [m]
    heading : ndarray of shape (...,)
        Headings before, counter-clockwise from the x axis. [rad]
    curvature : ndarray of shape (...,)
        Left above zero. [1/m]
    driven_m : ndarray of shape (...,)
        Length of the part, below zero in reverse. [m]
    """
    turned = curvature * driven_m
    # The chord of an arc: its length over the arc's is sin(t/2) / (t/2), which holds for a straight run too.
    half = turned / 2
    half = np.where(half == 0, 1e-20, half)
    chord, middle = driven_m * np.sin(half) / half, heading + half
    return x + chord * np.cos(middle), y + chord * np.sin(middle), heading + turned


def drive_all(start_xy: Floats, heading_rad: Floats, paths: Paths) -> tuple[Floats, Floats, Floats]:
    """Return where paths end: x, y and heading, each of shape (N, ...).

    Parameters
    ----------
    start_xy : ndarray of shape (N, 2)
        Where they begin. [m]
    heading_rad : ndarray of shape (N,)
        Headings there, counter-clockwise from the x axis. [rad]
    paths : Paths
        Parts of shape (N, ..., P).
    """
    shape = paths.parts_m.shape[:-1]
    wide = (len(start_xy),) + (1,) * (len(shape) - 1)
    x, y, heading = (np.broadcast_to(values.reshape(wide), shape) for values in (*start_xy.T, heading_rad))
    for part in range(paths.parts_m.shape[-1]):
        x, y, heading = step(x, y, heading, paths.curvature_1_m[..., part], paths.parts_m[..., part])
    return x, y, heading


def part_starts(start_xy: Floats, heading_rad: Floats, paths: Paths) -> tuple[Floats, Floats, Floats]:
    """Return where each part of paths begins: x, y and heading, each of shape (N, P). [m, rad]

    Parameters
    ----------
    start_xy : ndarray of shape (N, 2)
        Where the paths begin. [m]
    heading_rad : ndarray of shape (N,)
        Headings there, counter-clockwise from the x axis. [rad]
    paths : Paths
        Parts of shape (N, P).
    """
    poses = [(start_xy[:, 0], start_xy[:, 1], np.asarray(heading_rad))]
    for part in range(paths.parts_m.shape[-1] - 1):
        poses.append(step(*poses[-1], paths.curvature_1_m[:, part], paths.parts_m[:, part]))
    x, y, heading = (np.stack(each, axis=1) for each in zip(*poses, strict=True))
    return x, y, heading


def cut_shares(off_m: Floats, heading_rad: Floats, curvature: Floats, driven_m: Floats) -> Floats:
    """Return where parts cross a straight line, as shares of their length, shape (N, 2); 1 where they do not. [-]

    Parameters
    ----------
    off_m : ndarray of shape (N,)
        How far to the left of the line each part begins. [m]
    heading_rad : ndarray of shape (N,)
        Headings there, counter-clockwise from the line's own. [rad]
    curvature : ndarray of shape (N,)
        Left above zero. [1/m]
    driven_m : ndarray of shape (N,)
        Length of the part, below zero in reverse; not zero. [m]

    Notes
    -----
    Derived. After a length s the heading is h + k s and the place off + (cos h - cos(h + k s)) / k to the left; a
    straight run is off + s sin h.
    """
    turned = curvature * driven_m
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        arc = np.arccos(np.cos(heading_rad) + curvature * off_m)
        there = np.stack([arc, -arc], axis=1) - heading_rad[:, None]
        on_arc = np.mod(np.sign(turned)[:, None] * there, _FULL) / np.abs(turned)[:, None]
        on_run = (-off_m / (np.sin(heading_rad) * driven_m))[:, None]
        shares = np.where(turned[:, None] == 0, on_run, on_arc)
    return np.where((shares >= 0) & (shares <= 1), shares, 1.0)


def sample_paths(start_xy: Floats, heading_rad: Floats, paths: Paths, *, shares: Floats) -> Floats:
    """Return points along paths, at the same shares of each part, shape (N, P K, 2). [m]

    Parameters
    ----------
    start_xy : ndarray of shape (N, 2)
        Where they begin. [m]
    heading_rad : ndarray of shape (N,)
        Headings there, counter-clockwise from the x axis. [rad]
    paths : Paths
        Parts of shape (N, P).
    shares : ndarray of shape (K,)
        Shares of the length of a part, 0 to 1. [-]
    """
    x, y, heading = start_xy[:, 0], start_xy[:, 1], np.asarray(heading_rad)
    points = []
    for part in range(paths.parts_m.shape[-1]):
        bend, driven = paths.curvature_1_m[:, part], paths.parts_m[:, part]
        xs, ys, _ = step(x[:, None], y[:, None], heading[:, None], bend[:, None], driven[:, None] * shares)
        points.append(np.stack([xs, ys], axis=-1))
        x, y, heading = step(x, y, heading, bend, driven)
    return np.concatenate(points, axis=1)


def drive_path(
    start_xy: tuple[float, float],
    heading_rad: float,
    curvature_1_m: tuple[float, ...],
    parts_m: tuple[float, ...],
    *,
    step_m: float = 0.5,
) -> tuple[Floats, Floats]:
    """Return points along one path, shape (K, 2), and the heading at each, shape (K,). [m, rad]

    Every change between forward and reverse is one of the points; no two are the same.

    Parameters
    ----------
    start_xy : tuple of float
        Where the path begins. [m]
    heading_rad : float
        Heading there, counter-clockwise from the x axis. [rad]
    curvature_1_m : tuple of float
        Curvature of each part, left above zero. [1/m]
    parts_m : tuple of float
        Driven length of each part, below zero in reverse. [m]
    step_m : float
        Greatest distance between points on an arc. [m]
    """
    x, y, heading = (np.array([value]) for value in (*start_xy, heading_rad))
    points = [np.column_stack([x, y, heading])]
    for bend, part in zip(curvature_1_m, parts_m, strict=True):
        count = 1 if bend == 0 else max(1, int(np.ceil(abs(part) / step_m)))
        x, y, heading = step(x[-1:], y[-1:], heading[-1:], np.array([bend]), part * np.arange(1, count + 1) / count)
        points.append(np.column_stack([x, y, heading]))
    poses = np.vstack(points)
    keep = np.concatenate([[True], np.hypot(*np.diff(poses[:, :2], axis=0).T) > 1e-9])
    return poses[keep, :2], poses[keep, 2]


def arc_rad(angle: Floats, noise_rad: Floats | float = 1e-9) -> Floats:
    """Return angles as arcs within 0 <= arc < 2 pi; a full circle less float noise is no turn at all. [rad]

    Parameters
    ----------
    angle : ndarray
        Angles of any size. [rad]
    noise_rad : ndarray or float
        How far off they may be. [rad]
    """
    wrapped = np.mod(angle, _FULL)
    return np.where(wrapped > _FULL - noise_rad, 0.0, wrapped)


def centres(xy: Floats, heading_rad: Floats, signed_m: Floats) -> Floats:
    """Return the centres of the turning circles beside poses, shape (N, W, 2). [m]

    Parameters
    ----------
    xy : ndarray of shape (N, 2)
        Places. [m]
    heading_rad : ndarray of shape (N,)
        Headings, counter-clockwise from the x axis. [rad]
    signed_m : ndarray of shape (W,)
        Radii, below zero for the circle to the right. [m]
    """
    left = np.stack([-np.sin(heading_rad), np.cos(heading_rad)], axis=-1)
    return np.asarray(xy[:, None, :] + signed_m[:, None] * left[:, None, :])


def along_tangent(
    start: tuple[Floats, Floats], end: tuple[Floats, Floats], first_m: Floats, last_m: Floats, *, way: int
) -> Floats:
    """Return paths of an arc, a run along the common tangent of two circles, and an arc, shape (N, W, 3). [m]

    Parameters
    ----------
    start, end : tuple of ndarray
        Places of shape (N, 2) and headings of shape (N,). [m, rad]
    first_m, last_m : ndarray of shape (W,)
        Radii of the two arcs, below zero to the right. [m]
    way : {1, -1}
        The straight run is driven forward, or in reverse; the arcs forward.

    Notes
    -----
    Derived. With centres c1 and c2 and heading p of the run, c2 - c1 = l (cos p, sin p) + (s1 - s2) (sin p, -cos p), s
    the signed radii; so l^2 = |c2 - c1|^2 - (s1 - s2)^2. NaN where the circles lie too close.
    """
    between = centres(*end, last_m) - centres(*start, first_m)
    differ, least = first_m - last_m, np.abs(first_m) + np.abs(last_m)
    apart = np.hypot(between[..., 0], between[..., 1])
    square = apart**2 - differ**2
    run = way * np.sqrt(np.where((square < 0) & (square > -1e-9 * least**2), 0.0, square))
    heading = np.arctan2(between[..., 1], between[..., 0]) - np.arctan2(-differ, run)
    # One circle and the same: there is no run, and the heading of it is any; turning stops nowhere in between.
    heading = np.where(apart < 1e-9 * least, start[1][:, None], heading)
    # The shorter the run, the less its ends say about its heading.
    noise = 1e-9 + 1e-11 / np.maximum(apart, 1e-9)
    first = arc_rad(np.sign(first_m) * (heading - start[1][:, None]), noise)
    last = arc_rad(np.sign(last_m) * (end[1][:, None] - heading), noise)
    return np.stack([first * np.abs(first_m), run, last * np.abs(last_m)], axis=-1)
