"""Every tool on every field of a farm: one direction for a field, the plans of its tools, and where they stop."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from os import cpu_count
from typing import TYPE_CHECKING, Final, TypeVar

import numpy as np

from fieldgeo.analysis.asked_loads import edge_load
from fieldgeo.analysis.lay import lay
from fieldgeo.analysis.loaded import load_plan
from fieldgeo.analysis.match import lays_rows
from fieldgeo.errors import FieldgeoError, InputError, LayoutError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from fieldgeo.analysis.loaded import LoadedPlan
    from fieldgeo.analysis.plan import Plan
    from fieldgeo.layout.axes import Floats
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.outline.field import Field

MOST_PROCESSES: Final = 8  # own choice
_Job = TypeVar("_Job")
_Done = TypeVar("_Done")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToolWork:
    """One tool on one field."""

    tool: Tool
    plan: Plan | None  # None where it cannot be laid
    loaded: LoadedPlan | None = None  # where the shed says what it carries, and a tank lasts
    refusal: str = ""  # why there is no plan, or no stops


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FieldWork:
    """The tools on one field, all of them in one direction."""

    field: Field
    works: tuple[ToolWork, ...]  # in the order of the tools
    lead: int  # the tool that the direction is best for, and whose map is drawn; -1 where nothing can be laid
    is_given: bool  # the direction was given and not searched

    @property
    def lead_work(self) -> ToolWork | None:
        """Work of the lead tool; None where nothing can be laid."""
        return self.works[self.lead] if self.lead >= 0 else None

    @property
    def plans(self) -> tuple[Plan, ...]:
        """Plans of the tools that can be laid, stops counted where they are known."""
        return tuple(
            work.plan if work.loaded is None else work.loaded.plan for work in self.works if work.plan is not None
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FieldJob:
    """What is to be laid on one field.

    Raises
    ------
    InputError
        If there are not as many loads as tools.
    """

    field: Field
    tools: tuple[Tool, ...]
    carries: tuple[Mapping[str, object], ...] = ()  # of each tool what it carries, as `Shed.loads` has it; empty: none
    direction_deg: float | None = None  # of the passes; None searches the best of the lead tool [deg]
    gate: tuple[float, float] | None = None  # longitude and latitude of the entrance [deg]

    def __post_init__(self) -> None:
        if self.carries and len(self.carries) != len(self.tools):
            raise InputError(f"job on {self.field.name!r}: {len(self.carries)} loads for {len(self.tools)} tools.")


def work_fields(
    jobs: Sequence[FieldJob],
    *,
    processes: int | None = None,
    progress: Callable[[], None] | None = None,
) -> tuple[FieldWork, ...]:
    """Return the tools laid on each field, fields side by side on the cores there are.

    Parameters
    ----------
    jobs : sequence of FieldJob
        What is to be laid.
    processes : int, optional
        Processes to use; without it one for each core, `MOST_PROCESSES` at most.
    progress : callable, optional
        Called once for each field that is done.

    Raises
    ------
    InputError
        If `processes` is below 1.
    """
    if processes is not None and processes < 1:
        raise InputError(f"processes: got {processes}. It must be 1 or more.")
    return tuple(each_of(work_field, jobs, processes=processes, progress=progress))


def each_of(
    work: Callable[[_Job], _Done],
    jobs: Sequence[_Job],
    *,
    processes: int | None = None,
    progress: Callable[[], None] | None = None,
) -> list[_Done]:
    """Return what work makes of each job, in order, on several processes where there are several jobs.

    Parameters
    ----------
    work : callable
        A function at the top of a module, or a part of one.
    jobs : sequence
        What it is called with.
    processes : int, optional
        As in `work_fields`.
    progress : callable, optional
        Called once for each job that is done.
    """
    most = min(processes or min(cpu_count() or 1, MOST_PROCESSES), len(jobs))
    tell = progress or (lambda: None)
    done: list[_Done] = []
    if most <= 1:
        for job in jobs:
            done.append(work(job))
            tell()
        return done
    with ProcessPoolExecutor(max_workers=most) as pool:
        for each in pool.map(work, jobs):
            done.append(each)
            tell()
    return done


def work_field(job: FieldJob) -> FieldWork:
    """Return the tools laid on one field, all in the direction that is given or best for the lead tool.

    The lead tool is the first that lays rows, else the first of all: the others follow its rows. Passes of tillage may
    run another way; here they do not. (Common practice, no source.)

    Parameters
    ----------
    job : FieldJob
        What is to be laid.
    """
    field, tools = job.field, job.tools
    entrance_xy = None
    if job.gate is not None:
        entrance_xy = np.array(field.frame.to_frame(*job.gate), dtype=float)
    order = sorted(range(len(tools)), key=lambda rank: not lays_rows(tools[rank]))
    direction_deg, lead = job.direction_deg, -1
    works: dict[int, ToolWork] = {}
    for rank in order:
        own = job.carries[rank] if job.carries else {}
        works[rank] = _work(field, tools[rank], direction_deg, entrance_xy, own)
        plan = works[rank].plan
        if plan is not None and lead < 0:
            lead, direction_deg = rank, plan.layout.direction_deg
    return FieldWork(
        field=field, works=tuple(works[rank] for rank in range(len(tools))), lead=lead,
        is_given=job.direction_deg is not None,
    )  # fmt: skip


def _work(
    field: Field, tool: Tool, direction_deg: float | None, entrance_xy: Floats | None, own: Mapping[str, object]
) -> ToolWork:
    try:
        plan = lay(
            field, tool, direction_deg="best" if direction_deg is None else direction_deg, entrance_xy=entrance_xy
        )
    except LayoutError as error:
        return ToolWork(tool=tool, plan=None, refusal=str(error))
    if not {"yield", "rate"} & own.keys():
        return ToolWork(tool=tool, plan=plan)
    try:
        load = edge_load(field, own, job="unload" if "yield" in own else "fill")
        return ToolWork(tool=tool, plan=plan, loaded=load_plan(plan, load, entrance_xy=entrance_xy))
    except FieldgeoError as error:
        return ToolWork(tool=tool, plan=plan, refusal=str(error))
