"""The DXF library, loaded without its search through all fonts of the machine.

When it first writes a file it reads every font it finds, which can take seconds, and keeps the list in the person's home. Nothing
here measures letters with it, so it is shown an empty list instead.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_PLACE = "XDG_CACHE_HOME"


@contextmanager
def _without_fonts() -> Iterator[None]:
    was = os.environ.get(_PLACE)
    with tempfile.TemporaryDirectory(prefix="outgrown-") as folder:
        cache = Path(folder) / "ezdxf" / "font_manager_cache.json"
        cache.parent.mkdir()
        cache.write_text('{"version": 0, "font-faces": []}', encoding="utf-8")
        os.environ[_PLACE] = folder
        try:
            yield
        finally:
            if was is None:
                del os.environ[_PLACE]
            else:
                os.environ[_PLACE] = was


with _without_fonts():
    import ezdxf
    import ezdxf.fonts.fonts  # would otherwise be loaded later, and look for them then

__all__ = ["ezdxf"]
