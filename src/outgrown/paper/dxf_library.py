"""The DXF library, loaded without its search through all fonts of the machine.

On being imported it would read every font it finds, which can take seconds, and keep the list in the person's home.
Nothing here measures letters with it, so it is shown an empty list instead. A list of another version than it wants
would be made anew, in a folder that is thrown away.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_PLACE = "XDG_CACHE_HOME"
_NO_FONTS = '{"version": 2, "font-faces": []}'


@contextmanager
def _without_fonts() -> Iterator[None]:
    was = os.environ.get(_PLACE)
    with tempfile.TemporaryDirectory(prefix="outgrown-") as folder:
        cache = Path(folder) / "ezdxf" / "font_manager_cache.json"
        cache.parent.mkdir()
        cache.write_text(_NO_FONTS, encoding="utf-8")
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

__all__ = ["ezdxf"]
