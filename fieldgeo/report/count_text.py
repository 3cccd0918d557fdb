"""A raster of counts in words: its cells, and its areas beside the exact ones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from fieldgeo.units import ACRE_M2

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fieldgeo.analysis.figures import Figures

NOTABLE_CELL: Final = 0.25  # of the width; own choice: larger cells tell little of where swaths lie


def count_notes(figures: Figures, *, width_m: float) -> Iterator[str]:
    """Yield what a raster of counts holds, from `fieldgeo.export.count_raster.count_figures`.

    Parameters
    ----------
    figures : dict
        From `fieldgeo.export.count_raster.count_figures`.
    width_m : float
        Width of the tool, > 0. [m]
    """
    across, down = figures["cell_m"]
    cells = f"{figures['rows']:,} x {figures['columns']:,} cells of {across:.3g} x {down:.3g} m"
    system = f"{figures['crs']}{', lined up with the elevation grid' if figures['is_lined_up'] else ''}"
    counted = "swaths over the middle" if figures["count_as"] == "middle" else "swath area over the area"
    yield f"note: count raster: {cells}, {system}; {counted} of each cell, nothing outside the outline."
    yield (
        f"note: by its cells {_acres(figures, 'overlap_m2')} are worked again and {_acres(figures, 'skip_m2')} missed; "
        f"exactly {_acres(figures, 'exact_overlap_m2')} and {_acres(figures, 'exact_skip_m2')}."
    )
    if figures["count_as"] == "middle" and max(across, down) > NOTABLE_CELL * width_m:
        yield (
            f"note: the cells are wide for a tool of {width_m:.3g} m: --count-as mean tells more, or leave out --dem "
            "for cells of half a metre."
        )


def _acres(figures: Figures, name: str) -> str:
    return f"{figures[name] / ACRE_M2:.2f} ac"
