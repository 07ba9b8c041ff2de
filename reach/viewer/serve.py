"""Starts the page on this computer alone, prints its address, and ends it cleanly."""

from __future__ import annotations

import asyncio
import logging
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from aiohttp.http_exceptions import HttpProcessingError

from reach.viewer.answers import Inputs
from reach.viewer.desk import Desk
from reach.viewer.guard import HOST, MOST_BYTES, guard, new_token
from reach.viewer.workshop import Workshop

GRACE = 2.0
"""So long open windows may take to say farewell after Ctrl-C, s."""


def serve(
    inputs: Inputs, *, out: Path, port: int, is_opened: bool, say: Callable[[str], None]
) -> None:
    """Show the page until it is interrupted.

    Parameters
    ----------
    inputs : Inputs
    out : Path
        Folder for what is exported; made when something is.
    port : int
        0 for a free one.
    is_opened : bool
        Whether to open the address in the user's browser.
    say : callable
        Told each line for the user.

    Raises
    ------
    OSError
        If the port is taken.
    RuntimeError
        If there is no off-screen renderer.
    """
    port = port or _free_port()
    _refuse_taken(port)
    names = (inputs.scene_name, inputs.procedure_name, inputs.other_name)
    # One for what is waited for at each change; another, when it is wanted, for long work.
    shops = (Workshop(names), Workshop(names))
    shops[0].start()
    try:
        asyncio.run(_shown(inputs, shops, out, port, is_opened, say))
    except KeyboardInterrupt:
        pass
    finally:
        for shop in shops:
            shop.close()
    say("Stopped.")


async def _shown(
    inputs: Inputs,
    shops: tuple[Workshop, Workshop],
    out: Path,
    port: int,
    is_opened: bool,
    say: Callable[[str], None],
) -> None:
    # The server reads the command line of the process: it is not meant for it.
    sys.argv = sys.argv[:1]
    os.environ["WSLINK_READY_MSG"] = ""
    os.environ["TRAME_WS_MAX_MSG_SIZE"] = str(MOST_BYTES)
    from reach.viewer.page import Page

    token = new_token()
    page = Page(Desk(inputs), shops, out)
    server = page.server
    page.scenery.delivery.encoded(100)  # shaders and fonts are made before anybody waits for them

    @server.controller.add("on_server_bind")
    def _bound(backend: Any) -> None:
        backend.app.middlewares.insert(0, guard(token, lambda: port))

    @server.controller.add("on_server_ready")
    def _ready(**_: Any) -> None:
        shops[0].listen()
        page.begin(asyncio.get_running_loop())
        address = f"http://{HOST}:{port}/?token={token}"
        say(f"Open {address}")
        say("It answers this computer only. Ctrl-C stops it.")
        if is_opened:
            webbrowser.open(address)

    _log_no_closed_windows()
    start = server.start(
        port=port, host=HOST, exec_mode="task", open_browser=False, show_connection_info=False,
        disable_logging=True, timeout=0, thread=True,
    )  # fmt: skip
    task = asyncio.ensure_future(start)
    try:
        await asyncio.wait({task})
        task.result()
    except asyncio.CancelledError:
        _end_at_last(shops, say)
        stopping = asyncio.ensure_future(server.stop())
        await asyncio.wait({stopping, task}, timeout=GRACE)
        raise
    finally:
        page.scenery.view.close()


def _end_at_last(shops: tuple[Workshop, Workshop], say: Callable[[str], None]) -> None:
    """End the process, whatever still hangs on, a while after it was asked to stop.

    A window that is open keeps its connection, and a thread may be in the middle of a search.
    Nothing is lost: what is exported is written whole or not at all.
    """

    def end() -> None:
        for shop in shops:
            shop.kill()
        say("Stopped.")
        os._exit(0)

    last = threading.Timer(2.0 * GRACE, end)
    last.daemon = True
    last.start()


class ClosedWindows(logging.Filter):
    """Leaves out of a log what others did, and are answered for, and nobody here can mend.

    A browser's window was closed while an answer was on its way; what came was no request.
    """

    def filter(self, record: logging.LogRecord) -> bool:
        """Return whether a record is to be logged."""
        error = record.exc_info[1] if record.exc_info else None
        said = record.getMessage()
        # The server says "Exception raised", then which, then from where, in three records.
        theirs = (ConnectionResetError, HttpProcessingError)
        is_it = isinstance(error, theirs) or "ConnectionResetError" in said
        return not is_it and said != "Exception raised"


def _log_no_closed_windows() -> None:
    logging.getLogger("wslink").setLevel(logging.ERROR)
    for name in ("wslink.protocol", "aiohttp.server", "asyncio"):
        logging.getLogger(name).addFilter(ClosedWindows())


def _free_port() -> int:
    with socket.socket() as one:
        one.bind((HOST, 0))
        return int(one.getsockname()[1])


def _refuse_taken(port: int) -> None:
    with socket.socket() as one:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((HOST, port))
        except OSError as error:
            message = f"port {port} is not to be had ({error.strerror}); --port 0 takes a free one"
            raise OSError(message) from None
