"""The screen of whoever looks on, in a browser: textual-serve, for one page and a few readers.

Each browser has a process of its own that looks on at the bench and is told nothing by it but keys
of that page. Only pages of this very address may talk to it.
"""

import asyncio
from collections.abc import Awaitable, Callable
from typing import TypeAlias
from urllib.parse import urlsplit

from aiohttp import web
from textual_serve.server import Server

MOST_BROWSERS = 4
Handler: TypeAlias = Callable[[web.Request], Awaitable[web.StreamResponse]]


class OneBench(Server):  # type: ignore[misc] # the package brings no types of its own
    """Serves the screen of a follower to a few browsers."""

    def __init__(self, command: str, host: str, port: int) -> None:
        super().__init__(command, host, port, title="benchmate")
        self._open = 0

    async def on_startup(self, app: web.Application) -> None:
        """Say nothing: whoever started it has."""

    def initialize_logging(self) -> None:
        """Leave logging as the program has it."""

    async def _make_app(self) -> web.Application:
        app: web.Application = await super()._make_app()

        async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
            return await self._guard(request, handler)

        app.middlewares.append(web.middleware(guard))
        return app

    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Turn away pages of other addresses, and more browsers than the Pi can draw for."""
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != request.host:
            raise web.HTTPForbidden(text="this page may not look on at the bench")
        if request.path != "/ws":
            # Where it was reached is where its page comes back to, whatever name that has.
            self.public_url = f"http://{request.host}"
            return await handler(request)
        if self._open >= MOST_BROWSERS:
            raise web.HTTPServiceUnavailable(text=f"{MOST_BROWSERS} browsers look on already")
        self._open += 1
        try:
            return await handler(request)
        finally:
            self._open -= 1


def serve(command: str, host: str, port: int) -> None:
    """Serve until Ctrl-C; OSError when the address can't be had."""
    asyncio.set_event_loop(asyncio.new_event_loop())
    OneBench(command, host, port).serve()
