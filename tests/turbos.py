"""Turbine manifolds to try things on."""

from geomgen.families import Asked, Start, TubeSize
from geomgen.families.turbo import Spec
from geomgen.geometry.frames import Frame

TUBE = TubeSize(21.2, 19.2)
UP = (0.0, 1.0, 0.0)
I4, I6 = (1, 3, 4, 2), (1, 5, 3, 6, 2, 4)

INLET = {
    "kind": "rectangular",
    "thickness": 12,
    "facing": 2,
    "material": "304",
    "width": 60,
    "height": 52,
    "corner": 14,
    "bolts": {"thread": "M10", "pitch": [90, 74]},
}
HALVED = {**INLET, "width": 71, "height": 50, "corner": 9, "divider": 7}
WHOLE_PIPE = {"od": 60.3, "wall": 2.77}
SPLAYED = {"od": 45, "wall": 2, "bend": {"clr": 67.5, "splay": 35}}


def spec(turbine: dict | None = None, inlet: dict | None = None, **changes: object) -> Spec:
    divided = "divider" in (inlet or INLET)
    said = {
        "family": "turbo",
        "turbine": {
            "at": [135, 240, 200],
            "direction": [0, 1, 0],
            "inlet": inlet or INLET,
            **(turbine or {}),
        },
        "merge_angle": 14,
        "pipe": SPLAYED if divided else WHOLE_PIPE,
        "transition": {"length": 70},
    }
    return Spec.model_validate({**said, **changes})


def asked(order: tuple[int, ...], tube: TubeSize = TUBE) -> Asked:
    starts = tuple(Start(c, Frame((92.0 * c, 0.0, 55.0))) for c in sorted(order))
    return Asked(tube, starts, order, UP)
