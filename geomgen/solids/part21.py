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
_OCCURRENCE = "NEXT_ASSEMBLY_USAGE_OCCURRENCE("
"""Its first attribute is a number that the kernel counts up as long as it runs."""

_UNORDERED = "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION"
"""Lists styled items in the order of memory addresses, then its context."""

_OF_ONE_PRODUCT = (
    _UNORDERED,
    "PRODUCT_RELATED_PRODUCT_CATEGORY",
    "SHAPE_DEFINITION_REPRESENTATION",
)
"""What says, of one product, its colour, that it is a part, and its shape."""

_LABELLED = ("PRODUCT", "MANIFOLD_SOLID_BREP", "NEXT_ASSEMBLY_USAGE_OCCURRENCE")


class Part21Error(Exception):
    """Text that is no whole STEP file."""


Pieces = list[str | int]
"""A statement in pieces: text, and the entity numbers that it refers to."""

Entities = dict[int, Pieces]


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
        entities[number] = _pieces(match.group(2))
        position = match.end()
    if data[position:].strip():
        raise Part21Error(f"cannot read: {data[position:].strip()[:60]!r}")
    for number, body in entities.items():
        for piece in body:
            if isinstance(piece, int) and piece not in entities:
                raise Part21Error(f"#{number} refers to #{piece}, which is not in the file")
    return Exchange(header, schema.group(1), entities)


def _pieces(body: str) -> Pieces:
    """A statement's text and references, in order."""
    pieces: Pieces = []
    for index, part in enumerate(_STRING.split(body)):
        if index % 2:
            pieces.append(part)
            continue
        texts = _REFERENCE.split("".join(part.split()))
        pieces.append(texts[0])
        for place in range(1, len(texts), 2):
            pieces += (int(texts[place]), texts[place + 1])
    return pieces


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
        if body[0] == _OCCURRENCE:
            body[1] = "''"
    content = _content(entities)
    roots = sorted(
        _unreferred(entities),
        key=lambda root: (_keyword(entities, root), _label(entities, root), content[root], root),
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
        if _keyword(entities, root) == "APPLICATION_PROTOCOL_DEFINITION":
            common.append(root)
        elif _keyword(entities, root) in _OF_ONE_PRODUCT:
            roots.setdefault(_label(entities, root).strip("'"), []).append(root)
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
    occurrences = 0
    for number, new in order.items():
        said = "".join(f"#{order[p]}" if isinstance(p, int) else p for p in entities[number])
        if said.startswith(_OCCURRENCE):
            occurrences += 1
            said = said.replace("''", f"'{occurrences}'", 1)
        lines.append(f"#{new}={said};")
    lines += ["ENDSEC;", "END-ISO-10303-21;", ""]
    return "\n".join(lines)


def _unreferred(entities: Entities) -> list[int]:
    referred = {piece for body in entities.values() for piece in body if isinstance(piece, int)}
    return [number for number in entities if number not in referred]


def _keyword(entities: Entities, number: int) -> str:
    first = entities[number][0]
    return first.partition("(")[0] if isinstance(first, str) else ""


def _children(entities: Entities, number: int) -> list[int]:
    return [piece for piece in entities[number] if isinstance(piece, int)]


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
            for child in _children(entities, number):
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
            stack.extend(r for r in reversed(_children(entities, number)) if r not in order)
    return order


def _content(entities: Entities) -> dict[int, str]:
    """A digest of each entity and all that it refers to, free of numbering.

    Lists whose order means nothing are put in order of content on the way.
    """
    digests: dict[int, str] = {}
    for number in _children_first(entities):
        if _keyword(entities, number) == _UNORDERED:
            items = sorted(_children(entities, number)[:-1], key=lambda item: (digests[item], item))
            _reorder(entities[number], items)
        said = "".join(digests[p] if isinstance(p, int) else p for p in entities[number])
        digests[number] = hashlib.sha256(said.encode()).hexdigest()
    return digests


def _reorder(body: Pieces, items: list[int]) -> None:
    places = [index for index, piece in enumerate(body) if isinstance(piece, int)]
    for place, item in zip(places, items, strict=False):
        body[place] = item


def _label(entities: Entities, root: int) -> str:
    """A product's, occurrence's or body's name below an entity: the first, last child first.

    That way an occurrence is met before the two shapes that it relates.
    """
    stack, seen = [root], {root}
    while stack:
        number = stack.pop()
        body = entities[number]
        if _keyword(entities, number) in _LABELLED and len(body) > 1 and body[1] != "''":
            return str(body[1])
        for child in _children(entities, number):
            if child not in seen:
                seen.add(child)
                stack.append(child)
    return ""


def body_digests(exchange: Exchange) -> dict[str, str]:
    """A digest of each solid body and all that it is made of, by the body's name."""
    entities = {number: list(body) for number, body in exchange.entities.items()}
    digests = _content(entities)
    return {
        str(entities[number][1]).strip("'"): digests[number]
        for number in entities
        if _keyword(entities, number) == "MANIFOLD_SOLID_BREP"
    }
