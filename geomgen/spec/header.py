"""The whole spec: one YAML file, one manifold. What the user said, in bare units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from geomgen.spec.bench import Bench, Pin
from geomgen.spec.engine import Engine, Head
from geomgen.spec.files import Files
from geomgen.spec.flange import Flange
from geomgen.spec.kinds import tagged
from geomgen.spec.limits import Limits
from geomgen.spec.names import Name
from geomgen.spec.obstacles import Obstacle
from geomgen.spec.plates import PlateSpec
from geomgen.spec.runners import Runners
from geomgen.spec.tools import Tool
from geomgen.units import Direction, Quantity, Span, StrictModel, later

FORMAT = 1
"""The format of spec that this version reads and writes."""


if TYPE_CHECKING:
    from geomgen.shelf._offer import BendSpec as BendSource

    Collector = Any
    Attachment = Any
else:
    BendSource = tagged("geomgen.shelf", "kind", default="bend")
    Collector = tagged("geomgen.families", "family")
    Attachment = tagged("geomgen.attachments", "kind")


class Shelf(StrictModel):
    """What bends there are, and how they may be joined."""

    bends: Annotated[tuple[BendSource, ...], Field(min_length=1)]
    """The bends that may be used, best liked first."""
    min_straight: Span = 0.0
    """Least straight between two bends; 0 welds bend to bend. A die's grip is kept as well."""
    min_straight_at_flange: Span = 10.0
    """Least straight behind the transition: weld access. A die's grip is kept as well."""
    min_straight_at_collector: Span = 0.0
    """Least straight before the collector; into a slip joint the overlap, 25 to 50. A die's
    grip is kept as well."""
    min_angle: Annotated[float, Field(ge=0, lt=180), Quantity("angle")] = 8.0
    """Least bend worth cutting: shallower ones cannot be measured well."""
    saw_kerf: Span = 2.0
    """Width of a saw cut: bandsaw 1 to 1.5, cold saw 2 to 2.5, abrasive 2 to 3."""
    most_bends: Annotated[int, Field(strict=True, ge=2, le=12)] | None = later()
    """Most bends in one runner: at least 2, for one leaves the port's axis and one meets the
    collector's. As many as it takes without it."""
    angle_step: Annotated[float, Field(gt=0, le=90), Quantity("angle")] | None = later()
    """Every bend's angle is a whole multiple of it; straights and rolls take up the rest, so
    it needs three bends or more. Any angle without it."""


class Waiver(StrictModel):
    """A check that may fail, and why."""

    check: Name
    """Name of the check or proof: ``runner-gap``."""
    subject: Name | None = None
    """Only for this subject; for every subject without it."""
    reason: Annotated[str, Field(min_length=1, max_length=300)]
    """Why it is all right; printed everywhere."""


class HeaderSpec(StrictModel):
    """One manifold."""

    format: Literal[1]
    """Format of the spec."""
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9_-]*$", max_length=60)]
    """Name of the manifold and of its folder: small letters, digits, - and _."""
    revision: Name = "A"
    """Revision, printed on everything a shop reads."""
    title: Annotated[str, Field(max_length=120)] = ""
    """One line for the head of every sheet."""
    engine: Engine
    """The engine."""
    heads: Annotated[tuple[Head, ...], Field(min_length=1)]
    """The heads, each with its ports, studs and gasket."""
    flange: Flange
    """The head flange."""
    runners: Runners
    """The primaries."""
    shelf: Shelf = Shelf.model_construct(bends=())
    """The bends there are. It may be left out where nothing is laid out of them: with
    ``runners.length: as-laid``, for a casting or straight stubs."""
    collector: Collector
    """The family of manifold, and where it stands."""
    tools: tuple[Tool, ...] = ()
    """Tools for the studs' nuts: every stud must be reached by one of them. That every nut
    can be put on its stud is asked for without any too."""
    obstacles: tuple[Obstacle, ...] = ()
    """What is in the way."""
    plates: Annotated[tuple[PlateSpec, ...], Field(max_length=100)] = ()
    """Flat parts beside the head flange: flanges, rings, blanking and test plates, gaskets."""
    attachments: Annotated[tuple[Attachment, ...], Field(max_length=100)] = ()
    """What is attached to the pipes: wastegate branches, steps, bungs, the outlet's end, bracket
    points, a flex joint."""
    vertical: Direction = (0.0, 1.0, 0.0)
    """Which way is up, in the head frame."""
    files: Files = Files.model_construct()
    """The files that a cutter gets."""
    limits: Limits = Limits.model_construct()
    """Limits that are not the trade's defaults."""
    waive: tuple[Waiver, ...] = ()
    """Checks that may fail, each with its reason."""
    pins: Annotated[tuple[Pin, ...], Field(max_length=200)] = ()
    """Parts of the layout in the lock that stay where they are while the rest is solved anew."""
    bench: tuple[Bench, ...] = ()
    """What is tacked on the bench already; the rest of each runner is solved anew behind it."""
