"""What is slow to work out and depends on files alone is kept, sealed, in the person's cache folder.

A kept file holds parts by name: a checksum over its key and all that follows, each part's name and length as
JSON, then the parts, each beginning at a multiple of ``ALIGNED`` bytes so that an array can be read where it
lies. One that was cut short or changed is not believed and is worked out anew. Parts are bytes (of figures or
of JSON), so that reading one can run nothing.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

MOST_KEPT = 6  # files of one kind; a person's tables change, and each change makes a new one
ALIGNED = 64
SEAL = 64  # letters of the checksum


def cache_folder() -> Path:
    """Where things are kept: ``SUBSTITUTE_CACHE``, else the person's cache folder."""
    chosen = (
        os.environ.get("SUBSTITUTE_CACHE")
        or Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "substitute"
    )
    return Path(chosen)


def key_of(parts: Iterable[bytes], code: Iterable[Path] = ()) -> str:
    """A key over ``parts`` and the text of the ``code`` that makes the thing of them: a changed method
    meets no old cache."""
    digest = hashlib.sha256()
    for part in (*parts, *(path.read_bytes() for path in code)):
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.hexdigest()[:32]


Teller = Callable[[str], None]
_tellers: list[Teller] = []


def tell_with(teller: Teller) -> None:
    """Say who tells a person that they wait because something is worked out for the first time: ``teller`` is
    called with what it is, and with '' when that is done."""
    _tellers[:] = [teller]


@contextmanager
def first_time(what: str) -> Iterator[None]:
    """Tell that ``what`` takes its time, once."""
    for teller in _tellers:
        teller(what)
    try:
        yield
    finally:
        for teller in _tellers:
            teller("")


def recall_parts(kind: str, key: str) -> Mapping[str, memoryview] | None:
    """The parts kept under ``key``, by name; ``None`` if nothing was kept, or not as we left it."""
    try:
        data = memoryview(_path(kind, key).read_bytes())
        if bytes(data[:SEAL]) != _seal(key, data[SEAL:]):
            return None
        end = int(data[SEAL : SEAL + 8])
        lengths = json.loads(bytes(data[SEAL + 8 : end]))
    except (OSError, ValueError):
        return None
    with suppress(OSError):
        os.utime(_path(kind, key))  # what is asked for stays, however much else was kept since
    found = {}
    for name, length in lengths.items():
        start = _aligned(end)
        end = start + length
        found[name] = data[start:end]
    return found


def keep_parts(kind: str, key: str, parts: Mapping[str, bytes | memoryview]) -> None:
    """Keep ``parts`` under ``key``; where nothing can be written, nothing is kept."""
    head = json.dumps({name: len(part) for name, part in parts.items()}).encode()
    end = SEAL + 8 + len(head)
    pieces: list[bytes | memoryview] = [f"{end:08}".encode(), head]
    for part in parts.values():
        start = _aligned(end)
        pieces += [b"\0" * (start - end), part]
        end = start + len(part)
    body = memoryview(b"".join(pieces))
    path = _path(kind, key)
    temporary = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with temporary.open("wb") as file:
            file.write(_seal(key, body))
            file.write(body)
        os.replace(temporary, path)
    except OSError:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        return
    _clear(kind)


def recall(kind: str, key: str) -> Any:
    """The one thing kept under ``key`` by :func:`keep`; ``None`` if nothing was, or not as we left it."""
    parts = recall_parts(kind, key)
    return None if parts is None else of_json(parts[""])


def keep(kind: str, key: str, thing: Any) -> None:
    """Keep one ``thing`` (lists, dictionaries, texts, numbers) under ``key``."""
    keep_parts(kind, key, {"": as_json(thing)})


def as_json(thing: Any) -> bytes:
    """Lists, dictionaries, texts and numbers as a part."""
    return json.dumps(thing, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def of_json(part: memoryview) -> Any:
    """What :func:`as_json` made a part of."""
    return json.loads(bytes(part))


def _aligned(place: int) -> int:
    return -(-place // ALIGNED) * ALIGNED


def _path(kind: str, key: str) -> Path:
    return cache_folder() / f"{kind}-{key}.kept"


def _seal(key: str, body: memoryview) -> bytes:
    digest = hashlib.sha256(key.encode())
    digest.update(body)
    return digest.hexdigest().encode()


def _clear(kind: str) -> None:
    """Leave the few that were kept or asked for last."""
    with suppress(OSError):
        held = sorted(cache_folder().glob(f"{kind}-*"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in held[MOST_KEPT:]:
            path.unlink(missing_ok=True)
