"""fieldgeo: lay a field out for a tool, and see what is left of the acres an hour.

The data flow one way, each step a frozen object:

    outline -> Field (in its frame) -> Layout (headland rounds + passes) -> Route (ordered, with turns)
            -> Timeline -> figures

`lay` does all of it. Names are loaded when they are first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fieldgeo.analysis.compare import Comparison, compare
    from fieldgeo.analysis.coverage import Coverage, measure_coverage
    from fieldgeo.analysis.curved.follow import Follow, follow_circle, follow_edges, follow_line
    from fieldgeo.analysis.curved.plan import CurvedPlan, lay_curved
    from fieldgeo.analysis.direction import Candidate, DirectionSearch, best_direction
    from fieldgeo.analysis.direction_curve import DirectionCurve, direction_curve
    from fieldgeo.analysis.divided.figures import parts_figures
    from fieldgeo.analysis.divided.plan import DividedPlan
    from fieldgeo.analysis.divided.search import PartSearch, lay_parts
    from fieldgeo.analysis.lay import lay
    from fieldgeo.analysis.log.calibrate import Calibration, calibrate, calibrated_tool
    from fieldgeo.analysis.log.measure import DayWork, read_back
    from fieldgeo.analysis.log.record import Log, read_log
    from fieldgeo.analysis.many_directions import ManyDirections
    from fieldgeo.analysis.match import MatchRules, ShedMatch, match_shed
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.analysis.plow import LandPlan, lay_plow
    from fieldgeo.analysis.pull_figures import ShedPull, pull_shed
    from fieldgeo.analysis.score import Prices
    from fieldgeo.analysis.season_direction import SeasonDirection, SeasonTool, season_direction, season_tools
    from fieldgeo.analysis.shutoffs import FarmShutoffs, farm_shutoffs, shutoffs_on
    from fieldgeo.analysis.work_fuel import plan_fuel
    from fieldgeo.errors import (
        CrsError,
        FieldgeoError,
        FileError,
        InputError,
        LayoutError,
        LogError,
        OutlineError,
        SeasonError,
        ShedError,
    )
    from fieldgeo.export.count_raster import CountRaster, grid_like, own_grid, write_count_raster
    from fieldgeo.export.log_layers import write_log
    from fieldgeo.export.write import write_field, write_fields, write_plan
    from fieldgeo.frame import Frame
    from fieldgeo.layout.curved.lay import lay_along
    from fieldgeo.layout.curved.model import CurvedLayout, CurvedPasses
    from fieldgeo.layout.model import Headland, Layout, Passes
    from fieldgeo.machinery.cost import BreakEven, CostRules, Operation, OperationCost, break_even, operation_cost
    from fieldgeo.machinery.fuel import FuelRules, fuel_l_h, published_fuel
    from fieldgeo.machinery.needs import Needs, needs_of
    from fieldgeo.machinery.operation_fuel import OperationFuel, fuel_without_field, operation_fuel
    from fieldgeo.machinery.owning import Ownership, yearly_cost
    from fieldgeo.machinery.pull import Pull, PullRules, pull_of
    from fieldgeo.machinery.shed import Shed, read_shed
    from fieldgeo.machinery.timeliness import Delay, timeliness_cost
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.traction import Ground
    from fieldgeo.machinery.tractor import Tractor
    from fieldgeo.outline.field import Change, Field, field_from_shape
    from fieldgeo.outline.measure import Measures, measure
    from fieldgeo.outline.read import read_outline, read_outlines
    from fieldgeo.report.capacity_plot import plot_capacity, plot_efficiency
    from fieldgeo.report.farm_map import plot_farm
    from fieldgeo.report.log_map import plot_log
    from fieldgeo.report.map import plot_plan
    from fieldgeo.report.multiples import plot_multiples
    from fieldgeo.report.outline_map import plot_field
    from fieldgeo.report.rose import plot_rose
    from fieldgeo.report.row_map import plot_rows
    from fieldgeo.report.slope_map import plot_slopes
    from fieldgeo.report.strip import plot_strip
    from fieldgeo.report.trade_plot import plot_trade
    from fieldgeo.season.bottleneck import HourWorth, hours_worth
    from fieldgeo.season.fit_history import FitHistory, read_history
    from fieldgeo.season.model import Regime, Schedule, Season, SeasonProblem
    from fieldgeo.season.plan import SeasonPlan, plan_season
    from fieldgeo.season.products import Product, product_of
    from fieldgeo.season.read import read_season
    from fieldgeo.season.season_supplies import season_supplies
    from fieldgeo.season.simulate import Simulation, simulate
    from fieldgeo.season.solve import Effort, solve_season
    from fieldgeo.season.supplies import SeasonSupplies
    from fieldgeo.season.weather import Climate, Weather, climate_of, fit_hours, weather_on
    from fieldgeo.season.what_if import read_change, try_change
    from fieldgeo.terrain.contour_passes import ContourLayout, ContourSearch, ContourWork, lay_contour
    from fieldgeo.terrain.ground import Terrain, read_terrain
    from fieldgeo.terrain.measure import FieldSlopes, SlopeRules, measure_slopes
    from fieldgeo.terrain.season_slope import SeasonOnSlope, pointed_directions, season_on_slope
    from fieldgeo.terrain.trade import SlopeChoice, SlopeTrade, trade_slope
    from fieldgeo.travel.route import Route, plan_route
    from fieldgeo.travel.timeline import Timeline, time_route

_HOMES = {
    "fieldgeo.analysis.compare": ("Comparison", "compare"),
    "fieldgeo.analysis.coverage": ("Coverage", "measure_coverage"),
    "fieldgeo.analysis.curved.follow": ("Follow", "follow_circle", "follow_edges", "follow_line"),
    "fieldgeo.analysis.curved.plan": ("CurvedPlan", "lay_curved"),
    "fieldgeo.analysis.direction": ("Candidate", "DirectionSearch", "best_direction"),
    "fieldgeo.analysis.direction_curve": ("DirectionCurve", "direction_curve"),
    "fieldgeo.analysis.divided.figures": ("parts_figures",),
    "fieldgeo.analysis.divided.plan": ("DividedPlan",),
    "fieldgeo.analysis.divided.search": ("PartSearch", "lay_parts"),
    "fieldgeo.analysis.lay": ("lay",),
    "fieldgeo.analysis.log.calibrate": ("Calibration", "calibrate", "calibrated_tool"),
    "fieldgeo.analysis.log.measure": ("DayWork", "read_back"),
    "fieldgeo.analysis.log.record": ("Log", "read_log"),
    "fieldgeo.analysis.many_directions": ("ManyDirections",),
    "fieldgeo.analysis.match": ("MatchRules", "ShedMatch", "match_shed"),
    "fieldgeo.analysis.plan": ("Plan",),
    "fieldgeo.analysis.plow": ("LandPlan", "lay_plow"),
    "fieldgeo.analysis.pull_figures": ("ShedPull", "pull_shed"),
    "fieldgeo.analysis.score": ("Prices",),
    "fieldgeo.analysis.season_direction": ("SeasonDirection", "SeasonTool", "season_direction", "season_tools"),
    "fieldgeo.analysis.shutoffs": ("FarmShutoffs", "farm_shutoffs", "shutoffs_on"),
    "fieldgeo.analysis.work_fuel": ("plan_fuel",),
    "fieldgeo.errors": (
        "CrsError", "FieldgeoError", "FileError", "InputError", "LayoutError", "LogError", "OutlineError",
        "SeasonError", "ShedError",
    ),
    "fieldgeo.export.count_raster": ("CountRaster", "grid_like", "own_grid", "write_count_raster"),
    "fieldgeo.export.log_layers": ("write_log",),
    "fieldgeo.export.write": ("write_field", "write_fields", "write_plan"),
    "fieldgeo.frame": ("Frame",),
    "fieldgeo.layout.curved.lay": ("lay_along",),
    "fieldgeo.layout.curved.model": ("CurvedLayout", "CurvedPasses"),
    "fieldgeo.layout.model": ("Headland", "Layout", "Passes"),
    "fieldgeo.machinery.cost": ("BreakEven", "CostRules", "Operation", "OperationCost", "break_even", "operation_cost"),
    "fieldgeo.machinery.fuel": ("FuelRules", "fuel_l_h", "published_fuel"),
    "fieldgeo.machinery.needs": ("Needs", "needs_of"),
    "fieldgeo.machinery.operation_fuel": ("OperationFuel", "fuel_without_field", "operation_fuel"),
    "fieldgeo.machinery.owning": ("Ownership", "yearly_cost"),
    "fieldgeo.machinery.pull": ("Pull", "PullRules", "pull_of"),
    "fieldgeo.machinery.shed": ("Shed", "read_shed"),
    "fieldgeo.machinery.timeliness": ("Delay", "timeliness_cost"),
    "fieldgeo.machinery.tool": ("Tool",),
    "fieldgeo.machinery.traction": ("Ground",),
    "fieldgeo.machinery.tractor": ("Tractor",),
    "fieldgeo.outline.field": ("Change", "Field", "field_from_shape"),
    "fieldgeo.outline.measure": ("Measures", "measure"),
    "fieldgeo.outline.read": ("read_outline", "read_outlines"),
    "fieldgeo.report.capacity_plot": ("plot_capacity", "plot_efficiency"),
    "fieldgeo.report.farm_map": ("plot_farm",),
    "fieldgeo.report.log_map": ("plot_log",),
    "fieldgeo.report.map": ("plot_plan",),
    "fieldgeo.report.multiples": ("plot_multiples",),
    "fieldgeo.report.outline_map": ("plot_field",),
    "fieldgeo.report.rose": ("plot_rose",),
    "fieldgeo.report.row_map": ("plot_rows",),
    "fieldgeo.report.slope_map": ("plot_slopes",),
    "fieldgeo.report.strip": ("plot_strip",),
    "fieldgeo.report.trade_plot": ("plot_trade",),
    "fieldgeo.season.bottleneck": ("HourWorth", "hours_worth"),
    "fieldgeo.season.fit_history": ("FitHistory", "read_history"),
    "fieldgeo.season.model": ("Regime", "Schedule", "Season", "SeasonProblem"),
    "fieldgeo.season.plan": ("SeasonPlan", "plan_season"),
    "fieldgeo.season.products": ("Product", "product_of"),
    "fieldgeo.season.read": ("read_season",),
    "fieldgeo.season.season_supplies": ("season_supplies",),
    "fieldgeo.season.simulate": ("Simulation", "simulate"),
    "fieldgeo.season.solve": ("Effort", "solve_season"),
    "fieldgeo.season.supplies": ("SeasonSupplies",),
    "fieldgeo.season.weather": ("Climate", "Weather", "climate_of", "fit_hours", "weather_on"),
    "fieldgeo.season.what_if": ("read_change", "try_change"),
    "fieldgeo.terrain.contour_passes": ("ContourLayout", "ContourSearch", "ContourWork", "lay_contour"),
    "fieldgeo.terrain.ground": ("Terrain", "read_terrain"),
    "fieldgeo.terrain.measure": ("FieldSlopes", "SlopeRules", "measure_slopes"),
    "fieldgeo.terrain.season_slope": ("SeasonOnSlope", "pointed_directions", "season_on_slope"),
    "fieldgeo.terrain.trade": ("SlopeChoice", "SlopeTrade", "trade_slope"),
    "fieldgeo.travel.route": ("Route", "plan_route"),
    "fieldgeo.travel.timeline": ("Timeline", "time_route"),
}  # fmt: skip
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__version__ = "0.1.0"
__all__ = [
    "BreakEven", "Calibration", "Candidate", "Change", "Climate", "Comparison", "ContourLayout", "ContourSearch",
    "ContourWork", "CostRules", "CountRaster", "Coverage", "CrsError", "CurvedLayout", "CurvedPasses", "CurvedPlan",
    "DayWork", "Delay", "DirectionCurve", "DirectionSearch", "DividedPlan", "Effort", "FarmShutoffs", "Field",
    "FieldSlopes", "FieldgeoError", "FileError", "FitHistory", "Follow", "Frame", "FuelRules", "Ground", "Headland",
    "HourWorth", "InputError", "LandPlan", "Layout", "LayoutError", "Log", "LogError", "ManyDirections", "MatchRules",
    "Measures", "Needs", "Operation", "OperationCost", "OperationFuel", "OutlineError", "Ownership", "PartSearch",
    "Passes", "Plan", "Prices", "Product", "Pull", "PullRules", "Regime", "Route", "Schedule", "Season",
    "SeasonDirection", "SeasonError", "SeasonOnSlope", "SeasonPlan", "SeasonProblem", "SeasonSupplies", "SeasonTool",
    "Shed", "ShedError", "ShedMatch", "ShedPull", "Simulation", "SlopeChoice", "SlopeRules", "SlopeTrade", "Terrain",
    "Timeline", "Tool", "Tractor", "Weather", "best_direction", "break_even", "calibrate", "calibrated_tool",
    "climate_of", "compare", "direction_curve", "farm_shutoffs", "field_from_shape", "fit_hours", "follow_circle",
    "follow_edges", "follow_line", "fuel_l_h", "fuel_without_field", "grid_like", "hours_worth", "lay", "lay_along",
    "lay_contour", "lay_curved", "lay_parts", "lay_plow", "match_shed", "measure", "measure_coverage", "measure_slopes",
    "needs_of", "operation_cost", "operation_fuel", "own_grid", "parts_figures", "plan_fuel", "plan_route",
    "plan_season", "plot_capacity", "plot_efficiency", "plot_farm", "plot_field", "plot_log", "plot_multiples",
    "plot_plan", "plot_rose", "plot_rows", "plot_slopes", "plot_strip", "plot_trade", "pointed_directions",
    "product_of", "published_fuel", "pull_of", "pull_shed", "read_back", "read_change", "read_history", "read_log",
    "read_outline", "read_outlines", "read_season", "read_shed", "read_terrain", "season_direction", "season_on_slope",
    "season_supplies", "season_tools", "shutoffs_on", "simulate", "solve_season", "time_route", "timeliness_cost",
    "trade_slope", "try_change", "weather_on", "write_count_raster", "write_field", "write_fields", "write_log",
    "write_plan", "yearly_cost",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME_OF[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME_OF])
