"""A plate on the end of a pipe: its frame, and its parts."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

from geomgen.attachments import Host, OnPipe
from geomgen.families import DoesNotFit
from geomgen.geometry.frames import Frame, cross, scale
from geomgen.plates import NoPlate, Pipe, Plate
from geomgen.plates._said import Standing
from geomgen.registry import home


def at_end(
    said: Standing, end: Frame, od: float, bore: float, host: Host, key: tuple[str, ...]
) -> tuple[OnPipe, tuple[Plate, ...]]:
    """A plate on a pipe's end, and its mates, which are loose.

    Args:
        said: what the spec says of it; at ``key``.
        end: of the pipe; z is the way the gas goes.
        od: of the pipe [mm].
        bore: of the pipe [mm].
        host: the manifold.
        key: of the plate below the attachment.

    Raises:
        DoesNotFit: there is no such plate, or it is said to stand elsewhere.
    """
    if said.at is not None or said.stand is not None:
        raise DoesNotFit(
            (*key, "at" if said.at is not None else "stand"),
            "a place of its own",
            "none: it stands on the pipe's end",
            "take it out",
        )
    kind: ModuleType = home(said)
    try:
        plate: Plate = kind.plate(said, Frame(), Pipe(od, bore), host.edge_factor)
    except NoPlate as error:
        raise DoesNotFit((*key, *error.key), error.found, error.allowed, error.remedy) from None
    except ValueError as error:
        raise DoesNotFit(key, str(error), "sizes that leave one plate", "check its sizes") from None
    # A tube in a socket ends short of the gasket face; on a butt window it ends at the back.
    set_back = float(getattr(said, "set_back", 0.0))
    short = set_back if plate.window_style != "butt" else plate.thickness
    face = end.moved(short)
    z = scale(face.z, -1.0)
    frame = Frame.facing(face.origin, z, cross(host.up, z))
    plate = replace(plate, frame=frame, loose=False)
    mate = kind.mate(said, plate) if hasattr(kind, "mate") else None
    return OnPipe(plate, od / 2.0), () if mate is None else (mate,)
