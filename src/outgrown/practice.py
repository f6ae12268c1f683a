"""Defaults of the trade: settable, and each marked as common practice without a source."""

from .standards import Sourced

_COMMON = "common practice, no source"

OVERLOCKED_SEAM_MM = Sourced(6.0, "mm", _COMMON + " (1/4 in)")
SEWING_MACHINE_SEAM_MM = Sourced(10.0, "mm", _COMMON)
CASING_ROOM_MM = Sourced(6.0, "mm", _COMMON + "; casing = elastic width + this")
CASING_SEWN_MM = Sourced(3.0, "mm", _COMMON + "; a casing is sewn so far from its raw edge")
PLAIN_HEM_MM = Sourced(25.0, "mm", _COMMON)
MOCK_CUFF_HEM_MM = Sourced(38.0, "mm", _COMMON + " (1 1/2 in), overlocked")
MOCK_CUFF_TURNED_MM = Sourced(13.0, "mm", _COMMON + " (1/2 in), the part turned inside")
ELASTIC_WIDTH_MM = Sourced(20.0, "mm", _COMMON + "; 15 to 25 mm for a child")
ELASTIC_SHARE_OF_WAIST = Sourced(0.93, "share", _COMMON + "; 0.90 to 0.95")
ELASTIC_OVERLAP_MM = Sourced(20.0, "mm", _COMMON + "; 12 to 25 mm")
THIGH_BELOW_CROTCH_MM = Sourced(25.0, "mm", _COMMON + " (1 in), one of several in use")
GARMENT_THICKNESS_MM = Sourced(2.0, "mm", _COMMON + "; two to four layers of jersey pressed flat")
RAW_EDGE_MM = Sourced(0.0, "mm", _COMMON + "; a raw or finished edge gets nothing")
FOLDED_BAND_HEIGHT_MM = Sourced(
    60.0, "mm", _COMMON + "; finished height of a folded waistband, child to adult 50 to 100"
)
FOLDED_BAND_SHORTER_MM = Sourced(25.0, "mm", _COMMON + " (1 in) less than the body's waist, snug")
RIB_CUFF_HEIGHT_MM = Sourced(50.0, "mm", _COMMON + "; finished height, child's 40 to 60 mm")
RIB_CUFF_SHARE = Sourced(0.85, "share", _COMMON + "; of the leg's girth at the cuff, 0.80 to 0.90")
SHARE_UP_TO_MM = Sourced(6.0, "mm", _COMMON + "; joining seams that differ by less are made equal, each giving half")
SEAT_ABOVE_CROTCH_MM = Sourced(60.0, "mm", _COMMON + "; where the seat is measured on children's trousers, adults 80")
FRONT_FORK_SHARE = Sourced(
    1 / 16,
    "of the seat's girth",
    "front fork of a trouser draft: Aldrich, Metric Pattern Cutting, from memory, not read",
)
BACK_FORK_SHARE = Sourced(1 / 8, "of the seat's girth", _COMMON + "; back fork twice the front's")
BACK_HIGHER_SHARE = Sourced(1 / 40, "of the seat's girth", _COMMON + "; the waist's centre back above the centre front")
RIM_SHARE = Sourced(
    0.75,
    "share of the thickness",
    _COMMON + "; a folded edge is round and seen at half its height, a hem or a cut edge at its upper face",
)
HIP_ABOVE_CROTCH_MM = Sourced(
    60.0, "mm", "how the trade inspects children's trousers: straight across, 6 cm above the crotch"
)
HIP_BELOW_WAIST_MM = Sourced(150.0, "mm", _COMMON + "; where a skirt is as wide as the hip, child 110 to adult 200")
FULL_LENGTH_SHARE = Sourced(0.85, "share of the leg", _COMMON + "; a shorter garment grows by its share of the leg")
SHORT_LENGTH_SHARE = Sourced(0.75, "share of the leg", _COMMON + "; from here on growth goes over to the whole leg's")
HEM_ABOVE_FLOOR_MM = Sourced(
    35.0, "mm", "published inseams of 92 and 98 cm tall children against the 1977 survey's legs: 3 to 4 cm shorter"
)
SELVEDGE_MM = Sourced(15.0, "mm", _COMMON + "; woven or glued edge that is not cut into, 10 to 20 mm")
LAY_GAP_MM = Sourced(3.0, "mm", _COMMON + "; between pieces that are each cut along their own line")
LEFTOVER_MARGIN_MM = Sourced(3.0, "mm", _COMMON + "; kept from a leftover's edge, which is seldom cut clean")
SOLD_BY_MM = Sourced(100.0, "mm", _COMMON + "; cloth sold by the metre is cut to whole 10 cm")
SOLD_BY_INCH = Sourced(4.5, "inch", _COMMON + "; cloth sold by the yard is cut to eighths of a yard")
