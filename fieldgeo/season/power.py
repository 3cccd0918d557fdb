"""Which tractors, or engines of their own, can do the work of a season with a tool."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fieldgeo.errors import InputError
from fieldgeo.machinery.needs import needs_of
from fieldgeo.machinery.pull import pull_of
from fieldgeo.units import to_horsepower, to_mph

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldgeo.machinery.pull import Pull
    from fieldgeo.machinery.shed import Shed
    from fieldgeo.machinery.tool import Tool
    from fieldgeo.machinery.traction import Ground


@dataclass(frozen=True, slots=True, kw_only=True)
class Pullers:
    """Pairings of a tool that hold its speed, and those that do not."""

    fitting: tuple[Pull, ...]
    short: tuple[Pull, ...]  # the least short first

    def short_text(self) -> str:
        """Return how much the nearest is short of, for a person."""
        if not self.short:
            return "there is no tractor to draw it"
        pull = self.short[0]
        short_w = pull.powers.pto_w / pull.limit - pull.available_w
        loaded = f", loaded to {100 * pull.limit:g} %" if pull.limit < 1 else ""
        return (
            f"{pull.name_of_power!r} comes nearest and is short by {short_w / 1000:.0f} kW "
            f"({to_horsepower(short_w):.0f} hp) at {to_mph(pull.speed_m_s):.3g} mph on {pull.ground.soil} "
            f"soil{loaded}"
        )


def pullers(shed: Shed, tool: Tool, tractors: Sequence[str], ground: Ground) -> Pullers:
    """Return which tractors hold the speed of a tool.

    Parameters
    ----------
    shed : Shed
        The shed.
    tool : Tool
        A tool of it.
    tractors : sequence of str
        Tractors of it to choose from; empty: all. A machine that drives itself takes none.
    ground : Ground
        Soil, surface and slope.

    Raises
    ------
    InputError
        If nothing is known of the tool's draft or its own engine.
    """
    needs = shed.needs.get(tool.name) or needs_of(tool)
    if tool.hitch == "self-propelled":
        if tractors:
            raise InputError(f"tool {tool.name!r} drives itself; leave the tractor out.")
        pulls = [pull_of(tool, needs, ground=ground)]
    else:
        chosen = [each for each in shed.tractors if not tractors or each.name in tractors]
        pulls = [pull_of(tool, needs, each, ground=ground) for each in chosen]
    short = sorted((each for each in pulls if not each.fits), key=lambda each: each.powers.pto_w - each.available_w)
    return Pullers(fitting=tuple(each for each in pulls if each.fits), short=tuple(short))
