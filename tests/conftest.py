"""As the command line does: one thread for the many small products of matrices, which is faster."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
