"""Reads drawings back with other libraries than those that wrote them: pypdfium2 for PDF, ElementTree for SVG."""

import ctypes
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw

POINT_MM = 25.4 / 72  # one PDF point, ISO 32000-1, 8.3.2.3


@dataclass
class DrawnPath:
    """A path on a page [mm]."""

    points_mm: np.ndarray
    is_closed: bool
    width_mm: float
    has_curves: bool
    is_stroked: bool
    clip_mm: tuple | None

    def length_mm(self):
        points = np.vstack([self.points_mm, self.points_mm[:1]]) if self.is_closed else self.points_mm
        return float(np.hypot(*np.diff(points, axis=0).T).sum())

    def size_mm(self):
        return self.points_mm.max(axis=0) - self.points_mm.min(axis=0)


def open_pdf(data):
    return pdfium.PdfDocument(data)


def page_sizes_mm(document):
    return [tuple(np.array(page.get_size()) * POINT_MM) for page in document]


def page_text(page):
    return page.get_textpage().get_text_range().replace("\xa0", " ").replace("\r\n", "\n")


def page_paths(page):
    paths = []
    for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH], max_depth=1):
        matrix = item.get_matrix()
        points, closed, curves = [], False, False
        for index in range(raw.FPDFPath_CountSegments(item.raw)):
            segment = raw.FPDFPath_GetPathSegment(item.raw, index)
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            points.append(matrix.on_point(x.value, y.value))
            closed |= bool(raw.FPDFPathSegment_GetClose(segment))
            curves |= raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_BEZIERTO
        points = np.array(points) * POINT_MM
        if closed and len(points) > 1 and np.allclose(points[0], points[-1], atol=1e-6):
            points = points[:-1]
        width = ctypes.c_float()
        raw.FPDFPageObj_GetStrokeWidth(item.raw, width)
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        raw.FPDFPath_GetDrawMode(item.raw, fill, stroke)
        paths.append(DrawnPath(points, closed, width.value * POINT_MM, curves, bool(stroke.value), _clip_mm(item)))
    return paths


def _clip_mm(item):
    clip = raw.FPDFPageObj_GetClipPath(item.raw)
    if not clip or raw.FPDFClipPath_CountPaths(clip) < 1:
        return None
    points = []
    for index in range(raw.FPDFClipPath_CountPathSegments(clip, 0)):
        segment = raw.FPDFClipPath_GetPathSegment(clip, 0, index)
        x, y = ctypes.c_float(), ctypes.c_float()
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        points.append((x.value, y.value))
    points = np.array(points) * POINT_MM
    return (*points.min(axis=0), *points.max(axis=0))


def text_boxes_mm(page):
    """Left, bottom, right, top of each line of text."""
    items = page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=1)
    return [tuple(np.array(item.get_bounds()) * POINT_MM) for item in items]


def fonts_are_embedded(page):
    embedded = []
    for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=1):
        embedded.append(raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(item.raw)) == 1)
    return embedded


def render_grey(page, dpi=72):
    return np.asarray(page.render(scale=dpi / 72).to_pil().convert("L"))


def squares(paths, side_mm, within_mm=0.05):
    """The closed four-cornered paths whose four sides all measure `side_mm`."""
    found = []
    for path in paths:
        if path.is_closed and len(path.points_mm) == 4:
            sides = np.hypot(*(np.roll(path.points_mm, -1, axis=0) - path.points_mm).T)
            if np.abs(sides - side_mm).max() <= within_mm:
                found.append(path)
    return found


SVG = "{http://www.w3.org/2000/svg}"


def svg_groups(root, name):
    return [group for group in root.iter(f"{SVG}g") if group.get("data-name") == name]


def svg_path_points(element):
    """Points of a path of straight lines, in user units, and whether it is closed."""
    text = element.get("d")
    numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]
    return np.array(numbers).reshape(-1, 2), text.rstrip().endswith("Z")


def parse_svg(text):
    return ET.fromstring(text)
