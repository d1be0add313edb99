"""Names and grades as a spec writes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema


@dataclass(frozen=True)
class _NumberAsText:
    """Names that happen to be whole numbers (``304``, ``1``) are names all the same."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_before_validator_function(
            lambda v: str(v) if isinstance(v, int) and not isinstance(v, bool) else v,
            handler(source),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"anyOf": [handler(schema), {"type": "integer"}]}


Name = Annotated[str, Field(min_length=1, max_length=60), _NumberAsText()]
"""A name or a short text."""
Material = Annotated[
    str,
    Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./+-]*$", max_length=40),
    _NumberAsText(),
]
"""A standard grade: 304, 321, 1.4541, Gr 2 Ti."""
