"""Runners in steps, and putting what a spec attaches on them, once they are laid out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import partial

from geomgen.attachments import Attached, Host, HostPipe
from geomgen.attachments import steps as stepping
from geomgen.design.attaching import (
    attachments_of,
    held,
    hold_possible,
    names_are_free,
    on_runners,
    step_within,
    with_added,
)
from geomgen.design.bends import bends_to_be_had
from geomgen.design.model import AttachedPart, Attachment, Runner, TubeSection
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.families import Amounts, Asked, Fitted, Layout, TubeSize
from geomgen.spec.header import HeaderSpec


def sectioned(
    spec: HeaderSpec, runner: Runner, last: TubeSize, inside: float
) -> tuple[TubeSection, ...]:
    """A runner's tubes and expanders, where the spec steps it; none otherwise.

    Args:
        spec: what was said.
        runner: as it is laid out.
        last: size that it ends in.
        inside: what of its end is inside the collector [mm].
    """
    before = runner.account.plate + runner.account.transition
    for i, said, module in attachments_of(spec):
        if module is stepping:
            keeps = stepping.Keeps(bends_to_be_had(spec, spec.runners.tube.od).straight, inside)
            make = partial(stepping.sections, said, last, runner.path, before, runner.name, keeps)
            return _named(runner, held(i, make), step_within(spec, said), bool(said.must))
    return ()


def _named(
    runner: Runner, found: tuple[stepping.Section, ...], within: float, must: bool
) -> tuple[TubeSection, ...]:
    letters = iter("abcdef")
    steps = iter("abcdef")
    return tuple(
        TubeSection(
            part=f"step_{runner.cylinder}{next(steps)}"
            if one.is_step
            else f"tube_{runner.cylinder}{next(letters)}",
            path=one.path,
            outer=(one.start.outer_radius, one.end.outer_radius),
            inner=(one.start.inner_radius, one.end.inner_radius),
            moved=one.moved,
            within=within,
            must=must,
        )
        for one in found
    )


def on_laid(
    spec: HeaderSpec, asked: Asked, layout: Layout, runners: tuple[Runner, ...]
) -> tuple[tuple[Runner, ...], tuple[AttachedPart, ...], tuple[Fitted, ...], Amounts | None]:
    """Runners with everything on them, the parts, what checks need, and what all comes to.

    Raises:
        SpecError: something does not fit.
    """
    parts: list[AttachedPart] = []
    fitted: list[Fitted] = []
    for i, said, module in attachments_of(spec):
        if module is stepping or not on_runners(said):
            continue
        if not hasattr(module, "on_tubes"):
            raise SpecError(
                (
                    Complaint(
                        ("attachments", i, "on"),
                        f"{said.on}, for a {module.KIND}",
                        "a pipe behind the merge",
                        "name a pipe of the collector",
                    ),
                )
            )
        hold_possible(i, layout)
        host = Host(
            layout, _runner_pipes(runners), asked.up, asked.material, spec.limits.edge_factor
        )
        made: Attached = held(i, partial(module.on_tubes, said, host))
        names_are_free(i, made, layout, parts)
        runners = tuple(
            replace(
                runner,
                holes=(
                    *runner.holes,
                    *((h.part, h.tool) for h in made.holes if h.part in runner.tube_parts),
                ),
            )
            for runner in runners
        )
        amounts = with_added(layout, made, asked.material, on_runners=True)
        layout = replace(layout, amounts=amounts)
        hosts = [one.host for one in made.fitted]
        for piece in made.pieces:
            number = next(
                (h for h, f in zip(hosts, made.fitted, strict=True) if f.name == piece.name),
                hosts[0],
            )
            parts.append(AttachedPart(piece.name, piece.node, number))
        fitted += made.fitted
    return runners, tuple(parts), tuple(fitted), layout.amounts


def _runner_pipes(runners: Iterable[Runner]) -> tuple[HostPipe, ...]:
    found = []
    for runner in runners:
        at = runner.account.plate + runner.account.transition
        for section in runner.tubes:
            if not section.is_step:
                found.append(
                    HostPipe(
                        name=runner.name,
                        part=section.part,
                        path=section.path,
                        outer_radius=section.outer[0],
                        inner_radius=section.inner[0],
                        slots=(runner.slot,),
                        before=at,
                    )
                )
            at += section.path.length
    return tuple(found)


def summed_up(
    fitted: Iterable[Fitted], layout: Layout, feeds: tuple[tuple[int, ...], ...]
) -> tuple[Attachment, ...]:
    """Attachments with cylinders in place of slots."""

    def cylinders(slots: Iterable[int]) -> tuple[int, ...]:
        return tuple(sorted({c for slot in slots for c in feeds[slot]}))

    scrolls = {scroll.name: scroll for scroll in layout.scrolls}
    return tuple(
        Attachment(
            fitted=one,
            cylinders=cylinders(one.slots),
            of_scroll=cylinders(scrolls[one.scroll].slots if one.scroll in scrolls else ()),
        )
        for one in fitted
    )
