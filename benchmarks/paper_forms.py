"""Time, size and exactness of every form of `outgrown paper`, beside a plain PDF page with the same cut lines.

Every file is read back with another library than the one that wrote it (PDFium, ezdxf's reader, an XML parser), and
every cut line's length compared with the pattern's.

    python benchmarks/paper_forms.py PATTERN ... [--runs 5]
"""

from __future__ import annotations

import io
import re
import statistics
import sys
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import click
import ezdxf
import numpy as np
from reportlab.pdfgen.canvas import Canvas

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "paper"))
from measuring import all_paths, cut_lengths_mm, run_mm
from reading import open_pdf

from outgrown import steps
from outgrown.drawer.opening import read_kept_pattern
from outgrown.paper.choices import Form
from outgrown.paper.correction import make_correction
from outgrown.paper.forms import Drawing
from outgrown.pieces.piece import Pattern

OFF = (1.008, 0.987)
CORRECTED = make_correction([100 * OFF[0]], [100 * OFF[1]])
JOBS = {
    **{f"tiles {paper}": Drawing(Form.TILES, paper=paper) for paper in ("a4", "letter", "a3", "tabloid")},
    "tiles a4 untrimmed": Drawing(Form.TILES, paper="a4", is_untrimmed=True),
    "tiles a4 corrected": Drawing(Form.TILES, paper="a4", orientation="portrait", correction=CORRECTED),
    "sheet a0": Drawing(Form.SHEET),
    "sheet a0 corrected": Drawing(Form.SHEET, correction=CORRECTED),
    "roll 914 mm": Drawing(Form.SHEET, roll_mm=914.0),
    "projector": Drawing(Form.PROJECTOR),
    "projector dark": Drawing(Form.PROJECTOR, is_dark=True),
    "svg": Drawing(Form.SVG),
    "dxf": Drawing(Form.DXF),
}


def draw_plain(pattern: Pattern) -> bytes:
    """Return one PDF page with the rings alone."""
    stream = io.BytesIO()
    canvas = Canvas(stream, invariant=1, pageCompression=1)
    for piece in pattern.pieces:
        path = canvas.beginPath()
        path.moveTo(*piece.cut_ring_mm[0])
        for x, y in piece.cut_ring_mm[1:]:
            path.lineTo(x, y)
        canvas.drawPath(path)
    canvas.save()
    return stream.getvalue()


def lengths_drawn_mm(form: Form, data: bytes, printer: tuple[float, float]) -> list[float]:
    """Return the lengths of all lines in a file as `printer` prints them."""
    if form is Form.SVG:
        found = []
        for element in ET.fromstring(data).iter("{http://www.w3.org/2000/svg}path"):
            text = element.get("d", "")
            points = np.array([float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]).reshape(-1, 2)
            found.append(run_mm(points, text.rstrip().endswith("Z")))
        return found
    if form is Form.DXF:
        document = ezdxf.read(io.StringIO(data.decode("cp1252")))
        return [
            run_mm([vertex.dxf.location.vec2 for vertex in line.vertices], line.is_closed)
            for block in document.blocks
            for line in block.query("POLYLINE")
        ]
    scale = np.array(printer)
    return [run_mm(path.points_mm * scale, path.is_closed) for path in all_paths(open_pdf(data))]


def time_ms(job: Callable[[], bytes], runs: int) -> float:
    """Return the median time of later runs [ms]."""
    job()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


def worst_mm(pattern: Pattern, drawing: Drawing, data: bytes) -> float:
    """Return by how much a cut line's length differs at most [mm]."""
    printer = OFF if drawing.correction is CORRECTED else (1.0, 1.0)
    drawn = np.array(lengths_drawn_mm(drawing.form, data, printer))
    # DXF keeps whole boundaries, with the fold.
    rings = [run_mm(piece.cut_ring_mm, True) for piece in pattern.pieces]
    wanted = rings if drawing.form is Form.DXF else cut_lengths_mm(pattern)
    return max(float(np.abs(drawn - length).min()) for length in wanted)


@click.command()
@click.argument("kept", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--runs", default=5, show_default=True)
def main(kept: tuple[Path, ...], runs: int) -> None:
    """Print a table for each pattern."""
    for place in kept:
        pattern = read_kept_pattern(place)
        plain = time_ms(lambda pattern=pattern: draw_plain(pattern), runs)
        print(f"{place.name}: plain page {plain:.1f} ms")
        for name, drawing in JOBS.items():
            data = steps.draw_paper(pattern, drawing)
            took = time_ms(lambda p=pattern, d=drawing: steps.draw_paper(p, d), runs)
            pages = len(open_pdf(data)) if data.startswith(b"%PDF") else 1
            print(
                f"  {name:20} {took:6.0f} ms {took / plain:6.1f} x  {len(data) / 1000:5.0f} kB  {pages:2} pages"
                f"  cut lines within {worst_mm(pattern, drawing, data):.4f} mm"
            )


if __name__ == "__main__":
    main()
