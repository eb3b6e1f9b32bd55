"""What is slow to work out and depends on files alone is kept as sealed JSON in the person's cache
folder.

A kept file begins with a checksum over its key and contents: one that was cut short or changed is not
believed and is worked out anew. JSON holds figures and texts only, so that reading one can run nothing.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

MOST_KEPT = 6  # files of one kind; a person's tables change, and each change makes a new one


def cache_folder() -> Path:
    """Where things are kept: ``SUBSTITUTE_CACHE``, else the person's cache folder."""
    chosen = (
        os.environ.get("SUBSTITUTE_CACHE")
        or Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "substitute"
    )
    return Path(chosen)


def key_of(parts: Iterable[bytes], code: Iterable[Path]) -> str:
    """A key over ``parts`` and the text of the ``code`` that makes the thing of them: a changed method
    meets no old cache."""
    digest = hashlib.sha256()
    for part in (*parts, *(path.read_bytes() for path in code)):
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.hexdigest()[:32]


def recall(kind: str, key: str) -> Any:
    """What was kept under ``key``; ``None`` if nothing was, or not as we left it."""
    try:
        data = _path(kind, key).read_bytes()
        seal, _, body = data.partition(b"\n")
        if seal != _seal(key, body):
            return None
        return json.loads(body)
    except (OSError, ValueError):
        return None


def keep(kind: str, key: str, thing: Any) -> None:
    """Keep ``thing`` (lists, dictionaries, texts, numbers) under ``key``; where nothing can be written,
    nothing is kept."""
    body = json.dumps(thing, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    path = _path(kind, key)
    temporary = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        temporary.write_bytes(_seal(key, body) + b"\n" + body)
        os.replace(temporary, path)
    except OSError:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        return
    _clear(kind)


def _path(kind: str, key: str) -> Path:
    return cache_folder() / f"{kind}-{key}.json"


def _seal(key: str, body: bytes) -> bytes:
    return hashlib.sha256(key.encode() + body).hexdigest().encode()


def _clear(kind: str) -> None:
    """Leave the newest few."""
    with suppress(OSError):
        held = sorted(
            cache_folder().glob(f"{kind}-*.json"), key=lambda path: path.stat().st_mtime, reverse=True
        )
        for path in held[MOST_KEPT:]:
            path.unlink(missing_ok=True)
