"""The command `doorwright serve`: the web application for the books of a folder, or for one."""

import ipaddress
import socket
import webbrowser
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Final

import click

from doorwright.app.means import Means
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Mistake, Refused

LOOPBACK: Final = "127.0.0.1"
PORT: Final = 8620
"""Any other may be chosen; that nobody has registered it with IANA is from memory."""


@dataclass(frozen=True, slots=True)
class _Tls:
    """The files by which the server proves who it is."""

    certificate: Path
    key: Path


@options.command(
    name="serve",
    example="doorwright serve tower.book\ndoorwright serve books --host 192.0.2.10 --people people.json",
)
@click.argument("place", metavar="[BOOK or FOLDER]", type=click.Path(path_type=Path), default=".")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="0 takes any that is free."
)
@click.option("--browser/--no-browser", default=True, help="Open it in the browser.", show_default=True)
@click.option("--host", metavar="ADDRESS", help="Let others in by this address of this machine; needs --people.")
@click.option("--name", "names", multiple=True, help="A name by which others reach that address; may be repeated.")
@click.option(
    "--people", type=click.Path(path_type=Path, dir_okay=False), help="Who may come in: see doorwright people."
)
@click.option("--certificate", type=click.Path(path_type=Path, dir_okay=False), help="TLS certificate, PEM.")
@click.option("--key", type=click.Path(path_type=Path, dir_okay=False), help="Its private key, PEM.")
@options.by
def serve(
    printer: Printer,
    place: Path,
    *,
    port: int,
    browser: bool,
    host: str | None,
    names: tuple[str, ...],
    people: Path | None,
    certificate: Path | None,
    key: Path | None,
    by: str | None,
) -> None:
    """Open a book, or the books of a folder, in the browser.

    Only this machine can reach it, and it needs no internet. Stop it with Ctrl+C. With --host others reach it too: over
    TLS, with a name and a password. Without --certificate one is made beside the people file; browsers warn of it, and
    its fingerprint, printed here, tells people that it is the right one.
    """
    import uvicorn  # noqa: PLC0415  (the other commands do not wait for it)

    from doorwright.web.application import application  # noqa: PLC0415
    from doorwright.web.gate import Gate  # noqa: PLC0415

    _see_given(host, names, people, certificate, key)
    with options.means(printer, by) as means:
        address = host or LOOPBACK
        tls = _tls(printer, people, certificate, key, (address, *names), means) if people is not None else None
        gate = Gate(people, now=means.now) if people is not None else None
        with _listening(address, port) as listening:
            port = listening.getsockname()[1]
            called = (f"[{address}]" if ":" in address else address, *names, *(() if host else ("localhost",)))
            app = application(place, means, hosts=_hosts(called, port, tls), gate=gate)
            url = f"{'https' if tls else 'http'}://{called[0]}:{port}/"
            printer.line(f"Open {url} in the browser. Stop with Ctrl+C.")
            if browser and host is None:
                webbrowser.open(url)
            config = uvicorn.Config(
                app,
                log_level="warning",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                ssl_certfile=tls.certificate if tls else None,
                ssl_keyfile=tls.key if tls else None,
                timeout_graceful_shutdown=2,
            )
            server = uvicorn.Server(config)
            ending = server.handle_exit

            def end(sig: int, frame: FrameType | None) -> None:
                app.state.bulletin.close()  # pages listen for news for as long as they are open
                ending(sig, frame)

            server.handle_exit = end  # type: ignore[method-assign]  # uvicorn has no other place for it
            server.run(sockets=[listening])


def _see_given(
    host: str | None, names: tuple[str, ...], people: Path | None, certificate: Path | None, key: Path | None
) -> None:
    is_open = _is_every_address(host or "")
    cases = (
        (host is not None and people is None, "--host", host or "", "others would come in without a password",
         "Say who may: --people FILE (made by: doorwright people FILE add NAME --role admin)"),
        (host is None and people is not None, "--people", str(people), "nobody comes in over the network here",
         "Give --host with this machine's address, or leave --people out."),
        (is_open, "--host", host or "", "that is every address at once, and no browser asks for it by this name",
         "Give the one address by which others reach this machine."),
        ((certificate is None) != (key is None), "--certificate, --key", "", "one is no use without the other",
         "Give both, or neither."),
        (host is None and bool(names), "--name", ", ".join(names), "names are for --host", "Leave them out."),
    )  # fmt: skip
    mistakes = tuple(
        Mistake(where=where, read=read, problem=problem, remedy=remedy)
        for wrong, where, read, problem, remedy in cases
        if wrong
    )
    if mistakes:
        raise Refused("the server was not started", remedy="Give the command again.", mistakes=mistakes)


def _is_every_address(text: str) -> bool:
    try:
        return ipaddress.ip_address(text).is_unspecified
    except ValueError:
        return False


def _tls(
    printer: Printer,
    people: Path,
    certificate: Path | None,
    key: Path | None,
    names: tuple[str, ...],
    means: Means,
) -> _Tls:
    from doorwright.store.certificate import ensure_certificate, fingerprint_of  # noqa: PLC0415  (takes its time)

    if certificate is not None and key is not None:
        printer.line(f"Certificate: SHA-256 {fingerprint_of(certificate)}")
        return _Tls(certificate, key)
    made = _Tls(people.with_suffix(".certificate.pem"), people.with_suffix(".key.pem"))
    printer.line(
        "The browser will warn that it does not know this certificate. It is ours where its SHA-256 is\n"
        f"  {ensure_certificate(made.certificate, made.key, names, now=means.now())}"
    )
    return made


def _hosts(called: tuple[str, ...], port: int, tls: _Tls | None) -> frozenset[str]:
    usual = 443 if tls else 80
    bare = called if port == usual else ()
    return frozenset({*(f"{name.lower()}:{port}" for name in called), *(name.lower() for name in bare)})


def _listening(host: str, port: int) -> socket.socket:
    """Return a socket that listens at once: the browser is opened when it can be answered.

    Raises:
        Refused: another program has the port, or the address is none of this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family)
    except OSError as error:
        raise Refused(
            f"{host} port {port} cannot be had: {error.strerror or error}",
            remedy="Give another port (--port 0 takes one that is free), or an address of this machine.",
        ) from error


COMMAND: Final = serve
