"""A plate with everything that a cutter's files must deal with, and a design round it."""

from types import SimpleNamespace

from geomgen.design.cutting import Cutter
from geomgen.design.flat_model import PLAIN
from geomgen.design.flats import flat_part
from geomgen.geometry.frames import Frame
from geomgen.plates import Label, Plate, PlateHole
from geomgen.profiles.convex import offset
from geomgen.profiles.loops import Arc, Line, circle, placed, slot
from geomgen.profiles.union import closing
from geomgen.spec.limits import Limits

HOLES = (
    PlateHole("stud 1a", (-32.0, 34.0), 9.0, "M8", 14.0),
    PlateHole("stud 1b", (32.0, -34.0), 13.5, "M12", 15.0),
    PlateHole("stud 2a", (60.0, 34.0), 9.0, "M8", 14.0, slot=3.0, turn=0.3, note="with washer"),
    PlateHole("stud 2b", (124.0, -34.0), 17.0, "M12", 16.0, slot=4.0),
    PlateHole("tapped 1", (46.0, 0.0), 6.8, "M8", 10.0, kind="tapped"),
    PlateHole("dowel 1", (140.0, 20.0), 14.0, "", 14.0, kind="dowel", note="ream H7"),
)
"""Of every kind: clearance holes small and large, slots small and large, tapped, dowel."""


def limits(**changed):
    """The trade's defaults, as checks look them up."""
    return {**Limits().model_dump(), **changed}


def plate(**said):
    """An uneven plate: two windows, a relief slot, six holes, bosses and fillets, 8 mm + 2."""
    windows = (slot(48.3, 40.3), placed(_rounded(44.0, 36.0, 8.0), (92.0, 0.0)))
    shapes = [offset(window, 9.0) for window in windows]
    shapes += [circle(hole.at, hole.boss) for hole in HOLES]
    values = {
        "name": "test_flange",
        "title": "Test flange",
        "frame": Frame(),
        "thickness": 8.0,
        "material": "304",
        "outer": closing(shapes, 15.0)[0],
        "windows": windows,
        "holes": HOLES,
        "cuts": (placed(slot(2.5, 22.0), (118.5, 8.0)),),
        "reference": (slot(45.0, 37.0),),
        "cylinders": (1, 2),
        "labels": (Label("LEFT", (-20.0, 0.0)),),
        "window_fit": 0.3,
        "window_style": "socket",
        "facing": 2.0,
        "quantity": 2,
        "notes": ("flat within 0.15 after cutting",),
    }
    return Plate(**{**values, **said})


def _rounded(width, height, radius):
    """A rectangle with round corners."""
    sharp = ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
    centres = [(x * (width - 2 * radius), y * (height - 2 * radius)) for x, y in sharp]
    quarter = 1.5707963267948966
    arcs = [Arc(c, radius, (k - 2) * quarter, quarter) for k, c in enumerate(centres)]
    pieces = []
    for arc, after in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        pieces += [arc, Line(arc.end, after.start)]
    return tuple(pieces)


def cut(process="plasma", changed=None, **said):
    """The plate as it is cut."""
    cutter = Cutter.of(limits(**(changed or {})).__getitem__, process)
    return flat_part(plate(**said), text="WREN-12 B", process=process, cutter=cutter)


def around(*flats, files=PLAIN, **changed):
    """As much of a design as flat parts and their files are made from."""
    return SimpleNamespace(
        name="wren-12",
        revision="B",
        title="Test header",
        flats=flats,
        limits=limits(**changed),
        files=files,
    )
