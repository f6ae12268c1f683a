"""As the command line does: one thread for the many small products of matrices, which is faster.

Property tests draw the same examples in every run, so that a run that passes passes again. To look for others:
`pytest --hypothesis-profile default`.
"""

import os

from hypothesis import settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
if "PYTEST_XDIST_WORKER" in os.environ:
    # Several processes share the cores already.
    os.environ.setdefault("OPENCV_FOR_THREADS_NUM", "1")
settings.register_profile("fixed", derandomize=True)
settings.load_profile("fixed")
