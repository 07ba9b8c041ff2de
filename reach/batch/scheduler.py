"""A Dask scheduler that is connected to within seconds, or the reason why it is not.

The client of Dask itself waits without end for something that takes the connection and stays
silent, and takes whatever is said first for the length of a message.
"""

from __future__ import annotations

import logging
import queue
import socket
import sys
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from reach.files.problem import InputError, Problem

CONNECT_WITHIN = 8.0
"""Seconds from the start of connecting until tasks can be sent."""
ANSWER_WITHIN = 4.0
"""Seconds of them that a scheduler has to say its first bytes."""
_CLIENT_AT_LEAST = 2.0
"""Seconds for the client where loading Dask took nearly all of them."""
_LOST_AFTER = 6.0
"""Seconds in which the client connects again to a scheduler that was lost."""
_AGAIN_AFTER = 0.3
_LENGTH = 8
"""Bytes that a scheduler says first: the length of its greeting."""
_LONGEST = 1 << 20
"""Bytes no greeting has; any text, read as a length, is far more."""
_QUOTED = 40
_EXTRA = "pip install 'worksite-reach[cluster]'"


@dataclass(frozen=True, slots=True)
class Connected:
    """A scheduler that takes tasks.

    Attributes
    ----------
    address : str
        As it was given.
    client : distributed.Client
    """

    address: str
    client: Any


def cluster_problem(message: str) -> InputError:
    """Return a problem of the option that names the scheduler, to be raised."""
    return InputError([Problem("command line", "--cluster", None, message)])


def no_answer(address: str, why: str) -> InputError:
    """Return the problem of a scheduler that does not answer."""
    return cluster_problem(
        f"no scheduler answers at {address!r} ({why}); start one with 'dask scheduler', or run "
        "without --cluster. What was done before is kept."
    )


@contextmanager
def connected(address: str) -> Iterator[Connected]:
    """Give the scheduler at ``address``; it is left when the block ends.

    Parameters
    ----------
    address : str
        ``"host:port"``, ``"tcp://host:port"`` or ``"tls://host:port"``.

    Raises
    ------
    InputError
        If the address cannot be one, Dask is not installed, or no scheduler is there
        `CONNECT_WITHIN` seconds after the start: nothing, or something else.
    """
    end = time.monotonic() + CONNECT_WITHIN
    require_scheduler(address)
    client = _client(address, end)
    try:
        yield Connected(address, client)
    finally:
        _close(client)


def require_scheduler(address: str) -> None:
    """Return when something says what a scheduler says first at ``address``.

    It needs nothing heavy.  A scheduler behind ``tls://`` does not speak first: there only the
    connection is tried.

    Parameters
    ----------
    address : str
        As for `connected`.

    Raises
    ------
    InputError
        If the address cannot be one, or there is no such answer within `ANSWER_WITHIN`.
    """
    scheme, host, port = _parts(address)
    said: list[str] = []
    # Looking up a name may block for long and cannot be told not to: a thread is left behind.
    asking = threading.Thread(target=_ask, args=(scheme, host, port, said), daemon=True)
    asking.start()
    asking.join(ANSWER_WITHIN + _AGAIN_AFTER)
    why = said[-1] if said else f"nothing within {ANSWER_WITHIN:.0f} s"
    if why:
        raise no_answer(address, why)


def _parts(address: str) -> tuple[str, str, int]:
    parts = urlsplit(address if "://" in address else f"tcp://{address}")
    try:
        port = parts.port
    except ValueError:
        port = None
    if parts.scheme not in ("tcp", "tls") or not parts.hostname or port is None:
        raise cluster_problem(f"needs host:port, such as 'localhost:8786', found {address!r}")
    return parts.scheme, parts.hostname, port


def _ask(scheme: str, host: str, port: int, said: list[str]) -> None:
    """Append why there is no answer, the last time; an empty text when there is one."""
    end = time.monotonic() + ANSWER_WITHIN
    while (left := end - time.monotonic()) > 0.0:
        heard = b""
        try:
            with socket.create_connection((host, port), timeout=left) as connection:
                heard = b"" if scheme == "tls" else _heard(connection, end)
            if scheme == "tls" or heard:
                said.append(_taken(heard))
                return
            why = "it closed the connection"
        except TimeoutError:
            why = f"it stayed silent for {ANSWER_WITHIN:.0f} s"
        except OSError as error:
            why = error.strerror or str(error)
        said.append(why)
        time.sleep(_AGAIN_AFTER)


def _heard(connection: socket.socket, end: float) -> bytes:
    """Return what is said first, at least as long as a length unless there is no more of it.

    Raises
    ------
    OSError
        If nothing at all was said; TimeoutError when that took until ``end``.
    """
    heard = b""
    while len(heard) < _LENGTH:
        connection.settimeout(max(end - time.monotonic(), 0.1))
        try:
            more = connection.recv(_QUOTED - len(heard))
        except OSError:
            if heard:
                break
            raise
        if not more:
            break
        heard += more
    return heard


def _taken(heard: bytes) -> str:
    """Return why what was heard cannot be a scheduler's; an empty text when it can."""
    length = int.from_bytes(heard[:_LENGTH], sys.byteorder)
    if not heard or (len(heard) >= _LENGTH and length < _LONGEST):
        return ""
    return f"something answers, but not as a scheduler: it says {ascii(heard)[1:]}"


def _client(address: str, end: float) -> Any:
    """Return a client that is connected, made in a thread of its own since it may never be."""
    try:
        import distributed
    except ImportError:
        raise cluster_problem(f"needs the package distributed: {_EXTRA}") from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    found: queue.SimpleQueue[Any] = queue.SimpleQueue()
    given_up = threading.Event()
    making = threading.Thread(target=_make, args=(address, found, given_up), daemon=True)
    left = max(end - time.monotonic(), _CLIENT_AT_LEAST)
    making.start()
    try:
        client = found.get(timeout=left)
    except queue.Empty:
        given_up.set()
        why = f"something answers, but not as a scheduler within {CONNECT_WITHIN:.0f} s"
        raise no_answer(address, why) from None
    if isinstance(client, distributed.Client):
        return client
    raise no_answer(address, f"something answers, but not as a scheduler: {client}")


def _make(address: str, found: queue.SimpleQueue[Any], given_up: threading.Event) -> None:
    """Put a connected client, or in words why there is none."""
    from distributed import Client

    class Quiet(Client):
        """Does not wait for its loop when thrown away half-made: that takes long, and fails."""

        def __del__(self) -> None:
            pass

    try:
        client = Quiet(address, timeout=_LOST_AFTER, set_as_default=False, direct_to_workers=False)
    except Exception as error:  # whatever is said there may fail anywhere in Dask
        said = str(error).splitlines()
        found.put(said[0] if said else type(error).__name__)
        return
    if given_up.is_set():
        _close(client)
    else:
        found.put(client)


def _close(client: Any) -> None:
    with warnings.catch_warnings(), suppress(Exception):
        warnings.simplefilter("ignore")
        client.close(timeout=2.0)
