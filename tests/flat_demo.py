"""Flat parts to try things on: the demo's flange and relatives, with a design round them."""

from functools import cache
from types import SimpleNamespace

from geomgen.design.cutting import Cutter
from geomgen.design.flange import HeadFlange, head_flange
from geomgen.design.flat_model import PLAIN
from geomgen.design.growth import HotGrowth
from geomgen.design.model import Port, Stud
from geomgen.families import TubeSize
from geomgen.geometry.frames import Frame
from geomgen.profiles.loops import slot
from geomgen.spec.limits import Limits

HEAD = Frame()
OVAL = slot(45.0, 37.0)
RATIOS = {"plasma": 1.5, "laser": 1.0, "waterjet": 0.2}
AT_EACH_PORT = ((-32.0, 34.0), (32.0, -34.0))


def wanted(
    *,
    thread="M8",
    ports=4,
    pitch=92.0,
    loop=OVAL,
    studs=AT_EACH_PORT,
    frame=HEAD,
    directions=None,
    **said,
):
    """What the demo's head flange is to be, with changes. Places are in ``frame``."""
    ways = directions or [(0.0, 0.0, 1.0)] * ports
    at = tuple(
        Port(
            k + 1,
            Frame.facing(frame.point((k * pitch, 0.0, 0.0)), frame.vector(way), frame.x),
            loop,
            "oval",
        )
        for k, way in enumerate(ways)
    )
    holes = tuple(
        Stud(f"stud {k + 1}{'abcdef'[i]}", thread, frame.point((k * pitch + dx, dy, 0.0)), 28.0)
        for k in range(ports)
        for i, (dx, dy) in enumerate(studs)
    )
    values = {
        "name": "head_flange",
        "title": "Head flange",
        "ports": at,
        "studs": holes,
        "frame": frame,
        "wall": 1.5,
        "inner_radius": 21.0,
        "fit": 0.3,
        "land": 9.0,
        "thickness": 10.0,
        "material": "304",
        **said,
    }
    return HeadFlange(**values)


def flanges(**said):
    """The demo's head flange as it is cut, with changes: one part, or one a port."""
    try:
        return _made(tuple(sorted(said.items())))
    except TypeError:  # a list among the changes
        return _made.__wrapped__(tuple(said.items()))


@cache
def _made(said):
    """Parts are frozen: equal ones are made once, for lettering takes its time."""
    rest = dict(said)
    process, text = rest.pop("process", "plasma"), rest.pop("text", "BRACKENHALL-20-SPRINT A")
    ratio = RATIOS[process]
    holds, fits = rest.pop("cutter", None) or Cutter(ratio, ratio), rest.pop("fits", ())
    return head_flange(wanted(**rest), text=text, process=process, cutter=holds, fits=fits)


def flange(**said):
    """The demo's head flange in one piece."""
    (part,) = flanges(**said)
    return part


def limits(**changed):
    """The trade's defaults, as checks look them up."""
    return {**Limits().model_dump(), **changed}


def around(*flats, od=45.0, **changed):
    """As much of a design as flat parts are checked with: no runner is routed here."""
    cylinders = sorted({c for part in flats for c in part.cylinders})
    return SimpleNamespace(
        name="brackenhall-20-sprint",
        revision="A",
        flats=flats,
        ports=(),
        studs=(),
        growth=HotGrowth(),
        head_flanges=flats,
        entry=TubeSize(od / 2.0, od / 2.0 - 1.5),
        runners=tuple(
            SimpleNamespace(
                cylinder=c,
                outer_radius=od / 2.0,
                inner_radius=od / 2.0 - 1.5,
                entry_outer=od / 2.0,
                entry_inner=od / 2.0 - 1.5,
            )
            for c in cylinders
        ),
        limits=limits(**changed),
        files=PLAIN,
    )
