"""The kernels' decorator, with types: compiled once, kept on disk, without the lock."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

__all__ = ["kernel"]

Function = TypeVar("Function", bound=Callable[..., Any])


def kernel(function: Function) -> Function:
    """The function, compiled at its first call for the types it is called with."""
    return cast(Function, njit(cache=True, nogil=True)(function))
