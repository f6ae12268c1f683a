"""Names: how long what a person calls a garment, and whom it is for, may be."""

LONGEST_NAME = 200
"""Characters. One limit for terminal, page and drawer: what one takes the others keep whole."""
