"""Threads counted while a job runs: a library that fails on one of its threads ends the process of whoever asked."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest


def more_threads_during(job: Callable[[], object]) -> int:
    """Return how many threads more there are at the most while a job runs."""
    tasks = Path("/proc/self/task")
    if not tasks.exists():
        pytest.skip("threads cannot be counted here")
    most = threads = len(list(tasks.iterdir()))
    done = threading.Event()

    def watch() -> None:
        nonlocal most
        while not done.wait(0.005):
            most = max(most, len(list(tasks.iterdir())) - 1)

    watcher = threading.Thread(target=watch)
    watcher.start()
    job()
    done.set()
    watcher.join()
    return most - threads
