"""Threads that keep the order and the memory."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest

from colormatch.files.parallel import in_order


def test_results_come_in_order() -> None:
    def slow_first(number: int) -> int:
        time.sleep(0.01 if number % 3 == 0 else 0)
        return number * number

    assert list(in_order(slow_first, range(20))) == [n * n for n in range(20)]


def test_two_run_at_once() -> None:
    both = threading.Barrier(2, timeout=10)
    assert list(in_order(lambda _: both.wait() >= 0, range(2))) == [True, True]


def test_few_items_are_drawn_ahead() -> None:
    drawn = 0

    def items() -> Iterator[int]:
        nonlocal drawn
        while drawn < 100:
            drawn += 1
            yield drawn

    results = in_order(lambda item: item, items())
    assert next(results) == 1
    assert drawn <= 6
    results.close()  # type: ignore[attr-defined]


def test_failure_reaches_the_caller() -> None:
    def fail(number: int) -> int:
        raise ValueError(number)

    with pytest.raises(ValueError, match="7"):
        list(in_order(fail, [7]))


def test_failure_of_the_giver_reaches_the_caller() -> None:
    def items() -> Iterator[int]:
        yield 1
        raise KeyError("gone")

    with pytest.raises(KeyError, match="gone"):
        list(in_order(str, items()))
