"""Written STEP bytes read back: text by its own grammar, shapes by the kernel's reader."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Shape
from OCP.XCAFApp import XCAFApp_Application
from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool

from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.exports.step import assembly_path
from geomgen.geometry.frames import Plane, Vec
from geomgen.proofs._step_grammar import fault
from geomgen.solids.find import middle, outward_plane
from geomgen.solids.measure import area, bounds, faces_of, surface_kind
from geomgen.solids.part21 import Exchange, Part21Error, parse, refuse_rings
from geomgen.solids.quiet import hush


class Unreadable(Exception):
    """A file that is missing, or that no reader can make sense of."""


@dataclass(frozen=True)
class ReadFace:
    """A flat face that has a name, in its product's own frame.

    Attributes:
        name: as written.
        plane: its plane, normal out of the solid.
        middle: its centre of area [mm].
        size: its extents along the axes [mm].
        area: [mm2].
    """

    name: str
    plane: Plane
    middle: Vec
    size: Vec
    area: float = 0.0


@dataclass(frozen=True)
class ReadPart:
    """One occurrence of a product.

    Attributes:
        branch: names of the groups that it lies in, from the root.
        name: of the occurrence.
        product: name of the product.
        colour: sRGB, 0 to 1; None when it has none.
        shape: where it occurs.
        faces: named faces.
    """

    branch: tuple[str, ...]
    name: str
    product: str
    colour: tuple[float, float, float] | None
    shape: TopoDS_Shape
    faces: tuple[ReadFace, ...]


@dataclass(frozen=True)
class ReadStep:
    """What a STEP file says."""

    exchange: Exchange
    parts: tuple[ReadPart, ...]

    def part(self, name: str) -> ReadPart:
        """The occurrence of a name.

        Raises:
            Unreadable: none, or several.
        """
        found = [part for part in self.parts if part.name == name]
        if len(found) != 1:
            raise Unreadable(f"the file holds {len(found)} parts named {name}")
        return found[0]


def read(files: Mapping[str, bytes], path: str) -> ReadStep:
    """One of the written files, read back.

    Raises:
        Unreadable: it is missing, or cannot be read.
    """
    if path not in files:
        raise Unreadable(f"{path} was not written")
    try:
        return _read(files[path])
    except Unreadable as error:
        raise Unreadable(f"{path}: {error}") from None


def proven(
    name: str, prove: Callable[[ReadStep], list[Finding]], files: Mapping[str, bytes], path: str
) -> tuple[Finding, ...]:
    """Findings of a proof on one file; a file that cannot be read is one finding."""
    try:
        return tuple(prove(read(files, path)))
    except Unreadable as error:
        return (unreadable(name, path, error),)
    except Exception as error:
        # The kernel's failures have no base but this: geometry that it will not compute with.
        return (unreadable(name, path, Unreadable(f"{path}: {type(error).__name__}")),)


def unreadable(name: str, path: str, error: Unreadable) -> Finding:
    """Finding on a file that cannot be read."""
    return Finding(
        name,
        path,
        Verdict.FAIL,
        str(error),
        remedy="do not use this file; build again, and report it if it comes back",
        source="proof",
    )


def on_assembly(
    name: str,
    prove: Callable[[ReadStep], list[Finding]],
    design: Design,
    files: Mapping[str, bytes],
) -> tuple[Finding, ...]:
    """Findings of a proof on the assembly's file."""
    return proven(name, prove, files, assembly_path(design))


@lru_cache(maxsize=64)
def text_of(data: bytes) -> Exchange:
    """Statements of a written file.

    Raises:
        Unreadable: they are not ISO 10303-21 clear text.
    """
    try:
        exchange = parse(data.decode("ascii"))
        refuse_rings(exchange)
    except (UnicodeDecodeError, Part21Error) as error:
        raise Unreadable(str(error)) from None
    return exchange


@lru_cache(maxsize=8)
def _read(data: bytes) -> ReadStep:
    # The kernel's reader may crash on text that is no STEP: the grammar is tried first.
    exchange = text_of(data)
    wrong = fault(exchange)
    if wrong:
        raise Unreadable(wrong)
    hush()
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    try:
        status = reader.ReadStream("written.step", io.BytesIO(data))
        if status != IFSelect_ReturnStatus.IFSelect_RetDone or not reader.Transfer(document):
            raise Unreadable("the kernel's reader refuses it")
    except Unreadable:
        raise
    except Exception as error:
        # The kernel's failures have no base but this.
        raise Unreadable(f"the kernel's reader stops: {type(error).__name__}") from None
    parts: list[ReadPart] = []
    walk = _Walk(document, reader.ChangeReader().WS().TransferReader(), parts)
    free = TDF_LabelSequence()
    walk.shapes.GetFreeShapes(free)
    for label in free:
        walk.visit(label, label, TopLoc_Location(), ())
    if not parts:
        raise Unreadable("it holds no part")
    return ReadStep(exchange, tuple(parts))


@dataclass(frozen=True)
class _Walk:
    """A walk over a document's tree."""

    document: TDocStd_Document
    transfer: Any
    parts: list[ReadPart]

    @property
    def shapes(self) -> Any:
        return XCAFDoc_DocumentTool.ShapeTool_s(self.document.Main())

    def visit(
        self,
        occurrence: TDF_Label,
        label: TDF_Label,
        place: TopLoc_Location,
        branch: tuple[str, ...],
    ) -> None:
        """Take up what is at or below a label."""
        if self.shapes.IsReference_s(label):
            target = TDF_Label()
            self.shapes.GetReferredShape_s(label, target)
            here = place.Multiplied(self.shapes.GetLocation_s(label))
            self.visit(label, target, here, branch)
        elif self.shapes.IsAssembly_s(label):
            children = TDF_LabelSequence()
            self.shapes.GetComponents_s(label, children)
            for child in children:
                self.visit(child, child, place, (*branch, _name(label)))
        else:
            shape = self.shapes.GetShape_s(label)
            self.parts.append(
                ReadPart(
                    branch,
                    _name(occurrence),
                    _name(label),
                    _colour(label),
                    shape.Located(place.Multiplied(shape.Location())),
                    self._named_faces(shape),
                )
            )

    def _named_faces(self, shape: TopoDS_Shape) -> tuple[ReadFace, ...]:
        found = []
        for face in faces_of(shape):
            if surface_kind(face) != "plane":
                continue
            entity = self.transfer.EntityFromShapeResult(face, 1)
            name = entity.Name() if entity is not None else None
            if name is not None and name.ToCString():
                found.append(
                    ReadFace(
                        name.ToCString(),
                        outward_plane(face),
                        middle(face),
                        bounds(face).size,
                        area(face),
                    )
                )
        return tuple(found)


def _name(label: TDF_Label) -> str:
    attribute = TDataStd_Name()
    if not label.FindAttribute(TDataStd_Name.GetID_s(), attribute):
        return ""
    return str(attribute.Get().ToExtString())


def _colour(label: TDF_Label) -> tuple[float, float, float] | None:
    colour = Quantity_Color()
    tool = XCAFDoc_DocumentTool.ColorTool_s(label)
    for kind in (XCAFDoc_ColorType.XCAFDoc_ColorGen, XCAFDoc_ColorType.XCAFDoc_ColorSurf):
        if tool.GetColor_s(label, kind, colour):
            r, g, b = colour.Values(Quantity_TypeOfColor.Quantity_TOC_sRGB)
            return (float(r), float(g), float(b))
    return None
