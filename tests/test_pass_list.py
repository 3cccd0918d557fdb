"""The list of passes, its figures, words and CSV."""

import csv
import io
from itertools import pairwise
from pathlib import Path

import pytest
import shapely

from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.pass_order import PASS_COLUMNS, bound_orders, order_figures, pass_list
from fieldgeo.analysis.plan import Plan
from fieldgeo.errors import FileError
from fieldgeo.export.pass_list import pass_list_csv, write_pass_list
from fieldgeo.machinery.tool import Tool
from fieldgeo.outline.field import field_from_shape
from fieldgeo.report.route_text import order_lines, pass_list_lines, rule_text

TOOL = Tool(name="t", width_m=6.0, turn_radius_m=6.0, turn_speed_m_s=2.0, hitch="pulled")


def plan_on(shape: shapely.Geometry, **choices: object) -> Plan:
    wanted = {"direction_deg": 0.0, "headland": 0, "sides": "all", "order": "skip"} | choices
    return lay(field_from_shape(shape), TOOL, **wanted)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_on(shapely.box(0, 0, 60, 400))


def test_list_of_ten_passes_derived(plan: Plan) -> None:
    # Ten passes of 6 m, north and south, counted from the east: every second one, and back on those between, or the
    # other way round. A half-circle of 6 pi m at 2 m/s takes 9.42 s.
    rows = pass_list(plan.route)
    assert [row["number"] for row in rows] == list(range(1, 11))
    assert sorted(row["pass"] for row in rows) == list(range(1, 11))
    assert order_figures(plan.route)["counted_from"] == "east"
    assert all(tuple(row) == PASS_COLUMNS for row in rows)
    for row, after in pairwise(rows):
        assert abs(row["azimuth_deg"] - after["azimuth_deg"]) == pytest.approx(180.0, abs=0.01)
        apart = abs(row["pass"] - after["pass"])
        assert row["to_next"] == ("loop" if apart == 1 else "half-circle")
        if apart == 2:
            assert row["to_next_s"] == pytest.approx(9.425, abs=0.001)
    assert {row["heading"] for row in rows} == {"north", "south"}
    assert sum(row["length_m"] for row in rows) == pytest.approx(plan.route.length_m("pass"))
    assert rows[-1]["to_next"] is None


def test_seconds_between_passes_are_those_of_the_route(plan: Plan) -> None:
    rows = pass_list(plan.route)
    assert sum(row["to_next_s"] for row in rows) == pytest.approx(plan.timeline.by_state_s()["turning"])


def test_travel_and_headland_between_passes_are_told() -> None:
    pond = shapely.box(20, 150, 40, 250)
    rows = pass_list(plan_on(shapely.difference(shapely.box(0, 0, 60, 400), pond), headland=1).route)
    assert {row["to_next"] for row in rows} >= {"travel", None}
    assert len({row["block"] for row in rows}) > 1


@pytest.mark.parametrize("order", ["back-and-forth", "skip", "best"])
@pytest.mark.parametrize("width", [60, 130])
def test_bound_is_never_above_what_is_spent(order: str, width: int) -> None:
    plan = plan_on(shapely.Polygon([(0, 0), (width, 30), (width, 300), (0, 400)]), headland=2, order=order)
    figures = order_figures(plan.route)
    assert 0 < figures["order_bound_s"] <= figures["order_s"] + 1e-9
    assert figures["order_gap"] >= 0
    for bound in bound_orders(plan.route):
        assert bound.is_proven == (bound.gap < 1e-5) or not bound.is_proven
    if order == "best" and width == 60:
        assert figures["order_proven"]


def test_words_of_the_patterns() -> None:
    assert rule_text({"pattern": "back-and-forth", "step": 1, "passes": list(range(1, 48))}) == (
        "back and forth, one after the other: 1, 2, 3 ... 47"
    )
    assert rule_text({"pattern": "round-and-round", "step": 1, "passes": [1, 6, 2, 5, 3, 4]}) == (
        "round and round: 1, 6, 2, 5, 3, 4"
    )
    assert rule_text({"pattern": "best", "step": 1, "passes": [2, 4, 1, 3, 5, 7, 9, 6, 8, 10]}).startswith(
        "by the list: 2"
    )


def test_lines_fit_a_terminal(plan: Plan) -> None:
    for order in ("back-and-forth", "skip", "blocks", "round-and-round", "best"):
        route = plan_on(shapely.box(0, 0, 300, 400), order=order).route
        lines = [*order_lines(order_figures(route)), *pass_list_lines(pass_list(route))]
        assert max(len(line) for line in lines) <= 80
    text = " ".join(" ".join(order_lines(order_figures(plan.route))).split())
    assert "take every 2nd pass, then fill in: " in text
    assert "counted from the east" in text


def test_csv_holds_the_list(plan: Plan, tmp_path: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(pass_list_csv(plan.route))))
    assert list(rows[0]) == list(PASS_COLUMNS)
    assert [int(row["pass"]) for row in rows] == [row["pass"] for row in pass_list(plan.route)]
    assert float(rows[0]["length_m"]) == pytest.approx(400.0, abs=0.01)
    assert rows[-1]["to_next"] == ""
    path = tmp_path / "passes.csv"
    write_pass_list(plan.route, path)
    assert path.read_bytes().decode() == pass_list_csv(plan.route)
    with pytest.raises(FileError, match="exists and is left alone"):
        write_pass_list(plan.route, path)


def test_nothing_to_work_gives_an_empty_list() -> None:
    route = plan_on(shapely.box(0, 0, 200, 4), finish="clean", direction_deg=90.0).route
    assert pass_list(route) == []
    assert order_lines(order_figures(route)) == []
    assert pass_list_csv(route).strip() == ",".join(PASS_COLUMNS)
