"""Gas of every runner reaches the wastegate.

What: whether every cylinder of the scroll passes the branch, and whether the gas volume that has
the branch as a named end has all their inlets.
Why: a gate that some cylinders do not reach leaves boost that creeps.
Limit: all cylinders of the scroll.
Source: builders' pages on gates; the rule is a count.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Attachment, Design
from geomgen.errors import Finding

NAME = "wastegate-reach"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a branch: the number of cylinders that do not pass it."""
    return tuple(
        _finding(design, one) for one in design.attachments if one.fitted.kind == "wastegate"
    )


def _finding(design: Design, one: Attachment) -> Finding:
    fitted = one.fitted
    inlets = {
        int(face.name.removeprefix("INLET_"))
        for gas in design.gases
        if any(face.name == fitted.use for face in gas.faces)
        for face in gas.faces
        if face.name.startswith("INLET_")
    }
    passing = inlets & set(one.cylinders)
    lacking = sorted(set(one.of_scroll) - passing)
    ok = bool(passing) and not lacking and inlets == passing
    said = ", ".join(map(str, sorted(passing))) or "no cylinder"
    return Finding(
        NAME,
        fitted.name,
        judged(ok),
        f"on {fitted.host}: passed by the gas of {said}"
        + (f"; not by that of {', '.join(map(str, lacking))}" if lacking else ""),
        float(len(lacking)),
        0.0,
        "count",
        "" if ok else "take it from a pipe behind the merge of all cylinders of its scroll",
        fitted.at,
    )
