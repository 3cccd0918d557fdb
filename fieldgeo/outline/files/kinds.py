"""Kinds of polygon files, the suffixes they go by, and how large each may be."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

FileKind: TypeAlias = Literal["geojson", "geopackage", "shapefile", "zip", "flatgeobuf", "kml", "geoparquet", "wkt"]

SUFFIXES: Final[dict[str, FileKind]] = {
    ".geojson": "geojson",
    ".json": "geojson",
    ".gpkg": "geopackage",
    ".shp": "shapefile",
    ".zip": "zip",
    ".kmz": "zip",
    ".fgb": "flatgeobuf",
    ".kml": "kml",
    ".parquet": "geoparquet",
    ".geoparquet": "geoparquet",
    ".wkt": "wkt",
    ".csv": "wkt",
}
KIND_NAMES: Final[dict[FileKind, str]] = {
    "geojson": "GeoJSON",
    "geopackage": "GeoPackage",
    "shapefile": "shapefile",
    "zip": "zip file",
    "flatgeobuf": "FlatGeobuf",
    "kml": "KML",
    "geoparquet": "GeoParquet",
    "wkt": "well-known text",
}
OWN_OUTLINE: Final = "outline"  # the layer that is the field, in files with layers of a plan
# Limits of our own, so that no file can fill the memory. Text is read whole, and takes some ten times its size; of the
# others only the features that are asked for come into memory.
LARGEST_TEXT_BYTES: Final = 100_000_000
LARGEST_BINARY_BYTES: Final = 1_000_000_000
MOST_FEATURES: Final = 100_000
MOST_GEOMETRY_BYTES: Final = 400_000_000  # of all features read together; 16 bytes a corner
TEXT_KINDS: Final[frozenset[FileKind]] = frozenset({"geojson", "kml", "wkt"})


def largest_bytes(kind: FileKind) -> int:
    """Return how large a file of a kind may be. [bytes]

    Parameters
    ----------
    kind : str
        The kind.
    """
    return LARGEST_TEXT_BYTES if kind in TEXT_KINDS else LARGEST_BINARY_BYTES
