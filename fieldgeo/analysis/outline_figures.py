"""The dictionary of figures of an outline: its size and shape, where it comes from and how far it can be trusted."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from fieldgeo.analysis.figures import Figures, area_figures, length_figures
from fieldgeo.outline.evidence import DeedReport, SectionReport, WalkReport
from fieldgeo.outline.measure import measure
from fieldgeo.units import to_acres, to_feet

if TYPE_CHECKING:
    from fieldgeo.outline.field import Field


def field_figures(field: Field) -> Figures:
    """Return size, shape, history and evidence of an outline.

    Parameters
    ----------
    field : Field
        The field.

    Returns
    -------
    dict
        The measures of `fieldgeo.outline.Measures`; `changes` with what was mended and by how many square metres,
        `problems` with what was seen and left; `source`, `area_uncertainty_m2` (half of the range that holds the true
        area 95 times in 100, None where it is not known), `weak_points`; then what the kind of source has to say:
        `closure_m` and `walk`, or `misclosure_m`, `precision`, `area_raw_m2` and `deed`, or `nominal_m2` and
        `section`. The centre is None for a field whose place is not known.
    """
    measures = asdict(measure(field))
    return {
        "name": field.name,
        **area_figures("area", field.area_m2),
        **_evidence_figures(field),
        **measures,
        **{f"{name.removesuffix('_m')}_ft": to_feet(value) for name, value in measures.items() if name.endswith("_m")},
        "is_placed": field.is_placed,
        "centre_lon_deg": field.frame.lon_deg if field.is_placed else None,
        "centre_lat_deg": field.frame.lat_deg if field.is_placed else None,
        "source_crs": field.source_crs,
        "changes": [asdict(change) for change in field.changes],
        "problems": list(field.problems),
    }


def _evidence_figures(field: Field) -> Figures:
    evidence = field.evidence
    uncertainty_m2 = None if evidence is None else evidence.area_uncertainty_m2
    return {
        "source": None if evidence is None else evidence.kind,
        "area_uncertainty_m2": uncertainty_m2,
        "area_uncertainty_ac": None if uncertainty_m2 is None else to_acres(uncertainty_m2),
        "area_uncertainty_pct": None if uncertainty_m2 is None else 100 * uncertainty_m2 / field.area_m2,
        "uncertainty_from": "" if evidence is None else evidence.uncertainty_from,
        "weak_points": [] if evidence is None else list(evidence.weak_points),
        **_report_figures(None if evidence is None else evidence.report),
    }


def _report_figures(report: WalkReport | DeedReport | SectionReport | None) -> Figures:
    if isinstance(report, WalkReport):
        return {
            **length_figures("closure", report.closure_m),
            "closure_pct": 100 * report.closure_share,
            "walk": asdict(report),
        }
    if isinstance(report, DeedReport):
        return {
            **length_figures("misclosure", report.misclosure_m),
            "precision": report.precision,
            **area_figures("area_raw", report.area_raw_m2),
            **area_figures("area_adjusted", report.area_adjusted_m2),
            "deed": asdict(report),
        }
    if isinstance(report, SectionReport):
        return {
            **area_figures("nominal", report.nominal_m2),
            "section": asdict(report),
        }
    return {}
