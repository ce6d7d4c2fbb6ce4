"""Scans opened one ahead of whoever works on them."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from colormatch.job.tiles import Opened, look_at
from colormatch.model import Progress


@contextmanager
def looking_ahead(
    paths: Sequence[Path], progress: Progress, scratch: Path | None = None
) -> Iterator[Iterator[Callable[[], Opened]]]:
    """Open the next scan while this one is worked on: reading waits for the disk.

    Gives, scan by scan, a function that hands it over or raises what went
    wrong. Scans that nobody asked for are closed at the end.
    """
    waiting: deque[Future[Opened]] = deque()
    with ThreadPoolExecutor(1) as pool:

        def start(number: int) -> None:
            if number < len(paths):
                told = _part(progress, number, len(paths))
                waiting.append(pool.submit(look_at, paths[number], told, scratch))

        def each() -> Iterator[Callable[[], Opened]]:
            for number in range(len(paths)):
                start(number + 1)
                yield waiting.popleft().result

        start(0)
        try:
            yield each()
        finally:
            for look in waiting:
                if not look.cancel() and look.exception() is None:
                    look.result().scan.close()


def _part(progress: Progress, number: int, count: int) -> Progress:
    def told(label: str, done: float) -> None:
        progress(label, (number + done) / count)

    return told
