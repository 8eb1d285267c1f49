"""Workers on other machines, by a scheduler of Dask distributed (extra `[many]`): the only file that knows it.

It gives futures of the standard library, as the processes of this machine do. Off this machine the way there is
encrypted (TLS); certificates are named by Dask's own settings, `distributed.comm.tls`.
"""

import ipaddress
import logging
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from typing import Any, Self
from urllib.parse import urlsplit

from renovation.farms.engine import SchedulerLost

PATIENCE = 10
"""Seconds in which a scheduler has to answer."""


class NotEncrypted(ValueError):  # noqa: N818 - an event that the commands word
    """The address leads off this machine without TLS."""


class NoScheduler(ConnectionError):  # noqa: N818 - an event that the commands word
    """Nobody answers at the address, or not in the way that is asked."""


class NoWorkers(NoScheduler):
    """The scheduler has no workers."""


class Machines:
    """The workers of a scheduler, wherever they are.

    Errors: NotEncrypted, NoScheduler, NoWorkers; ImportError where the extra `[many]` is not installed.
    """

    def __init__(self, address: str) -> None:
        """address: such as `tls://scheduler.example:8786`, or `tcp://127.0.0.1:8786` on this machine."""
        check_encrypted(address)
        logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what is lost is told by the commands
        from distributed import Client, KilledWorker

        self._killed = KilledWorker
        try:
            self._client = Client(address, timeout=PATIENCE, set_as_default=False)
        except (OSError, TypeError, ValueError, RuntimeError) as error:
            raise NoScheduler(str(error)) from None
        self.workers = sum(worker["nthreads"] for worker in self._told())
        if not self.workers:
            self._client.close(PATIENCE)
            raise NoWorkers(address)
        self._executor = self._client.get_executor(pure=False)

    def _told(self) -> list[dict[str, Any]]:
        return list(self._client.scheduler_info(n_workers=-1)["workers"].values())

    def __enter__(self) -> Self:
        """The crew."""
        return self

    def __exit__(self, *_: object) -> None:
        """Left, what is not begun called off."""
        if self._client.status == "running":
            self._client.close(PATIENCE)

    def submit(self, call: Callable[..., Any], *args: Any) -> "Future[Any]":
        """Have a call done."""
        try:
            future: Future[Any] = self._executor.submit(call, *args)
        except (OSError, RuntimeError) as error:
            raise SchedulerLost(str(error)) from None
        return future

    def renew(self) -> bool:
        """Nothing to do: the scheduler keeps the others at work, and takes in who comes."""
        return False

    def lost(self, error: BaseException) -> bool:
        """Whether a worker was lost each time; where all is called off, it was the scheduler that was lost."""
        if isinstance(error, CancelledError):
            raise SchedulerLost(str(error)) from None
        return isinstance(error, self._killed)

    def check(self) -> None:
        """Whoever has left the scheduler hears no answer, not even that all is called off."""
        if self._client.status in ("closing", "closed"):
            raise SchedulerLost(self._client.status)


def check_encrypted(address: str) -> None:
    """NotEncrypted unless the address asks for TLS or stays on this machine.

    Example:
        >>> check_encrypted("tcp://127.0.0.1:8786"), check_encrypted("tls://10.0.0.2:8786")
        (None, None)
    """
    where = urlsplit(address if "://" in address else f"tcp://{address}")
    if where.scheme == "tls" or where.hostname == "localhost":
        return
    try:
        stays = ipaddress.ip_address(where.hostname or "").is_loopback
    except ValueError:
        stays = False
    if not stays:
        raise NotEncrypted(address)
