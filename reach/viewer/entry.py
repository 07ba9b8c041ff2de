"""What a browser is given first: the page's frame, which says that the picture is being drawn."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from aiohttp import web

ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" '
    'fill="#2a2440"/><path d="M5 27 Q9 9 25 8" fill="none" stroke="#fbfaf7" stroke-width="3.4"/>'
    '<circle cx="25" cy="8" r="4.2" fill="#f0a202"/></svg>'
)
"""The icon of the page: an arm that reaches a fastener."""

FRAME = """<!doctype html>
<html lang="en" data-app-name="reach" data-launcher-retry="[]">
<head>
<base href=".">
<meta charset="UTF-8">
<meta name="viewport" content="width=device-width,initial-scale=1">
<title>reach</title>
<link rel="icon" type="image/svg+xml" href="icon.svg">
<style>
body { margin: 0; background: #fbfaf7; color: #1b1a2b; font: 15px/1.5 "DejaVu Sans", system-ui, sans-serif; }
.early { position: absolute; inset: 0; display: grid; place-content: center; }
</style>
<!--LIBRARY-->
</head>
<body>
<noscript>This page needs JavaScript.</noscript>
<div id="app"><p class="early" role="status">Drawing …</p></div>
</body>
</html>
"""  # noqa: E501

ENDED = (
    '<div role="alert" style="position: absolute; inset: 0; display: grid; place-content: center; '
    'text-align: center; color: #1b1a2b"><p><b>reach has stopped, or cannot be reached.</b></p>'
    "<p>What was exported is kept. Start <code>reach view</code> again and open the new "
    "address.</p></div>"
)
"""What stands in place of the page when its server is gone."""

_NEEDED = re.compile(r"<script[^>]*\ssrc=[^>]*></script>|<link rel=\"stylesheet\"[^>]*>")


@cache
def frame() -> str:
    """Return the page's frame with what the library has loaded in its own."""
    from trame_client.module import vue3

    theirs = Path(vue3.www, "index.html").read_text(encoding="utf-8")
    return FRAME.replace("<!--LIBRARY-->", "\n".join(_NEEDED.findall(theirs)))


def entry_address(host: str) -> str:
    """Return where a browser goes with its token put away.

    The address of the socket stands in it: without it the library's client asks first for
    one by a request that is refused, and stands in the console as an error.
    """
    return f"/index.html?sessionURL=ws://{host}/ws"


def entry(request: web.Request) -> web.Response | None:
    """Return our own answer to a request; None where the library has the file."""
    if request.path == "/icon.svg":
        return web.Response(text=ICON, content_type="image/svg+xml")
    if request.path in ("/", "/index.html"):
        if "sessionURL" not in request.query:
            return web.HTTPFound(entry_address(request.headers["Host"]))
        return web.Response(text=frame(), content_type="text/html")
    return None
