"""Arrow arrays as numpy's, read from their buffers: texts stay dictionary-encoded, so that each is looked at
once."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import InputError
from .blocks import numbers
from .packed import Packed

BLANK, ASCII = 32, 128  # bytes up to the one may be blanks, from the other on parts of other letters


def first_line(error: Exception) -> str:
    """What an error says, in one short line."""
    return (
        str(error).strip().splitlines()[0].rstrip(".")[:120] if str(error).strip() else type(error).__name__
    )


def text(value: object) -> str:
    """A cell as text, empty for a null."""
    return (
        ""
        if value is None
        else value.decode("utf-8", "replace").strip()
        if isinstance(value, bytes)
        else str(value).strip()
    )


def texts(array: Any) -> list[str]:
    """The texts of a dictionary, without the blanks around them."""
    import pyarrow as pa

    found: list[Any] = array.to_pylist()
    if pa.types.is_string(array.type) and not array.null_count:
        return [*map(str.strip, found)]
    return [*map(text, found)]


def is_text(kind: Any) -> bool:
    """Whether a type of Arrow's holds texts."""
    import pyarrow as pa

    return any(
        test(kind)
        for test in (
            pa.types.is_string,
            pa.types.is_large_string,
            pa.types.is_binary,
            pa.types.is_large_binary,
        )
    )


def is_number(kind: Any) -> bool:
    """Whether a type holds numbers, or texts that may be read as such."""
    import pyarrow as pa

    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    tests = (pa.types.is_floating, pa.types.is_integer, pa.types.is_decimal, pa.types.is_null)
    return is_text(kind) or any(test(kind) for test in tests)


def _plain(array: Any) -> np.ndarray:
    """A column of numbers without nulls; read from its buffer, because ``to_numpy`` imports pandas."""
    import pyarrow as pa

    kinds = {pa.float64(): np.float64, pa.float32(): np.float32, pa.int32(): np.int32, pa.int64(): np.int64}
    if array.type in kinds and not array.null_count and len(array):
        kind = np.dtype(kinds[array.type])
        return np.frombuffer(array.buffers()[1], kind, len(array), array.offset * kind.itemsize)
    found: np.ndarray = array.to_numpy(zero_copy_only=False)
    return found


def dictionary(array: Any) -> tuple[np.ndarray, Any]:
    """Places (-1 for null) and texts of a column, whatever its type."""
    import pyarrow as pa

    if not pa.types.is_dictionary(array.type):
        array = array.dictionary_encode()
    places = array.indices
    if places.null_count:
        places = places.fill_null(-1)  # comes with pyarrow.compute, which is slow to import
    return _plain(places), array.dictionary


def runs(array: Any) -> tuple[np.ndarray, Packed]:
    """First lines of equal neighbours, and the names there."""
    places, values = dictionary(array)
    starts = np.concatenate([[0], np.flatnonzero(places[1:] != places[:-1]) + 1])
    at = places[starts]
    packed = _packed(values) if at.min() >= 0 else None
    if packed is not None:
        packed = packed.picked(at)
        if not _ends_in_blanks(packed):
            return starts, packed
    known = [*texts(values), ""]  # a null is the last
    names = [known[place] for place in at.tolist()]
    new = [i for i, (name, before) in enumerate(zip(names, [None, *names])) if name != before]
    return starts[new], Packed.of([names[i] for i in new])


def _packed(values: Any) -> Packed | None:
    """A dictionary's texts, read from its buffers; ``None`` where these are of another make."""
    import pyarrow as pa

    kinds = {pa.string(): np.int32, pa.large_string(): np.int64}
    if values.type not in kinds or values.null_count or not len(values):
        return None
    kind = np.dtype(kinds[values.type])
    _, places, data = values.buffers()
    ends = np.frombuffer(places, kind, len(values) + 1, values.offset * kind.itemsize)
    return Packed(np.frombuffer(data, np.uint8) if data else np.zeros(0, np.uint8), ends[:-1], ends[1:])


def _ends_in_blanks(names: Packed) -> bool:
    """Whether one of the names begins or ends with a blank, or is empty."""
    if names.empty.any():
        return True
    ends = names.data[np.concatenate([names.start, names.stop - 1])]
    plain = bool(((ends > BLANK) & (ends < ASCII)).all())
    return not plain and any(name != name.strip() for name in names)


def figures(array: Any, empty: float) -> np.ndarray:
    """A column of numbers (or of numbers as text) as float64; ``empty`` for null."""
    import pyarrow as pa

    if pa.types.is_dictionary(array.type):
        array = array.dictionary_decode()
    if is_text(array.type):
        return numbers([text(value) for value in array.to_pylist()], empty)
    try:
        plain = array if pa.types.is_float64(array.type) else array.cast(pa.float64(), safe=False)
        values = _plain(plain)
    except pa.ArrowException as error:
        raise InputError(f"numbers of type {array.type} cannot be read ({first_line(error)})") from None
    if array.null_count:
        values = np.where(array.is_null().to_numpy(zero_copy_only=False), empty, values)
    return values
