"""Which kinds of entity may stand where in our STEP files.

The kernel's reader takes references on trust and may crash on one of the wrong kind; what
is written here (ISO 10303-42 geometry and topology, ISO 10303-41 and -44 products and
assemblies, ISO 10303-46 colours) is held against the text before the reader sees it.
"""

from __future__ import annotations

import re

from geomgen.solids.part21 import Exchange, Statement

_CURVE = "LINE|CIRCLE|ELLIPSE|B_SPLINE_CURVE|B_SPLINE_CURVE_WITH_KNOTS"
_SURFACE = (
    "PLANE|CYLINDRICAL_SURFACE|CONICAL_SURFACE|TOROIDAL_SURFACE|SPHERICAL_SURFACE"
    "|B_SPLINE_SURFACE|B_SPLINE_SURFACE_WITH_KNOTS"
)
_SHAPE = "SHAPE_REPRESENTATION|ADVANCED_BREP_SHAPE_REPRESENTATION"
_CONTEXT = "GEOMETRIC_REPRESENTATION_CONTEXT"

GRAMMAR = {
    "ADVANCED_BREP_SHAPE_REPRESENTATION": f"A(A|MANIFOLD_SOLID_BREP)+({_CONTEXT})",
    "ADVANCED_FACE": f"(FACE_BOUND|FACE_OUTER_BOUND)+({_SURFACE})",
    "APPLICATION_PROTOCOL_DEFINITION": "APPLICATION_CONTEXT",
    "A": "(CARTESIAN_POINT)(DIRECTION){0,2}",
    "B_SPLINE_SURFACE": "(CARTESIAN_POINT)+",
    "B_SPLINE_SURFACE_WITH_KNOTS": "(CARTESIAN_POINT)+",
    "B_SPLINE_CURVE": "(CARTESIAN_POINT)+",
    "B_SPLINE_CURVE_WITH_KNOTS": "(CARTESIAN_POINT)+",
    "CIRCLE": "A",
    "CLOSED_SHELL": "(ADVANCED_FACE)+",
    "CONICAL_SURFACE": "A",
    "CONTEXT_DEPENDENT_SHAPE_REPRESENTATION": "(REPRESENTATION_RELATIONSHIP)"
    "(PRODUCT_DEFINITION_SHAPE)",
    "CURVE_STYLE": "(DRAUGHTING_PRE_DEFINED_CURVE_FONT)(COLOUR_RGB)",
    "CYLINDRICAL_SURFACE": "A",
    "EDGE_CURVE": f"(VERTEX_POINT){{2}}({_CURVE})",
    "EDGE_LOOP": "(ORIENTED_EDGE)+",
    "ELLIPSE": "A",
    "FACE_BOUND": "EDGE_LOOP|VERTEX_LOOP",
    "FACE_OUTER_BOUND": "EDGE_LOOP|VERTEX_LOOP",
    "FILL_AREA_STYLE": "FILL_AREA_STYLE_COLOUR",
    "FILL_AREA_STYLE_COLOUR": "COLOUR_RGB",
    _CONTEXT: "(UNCERTAINTY_MEASURE_WITH_UNIT)(LENGTH_UNIT)(PLANE_ANGLE_UNIT)(SOLID_ANGLE_UNIT)",
    "ITEM_DEFINED_TRANSFORMATION": "AA",
    "LINE": "(CARTESIAN_POINT)(VECTOR)",
    "MANIFOLD_SOLID_BREP": "CLOSED_SHELL",
    "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION": f"(STYLED_ITEM)+({_CONTEXT})",
    "NEXT_ASSEMBLY_USAGE_OCCURRENCE": "(PRODUCT_DEFINITION){2}",
    "ORIENTED_EDGE": "EDGE_CURVE",
    "PLANE": "A",
    "PRESENTATION_STYLE_ASSIGNMENT": "(SURFACE_STYLE_USAGE)(CURVE_STYLE)",
    "PRODUCT": "PRODUCT_CONTEXT",
    "PRODUCT_CONTEXT": "APPLICATION_CONTEXT",
    "PRODUCT_DEFINITION": "(PRODUCT_DEFINITION_FORMATION)(PRODUCT_DEFINITION_CONTEXT)",
    "PRODUCT_DEFINITION_CONTEXT": "APPLICATION_CONTEXT",
    "PRODUCT_DEFINITION_FORMATION": "PRODUCT",
    "PRODUCT_DEFINITION_SHAPE": "PRODUCT_DEFINITION|NEXT_ASSEMBLY_USAGE_OCCURRENCE",
    "PRODUCT_RELATED_PRODUCT_CATEGORY": "PRODUCT",
    "REPRESENTATION_RELATIONSHIP": f"({_SHAPE})({_SHAPE})(ITEM_DEFINED_TRANSFORMATION)",
    "SHAPE_DEFINITION_REPRESENTATION": f"(PRODUCT_DEFINITION_SHAPE)({_SHAPE})",
    "SHAPE_REPRESENTATION": f"A+({_CONTEXT})",
    "SPHERICAL_SURFACE": "A",
    "STYLED_ITEM": "(PRESENTATION_STYLE_ASSIGNMENT)(MANIFOLD_SOLID_BREP)",
    "SURFACE_SIDE_STYLE": "SURFACE_STYLE_FILL_AREA",
    "SURFACE_STYLE_FILL_AREA": "FILL_AREA_STYLE",
    "SURFACE_STYLE_USAGE": "SURFACE_SIDE_STYLE",
    "TOROIDAL_SURFACE": "A",
    "UNCERTAINTY_MEASURE_WITH_UNIT": "LENGTH_UNIT",
    "VECTOR": "DIRECTION",
    "VERTEX_LOOP": "VERTEX_POINT",
    "VERTEX_POINT": "CARTESIAN_POINT",
}
"""Kinds that an entity refers to, in order; ``A`` is AXIS2_PLACEMENT_3D."""

_COMPLEX = re.compile(
    r"(REPRESENTATION_RELATIONSHIP|GEOMETRIC_REPRESENTATION_CONTEXT|LENGTH_UNIT|PLANE_ANGLE_UNIT"
    r"|SOLID_ANGLE_UNIT|B_SPLINE_SURFACE|B_SPLINE_CURVE)\("
)


def fault(exchange: Exchange) -> str:
    """The first reference of the wrong kind, in words; empty when there is none."""
    kinds = {number: _kind(body) for number, body in exchange.entities.items()}
    rules = {kind: re.compile(_spaced(rule)) for kind, rule in GRAMMAR.items()}
    for number, body in exchange.entities.items():
        rule = rules.get(kinds[number])
        referred = "".join(f"{kinds[ref]} " for ref in body.refs)
        if rule is not None and not rule.fullmatch(referred):
            return f"#{number} {kinds[number]} may not refer to {referred.strip()[:80]}"
        if rule is None and body.refs:
            return f"#{number} is of a kind that is not written here: {body.texts[0][:60]}"
    return ""


def _kind(body: Statement) -> str:
    if body.keyword:
        return "A" if body.keyword == "AXIS2_PLACEMENT_3D" else body.keyword
    found = _COMPLEX.search("".join(body.texts))
    return found.group(1) if found is not None else "UNKNOWN"


def _spaced(rule: str) -> str:
    """The rule with a space after every kind, so that no kind passes as part of another."""
    return re.sub(r"[A-Z][A-Z0-9_]*", lambda m: f"(?:{m[0]} )", rule.replace("AA", "A{2}"))
