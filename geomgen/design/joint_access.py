"""Room at the fasteners of joints that runners were not laid out round: gates, outlets, others."""

from __future__ import annotations

from collections.abc import Iterator

from geomgen.design.access import Site, sites_of
from geomgen.design.model import Design, Joint, Stud
from geomgen.design.reach import nut_of
from geomgen.fasteners import FASTENERS
from geomgen.geometry.fields import placed
from geomgen.geometry.frames import Frame
from geomgen.routing.problem import Obstacle
from geomgen.spec.tools import Open, Ring, Socket, size_of


def joints_of(design: Design) -> tuple[Site, ...]:
    """Every other joint that is bolted: runners were not laid out round its tools.

    What stands still there is all of the manifold, flanges and the other studs too. Where no
    listed tool is of the fasteners' size, ordinary ones of that size are tried.
    """
    return tuple(joint_site(design, joint, joint.studs) for joint in design.mated if joint.studs)


def joint_site(
    design: Design, joint: Joint, studs: tuple[Stud, ...], frame: Frame | None = None
) -> Site:
    """Fasteners of one joint, beside everything that is not the joint's own.

    Args:
        design: a finished one.
        joint: of it.
        studs: to be got at.
        frame: that they are in; the joint's without it.
    """
    flats = {FASTENERS[stud.thread].across_flats for stud in studs}
    fitting = tuple(tool for tool in design.tools if size_of(tool) in flats)
    return Site(
        fitting or tuple(tool for size in sorted(flats) for tool in ordinary(size)),
        studs,
        joint.seat if frame is None else 0.0,
        design.limits["tool_play"],
        design.limits["nut_start"],
        tuple(body for body in design.problem.bodies if body.name not in joint.own),
        (
            *(o for o in design.problem.obstacles if o.name not in joint.own),
            *_stands(design, joint),
        ),
        joint.frame if frame is None else frame,
        routed=False,
        listed=bool(fitting),
    )


def ordinary(size: float) -> tuple[Socket | Ring | Open, ...]:
    """Tools that every box holds, for nuts and heads of a size [mm]; common practice, no source."""
    return (
        Socket(name=f"an ordinary {size:g} mm socket", socket=size),
        Ring(name=f"an ordinary {size:g} mm ring spanner", ring=size, swing=30.0),
    )


def _stands(design: Design, joint: Joint) -> Iterator[Obstacle]:
    """Nuts and heads of all other flanges as they stand."""
    faces = [(s.studs, s.seat, s.frame) for s in sites_of(design)]
    faces += [(j.studs, j.seat, j.frame) for j in design.mated if j is not joint]
    for studs, seat, frame in faces:
        for stud in studs:
            stand = nut_of(stud, seat, ()).stand.field
            yield Obstacle(stud.called, placed(stand, frame), 0.0)
