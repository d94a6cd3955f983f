"""Answers for people: the pages and the command line."""

import os

# The arrays here are small. A dot product over 10,000 numbers takes 7 us on one core, and up to
# 8 ms where OpenBLAS shares it with a second core that is busy. Read when numpy is imported first,
# and by the processes that this one starts.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
