"""Work done by a few threads, its results in the order it was asked for."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

WORKERS = 2
"""Threads per stream: coding a picture gains little from more."""


def in_order(function: Callable[[Item], Result], items: Iterable[Item]) -> Iterator[Result]:
    """Give ``function(item)`` for each item, in order, worked out in threads.

    Only a handful of items are in the making at a time, so that memory stays
    bounded however many there are. ``items`` is drawn from in the caller's
    thread. A function that releases the interpreter lock runs beside it.
    """
    pending: deque[Future[Result]] = deque()
    with ThreadPoolExecutor(WORKERS) as pool:
        try:
            for item in items:
                pending.append(pool.submit(function, item))
                if len(pending) > 2 * WORKERS:
                    yield pending.popleft().result()
            while pending:
                yield pending.popleft().result()
        finally:
            for future in pending:
                future.cancel()
