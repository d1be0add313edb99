"""Joints lie in straight tube rather than in bends.

What: every weld between the pieces of a runner: in a straight, at the end of a bend that is
cut in the bend, or between two such ends.
Why: a bend that is cut is oval there; its end must be made round before it meets straight
tube, and two oval ends never meet all round.
Limit: ``limits.joint_straight``, straight tube on both sides of a joint together. Joints at
cut bends are counted and pass, for a bend cut from a larger one always has one such end; two
cut bends that meet warn.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.joints import Joint, welded
from geomgen.design.model import Design, Runner, Secondary
from geomgen.errors import Finding, Verdict

NAME = "joints"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner: the number of joints where two cut bends meet; none of a casting."""
    if design.collector.casting:
        return ()
    return tuple(_finding(design, tube) for tube in design.tubes)


def _finding(design: Design, tube: Runner | Secondary) -> Finding:
    joints = welded(design, tube)
    both = [joint for joint in joints if len(joint.cut) > 1]
    return Finding(
        NAME,
        tube.name,
        judged(not both, Verdict.WARN),
        _message(joints, both),
        float(len(both)),
        0.0,
        "count",
        "allow some straight between bends, shelf.min_straight" if both else "",
    )


def _message(joints: tuple[Joint, ...], both: list[Joint]) -> str:
    if not joints:
        return "bent in one piece"
    clear = sum(joint.clear for joint in joints)
    one = sum(len(joint.cut) == 1 for joint in joints)
    text = (
        f"{len(joints)} joints: {clear} in straights, {one} of a cut bend (oval end) to round "
        f"tube, {len(joints) - clear - one - len(both)} close to a bend"
    )
    pairs = " and ".join(f"bends {joint.cut[0]} and {joint.cut[1]}" for joint in both)
    return f"{text}, {len(both)} of two cut bends: {pairs}" if both else text
