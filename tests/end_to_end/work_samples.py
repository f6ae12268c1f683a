"""Work for other processes, in a module that they can load."""

import os
import signal
import time

from outgrown.errors import PhotoError


def work(job, progress):
    what, *words = job
    progress(f"doing {what}", 0.5)
    if what == "double":
        return 2 * words[0]
    if what == "sleep":
        time.sleep(words[0])
    if what == "refuse":
        raise PhotoError("This was seen.", "Do that.")
    if what == "fault":
        raise KeyError("a fault of ours")
    if what == "memory":
        raise MemoryError
    if what == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    if what == "exit":
        os._exit(7)
    if what == "threads":
        import cv2

        return os.environ["OPENBLAS_NUM_THREADS"], cv2.getNumThreads(), signal.getsignal(signal.SIGINT)
    if what == "large":
        return b"x" * words[0]
    return os.getpid()
