"""Arrays that come in and go out."""

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handslide.ground.errors import BadData

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Bools: TypeAlias = NDArray[np.bool_]


def fixed(values: Any, kind: Any = np.float64) -> NDArray[Any]:
    """An array that can't be written to."""
    array = np.array(values, kind)
    array.flags.writeable = False
    return array


def known(values: Sequence[float | None]) -> Floats:
    """Numbers as an array, with NaN for None."""
    return fixed([np.nan if value is None else value for value in values])


def column(name: str, values: ArrayLike, count: int, kind: Any = np.float64) -> NDArray[Any]:
    """``values`` as an array (count,), one for all or one each.

    Raises BadData for another shape, for what isn't a number and for NaN.
    """
    try:
        array = np.asarray(values, kind)
    except (TypeError, ValueError):
        raise BadData("api.not_numbers", name=name) from None
    if array.shape not in ((), (count,)):
        raise BadData("api.shape", name=name, shape=str(array.shape), wanted=f"({count},)")
    finite(name, array)
    return np.array(np.broadcast_to(array, (count,)))


def finite(name: str, values: NDArray[Any]) -> None:
    """Raise BadData where a number is NaN or infinite."""
    wrong = np.flatnonzero(~np.isfinite(values))
    if len(wrong):
        where = f"{name}[{int(wrong[0])}]" if values.ndim else name
        raise BadData("api.not_finite", where=where)
