"""benchleaf web: the app in a browser, for a tablet beside the sheet. On this machine only, unless asked."""

from __future__ import annotations

import argparse
import hmac
import secrets
import shlex
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kb.cli.options import flag
from kb.cli.out import FAILED, OK, say, warn

if TYPE_CHECKING:
    from aiohttp import web

HERE = "127.0.0.1"
PORT = 8765
COOKIE = "benchleaf"
MISSING = 'The browser view needs one more package: pip install "benchleaf[web]".'
ESC, CTRL_S, CTRL_T, CTRL_N, CTRL_R = r"\u001b", r"\u0013", r"\u0014", r"\u000e", r"\u0012"
BUTTONS = (
    ("Esc", ESC),
    ("Store", CTRL_S),
    ("Clock", CTRL_T),
    ("Next part", CTRL_N),
    ("Next round", CTRL_R),
    ("Tab", r"\t"),
    ("Ask", rf"{ESC}OQ"),
    ("Book", rf"{ESC}OR"),
    ("Materials", rf"{ESC}OS"),
    ("Identify", rf"{ESC}[15~"),
    ("Make", rf"{ESC}[17~"),
    ("Bath", rf"{ESC}[18~"),
    ("Air", rf"{ESC}[19~"),
    ("Sheet", rf"{ESC}[21~"),
    ("Help", rf"{ESC}OP"),
)
"""Keys that browsers keep for themselves, or that a tablet has not, as the terminal sends them (xterm)."""


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=int, default=PORT, metavar="N", help=f"port ({PORT})")
    flag(
        parser,
        "network",
        "open it to the studio's network, behind a token that is printed; put a proxy with TLS in front",
    )


def run(args: argparse.Namespace) -> int:
    """Serve until it is stopped by Ctrl+C."""
    if not 0 < args.port < 65536:
        warn(f"{args.port} is no port; give a number from 1 to 65535.")
        return FAILED
    try:
        server = _server(args)
    except ImportError:
        warn(MISSING)
        return FAILED
    place = socket.gethostname() if args.network else HERE
    asks = f"/?token={server.token}" if server.token else "/"
    say(f"Benchleaf is at http://{place}:{args.port}{asks}   (Ctrl+C ends it)")
    sys.stdout.flush()
    if args.network:
        warn(
            "Anyone on the network with this address can write in the bench book, and what is typed can be "
            "read on the way: put a proxy with TLS in front of it, and close it when the work is done."
        )
    try:
        server.serve()
    except OSError as error:
        warn(f"The port {args.port} cannot be had ({error.strerror}); choose another with --port.")
        return FAILED
    return OK


def _command(args: argparse.Namespace) -> str:
    """The app on the same studio, for each browser that opens the page."""
    studio = ["--studio", str(args.studio.absolute())] if args.studio else []
    return shlex.join([sys.executable, "-m", "kb", "app", *studio, *(["--demo"] if args.demo else [])])


def _server(args: argparse.Namespace) -> Any:
    """The server, made here because its library is an extra. Raises ImportError where it is missing."""
    import jinja2
    from aiohttp import web
    from textual_serve.server import Server

    page = jinja2.Template(Path(__file__).with_name("web_page.html").read_text("utf-8"), autoescape=True)
    hosts = {f"{name}:{args.port}" for name in (HERE, "localhost")}

    class Served(Server):
        """A page of this machine only, or with a token; no other page may drive the program."""

        def __init__(self) -> None:
            super().__init__(
                _command(args), host="0.0.0.0" if args.network else HERE, port=args.port, title="Benchleaf"
            )
            self.token = secrets.token_urlsafe(24) if args.network else ""

        def initialize_logging(self) -> None:
            """Nothing is said but the address."""

        async def on_startup(self, app: web.Application) -> None:
            """Nothing is said but the address."""

        async def _make_app(self) -> web.Application:
            app = await super()._make_app()
            app.middlewares.append(self.guard)
            return app

        @web.middleware
        async def guard(self, request: web.Request, handler: Any) -> web.StreamResponse:
            """Who may come in: a page of another site, or without the token, may not."""
            if not self.token and request.host not in hosts:
                # A name that others made point here (the page would be theirs).
                raise web.HTTPForbidden(text="This address is not served.")
            origin = request.headers.get("Origin")
            if origin is not None and origin.partition("://")[2] != request.host:
                raise web.HTTPForbidden(text="Another site asked for this.")
            given = request.query.get("token") or request.cookies.get(COOKIE, "")
            if self.token and not hmac.compare_digest(given.encode(), self.token.encode()):
                raise web.HTTPForbidden(text="The address needs the token that was printed at the start.")
            answer: web.StreamResponse = await handler(request)
            if self.token and not answer.prepared:
                answer.set_cookie(COOKIE, self.token, httponly=True, samesite="Strict")
            return answer

        async def handle_index(self, request: web.Request) -> Any:
            """The page; everything that it needs comes from here."""
            size = request.query.get("fontsize", "16")
            text = page.render(
                buttons=BUTTONS,
                socket=f"{'wss' if request.secure else 'ws'}://{request.host}/ws",
                font_size=size if size.isdecimal() else "16",
            )
            policy = "default-src 'self' 'unsafe-inline'; connect-src 'self' ws: wss:; img-src 'self' data:"
            headers = {"Content-Security-Policy": policy}
            return web.Response(text=text, content_type="text/html", headers=headers)

    return Served()
