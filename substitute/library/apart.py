"""A plan worked out in a process of its own, for callers that run other threads (the app).

Such a caller must not fork: a lock held by one of its threads would stay locked in the child. So a fresh
process is started, which has one thread, holds the same tables and may fork as the command line does
(:mod:`..shelf.parallel`). It tells how far it is, is asked to stop between two accords, and ends by itself
when nobody listens any more.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from ..errors import InputError, SubstituteError
from ..records import Accord
from ..shelf.parallel import LEAST_JOBS
from ..shown import Plain

if TYPE_CHECKING:
    from ..book.book import Book
    from ..records import Tables
    from . import Library

Progress = Callable[[int, int, str], None]
PATIENCE_S = 0.2  # between two looks whether the caller wants to stop
GRACE_S = 5.0  # that a process asked to stop may take

__all__ = ["plan_apart"]


class _Stop(Exception):
    """The caller asked to stop, or is gone."""


def plan_apart(
    library: Library, accords: Sequence[Accord], progress: Progress | None = None, **options: Any
) -> Plain:
    """:meth:`~substitute.Library.plan` in a process of its own, unless the accords are too few to be worth
    one: the same answer, as a record of its JSON.

    What ``progress(done, of, what)`` raises stops the work and is raised here; so is what was wrong with
    the question. Raises :class:`RuntimeError` where the process died.
    """
    if len(accords) < LEAST_JOBS:  # done before a process has begun
        return Plain("plan", library.plan(accords, progress=progress, **options).to_dict())
    context = multiprocessing.get_context("spawn")
    mine, its = context.Pipe()
    basis = library.on_file, library.evidence, library.book
    work = context.Process(target=_work, args=(its, basis, accords, options))
    work.start()
    its.close()
    try:
        return Plain("plan", _listen(mine, work, progress))
    finally:
        mine.close()  # whoever is still at work hears that nobody listens
        work.join(GRACE_S)
        if work.is_alive():
            work.terminate()


def _listen(mine: Connection, work: Any, progress: Progress | None) -> Mapping[str, Any]:
    done = 0, 0, "starting"
    while True:
        if progress is not None:
            progress(*done)
        if not mine.poll(PATIENCE_S):
            if not work.is_alive() and not mine.poll(0):
                raise RuntimeError(f"the process at work on the plan ended with {work.exitcode}")
            continue
        try:
            kind, told = mine.recv()
        except EOFError:
            raise RuntimeError("the process at work on the plan is gone") from None
        if kind == "done":
            answer: Mapping[str, Any] = told
            return answer
        if kind == "wrong":
            raise told
        done = told


def _work(
    its: Connection, basis: tuple[Tables, bool, Book | None], accords: Any, options: Mapping[str, Any]
) -> None:
    """The other process: answers, or hands back what was wrong with the question."""
    from . import Library

    def tell(done: int, of: int, what: str) -> None:
        try:
            its.send(("progress", (done, of, what)))
        except OSError:
            raise _Stop from None

    try:
        answer = Library(*basis).plan(accords, progress=tell, **options).to_dict()
        its.send(("done", answer))
    except SubstituteError as error:
        its.send(("wrong", InputError(str(error))))
    except (_Stop, BrokenPipeError):
        pass
