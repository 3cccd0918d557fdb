"""A file opened for the GDAL library without harm to it or to us.

The file is never opened where it lies. A temporary folder holds a link to it under a plain name of ours (its own name
could be taken for an address or an archive), and nothing can be written beside it. A GeoPackage that was not closed
cleanly is copied there, since even reading would write to it.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import warnings
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fieldgeo.errors import FileError, OutlineError
from fieldgeo.outline.files.geojson import plain_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.outline.files.kinds import FileKind
    from fieldgeo.outline.files.layer import Given

ARC_STEP_DEG: Final = 0.5  # of a curve; the area of a circle comes out short by 1.3e-5 of itself (derived)
_SUFFIX: Final[dict[FileKind, str]] = {
    "geopackage": ".gpkg", "shapefile": ".shp", "flatgeobuf": ".fgb", "kml": ".kml",
}  # fmt: skip
_SIDE_SUFFIXES: Final[dict[FileKind, tuple[str, ...]]] = {
    "shapefile": (".shx", ".dbf", ".cpg"),
    "geopackage": ("-wal", "-journal"),
}
_UNSAFE: Final = re.compile(r"[^\w .-]", re.ASCII)


@contextmanager
def opened(given: Given, kind: FileKind) -> Iterator[Path]:
    """Yield the path of a link to the file, with its side files, in a folder that is taken away afterwards.

    Parameters
    ----------
    given : Given
        The file.
    kind : {"geopackage", "shapefile", "flatgeobuf", "kml"}
        Its format.

    Raises
    ------
    FileError
        If it cannot be read, or there is no room for a copy.
    OutlineError
        If it is a shapefile without its index.
    """
    with tempfile.TemporaryDirectory(prefix="fieldgeo-") as folder:
        # Some formats call their layer after the file.
        link = Path(folder) / f"{_UNSAFE.sub('_', given.path.stem) or 'source'}{_SUFFIX[kind]}"
        try:
            sides = dict(_side_files(given.path, kind))
            is_unclosed = kind == "geopackage" and (bool(sides) or _is_write_ahead(given.path))
            for source, target in [(given.path, link), *((side, _beside(link, end)) for end, side in sides.items())]:
                _put(source.resolve(), target, is_copied=is_unclosed)
        except OSError as error:
            raise FileError(
                f"{given.name} cannot be read: {error}. Check its rights and the space on the disk."
            ) from error
        if kind == "shapefile" and ".shx" not in sides:
            raise OutlineError(
                f"{given.name} cannot be used: it is a shapefile, which is several files of one name. Keep them "
                "together.",
                [f"{given.path.stem}.shx is not beside it" + ("" if sides else ", nor is the table .dbf")],
            )
        yield link


def _beside(path: Path, end: str) -> Path:
    return path.with_suffix(end) if end.startswith(".") else path.with_name(path.name + end)


def _side_files(path: Path, kind: FileKind) -> Iterator[tuple[str, Path]]:
    for end in _SIDE_SUFFIXES.get(kind, ()):
        for side in (_beside(path, end), _beside(path, end.upper())):
            if side.is_file():
                yield end, side
                break


def _is_write_ahead(path: Path) -> bool:
    # SQLite file format, database header: the write and read versions at offset 18 are 2 in a write-ahead database.
    with path.open("rb") as file:
        return file.read(20)[18:20] != b"\x01\x01"


def _put(source: Path, target: Path, *, is_copied: bool) -> None:
    if not is_copied:
        try:
            target.symlink_to(source)
            return
        except OSError:  # some systems give the right to make links to few
            pass
    shutil.copyfile(source, target)
    os.chmod(target, 0o600)  # noqa: PTH101


@contextmanager
def quiet(given: Given, path: Path) -> Iterator[list[str]]:
    """Collect what the library warns of, and turn its errors into ours.

    Parameters
    ----------
    given : Given
        The file.
    path : Path
        The link to it, whose name must not be told.

    Yields
    ------
    list of str
        What the library said, once all is done.

    Raises
    ------
    OutlineError
        If the library cannot read the file.
    """
    import pyogrio
    from pyogrio.errors import CRSError, DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError

    # The last two come up inside that library where names or systems in a damaged file are no text.
    unreadable = (
        CRSError, DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError, MemoryError,
        UnicodeDecodeError, UnboundLocalError,
    )  # fmt: skip
    said: list[str] = []
    step = pyogrio.get_gdal_config_option("OGR_ARC_STEPSIZE")
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": ARC_STEP_DEG})
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            yield said
        said.extend(str(warning.message) for warning in caught)
    except unreadable as error:
        reason = plain_name(str(error).replace(str(path), given.path.name))
        raise OutlineError(f"{given.name} cannot be used: it cannot be read. Get it anew.", [reason]) from error
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": step})
