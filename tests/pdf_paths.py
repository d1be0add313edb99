"""What is drawn on the pages of a PDF, in mm on paper, read by pdfium."""

import ctypes
import math
from dataclasses import dataclass

import pypdfium2
import pypdfium2.raw as raw

MM = 25.4 / 72.0


@dataclass(frozen=True)
class Path:
    """One path: points of its flattened curves [mm], colour 0 to 255."""

    points: tuple
    colour: tuple

    @property
    def box(self):
        xs, ys = [p[0] for p in self.points], [p[1] for p in self.points]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def size(self):
        left, bottom, right, top = self.box
        return right - left, top - bottom


def opened(data):
    """The document."""
    return pypdfium2.PdfDocument(data)


def words(page):
    """All text of a page."""
    return page.get_textpage().get_text_range()


def paths(page):
    """Every path of a page, in the order it is drawn."""
    return [_path(item.raw) for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])]


def _path(item):
    matrix = raw.FS_MATRIX()
    raw.FPDFPageObj_GetMatrix(item, matrix)
    points, waiting = [], []
    for k in range(raw.FPDFPath_CountSegments(item)):
        segment = raw.FPDFPath_GetPathSegment(item, k)
        x, y = ctypes.c_float(), ctypes.c_float()
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        at = (
            MM * (matrix.a * x.value + matrix.c * y.value + matrix.e),
            MM * (matrix.b * x.value + matrix.d * y.value + matrix.f),
        )
        if raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_BEZIERTO:
            waiting.append(at)
            if len(waiting) == 3:
                points += [_bezier(points[-1], *waiting, t / 16) for t in range(1, 17)]
                waiting = []
        else:
            points.append(at)
    r, g, b, a = (ctypes.c_uint() for _ in range(4))
    raw.FPDFPageObj_GetStrokeColor(item, r, g, b, a)
    return Path(tuple(points), (r.value, g.value, b.value))


def _bezier(p, q, r, s, t):
    u = 1 - t
    weights = (u**3, 3 * u * u * t, 3 * u * t * t, t**3)
    return tuple(
        math.fsum(w * v[k] for w, v in zip(weights, (p, q, r, s), strict=True)) for k in (0, 1)
    )
