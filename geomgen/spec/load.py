"""Text of a spec to models, with every complaint in one run, each with its line."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, get_type_hints

from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticUndefined

from geomgen.errors import KeyPath, Problem, SpecError
from geomgen.spec.blocks import Read, expand
from geomgen.spec.contradictions import Sections, contradictions
from geomgen.spec.explain import problem_at, problems_of
from geomgen.spec.header import FORMAT, HeaderSpec
from geomgen.spec.measured import Measured, solve
from geomgen.spec.outlines import read_outlines
from geomgen.spec.source import empty, read_text
from geomgen.spec.tree import Mark, Node, build, place, plain, step


@dataclass(frozen=True)
class Loaded:
    """What a spec says, as far as it can be understood.

    Attributes:
        file: name of the spec's file.
        spec: the whole spec; None while there is any problem.
        problems: everything that is wrong with it: the spec's own file first, by line.
        sections: the sections that are sound, by key, defaults included.
        measured: points that were given by tape, with what the tapes may be off.
        files: files that blocks were taken from, by their path from the spec's folder.
        outlines: content of the files that port shapes are read from, by the same.
    """

    file: str
    spec: HeaderSpec | None
    problems: tuple[Problem, ...]
    sections: Mapping[str, Any] = field(default_factory=dict)
    measured: tuple[Measured, ...] = ()
    files: tuple[str, ...] = ()
    tree: Node | None = None
    outlines: Mapping[str, bytes] = field(default_factory=dict)

    def place(self, path: KeyPath) -> tuple[int, int]:
        """Line and column of the deepest known part of a key path, from 1."""
        mark = self.mark(path)
        return mark.line, mark.column

    def mark(self, path: KeyPath) -> Mark:
        """File, line and column of the deepest known part of a key path."""
        return place(self.tree, path) if self.tree is not None else Mark(self.file, 1, 1)

    def says(self, path: KeyPath) -> bool:
        """Whether the file has a value there."""
        node = self.tree
        for part in path:
            node = step(node, part) if node is not None else None
        return node is not None

    def placed(self, problem: Problem) -> Problem:
        """A problem found later, with the place of its key path."""
        mark = self.mark(problem.path)
        return replace(problem, file=mark.file, line=mark.line, column=mark.column)

    def required(self) -> HeaderSpec:
        """The spec.

        Raises:
            SpecError: there are problems.
        """
        if self.spec is None:
            raise SpecError(self.problems)
        return self.spec


def load(
    text: str | bytes,
    file: str,
    *,
    read: Read | None = None,
    checks: Collection[str] | None = None,
) -> Loaded:
    """Read a spec.

    Args:
        text: content of the file.
        file: its name, for messages.
        read: reads another file by its path from the spec's folder, for ``take`` and for port
            shapes; must not follow links out of that folder. None when none can be read.
        checks: names of all checks and proofs, which ``waive`` may name; None to take any.
    """
    decoded, problems = read_text(text, file)
    root: Node | None = None
    if decoded is not None:
        root, problems = build(decoded, file)
        if (root is None or root.value is None) and not problems:
            problems, root = [empty(file)], None
    if root is None:
        return Loaded(file, None, _sorted(problems, file))
    if not isinstance(root.value, dict):
        problems.append(
            problem_at(root, (), root.shown(), "keys and values", "start from: geomgen new NAME")
        )
        return Loaded(file, None, _sorted(problems, file), tree=root)
    newer = _newer(root)
    if newer is not None:
        return Loaded(file, None, (newer,), tree=root)
    root, taken, files = expand(root, read)
    solved = solve(root)
    problems += [*taken, *solved.problems]
    root = solved.tree
    spec, sections, refused = _validated(root)
    problems += refused
    sound = {key: value for key, value in sections.items() if key not in solved.unsound}
    outlines = read_outlines(sound.get("heads") or (), read)
    problems += [problem_at(root, p.path, p.found, p.allowed, p.remedy) for p in outlines.problems]
    found = contradictions(Sections.of(sound, outlines.files), checks)
    problems += [problem_at(root, p.path, p.found, p.allowed, p.remedy) for p in found]
    return Loaded(
        file,
        None if problems else spec,
        _sorted(problems, file),
        sound,
        solved.measured,
        files,
        root,
        outlines.files,
    )


def _sorted(problems: list[Problem], file: str) -> tuple[Problem, ...]:
    unique = dict.fromkeys(problems)
    return tuple(sorted(unique, key=lambda p: (p.file != file, p.file, p.line, p.column, str(p))))


def _newer(root: Node) -> Problem | None:
    """A format that this version does not know makes every other complaint noise."""
    said = root.entries.get("format")
    value = said.node.value if said is not None else None
    if not isinstance(value, int) or isinstance(value, bool) or value <= FORMAT:
        return None
    return problem_at(
        root,
        ("format",),
        f"format {value}",
        f"format {FORMAT}, the newest that this version reads",
        "update geomgen, or write the spec in the older format",
    )


def _validated(root: Node) -> tuple[HeaderSpec | None, dict[str, Any], list[Problem]]:
    """The spec, its sound sections, and what is wrong with the others."""
    said = plain(root)
    try:
        spec = HeaderSpec.model_validate(said)
    except ValidationError as error:
        sections = _sound_sections(said, error)
        return None, sections, problems_of(error, HeaderSpec, root)
    return spec, {name: getattr(spec, name) for name in HeaderSpec.model_fields}, []


@cache
def _section(name: str) -> TypeAdapter[Any]:
    """Validates one section by itself."""
    return TypeAdapter(get_type_hints(HeaderSpec, include_extras=True)[name])


def _sound_sections(said: dict[str, Any], error: ValidationError) -> dict[str, Any]:
    wrong: dict[str, list[tuple[str | int, ...]]] = {}
    for item in error.errors(include_url=False):
        if item["loc"]:
            wrong.setdefault(str(item["loc"][0]), []).append(item["loc"])
    sound: dict[str, Any] = {}
    for name, info in HeaderSpec.model_fields.items():
        if name in wrong:
            mended = _without(said.get(name), wrong[name], name)
            if mended is not None:
                sound[name] = mended
        elif name in said:
            sound[name] = _section(name).validate_python(said[name])
        elif info.default is not PydanticUndefined:
            sound[name] = info.default
    return sound


def _without(said: Any, wrong: list[tuple[str | int, ...]], name: str) -> Any:
    """A section with its wrong keys left out, so that what else is wrong is found too.

    None where that leaves something missing, or a value that only absence explains.
    """
    rest = deepcopy(said)
    left_out: list[tuple[list[str | int], str]] = []
    for loc in wrong:
        place, path = rest, list[str | int]()
        for part in loc[1:]:
            inner = place.get(part) if isinstance(place, dict) else None
            if isinstance(place, list) and isinstance(part, int) and part < len(place):
                inner = place[part]
            if not isinstance(inner, dict | list):
                if isinstance(place, dict) and part in place:
                    left_out.append((path, str(part)))
                    del place[part]
                break
            place, path = inner, [*path, part]
    try:
        mended = _section(name).validate_python(rest)
    except ValidationError:
        return None
    return mended if all(_has_value(mended, path, key) for path, key in left_out) else None


def _has_value(model: Any, path: list[str | int], key: str) -> bool:
    for part in path:
        model = model[part] if isinstance(part, int) else getattr(model, part, None)
    return not hasattr(model, key) or getattr(model, key) is not None
