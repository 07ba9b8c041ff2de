"""Whether a Dask scheduler answers at an address, found out within seconds and with nothing heavy.

The client of Dask itself may wait far longer than it is told to where something takes the
connection and then stays silent.
"""

from __future__ import annotations

import socket
import threading
import time
from urllib.parse import urlsplit

from reach.files.problem import InputError, Problem

ANSWER_WITHIN = 4.0
"""Seconds a scheduler has to answer."""
_AGAIN_AFTER = 0.3


def cluster_problem(message: str) -> InputError:
    """Return a problem of the option that names the scheduler, to be raised."""
    return InputError([Problem("command line", "--cluster", None, message)])


def no_answer(address: str, why: str) -> InputError:
    """Return the problem of a scheduler that does not answer."""
    return cluster_problem(
        f"no scheduler answers at {address!r} ({why}); start one with 'dask scheduler', or run "
        "without --cluster. What was done before is kept."
    )


def require_scheduler(address: str) -> None:
    """Return when a scheduler answers at ``address``.

    Parameters
    ----------
    address : str
        ``"host:port"``, ``"tcp://host:port"`` or ``"tls://host:port"``.

    Raises
    ------
    InputError
        If the address cannot be one, or nothing answers within `ANSWER_WITHIN`.
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
        try:
            with socket.create_connection((host, port), timeout=left) as connection:
                connection.settimeout(max(end - time.monotonic(), 0.1))
                # A scheduler speaks first, except where the connection is to be encrypted.
                if scheme == "tls" or connection.recv(1):
                    said.append("")
                    return
                why = "it closed the connection"
        except TimeoutError:
            why = f"it stayed silent for {ANSWER_WITHIN:.0f} s"
        except OSError as error:
            why = error.strerror or str(error)
        said.append(why)
        time.sleep(_AGAIN_AFTER)
