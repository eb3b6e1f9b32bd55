"""A folder of files that belong together: several written as one, by one writer at a time.

Every file is written beside its place first, so that a full disk changes nothing. A list of what goes
where is then put down in one step, and only after that the files move; whoever opens the folder next
finishes a move that was cut short. So a reader never finds one file of before beside one of after for
longer than the moves take, and nothing is lost by a cut at any point.
"""

from __future__ import annotations

import datetime as dt
import os
import socket
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from ..errors import InputError
from .writing import umask

LOCK, PENDING = ".lock", ".pending"
PATIENCE = 3.0  # seconds that a second writer waits


def write_together(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write text files (name inside ``folder`` -> text) all or none.

    Raises
    :class:`~substitute.errors.InputError`; then nothing changed.
    """
    made: dict[str, str] = {}
    try:
        for name, text in files.items():
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            made[name] = _write_beside(target, text)
        if len(made) == 1:
            [(name, temporary)] = made.items()
            os.replace(temporary, folder / name)
            return
        lines = "".join(  # whole paths may be absolute
            f"{(Path(name).parent / Path(temporary).name).as_posix()}\t{name}\n"
            for name, temporary in made.items()
        )
        os.replace(_write_beside(folder / PENDING, lines), folder / PENDING)
    except OSError as error:
        for temporary in made.values():
            with suppress(OSError):
                os.unlink(temporary)
        raise InputError(
            f"{folder}: cannot be written ({error.strerror or error}); nothing was changed"
        ) from None
    finish(folder)


def finish(folder: Path) -> None:
    """Finish a move of files that was cut short; nothing to do in any other folder."""
    pending = folder / PENDING
    try:
        lines = pending.read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return
    try:
        for line in lines:
            temporary, _, name = line.partition("\t")
            if (folder / temporary).exists():
                os.replace(folder / temporary, folder / name)
        pending.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(
            f"{folder}: a change that was cut short cannot be finished "
            f"({error.strerror or error}); nothing is lost, try again"
        ) from None


def _write_beside(target: Path, text: str | bytes) -> str:
    handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8") if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o666 & ~umask())
    except OSError:
        with suppress(OSError):
            os.unlink(temporary)
        raise
    return temporary


@contextmanager
def one_writer(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Hold the folder's lock while the block runs; raises :class:`~substitute.errors.InputError` if
    someone else keeps it."""
    lock = folder / LOCK
    end = time.monotonic() + patience
    mine = f"{os.getpid()} {socket.gethostname()} {dt.datetime.now():%Y-%m-%d %H:%M}"
    while not _take(lock, mine):
        held = _text(lock)
        if _left_behind(held):
            _clear(lock, held)
            continue
        if time.monotonic() > end:
            process, _, rest = held.partition(" ")
            machine, _, since = rest.partition(" ")
            raise InputError(
                f"{folder}: someone else is writing here (process {process or '?'} on {machine or '?'}, "
                f"since {since or '?'}); "
                f"nothing was changed. Try again; if nobody is, delete {lock}"
            )
        time.sleep(0.05)
    try:
        finish(folder)
        yield
    finally:
        with suppress(OSError):
            lock.unlink()


def _take(lock: Path, mine: str) -> bool:
    try:
        handle = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666)
    except FileExistsError:
        return False
    except OSError as error:
        raise InputError(f"{lock.parent}: cannot be written ({error.strerror or error})") from None
    with suppress(OSError), os.fdopen(handle, "wb") as file:  # on a full disk an empty lock still holds
        file.write(mine.encode("utf-8"))
    return True


def _text(lock: Path) -> str:
    try:
        return lock.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""


def _left_behind(held: str) -> bool:
    """Whether the writer was a process of this machine that is gone."""
    process, _, rest = held.partition(" ")
    if not process.isdigit() or rest.partition(" ")[0] != socket.gethostname():
        return False
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def _clear(lock: Path, held: str) -> None:
    """Take a lock away that was left behind, unless another writer has just done so and put up its
    own."""
    aside = lock.with_name(f"{lock.name}.{os.getpid()}")
    with suppress(OSError):
        os.rename(lock, aside)
        if _text(aside) != held:
            os.rename(aside, lock)
        else:
            aside.unlink()
