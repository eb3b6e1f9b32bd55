"""Many accords adjusted at once, each in a process of its own where that is possible.

The work is copied into the children by fork, so nothing is sent to them but numbers, and the answers come
back in the order asked. A process that runs other threads (the app) is never forked: a lock held by one
of them would stay locked in the child. There, and where the machine has one core or knows no fork, the
work is done one after another, with the same answers.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Job = TypeVar("Job")
Result = TypeVar("Result")
MOST_WORKERS = 8
LEAST_JOBS = 6  # fewer are done before a second process has begun

_work: list[Callable[[int], object]] = []  # set before forking, read by the children


def workers_for(jobs: int) -> int:
    """How many processes ``jobs`` are worth: 1 where forking is not safe or not known."""
    can = "fork" in multiprocessing.get_all_start_methods() and threading.active_count() == 1
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    inside = multiprocessing.current_process().daemon
    return min(cores, MOST_WORKERS, jobs) if can and not inside and jobs >= LEAST_JOBS else 1


def each(
    work: Callable[[Job], Result], jobs: Sequence[Job], *, workers: int | None = None
) -> Iterator[Result]:
    """``work`` of each of ``jobs``, in their order; a fault of one is raised when its turn comes."""
    number = workers_for(len(jobs)) if workers is None else workers
    if number <= 1:
        yield from map(work, jobs)
        return
    _work.append(lambda place: work(jobs[place]))
    try:
        with multiprocessing.get_context("fork").Pool(number) as pool:
            yield from pool.imap(_one, range(len(jobs)))
    finally:
        _work.pop()


def _one(place: int) -> object:
    return _work[-1](place)
