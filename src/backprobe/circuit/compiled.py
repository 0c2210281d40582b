"""Loops over hypotheses as machine code, compiled on first use and kept on disk (numba)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias, TypeVar, cast

from numba import njit
from numba.core import cgutils, types
from numba.extending import intrinsic
from numpy.typing import NDArray

F = TypeVar("F", bound=Callable[..., object])
Compiler: TypeAlias = Any
"""What the compiler hands over, which has no types."""
parts: Compiler = cgutils


LOOSELY = {"reassoc", "contract", "nsz"}


def compiled(function: F) -> F:
    """The function as machine code. It divides as numpy does: by zero to infinity, not an error.

    Kept beside the source or in the user's cache; where neither can be written, compiled again in
    every process. What is kept goes by the function's own file: see `scripts/stale_kernels.py`.
    """
    return _made(function, fastmath=False)


def inner(function: F) -> F:
    """The same, for what only compiled functions call and makes no arrays: without the way in from
    Python, a fifth of the time it takes to compile one that is given dozens of arrays, and without
    counting who uses them."""
    return _made(function, fastmath=False, nrt=False, way_in=False)


def piece(function: F) -> F:
    """inner(), a piece of what calls it (within() says why)."""
    return _made(function, fastmath=False, nrt=False, way_in=False, forced=True)


def making(function: F) -> F:
    """The same for what makes arrays."""
    return _made(function, fastmath=False, way_in=False)


def loosely(function: F) -> F:
    """The same, with sums added up in any order, for a function that makes no arrays: none are
    counted as in use, a sixth of the time of the loops over pairs."""
    return _made(function, fastmath=LOOSELY, nrt=False)


def within(function: F) -> F:
    """The same, a piece of what calls it: handing over dozens of arrays takes longer than what it does."""
    return _made(function, fastmath=LOOSELY, nrt=False, forced=True)


def for_numbers(function: F) -> F:
    """The same, where nothing is ever nan."""
    return _made(function, fastmath=LOOSELY | {"nnan"}, nrt=False)


def _made(
    function: F,
    fastmath: set[str] | bool,
    nrt: bool = True,
    way_in: bool = True,
    forced: bool = False,
) -> F:
    how: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": fastmath}
    how |= {} if nrt else {"_nrt": False}
    how |= {"forceinline": True} if forced else {}
    how |= {} if way_in else {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    try:
        made = njit(cache=True, **how)(function)
    except RuntimeError:  # no folder to keep it in
        made = njit(**how)(function)
    return cast("F", made)


def _soon(_: Compiler, array: Compiler, row: Compiler, column: Compiler) -> Compiler:
    del row, column

    def written(context: Compiler, builder: Compiler, _: Compiler, given: Compiler) -> Compiler:
        found = context.make_array(array)(context, builder, given[0])
        at = parts.get_item_pointer(context, builder, array, found, given[1:])
        byte, number = parts.voidptr_t, parts.int32_t
        says = parts.ir.FunctionType(parts.ir.VoidType(), [byte, number, number, number])
        fetch = parts.get_or_insert_function(builder.module, says, "llvm.prefetch.p0i8")
        told = [number(0), number(3), number(1)]  # to read, into every cache, data
        builder.call(fetch, [builder.bitcast(at, byte), *told])
        return context.get_dummy_value()

    return types.void(array, types.intp, types.intp), written


soon = cast("Callable[[NDArray[Any], int, int], None]", intrinsic(_soon))
"""Have a number of an array fetched, by row and column: it is wanted soon, and nothing waits for it."""
