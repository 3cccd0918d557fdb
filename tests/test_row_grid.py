"""Several tools on the rows that one of them lays: where their strips lie, and which passes straddle guess rows."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldgeo import Tool
from fieldgeo.layout.passes import Placing, placings
from fieldgeo.layout.row_grid import RowTool, grid_of, lay_on_rows, place_on_grid
from fieldgeo.layout.rows import straddled_from_sides

ROW_M = 0.75


def row_tool(rows: int, name: str = "") -> Tool:
    return Tool(name=name or f"{rows} rows", width_m=rows * ROW_M, rows=rows, row_spacing_m=ROW_M)


def on_rectangle(rows_across: int, *rows: int) -> tuple[list[np.ndarray], tuple[int, ...]]:
    """Return the right edges of the passes of each tool, in rows, on a rectangle worked along its long side."""
    body = shapely.MultiPolygon([shapely.box(0, 0, rows_across * ROW_M, 500)])
    laid = lay_on_rows([RowTool(row_tool(count), body, 20.0, 1) for count in rows], 0.0, "cover")
    # passes run north, so that v, to the left of them, is -x
    return [passes.low_m / ROW_M + rows_across for passes in laid.passes], laid.straddling


def test_narrow_tool_that_divides_lies_on_the_rows_of_the_planter_derived() -> None:
    # derived: 48 rows are 3 passes of 16 and 6 of 8, from the same edge
    lows, straddling = on_rectangle(48, 16, 8)
    assert lows[0] == pytest.approx([0, 16, 32])
    assert lows[1] == pytest.approx([0, 8, 16, 24, 32, 40])
    assert straddling == (0, 0)


def test_six_rows_in_sixteen_straddle_guess_rows_derived() -> None:
    # derived: of 8 passes of 6 rows on 48, those of rows 13-18 and 31-36 hold the guess rows after 16 and 32
    lows, straddling = on_rectangle(48, 16, 6)
    assert lows[1] == pytest.approx([0, 6, 12, 18, 24, 30, 36, 42])
    assert straddling == (0, 2)


def test_last_pass_ends_with_the_rows_where_the_planter_was_pulled_in_derived() -> None:
    # derived: 44 rows are two passes of 16 and one pulled in over 4 rows of the second; 8 rows take 5 passes and one
    # pulled in by 4. From the right: 0, 16, 28 and 0, 8, 16, 24, 32, 36. The guess rows are after 16 and 32 rows.
    body = shapely.MultiPolygon([shapely.box(0, 0, 44 * ROW_M, 500)])
    laid = lay_on_rows([RowTool(row_tool(count), body, 20.0, 1) for count in (16, 8)], 0.0, "cover")
    planter, cultivator = (passes.low_m / ROW_M + 44 for passes in laid.passes)
    assert laid.passes[0].is_pulled.sum() == 1
    if laid.passes[0].is_pulled[-1]:
        assert planter == pytest.approx([0, 16, 28])
        assert cultivator == pytest.approx([0, 8, 16, 24, 32, 36])
    else:
        assert planter == pytest.approx([0, 12, 28])
        assert cultivator == pytest.approx([0, 4, 12, 20, 28, 36])
    # no pass of 8 rows holds one: the last, pulled in, begins 4 rows beyond it
    assert laid.straddling == (0, 0)


def test_wide_tool_is_centred_on_fewer_rows_than_it_spans_derived() -> None:
    # derived: one planter pass of 16 rows on 10 rows sticks out by 3 on either side; 36 rows are centred on it by -10
    lows, _ = on_rectangle(10, 16, 36)
    assert lows[0] == pytest.approx([-3])
    assert lows[1] == pytest.approx([-13])


@pytest.mark.parametrize("finish", ["clean", "half"])
def test_every_finish_counts_from_the_edge_of_the_rows_derived(finish: str) -> None:
    # derived: rows from v = 1; 4 rows are 3 m wide. clean: strips within 0..20 from 1; half: centre lines within
    grid = grid_of(Placing(np.array([1.0, 13.0]), -1), row_tool(16))
    lows = place_on_grid(0.0, 20.0, row_tool(4), finish, grid).lows  # type: ignore[arg-type]
    expected = {"clean": [1, 4, 7, 10, 13, 16], "half": [1, 4, 7, 10, 13, 16]}[finish]
    assert lows == pytest.approx(expected)
    assert place_on_grid(0.0, 21.0, row_tool(4), finish, grid).lows[-1] == pytest.approx(  # type: ignore[arg-type]
        {"clean": 16, "half": 19}[finish]
    )


@settings(max_examples=60, deadline=None)
@given(
    rows=st.integers(2, 24),
    follows=st.integers(1, 40),
    extent_m=st.floats(5.0, 300.0),
    way=st.integers(0, 6),
)
def test_strips_on_a_grid_cover_the_extent_in_whole_steps_from_the_edge(
    rows: int, follows: int, extent_m: float, way: int
) -> None:
    planter, tool = row_tool(rows), row_tool(follows)
    ways = placings(0.0, extent_m, planter, "cover")
    placing = ways[min(way, len(ways) - 1)]
    grid = grid_of(placing, planter)
    laid = place_on_grid(0.0, extent_m, tool, "cover", grid)
    assert laid.lows[0] <= 1e-5
    assert laid.lows[-1] + tool.width_m >= extent_m - 1e-5
    assert (np.diff(laid.lows) <= tool.pitch_m + 1e-9).all()
    if len(laid.lows) > 1:
        edge = grid.low_m if grid.is_leftward else grid.high_m
        steps = (np.delete(laid.lows, laid.pulled) if laid.pulled >= 0 else laid.lows) - edge
        assert np.allclose(steps / tool.pitch_m, np.round(steps / tool.pitch_m), atol=1e-6)


@pytest.mark.parametrize(("planter", "follows"), [(16, 6), (12, 8), (16, 8), (8, 12), (6, 4)])
def test_straddled_passes_are_those_of_the_arithmetic_of_rows(planter: int, follows: int) -> None:
    # derived: on whole planter passes the count of lay_on_rows is that of straddled_from_sides, which counts rows
    across = planter * follows
    _, straddling = on_rectangle(across, planter, follows)
    assert straddling[1] == straddled_from_sides(planter, follows, across)[0].straddling
