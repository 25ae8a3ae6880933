"""Threads that work side by side: how many are of use, and that no library starts its own within each of them."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

from refarchive.encoders.base import cores

MOST = 8  # more hold many pictures at once, and wait for the disk and for one another


@contextmanager
def workers(name: str, most: int = MOST) -> Iterator[ThreadPoolExecutor]:
    """As many threads as there are cores, two at least and `most` at most, none of which is split up further.

    Libraries that spread one piece of work over all cores would, in each of several threads, mostly wait for one
    another. The setting for matrix products holds for the whole process, and is put back at the end.
    """
    from threadpoolctl import threadpool_limits

    def alone() -> None:
        threadpool_limits(limits=1, user_api="openmp")  # of the thread that asks for it, as OpenMP has it

    with (
        threadpool_limits(limits=1, user_api="blas"),
        ThreadPoolExecutor(min(most, max(2, cores())), thread_name_prefix=name, initializer=alone) as pool,
    ):
        yield pool
