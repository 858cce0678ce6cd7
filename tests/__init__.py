"""The tests. Whatever they start has linear algebra on one thread, as the program's own readers
have: threads that wait for each other in loops cost a third more processor time."""

import os

# Before numpy is loaded, which reads them once; see `pairing.photos.worker`.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
