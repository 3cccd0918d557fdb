"""Edges that were walked become ground: outer rings, holes and further parts, and the offset of a machine's antenna."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from fieldgeo.frame import Frame
from fieldgeo.outline.clean import CRUMB_M2
from fieldgeo.outline.rings import place

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.outline.walk.fixes import Waypoint

MITRE_LIMIT: Final = 5.0  # corners sharper than 23 degrees are cut off when the edge is moved out
_MOST_TOLD: Final = 10
_MOST_RINGS: Final = 200
# What marks ground that is not worked, in the name or the type of waypoints.
_HOLE_WORDS: Final = {
    "pole", "tree", "rock", "stone", "pond", "hole", "slough", "swamp", "marsh", "wet", "well", "pit", "pile", "tower",
    "grass", "waterway", "building", "bush", "brush", "wood", "timber", "tank", "obstacle", "island", "graveyard",
    "barn", "bin",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A polygon that was walked or marked."""

    label: str  # for messages
    polygon: shapely.Polygon
    source: int  # number of the edge it comes from; -1: waypoints


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the field with its holes."""

    outer: Ring
    holes: tuple[Ring, ...] = ()

    @property
    def polygon(self) -> shapely.Polygon:
        """Its ground. [m]"""
        return shapely.Polygon(self.outer.polygon.exterior, [hole.polygon.exterior for hole in self.holes])


def nested(rings: Sequence[Ring], frame: Frame) -> tuple[list[Part], list[str]]:
    """Return the parts that rings make, and what is wrong with them.

    A ring inside another is a hole of it, a ring inside a hole is a part again, a ring outside all others is a further
    part. Rings that cross are a fault.

    Parameters
    ----------
    rings : sequence of Ring
        In any order.
    frame : Frame
        Their plane, for places in messages.
    """
    if len(rings) > _MOST_RINGS:
        return [], [f"it has {len(rings)} closed tracks; {_MOST_RINGS} is the most of one field"]
    ordered = sorted(rings, key=lambda ring: -ring.polygon.area)
    faults = []
    inside: list[list[int]] = [[] for _ in ordered]  # the rings that each lies in
    for small, ring in enumerate(ordered):
        for large, other in enumerate(ordered[:small]):
            shared = shapely.intersection(ring.polygon, other.polygon)
            if shared.area <= CRUMB_M2:
                continue
            if ring.polygon.area - shared.area <= CRUMB_M2:
                inside[small].append(large)
                continue
            where = place(shapely.get_coordinates(shared.representative_point())[0], frame)
            faults.append(
                f"{ring.label} crosses {other.label}: {shared.area:.0f} m2 lie in both, at {where}; a further track "
                "must lie inside another or outside it: leave one out, or walk them as one"
            )
    if faults:
        return [], faults
    holes: dict[int, list[Ring]] = {}
    for number, ring in enumerate(ordered):
        if len(inside[number]) % 2:
            holes.setdefault(max(inside[number]), []).append(ring)  # the smallest ring round it
    parts = [
        Part(outer=ring, holes=tuple(holes.get(number, ())))
        for number, ring in enumerate(ordered)
        if not len(inside[number]) % 2
    ]
    return parts, []


def waypoint_rings(
    waypoints: Sequence[Waypoint], ground: shapely.Geometry, frame: Frame
) -> tuple[list[Ring], list[str]]:
    """Return holes marked by waypoints, and what is said of those that mark none.

    A waypoint is a point, and a hole needs a size. Three or more waypoints of the same type, or else of the same name
    but for a number behind it, are the ring of a hole in their order in the file, if the word is one for ground that is
    not worked (pole, tree, rock, pond, hole ...) and the ring lies inside the field. All others are left out.

    Parameters
    ----------
    waypoints : sequence of Waypoint
        In the order of the file.
    ground : shapely.Geometry
        What the tracks go round. [m]
    frame : Frame
        Its plane.
    """
    groups: dict[str, list[Waypoint]] = {}
    for waypoint in waypoints:
        groups.setdefault(_group(waypoint), []).append(waypoint)
    rings = []
    notes = []
    for word, members in groups.items():
        words = {*word.split(), *(one.removesuffix("s") for one in word.split())}
        reason = "" if _HOLE_WORDS & words else "their name is no word for ground left unworked, such as pole or pond"
        polygon = None
        if not reason and len(members) < 3:
            reason = "a hole needs a size: walk round it, or mark three or more points of it"
        elif not reason:
            lon, lat = np.array([(member.lon_deg, member.lat_deg) for member in members]).T
            polygon = shapely.Polygon(np.column_stack(frame.to_frame(lon, lat)))
            if not polygon.is_valid or polygon.area == 0:
                reason = "in their order they cross each other: mark them one after the other round the hole"
            elif not shapely.covers(ground, polygon):
                reason = "they do not lie inside the field"
        if reason or polygon is None:
            count = f"{len(members)} waypoints" if len(members) > 1 else "1 waypoint"
            notes.append(f"{count} {members[0].kind or members[0].name or 'without a name'!r} left out: {reason}")
        else:
            rings.append(Ring(label=f"hole of waypoints {word!r}", polygon=polygon, source=-1))
    if len(notes) > _MOST_TOLD:
        notes = [*notes[:_MOST_TOLD], f"and {len(notes) - _MOST_TOLD} more kinds of waypoints left out"]
    return rings, notes


def moved_out(parts: Sequence[Part], offset_m: float, frame: Frame) -> tuple[list[shapely.Polygon], list[str]]:
    """Return parts whose edge is moved by the offset of an antenna, and what stands in the way.

    Outer rings grow and holes shrink: the machine drove on the field's side of both. Corners stay corners (mitred).

    Parameters
    ----------
    parts : sequence of Part
        What the tracks go round.
    offset_m : float
        From the track out to the edge; negative: inward. [m]
    frame : Frame
        The plane, for places in messages.
    """
    polygons = []
    faults = []
    for part in parts:
        polygon = part.polygon
        moved = mitred(polygon, offset_m)
        pieces = [piece for piece in shapely.get_parts(moved) if piece.area > CRUMB_M2]
        middle = place(shapely.get_coordinates(polygon.representative_point())[0], frame)
        if not pieces:
            faults.append(
                f"an offset of {offset_m:g} m leaves nothing of {part.outer.label}, at {middle}; give a smaller one"
            )
        elif len(pieces) > 1:
            faults.append(
                f"an offset of {offset_m:g} m breaks {part.outer.label} into {len(pieces)} pieces, at {middle}; give a "
                "smaller one, or walk the pieces one by one"
            )
        elif len(pieces[0].interiors) != len(polygon.interiors):
            faults.append(
                f"an offset of {offset_m:g} m leaves {len(pieces[0].interiors)} of {len(polygon.interiors)} holes of "
                f"{part.outer.label}; give a smaller one, or leave the hole out"
            )
        else:
            polygons.append(pieces[0])
    return polygons, faults


def mitred(ground: shapely.Geometry, offset_m: float) -> shapely.Geometry:
    """Return ground whose edge is moved out by a distance, corners mitred.

    Parameters
    ----------
    ground : shapely.Geometry
        Polygons. [m]
    offset_m : float
        Outward; negative: inward. [m]
    """
    return shapely.buffer(ground, offset_m, join_style="mitre", mitre_limit=MITRE_LIMIT)


def _group(waypoint: Waypoint) -> str:
    word = (waypoint.kind or waypoint.name).lower()
    return " ".join(re.sub(r"[\d\W_]+", " ", word).split())
