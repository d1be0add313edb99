"""A tree of parts as one STEP file: AP214, mm, one named coloured product a part.

ISO 10303-21 clear text of schema AUTOMOTIVE_DESIGN (ISO 10303-214), canonical in order
and header, so equal trees give equal bytes.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPConstruct import STEPConstruct
from OCP.STEPControl import STEPControl_Controller, STEPControl_StepModelType
from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Shape
from OCP.XCAFApp import XCAFApp_Application
from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool

from geomgen.recipe.nodes import Group, Part, parts_of
from geomgen.solids.build import build
from geomgen.solids.errors import SolidError
from geomgen.solids.find import face_at
from geomgen.solids.part21 import alone, canonical
from geomgen.solids.products import Product, products_of
from geomgen.solids.quiet import hush

DESCRIPTION = "tubular exhaust header, mm"

_NAME = re.compile(r"[a-z0-9_]+")
_FACE_NAME = re.compile(r"[A-Za-z0-9_]+")


def step_bytes(tree: Part | Group, title: str) -> bytes:
    """The tree as a STEP file.

    Parts whose nodes are one node placed differently become one product with an
    occurrence for each, named as the parts are. A lone part is written in its own frame.

    Args:
        tree: one part, or the assembly.
        title: for the header's FILE_NAME, ASCII.

    Raises:
        SolidError: a name that is not ``[a-z0-9_]+`` or not alone, or a solid that
            cannot be made.
    """
    _refuse_names(tree)
    hush()
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    products = products_of(tree)
    shapes = _shapes(products)
    labels = _product_labels(document, products, shapes)
    if isinstance(tree, Group):
        _add_group(document, tree, {part: labels[p.name] for part, p in products.items()})
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).UpdateAssemblies()
    text = _written(document, list({p.name: p for p in products.values()}.values()), shapes)
    return canonical(text, title, DESCRIPTION).encode("ascii")


def product_files(assembly: bytes, titles: Mapping[str, str]) -> dict[str, bytes]:
    """Products out of an assembly's file, each as a file of its own, in its own frame.

    Args:
        assembly: what ``step_bytes`` made of the whole tree.
        titles: for the header's FILE_NAME, ASCII, by name of the product.
    """
    texts = alone(assembly.decode("ascii"), titles, DESCRIPTION)
    return {product: text.encode("ascii") for product, text in texts.items()}


def _refuse_names(tree: Part | Group) -> None:
    names = [part.name for part in parts_of(tree)]
    faces = [face.name for part in parts_of(tree) for face in part.faces]
    for name in [*names, *_group_names(tree)]:
        if not _NAME.fullmatch(name):
            raise SolidError(f"{name!r} is no name for a part: use a to z, 0 to 9 and _")
    for name in faces:
        if not _FACE_NAME.fullmatch(name):
            raise SolidError(f"{name!r} is no name for a face: use letters, digits and _")
    for name in names:
        if names.count(name) > 1:
            raise SolidError(f"two parts are named {name!r}")


def _group_names(tree: Part | Group) -> list[str]:
    if isinstance(tree, Part):
        return []
    return [tree.name, *(name for child in tree.children for name in _group_names(child))]


def _shapes(products: dict[str, Product]) -> dict[str, TopoDS_Shape]:
    """Shapes by product name. One shape in two colours is two products, so a copy each."""
    shapes: dict[str, TopoDS_Shape] = {}
    for product in products.values():
        if product.name in shapes:
            continue
        shape = build(product.node)
        if any(shape.IsPartner(other) for other in shapes.values()):
            shape = BRepBuilderAPI_Copy(shape).Shape()
        shapes[product.name] = shape
    return shapes


def _named(label: TDF_Label, name: str) -> TDF_Label:
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(name))
    return label


def _product_labels(
    document: TDocStd_Document, products: dict[str, Product], shapes: dict[str, TopoDS_Shape]
) -> dict[str, TDF_Label]:
    """Labels of products by product name: shape, name, colour."""
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    labels: dict[str, TDF_Label] = {}
    for product in products.values():
        if product.name in labels:
            continue
        label = _named(tool.AddShape(shapes[product.name], False), product.name)
        colour = Quantity_Color(*product.colour, Quantity_TypeOfColor.Quantity_TOC_sRGB)
        colours.SetColor(label, colour, XCAFDoc_ColorType.XCAFDoc_ColorGen)
        labels[product.name] = label
    return labels


def _add_group(document: TDocStd_Document, group: Group, labels: dict[str, TDF_Label]) -> TDF_Label:
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    home = _named(tool.NewShape(), group.name)
    for child in group.children:
        if isinstance(child, Group):
            label, place = _add_group(document, child, labels), TopLoc_Location()
        else:
            label, place = labels[child.name], build(child.node).Location()
        _named(tool.AddComponent(home, label, place), child.name)
    return home


def _written(
    document: TDocStd_Document, products: list[Product], shapes: dict[str, TopoDS_Shape]
) -> str:
    """The kernel's own text of a document, with bodies and faces named."""
    STEPControl_Controller.Init_s()
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    # Curves on surfaces double the file and every reader makes its own.
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(True)
    writer.SetNameMode(True)
    if not writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs):
        raise SolidError("the kernel cannot turn the assembly into STEP entities")
    finder = writer.ChangeWriter().WS().TransferWriter().FinderProcess()
    for product in products:
        shape = shapes[product.name]
        _name_entity(finder, shape, product.name)
        for face in product.faces:
            _name_entity(finder, face_at(shape, face), face.name)
    text = io.BytesIO()
    if writer.WriteStream(text) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise SolidError("the kernel cannot write the STEP text")
    return text.getvalue().decode("ascii")


def _name_entity(finder: Any, shape: TopoDS_Shape, name: str) -> None:
    entity = STEPConstruct.FindEntity_s(finder, shape)
    if entity is None:
        raise SolidError(f"{name} was not written")
    entity.SetName(TCollection_HAsciiString(name))
