"""The text under each field of a model: its entry in the spec reference and the schema."""

from __future__ import annotations

import ast
import inspect
import textwrap
from functools import cache
from itertools import pairwise

from pydantic import BaseModel


@cache
def field_docs(model: type[BaseModel]) -> dict[str, str]:
    """What each field means, by its name, inherited fields too; read off the source."""
    docs: dict[str, str] = {}
    for owner in reversed(model.__mro__):
        if issubclass(owner, BaseModel) and owner is not BaseModel:
            docs |= _own_docs(owner)
    return {name: docs[name] for name in model.model_fields if name in docs}


def class_doc(model: type[BaseModel]) -> str:
    """What a model means, in one paragraph."""
    return " ".join((inspect.getdoc(model) or "").split("\n\n")[0].split())


@cache
def _own_docs(model: type[BaseModel]) -> dict[str, str]:
    tree = ast.parse(textwrap.dedent(inspect.getsource(model)))
    body = tree.body[0].body if isinstance(tree.body[0], ast.ClassDef) else []
    docs: dict[str, str] = {}
    for field, text in pairwise(body):
        if not (isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)):
            continue
        if isinstance(text, ast.Expr) and isinstance(text.value, ast.Constant):
            docs[field.target.id] = " ".join(str(text.value.value).split())
    return docs
