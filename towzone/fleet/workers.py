"""Where the work is done: on workers of Dask, on this machine or by the address of a scheduler."""

from __future__ import annotations

import contextlib
import itertools
import logging
import os
import re
import signal
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Protocol

from towzone.errors import TowzoneError, UsageError, quoted

__all__ = [
    "Dask",
    "Here",
    "Lost",
    "Workers",
    "default_memory",
    "local_workers",
    "remote_workers",
    "require_dask",
]

_IN_FLIGHT = 3
"""Own choice: tasks given out at once for each worker; enough that none waits."""
_SHARE_OF_MEMORY = 0.5
"""Own choice: of the memory of this machine, for all workers together where nothing is stated."""
_LEAST_BYTES = 512 << 20
_KEPT_BYTES = 32 << 20
"""Own choice: free memory that a worker keeps; the largest that the C library takes for its own threshold."""
_ADDRESS = re.compile(r"(?:[a-z]+://)?[^/\s]+:\d{1,5}/?")
"""Of a scheduler; a client of anything else is left half made, and complains when it is thrown away."""
_CLOSING_S = 10
"""Own choice: workers that have not ended by then end with this process."""


_SETTINGS: dict[str, Any] = {
    "distributed.scheduler.allowed-failures": 1,
    "distributed.worker.memory.spill": False,
    "distributed.worker.memory.target": False,
    "distributed.admin.log-format": "%(message)s",
    # No pages for anyone: what is said of the work is said on the terminal.
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
    # Workers load what they need before they say that they are ready, all at the same time.
    "distributed.worker.preload": ["towzone.fleet.warming"],
    # Nothing is looked at that nobody sees: on two cores it takes a twentieth of the time of the work.
    "distributed.diagnostics.nvml": False,
    "distributed.worker.profile.enabled": False,
    "distributed.admin.tick.interval": "1s",
    "distributed.admin.tick.limit": "1h",
    "distributed.admin.system-monitor.interval": "30s",
    "distributed.admin.system-monitor.disk": False,
    "distributed.admin.system-monitor.gil.enabled": False,
    "distributed.client.scheduler-info-interval": "30s",
    "distributed.scheduler.active-memory-manager.start": False,
}
"""For workers of our own, beside the defaults of Dask."""


class Lost(TowzoneError):
    """A worker died over a task, again and again: as a rule of too little memory."""


class Workers(Protocol):
    """Something that does the same with many items, in any order."""

    count: int

    def each(
        self, function: Callable[..., Any], items: Iterable[tuple[Any, ...]]
    ) -> Iterator[tuple[tuple[Any, ...], Any]]:
        """Yield each item, as arguments, with what the function returned or raised, as they are done."""
        ...


class Here:
    """Works through the items in this process; for tests, and to tell our faults from those of Dask."""

    count = 1

    def each(
        self, function: Callable[..., Any], items: Iterable[tuple[Any, ...]]
    ) -> Iterator[tuple[tuple[Any, ...], Any]]:
        """Yield each item with what the function returned or raised."""
        for item in items:
            try:
                result = function(*item)
            except Exception as error:  # noqa: BLE001  handed on, as from a worker
                result = error
            yield item, result


class Dask:
    """Workers of a Dask cluster; only so many tasks are given out at once as keep them busy."""

    def __init__(self, client: Any, count: int) -> None:
        self._client, self.count = client, count

    def each(
        self, function: Callable[..., Any], items: Iterable[tuple[Any, ...]]
    ) -> Iterator[tuple[tuple[Any, ...], Any]]:
        """Yield each item with what the function returned or raised, as they are done."""
        from distributed import as_completed
        from distributed.scheduler import KilledWorker

        waiting = iter(items)
        given: dict[Any, tuple[Any, ...]] = {}
        done: Any = as_completed(loop=self._client.loop)  # type: ignore[no-untyped-call]

        def give(some: Iterable[tuple[Any, ...]]) -> None:
            for item in some:
                future = self._client.submit(function, *item, pure=False)
                given[future] = item
                done.add(future)

        give(itertools.islice(waiting, _IN_FLIGHT * self.count))
        while given:
            future = next(done)
            item = given.pop(future)
            error = future.exception()
            if isinstance(error, KilledWorker):
                error = Lost("the worker died, again and again; as a rule of too little memory (--memory)")
            give(itertools.islice(waiting, 1))
            yield item, future.result() if error is None else error


def default_memory(workers: int) -> int:
    """Return how much memory each of some workers on this machine may take: half of it in all, in bytes."""
    total = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    return max(int(total * _SHARE_OF_MEMORY / workers), _LEAST_BYTES)


def require_dask() -> Any:
    """Return the library of workers.

    Raises
    ------
    UsageError
        It is not installed.
    """
    try:
        import distributed
        import pyarrow  # noqa: F401  told here, before any work is done
    except ImportError as error:
        message = (
            f"towzone fleet needs dask, distributed and pyarrow ({error}); install them with"
            " pip install 'towzone[fleet]'"
        )
        raise UsageError(message) from error
    return distributed


@contextlib.contextmanager
def local_workers(count: int, memory_bytes: int, folder: Path) -> Iterator[Dask]:
    """Start workers on this machine, processes of one thread each, heard on the loopback only.

    Parameters
    ----------
    count : int
    memory_bytes : int
        Of each; one that takes more is ended, and its task given to another.
    folder : Path
        For files of Dask itself.

    Raises
    ------
    UsageError
        Dask is not installed.
    """
    distributed = require_dask()
    import dask

    settings = dict(_SETTINGS)
    # Columns come and go by the thousand: memory given back to the system at once is asked for again at once.
    kept = {"MALLOC_TRIM_THRESHOLD_": str(_KEPT_BYTES), "MALLOC_MMAP_THRESHOLD_": str(_KEPT_BYTES)}
    spawn = {**dask.config.get("distributed.nanny.pre-spawn-environ"), **kept}
    settings["distributed.nanny.pre-spawn-environ"] = spawn
    with dask.config.set(settings), contextlib.ExitStack() as stack:
        # Ctrl+C is for this process, which ends its workers; a mask is handed down to them.
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            cluster = distributed.LocalCluster(
                n_workers=count,
                threads_per_worker=1,
                processes=True,
                memory_limit=memory_bytes,
                host="127.0.0.1",
                dashboard_address="127.0.0.1:0",
                worker_dashboard_address="127.0.0.1:0",
                local_directory=str(folder),
                silence_logs=logging.CRITICAL,
                security=_sealed(),
            )
            stack.callback(_ended, cluster)
            client = distributed.Client(cluster, set_as_default=False)
            stack.callback(_closed, client)
        finally:
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
        yield Dask(client, count)


def _ended(cluster: Any) -> None:
    """Close a cluster of our own; its workers hold nothing that is not on the disk, and need not tidy up."""

    async def end() -> None:
        for nanny in cluster.workers.values():
            nanny.close_gracefully()  # whose worker then is not to be started again
            if nanny.pid is not None:
                os.kill(nanny.pid, signal.SIGKILL)

    with contextlib.suppress(TimeoutError, OSError):
        cluster.sync(end)
    _closed(cluster)


def _closed(some: Any) -> None:
    """Close a cluster or its client; on a busy machine that may take too long, and all is done anyway."""
    with contextlib.suppress(TimeoutError, OSError):
        some.close(timeout=_CLOSING_S)


def _sealed() -> Any:
    """Return keys for this run alone, so that no other user of the machine can give work to its workers."""
    from distributed.security import Security

    try:
        return Security.temporary()  # type: ignore[no-untyped-call]
    except ImportError:
        return None  # without cryptography whoever is on this machine has to be trusted


@contextlib.contextmanager
def remote_workers(address: str, seen: Callable[[], str]) -> Iterator[Dask]:
    """Use the workers of a scheduler that runs already.

    Parameters
    ----------
    address : str
        Such as ``tcp://10.0.0.7:8786``.
    seen : callable
        Run on every worker; returns what is wrong there, or nothing.

    Raises
    ------
    UsageError
        No scheduler answers, it has no workers, or one of these does not see the files.
    """
    distributed = require_dask()
    if _ADDRESS.fullmatch(address) is None:
        message = f"--scheduler {quoted(address)}: is no address; write for example tcp://10.0.0.7:8786"
        raise UsageError(message)
    try:
        client = distributed.Client(address, timeout="10s", set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        message = f"--scheduler {address}: no Dask scheduler answers there ({error})"
        raise UsageError(message) from error
    try:
        count = len(client.scheduler_info(n_workers=-1)["workers"])
        if not count:
            message = f"--scheduler {address}: it has no workers; start some with: dask worker {address}"
            raise UsageError(message)
        for worker, problem in sorted(_answers(client, seen).items()):
            if problem:
                message = f"--scheduler {address}: the worker {worker} {problem}"
                raise UsageError(message)
        yield Dask(client, count)
    finally:
        _closed(client)


def _answers(client: Any, seen: Callable[[], str]) -> dict[str, str]:
    return {
        worker: "cannot run towzone: " + str(found) if isinstance(found, BaseException) else found
        for worker, found in client.run(seen, on_error="return").items()
    }
