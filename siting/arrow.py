"""Arrow columns as NumPy arrays and back, sharing their memory.

Arrow's own conversions load pandas, which costs a fifth of a second that a screening does not need.
"""

from typing import Any

import numpy as np

_TYPES = {
    "double": np.float64, "float": np.float32, "int8": np.int8, "int16": np.int16, "int32": np.int32, "int64": np.int64,
    "uint8": np.uint8, "uint16": np.uint16, "uint32": np.uint32, "uint64": np.uint64,
}  # fmt: skip


def values(column: Any) -> np.ndarray:
    """A column of numbers or flags (n,); where it holds nothing the value is whatever stands there (see `there`)."""
    import pyarrow as pa

    kind = str(column.type)
    if kind == "bool":
        bits = np.frombuffer(column.buffers()[1], dtype=np.uint8)
        return np.unpackbits(bits, bitorder="little")[column.offset : column.offset + len(column)].astype(bool)
    if kind not in _TYPES:
        return np.asarray(column.cast(pa.float64()).to_numpy(zero_copy_only=False))
    dtype = np.dtype(_TYPES[kind])
    if not len(column):
        return np.zeros(0, dtype)
    return np.frombuffer(column.buffers()[1], dtype, len(column), column.offset * dtype.itemsize)


def there(column: Any) -> np.ndarray:
    """In which rows (n,) a column holds something."""
    held = column.buffers()[0]
    if column.null_count == 0 or held is None:
        return np.ones(len(column), dtype=bool)
    bits = np.unpackbits(np.frombuffer(held, dtype=np.uint8), bitorder="little")
    return bits[column.offset : column.offset + len(column)].astype(bool)


def floats(column: Any) -> np.ndarray:
    """A column of numbers as floats (n,), nan where it holds nothing."""
    numbers = values(column).astype(float)
    if column.null_count:
        numbers[~there(column)] = np.nan
    return numbers


def column(numbers: np.ndarray, missing: np.ndarray | None = None) -> Any:
    """An Arrow column of an array (n,); nothing where `missing` (n,)."""
    import pyarrow as pa

    numbers = np.ascontiguousarray(numbers)
    kind = {"float64": pa.float64(), "int64": pa.int64(), "int32": pa.int32()}[str(numbers.dtype)]
    valid = None
    if missing is not None and missing.any():
        valid = pa.py_buffer(np.packbits(~missing, bitorder="little"))
    return pa.Array.from_buffers(kind, len(numbers), [valid, pa.py_buffer(numbers)])
