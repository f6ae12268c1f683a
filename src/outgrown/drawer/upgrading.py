"""Upgrading: a pattern document of an older schema made one of the newest, step by step, before it is read.

Every schema ever written stays readable: a change of the schema adds one step here and one kept file to
tests/drawer/kept.
"""

import copy
from collections.abc import Callable
from typing import Any

NEWEST = 2
"""The schema written now.

1: the first. 2: a mock cuff is a finish of its own, `mock-cuff`; before, it was a `hem` like any other.
"""


def upgrade_document(document: dict[str, Any], version: int) -> dict[str, Any]:
    """Return a document of schema `version` as one of `NEWEST`; the one given stays as it is."""
    if version == NEWEST:
        return document
    document = copy.deepcopy(document)
    for step in range(version, NEWEST):
        _STEPS[step](document)
    return document


def _from_1_to_2(document: dict[str, Any]) -> None:
    """Tell mock cuffs from hems. Their cut line stays as it was drawn."""
    if document["choices"].get("hem") != "mock-cuff":
        return
    for piece in document["pieces"]:
        for edge in piece["edges"]:
            if edge["finish"] == "hem":
                edge["finish"] = "mock-cuff"
        for line in piece["inner_lines"]:
            if line["name"] == "turn the hem up here":
                line["name"] = "finished end"


_STEPS: dict[int, Callable[[dict[str, Any]], None]] = {1: _from_1_to_2}
