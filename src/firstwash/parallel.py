"""Work shared between two threads: our kernels, and most of numpy and OpenCV, free the lock."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from typing import Any, TypeVar, cast

__all__ = ["in_parallel"]

Item = TypeVar("Item")
Result = TypeVar("Result")


def in_parallel(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Results of `work` over items, in order; what it raises is raised, and no more is begun.

    This thread and a second one take the next item each time they are free: handing every item
    to a pool costs as much as the smallest of them take.
    The second thread works in a copy of this one's context.
    """
    todo = list(items)
    if len(todo) < 2:
        return [work(item) for item in todo]
    out: list[Any] = [None] * len(todo)
    left = iter(range(len(todo)))  # next() of a range is one step of the interpreter

    def take() -> None:
        try:
            for i in left:
                out[i] = work(todo[i])
        except BaseException:
            for _ in left:  # nobody begins another
                pass
            raise

    with ThreadPoolExecutor(max_workers=1) as pool:
        other = pool.submit(copy_context().run, take)
        take()
        other.result()
    return cast(list[Result], out)
