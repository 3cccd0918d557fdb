"""GeoPackage, shapefile, FlatGeobuf and KML, read through the GDAL library by way of pyogrio."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.field import Change
from fieldgeo.outline.files.condition import bad_condition
from fieldgeo.outline.files.damage import damage
from fieldgeo.outline.files.geojson import name_of, plain_name
from fieldgeo.outline.files.kinds import KIND_NAMES, MOST_FEATURES, MOST_GEOMETRY_BYTES, OWN_OUTLINE
from fieldgeo.outline.files.layer import Feature, Given, Layer, outline_of
from fieldgeo.outline.files.opening import ARC_STEP_DEG, opened, quiet
from fieldgeo.outline.files.point import NEAR_M, box_round, holding, nearest
from fieldgeo.outline.raw import RawOutline
from fieldgeo.outline.system import FileSystem, code_of, system_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fieldgeo.outline.files.kinds import FileKind
    from fieldgeo.outline.rules import FileRules

_AT_ONCE: Final = 20_000  # features in one read
_CURVES: Final = ("CURVEPOLYGON", "MULTISURFACE", "MULTICURVE", "COMPOUNDCURVE", "CIRCULARSTRING")
_MOST_SAID: Final = 3
_LONGEST_PRJ: Final = 20_000
# What the library makes of a placemark beside its own attributes.
_KML_COLUMNS: Final = frozenset(
    {"timestamp", "begin", "end", "altitudeMode", "tessellate", "extrude", "visibility", "drawOrder", "icon"}
)
QUERY: Final = "a query, which is not run"
_NO_GROUND: Final = ("Point", "Line", QUERY)


def read_vector(given: Given, kind: FileKind, rules: FileRules, crs: str | None) -> Layer:
    """Return the features of a layer that are asked for.

    Parameters
    ----------
    given : Given
        The file.
    kind : {"geopackage", "shapefile", "flatgeobuf", "kml"}
        Its format.
    rules : FileRules
        Layer, condition and point that choose features.
    crs : str, optional
        Coordinate system asked for, in which a point is looked up.

    Returns
    -------
    Layer
        The features; only those that hold the point, where one is given.

    Raises
    ------
    FileError
        If the file cannot be opened.
    OutlineError
        If it is damaged, has no such layer or several to choose from, the condition cannot be used, or there are too
        many features.
    CrsError
        If a point is given and the coordinate system is missing or unknown.
    """
    if fault := damage(given.path, kind):
        raise OutlineError(f"{given.name} cannot be used: this {KIND_NAMES[kind]} is damaged. Get it anew.", [fault])
    with opened(given, kind) as path, quiet(given, path) as said:
        layers = layers_in(path, kind)
        layer, notes = _layer(path, given, layers, rules.layer)
        info = _info(path, layer)
        known, needs_crs = said_system(info["crs"], kind, given.path)
        asked = _Asked(given=given, path=path, layer=layer, where=rules.where, columns=_columns(info, kind))
        features, near = _features(
            asked, kind, rules, _point_system(info, asked, crs or known, needs_crs and crs is None, rules)
        )
    told = [f"said while it was read: {plain_name(text)}" for text in dict.fromkeys(said)]
    return Layer(
        form=kind,
        features=tuple(features),
        columns=asked.columns,
        crs=known,
        needs_crs=needs_crs,
        layers=tuple(name for name, _ in layers),
        notes=(*notes, *told[:_MOST_SAID]),
        near=near,
    )


def _columns(info: dict[str, Any], kind: FileKind) -> tuple[str, ...]:
    names = tuple(map(str, info["fields"]))
    return tuple(name for name in names if name not in _KML_COLUMNS) if kind == "kml" else names


class _Asked:
    """A layer that is open, and which of its features are asked for."""

    def __init__(self, *, given: Given, path: Path, layer: str, where: str | None, columns: tuple[str, ...]) -> None:
        self.given = given
        self.path = path
        self.layer = layer
        self.where = where
        self.columns = columns

    def read(self, **options: Any) -> Any:
        from pyogrio.errors import FeatureError
        from pyogrio.raw import read

        try:
            return read(
                str(self.path), layer=self.layer, where=self.where, return_fids=True, datetime_as_string=True, **options
            )
        except (FeatureError, ValueError) as error:
            if self.where is None or "SQL" not in str(error):
                raise
            raise bad_condition(self.given.name, self.where, str(error), self.columns) from error


def layers_in(path: Path, kind: FileKind) -> list[tuple[str, str | None]]:
    """Return the layers with the kind of their shapes; those that are a query of a database have `QUERY` for it.

    Parameters
    ----------
    path : Path
        The file, opened without harm.
    kind : str
        Its format.
    """
    import pyogrio

    queries = _queries(path) if kind == "geopackage" else frozenset()
    return [
        (str(name), QUERY if str(name).lower() in queries else shapes)
        for name, shapes in pyogrio.list_layers(str(path))
    ]


def _queries(path: Path) -> frozenset[str]:
    """Return the names of views: a query that a file brings along can run for ever."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as database:
            names = database.execute("SELECT name FROM sqlite_master WHERE type = 'view'").fetchall()
    except sqlite3.DatabaseError:  # the library will say it better
        return frozenset()
    return frozenset(str(name).lower() for (name,) in names)


def _info(path: Path, layer: str, **options: Any) -> dict[str, Any]:
    import pyogrio

    info: dict[str, Any] = pyogrio.read_info(str(path), layer=layer, **options)
    return info


def _layer(
    path: Path, given: Given, layers: Sequence[tuple[str, str | None]], asked: str | None
) -> tuple[str, tuple[str, ...]]:
    """Return the layer to read, and what there is to tell of the choice."""
    names = [name for name, _ in layers]
    if asked is not None:
        if dict(layers).get(asked) == QUERY:
            raise OutlineError(
                f"{given.name}: layer {asked!r} is a query and is not run. Save it as a table of its own."
            )
        if asked in names:
            return asked, ()
        raise OutlineError(f"{given.name}: it has no layer {asked!r}. Give one that it has.", _layer_lines(layers))
    with_ground = [name for name, kind in layers if not (kind is None or any(word in kind for word in _NO_GROUND))]
    if len(with_ground) > 1 and OWN_OUTLINE not in with_ground:
        with_ground = [name for name in with_ground if _has_polygons(path, name, dict(layers)[name])]
    if not with_ground:
        raise OutlineError(f"{given.name} cannot be used: no layer in it has polygons.", _layer_lines(layers))
    others = sum(kind is not None for _, kind in layers) - 1  # tables without shapes are nothing that is left out
    told = (f"layer {{!r}} was read; {others} other {'layer' if others == 1 else 'layers'} left out",) if others else ()
    if len(with_ground) > 1 and OWN_OUTLINE not in with_ground:
        raise OutlineError(f"{given.name}: it has several layers. Choose one with --layer.", _layer_lines(layers))
    chosen = OWN_OUTLINE if OWN_OUTLINE in with_ground else with_ground[0]
    return chosen, tuple(note.format(plain_name(chosen)) for note in told)


def _layer_lines(layers: Sequence[tuple[str, str | None]]) -> list[str]:
    return [f"layer {plain_name(name)!r}: {kind or 'no geometry'}" for name, kind in layers] or ["it has no layer"]


def _has_polygons(path: Path, layer: str, kind: str | None) -> bool:
    from pyogrio.raw import read

    if kind is not None and "Polygon" in kind:
        return bool(_info(path, layer, force_feature_count=True)["features"])
    shapes = shapely.from_wkb(read(str(path), layer=layer, columns=[], max_features=_AT_ONCE)[2], on_invalid="ignore")
    return bool((shapely.get_dimensions(shapes) == 2).any())


def said_system(said: str | None, kind: FileKind, path: Path) -> tuple[str | None, bool]:
    """Return what a file says of its coordinate system, and whether it must be asked for.

    Parameters
    ----------
    said : str or None
        What the library reads of it.
    kind : str
        The format of the file.
    path : Path
        The file, beside which a shapefile has its system.
    """
    if kind == "kml":
        return None, False  # KML 2.2 knows longitude and latitude on WGS 84 only
    if kind == "shapefile":
        prj = _projection_file(path)
        return (prj, False) if prj else (None, True)
    if said is None or "undefined" in said.lower()[:40] or "unknown" in said.lower()[:40]:
        return None, True
    return said, False


def _head_text(file: Path) -> str:
    try:
        with file.open(encoding="utf-8", errors="replace") as opened:
            return opened.read(_LONGEST_PRJ).strip()
    except OSError as error:
        raise FileError(f"{file} cannot be read: {error}. Check that it may be opened.") from error


def _projection_file(path: Path) -> str | None:
    """Return the system in the .prj file: its code where the dataset has the very same, else its text.

    The library that reads the shapes does not see this file: it stumbles over a broken one.
    """
    file = next((file for end in (".prj", ".PRJ") if (file := path.with_suffix(end)).is_file()), None)
    text = _head_text(file) if file is not None else ""
    if not text.upper().startswith(("PROJC", "GEOGC", "GEODC", "COMPD", "BOUND")):  # no definition of any kind
        return None
    return code_of(text)


def _point_system(
    info: dict[str, Any], asked: _Asked, crs: str | None, is_needed: bool, rules: FileRules
) -> FileSystem | None:
    if rules.at_lonlat is None:
        return None
    corners = np.reshape(info["total_bounds"] or (), (-1, 2)).astype(np.float64)
    if len(corners) and not (np.isfinite(corners).all() and (np.diff(corners, axis=0) > 0).all()):
        corners = corners[:0]  # some programs leave zeros there
    points = np.vstack([corners, corners.mean(axis=0, keepdims=True)]) if len(corners) else corners
    return system_of(crs, points, is_needed=is_needed, name=asked.given.name)


def _features(asked: _Asked, kind: FileKind, rules: FileRules, system: FileSystem | None) -> tuple[list[Feature], str]:
    """Return the features asked for; and where none holds the point, where the nearest lies."""
    if kind == "flatgeobuf":
        _check_whole(asked)
    if system is None or rules.at_lonlat is None:
        return list(_read(asked, kind)), ""
    held = [
        feature
        for feature in _read(asked, kind, bbox=box_round(rules.at_lonlat, 0.01, system.system))
        if holding(feature, rules.at_lonlat, system.system)
    ]
    if held:
        return held, ""
    around = _read(asked, kind, bbox=box_round(rules.at_lonlat, NEAR_M, system.system))
    return [], nearest(around, rules.at_lonlat, system.system)


def _check_whole(asked: _Asked) -> None:
    """Refuse a FlatGeobuf file that ends early: the library stops there without a word."""
    from pyogrio.raw import read

    stated = _info(asked.path, asked.layer)["features"]
    there = len(read(str(asked.path), layer=asked.layer, columns=[], read_geometry=False, return_fids=True)[1])
    if stated > there:
        raise OutlineError(
            f"{asked.given.name} cannot be used: this FlatGeobuf is damaged. Get it anew.",
            [f"it says that it has {stated} features; {there} of them could be read"],
        )


def _read(asked: _Asked, kind: FileKind, **options: Any) -> Iterator[Feature]:
    read = size = 0
    curved = _curved(asked) if kind in ("geopackage", "flatgeobuf") else frozenset()
    while True:
        meta, fids, shapes, values = asked.read(skip_features=read, max_features=_AT_ONCE, **options)
        size += sum(len(shape) for shape in shapes if shape is not None)
        is_alone = read == 0 and len(fids) == 1
        if read + len(fids) > MOST_FEATURES or size > MOST_GEOMETRY_BYTES:
            raise OutlineError(
                f"{asked.given.name} has too many features or corners to be read at once. Choose some with --where or "
                f"--at; {MOST_FEATURES:,} features and {MOST_GEOMETRY_BYTES / 1e6:.0f} MB of corners are the most."
            )
        # Keys of a GeoPackage are its own; the others count from 0.
        first = 0 if kind in ("geopackage", "kml") else 1
        for row, (fid, shape) in enumerate(zip(fids.tolist(), shapes, strict=True)):
            columns = zip(meta["fields"], values, strict=True)
            attributes = {column: _plain(value[row]) for column, value in columns if column in asked.columns}
            label = "" if is_alone else f"feature {fid + first} "
            outline = _outline(shape, label, name_of(attributes))
            if fid in curved:
                outline = _with_change(
                    outline, f"{label}curves drawn as straight sides, one each {ARC_STEP_DEG:g} degrees"
                )
            yield Feature(number=fid + first, attributes=attributes, outline=outline)
        read += len(fids)
        if len(fids) < _AT_ONCE:
            return


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _curved(asked: _Asked) -> frozenset[int]:
    from pyogrio.raw import read

    kinds = ", ".join(f"'{kind}'" for kind in _CURVES)
    layer = asked.layer.replace('"', '\\"')
    found = read(
        str(asked.path), sql=f'SELECT OGR_GEOMETRY FROM "{layer}" WHERE OGR_GEOMETRY IN ({kinds})',
        sql_dialect="OGRSQL", read_geometry=False, return_fids=True,
    )  # fmt: skip
    return frozenset(found[1].tolist())


def _outline(shape: bytes | None, label: str, name: str) -> RawOutline:
    if shape is None:
        return outline_of(None, label=label, name=name)
    geometry = shapely.from_wkb(shape, on_invalid="ignore")
    if geometry is not None:
        return outline_of(geometry, label=label, name=name)
    closed = shapely.from_wkb(shape, on_invalid="fix")
    if closed is None or closed.is_empty:
        return RawOutline(name=name, parts=(), faults=(f"{label}geometry is broken: its rings are no rings",))
    return _with_change(outline_of(closed, label=label, name=name), f"{label}rings that were open are closed")


def _with_change(outline: RawOutline, what: str) -> RawOutline:
    return replace(outline, changes=(*outline.changes, Change(what=what, area_change_m2=0.0)))
