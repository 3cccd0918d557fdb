"""Reading outlines at random: whatever the file holds, a field comes out or one clear error, and the areas add up."""

import copy
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo.errors import FieldgeoError, OutlineError
from fieldgeo.outline import measure, read_outline, read_outlines

SQUARE = [[-93.60, 42.00], [-93.59, 42.00], [-93.59, 42.01], [-93.60, 42.01], [-93.60, 42.00]]
HOLE = [[-93.598, 42.002], [-93.598, 42.004], [-93.596, 42.004], [-93.596, 42.002], [-93.598, 42.002]]
DOCUMENTS = [
    {"type": "Polygon", "coordinates": [SQUARE, HOLE]},
    {"type": "GeometryCollection", "geometries": [{"type": "MultiPolygon", "coordinates": [[SQUARE]]}]},
    {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": "EPSG:4326"}},
        "features": [
            {"type": "Feature", "properties": {"name": "A"}, "geometry": {"type": "Polygon", "coordinates": [SQUARE]}}
        ],
    },
]
ODD_VALUES = [None, True, 0, -1, 1e308, float("nan"), float("-inf"), 10**400, 181, -91, 1e-320, "", "x", "\ud800"]
ODD_VALUES += [[], {}, [[]], [[[]]], [1, 2], [[1, 2]], {"type": "Polygon"}, SQUARE, [SQUARE]]


def places_in(value, place=()):
    """Give the way to every value inside a document."""
    if place:
        yield place
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        yield from places_in(item, (*place, key))


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_no_document_does_anything_but_be_read_or_refused(tmp_path_factory, data):
    root = {"document": copy.deepcopy(data.draw(st.sampled_from(DOCUMENTS)))}
    for _ in range(data.draw(st.integers(1, 3))):
        *way, last = data.draw(st.sampled_from([*places_in(root), ("document",)]))
        holder = root
        for key in way:
            holder = holder[key]
        if data.draw(st.booleans()):
            holder[last] = copy.deepcopy(data.draw(st.sampled_from(ODD_VALUES)))
        else:
            holder.pop(last, None) if isinstance(holder, dict) else holder.pop(last)
    path = tmp_path_factory.getbasetemp() / "odd.geojson"
    path.write_text(json.dumps(root.get("document")))
    for read in (read_outline, read_outlines):
        try:
            read(path)
        except FieldgeoError as error:
            str(error).encode("utf-8")


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_areas_add_up_for_any_rings(tmp_path_factory, data):
    """Rings with corners on a coarse grid, closed or not: they cross, touch, repeat and double back as they like."""
    grid = data.draw(st.sampled_from([3, 5, 20]))
    corner = st.tuples(st.integers(0, grid), st.integers(0, grid))
    rings = []
    for size_deg in (0.004, 0.001)[: data.draw(st.integers(1, 2))]:
        corners = data.draw(st.lists(corner, min_size=3, max_size=8))
        offset = np.array([-93.6, 42.0]) + (0.001 if size_deg < 0.004 else 0.0)
        ring = np.round(np.array(corners) / grid * size_deg + offset, 9).tolist()
        rings.append([*ring, ring[0]] if data.draw(st.booleans()) else ring)
    path = tmp_path_factory.getbasetemp() / "rings.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": rings}))
    try:
        field = read_outline(path)
    except OutlineError:
        return
    told_m2 = sum(change.area_change_m2 for change in field.changes)
    assert field.area_m2 == pytest.approx(drawn_m2(field, rings) + told_m2, abs=2e-3)
    assert field.shape.is_valid
    assert all(part.exterior.is_ccw for part in field.shape.geoms)
    assert not any(hole.is_ccw for part in field.shape.geoms for hole in part.interiors)
    assert measure(field).min_width_m > 0


def drawn_m2(field, rings):
    areas_m2 = []
    for ring in rings:
        x, y = field.frame.to_frame(*np.array(ring).T)
        areas_m2.append(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2)
    return areas_m2[0] - sum(areas_m2[1:])
