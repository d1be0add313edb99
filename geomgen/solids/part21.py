"""ISO 10303-21 clear text: read into statements, and written in one canonical order.

The kernel's writer numbers and orders entities by process-wide counters and memory
addresses. Here they are ordered by what they say: roots (entities that nobody refers to)
sorted by type and content, the rest numbered as they are first met. Plain text in, plain
text out; no kernel.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

TIME_STAMP = "2000-01-01T00:00:00"
"""ISO 10303-21 wants a time stamp; a fixed one keeps equal designs equal bytes."""

_STATEMENT = re.compile(r"#(\d+)\s*=\s*((?:[^;']++|'(?:[^']++|'')*+')*+);")
_STRING = re.compile(r"('(?:[^']|'')*')")
_REFERENCE = re.compile(r"#(\d+)")
_SECTIONS = re.compile(
    r"\A\s*ISO-10303-21;\s*HEADER;(.*?)ENDSEC;\s*DATA;(.*)ENDSEC;\s*END-ISO-10303-21;\s*\Z",
    re.DOTALL,
)
_SCHEMA = re.compile(r"FILE_SCHEMA\s*\(\s*\(\s*'((?:[^']|'')*)'\s*\)\s*\)\s*;")
_OCCURRENCE = "NEXT_ASSEMBLY_USAGE_OCCURRENCE"
_COUNTER = re.compile(r"\A(NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'[^']*'")
"""An occurrence's first attribute, which the kernel counts up as long as it runs."""

_UNORDERED = "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION"
"""Lists styled items in the order of memory addresses, then its context."""

_OF_ONE_PRODUCT = (
    _UNORDERED,
    "PRODUCT_RELATED_PRODUCT_CATEGORY",
    "SHAPE_DEFINITION_REPRESENTATION",
)
"""What says, of one product, its colour, that it is a part, and its shape."""

_LABELLED = re.compile(
    r"\A(?:PRODUCT|MANIFOLD_SOLID_BREP|NEXT_ASSEMBLY_USAGE_OCCURRENCE)\('([^']+)'"
)
_BODY = re.compile(r"\AMANIFOLD_SOLID_BREP\('([^']*)'")


class Part21Error(Exception):
    """Text that is no whole STEP file."""


class Statement(NamedTuple):
    """What stands right of the equals sign: ``texts[0] #refs[0] texts[1] ... texts[-1]``."""

    texts: list[str]
    refs: list[int]

    def said(self, names: Mapping[int, str]) -> str:
        """The statement with every reference replaced by a name."""
        pieces = [""] * (2 * len(self.refs) + 1)
        pieces[::2] = self.texts
        pieces[1::2] = [names[ref] for ref in self.refs]
        return "".join(pieces)

    @property
    def keyword(self) -> str:
        """Type of a simple entity; empty for a complex one."""
        return self.texts[0].partition("(")[0]


Entities = dict[int, Statement]


@dataclass(frozen=True)
class Exchange:
    """A STEP file's header text, schema, and statements by entity number."""

    header: str
    schema: str
    entities: Entities


def parse(text: str) -> Exchange:
    """Statements of a STEP file, white space outside strings taken out.

    Raises:
        Part21Error: sections missing, text between statements, or references to nothing.
    """
    sections = _SECTIONS.match(text)
    if sections is None:
        raise Part21Error("not a whole ISO 10303-21 file: a section or its end is missing")
    header, data = sections.groups()
    schema = _SCHEMA.search(header)
    if schema is None:
        raise Part21Error("the header names no schema")
    entities: Entities = {}
    position = 0
    for match in _STATEMENT.finditer(data):
        if data[position : match.start()].strip():
            raise Part21Error(f"cannot read: {data[position : match.start()].strip()[:60]!r}")
        number = int(match.group(1))
        if number in entities:
            raise Part21Error(f"entity #{number} is stated twice")
        entities[number] = _statement(match.group(2))
        position = match.end()
    if data[position:].strip():
        raise Part21Error(f"cannot read: {data[position:].strip()[:60]!r}")
    for number, body in entities.items():
        for ref in body.refs:
            if ref not in entities:
                raise Part21Error(f"#{number} refers to #{ref}, which is not in the file")
    return Exchange(header, schema.group(1), entities)


def _statement(body: str) -> Statement:
    texts: list[str] = [""]
    refs: list[int] = []
    for index, part in enumerate(_STRING.split(body)):
        if index % 2:
            texts[-1] += part
            continue
        found = _REFERENCE.split("".join(part.split()))
        texts[-1] += found[0]
        texts += found[2::2]
        refs += map(int, found[1::2])
    return Statement(texts, refs)


def canonical(text: str, name: str, description: str) -> str:
    """The same exchange in canonical order, with a header free of clock, user and version.

    Args:
        text: a STEP file.
        name: for FILE_NAME.
        description: for FILE_DESCRIPTION.
    """
    exchange = parse(text)
    entities = exchange.entities
    for body in entities.values():
        if body.keyword == _OCCURRENCE:
            body.texts[0] = _COUNTER.sub(r"\1''", body.texts[0])
    content = _content(entities)
    for body in entities.values():
        if body.keyword == _UNORDERED:
            body.refs[:-1] = sorted(body.refs[:-1], key=lambda ref: (content[ref], ref))
    roots = sorted(
        _unreferred(entities),
        key=lambda root: (entities[root].keyword, _label(entities, root), content[root], root),
    )
    return _written(exchange, roots, name, description)


def alone(text: str, titles: Mapping[str, str], description: str) -> dict[str, str]:
    """Products of a canonical exchange, each as a file of its own.

    Args:
        text: the assembly's canonical file.
        titles: for FILE_NAME, by name of the product.
        description: for FILE_DESCRIPTION.

    Raises:
        Part21Error: no such product with a body.
    """
    exchange = parse(text)
    entities = exchange.entities
    roots: dict[str, list[int]] = {}
    common: list[int] = []
    for root in sorted(_unreferred(entities)):
        if entities[root].keyword == "APPLICATION_PROTOCOL_DEFINITION":
            common.append(root)
        elif entities[root].keyword in _OF_ONE_PRODUCT:
            roots.setdefault(_label(entities, root), []).append(root)
    files: dict[str, str] = {}
    for product, title in titles.items():
        if len(roots.get(product, ())) != len(_OF_ONE_PRODUCT):
            raise Part21Error(f"the file holds no product {product} with a body and a colour")
        files[product] = _written(exchange, common + roots[product], title, description)
    return files


def _written(exchange: Exchange, roots: list[int], name: str, description: str) -> str:
    entities = exchange.entities
    order = _depth_first(entities, roots)
    lines = [
        "ISO-10303-21;",
        "HEADER;",
        f"FILE_DESCRIPTION(('{description}'),'2;1');",
        f"FILE_NAME('{name}','{TIME_STAMP}',(''),(''),'geomgen','geomgen','');",
        f"FILE_SCHEMA(('{exchange.schema}'));",
        "ENDSEC;",
        "DATA;",
    ]
    names = {number: f"#{new}" for number, new in order.items()}
    occurrences = 0
    for number, new in names.items():
        said = entities[number].said(names)
        if said.startswith(_OCCURRENCE):
            occurrences += 1
            said = _COUNTER.sub(rf"\g<1>'{occurrences}'", said)
        lines.append(f"{new}={said};")
    lines += ["ENDSEC;", "END-ISO-10303-21;", ""]
    return "\n".join(lines)


def _unreferred(entities: Entities) -> list[int]:
    referred = {ref for body in entities.values() for ref in body.refs}
    return [number for number in entities if number not in referred]


def refuse_rings(exchange: Exchange) -> None:
    """Nothing if no entity refers to itself, however far round.

    Raises:
        Part21Error: one does.
    """
    _children_first(exchange.entities)


def _children_first(entities: Entities) -> list[int]:
    """Entity numbers, each after all that it refers to.

    Raises:
        Part21Error: entities that refer to each other in a ring.
    """
    done: dict[int, bool] = {}
    order: list[int] = []
    for start in entities:
        stack = [start]
        while stack:
            number = stack[-1]
            if number in done:
                stack.pop()
                if not done[number]:
                    done[number] = True
                    order.append(number)
                continue
            done[number] = False
            for child in entities[number].refs:
                if child not in done:
                    stack.append(child)
                elif not done[child]:
                    raise Part21Error(f"#{child} refers to itself by way of #{number}")
    return order


def _depth_first(entities: Entities, roots: list[int]) -> dict[int, int]:
    """New numbers, from 1, in the order in which entities are first met."""
    order: dict[int, int] = {}
    stack = roots[::-1]
    while stack:
        number = stack.pop()
        if number not in order:
            order[number] = len(order) + 1
            stack.extend(r for r in reversed(entities[number].refs) if r not in order)
    return order


def _content(entities: Entities) -> dict[int, str]:
    """A digest of each entity and all that it refers to, free of numbering.

    A list whose order means nothing counts as if it stood in order of content.
    """
    digests: dict[int, str] = {}
    for number in _children_first(entities):
        body = entities[number]
        if body.keyword == _UNORDERED:
            said = body.texts[0] + "".join(sorted(digests[ref] for ref in body.refs))
        else:
            said = body.said(digests)
        digests[number] = hashlib.sha256(said.encode()).hexdigest()
    return digests


def _label(entities: Entities, root: int) -> str:
    """A product's, occurrence's or body's name below an entity: the first, last child first.

    That way an occurrence is met before the two shapes that it relates.
    """
    stack, seen = [root], {root}
    while stack:
        body = entities[stack.pop()]
        named = _LABELLED.match(body.texts[0])
        if named is not None:
            return named.group(1)
        for child in body.refs:
            if child not in seen:
                seen.add(child)
                stack.append(child)
    return ""


def body_digests(exchange: Exchange) -> dict[str, str]:
    """A digest of each solid body and all that it is made of, by the body's name."""
    digests = _content(exchange.entities)
    named = {number: _BODY.match(body.texts[0]) for number, body in exchange.entities.items()}
    return {found.group(1): digests[number] for number, found in named.items() if found}
