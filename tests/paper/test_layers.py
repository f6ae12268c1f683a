"""Nested sizes as layers of a PDF (ISO 32000-1, 8.11), read back by PDFium, which honours them."""

import re
from dataclasses import replace

import numpy as np
import pytest
from pieces.test_growing import SIX_CM, kept
from reading import open_pdf, page_text, render_grey
from sample_patterns import make_pattern

from outgrown.paper.big_sheet import draw_sheet_pdf
from outgrown.paper.pages import draw_tiles_pdf
from outgrown.paper.projector import draw_projector_pdf
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.nesting import nest_patterns

SIZES = ["104 cm", "110 cm", "116 cm"]
FORMS = {"tiles": draw_tiles_pdf, "sheet": draw_sheet_pdf, "projector": draw_projector_pdf}


def nested_leg():
    base = kept()
    other = grow_pattern(base, replace(SIX_CM, height_now_mm=1160.0))
    return nest_patterns([base, grow_pattern(base, SIX_CM), other], SIZES)


@pytest.fixture(scope="module")
def nested():
    return nested_leg()


def shown_with(data, *off):
    """The file with layers switched off in its own configuration, as a viewer would do."""
    numbers = dict(zip(SIZES[::-1], re.findall(rb"/OCGs \[ (.*?) \]", data)[0].split(b" R"), strict=False))
    hidden = b" ".join(numbers[size].strip() + b" R" for size in off)
    changed = re.sub(rb"/Name \(Sizes\)", b"/Name (Sizes) /OFF [ " + hidden + b" ]", data)
    changed = re.sub(rb"/ON \[ .*? \]", b"/ON [ ]", changed) if off else changed
    return changed


@pytest.mark.parametrize("form", FORMS)
def test_a_file_lists_its_sizes_the_largest_first(nested, form):
    data = FORMS[form](nested)
    assert data.startswith(b"%PDF-1.5")
    names = re.findall(rb"/Name \((size: [^)]*)\) /Type /OCG", data)
    assert sorted(names) == sorted(f"size: {size}".encode() for size in SIZES)
    assert b"/OCProperties" in data and b"/UseOC" in data


def test_a_pattern_of_one_size_has_no_layers():
    data = draw_tiles_pdf(make_pattern())
    assert b"OCProperties" not in data and b"/UseOC" not in data


@pytest.mark.parametrize("form", FORMS)
def test_a_hidden_size_is_neither_shown_nor_anything_else_hidden(nested, form):
    data = FORMS[form](nested)
    number = 2 if form == "tiles" else 0

    def ink(*off):
        return (255 - render_grey(open_pdf(shown_with(data, *off))[number], 60).astype(int)).sum()

    whole, base = ink(), ink(*SIZES)
    each = [whole - ink(size) for size in SIZES]
    assert all(amount > 0 for amount in each)
    assert base > 0.2 * whole
    # Lines of sizes cross here and there, where one hides the other.
    assert sum(each) == pytest.approx(whole - base, rel=0.03)


def test_all_sizes_off_leaves_grain_stretch_label_and_scale(nested):
    recorded = draw_tiles_pdf(nested)
    bare = open_pdf(shown_with(recorded, *SIZES))
    assert render_grey(bare[2], 40).min() < 128
    assert not np.array_equal(render_grey(bare[2], 40), render_grey(open_pdf(recorded)[2], 40))


def test_same_pattern_gives_the_same_bytes(nested):
    assert draw_tiles_pdf(nested) == draw_tiles_pdf(nested_leg())


def test_paper_says_how_to_use_them(nested):
    assert "hide the sizes you do not need" in page_text(open_pdf(draw_tiles_pdf(nested))[0]).replace("\n", " ")
