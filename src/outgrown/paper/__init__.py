"""Paper: sheets, tiles and their SVG and PDF forms; the check picture."""
