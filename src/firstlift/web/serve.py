"""Serve the app: on this machine alone without ceremony, or for others with sign-ins."""

from __future__ import annotations

import argparse
import getpass
import importlib
import socket
import sys
import threading
import webbrowser
from dataclasses import replace
from pathlib import Path

import uvicorn

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.store.open import Store
from firstlift.store.sign_ins import ACCOUNTS
from firstlift.usecases.certify import read_issuer
from firstlift.usecases.keys import read_passphrase
from firstlift.usecases.papers.find import name_of, person_by
from firstlift.usecases.register.place import opened
from firstlift.usecases.sending.settings import MailSettings, check_apart, read_mail_settings
from firstlift.web.accounts import Accounts
from firstlift.web.app import create_app
from firstlift.web.deeds import Deed, note
from firstlift.web.guard import LOOPBACK
from firstlift.web.hooks.address import networks_of
from firstlift.web.hooks.courier import Courier
from firstlift.web.hooks.kept import Hooks
from firstlift.web.postman import Postman
from firstlift.web.roles import Role
from firstlift.web.sessions import Sessions
from firstlift.web.settings import Settings

PORT = 8620
_PORTS_TRIED = 10
# after the first page
_AHEAD_S = 5.0


def run(arguments: argparse.Namespace) -> int:
    """Run ``firstlift serve``.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0: it was stopped, or a sign-in was given.

    Raises
    ------
    FirstliftError
        The register cannot be opened; WEB-008 the address cannot be listened on.
    UsageError
        WEB-007 others could come in without signing in.
    """
    with opened(arguments.store) as store:
        accounts = Accounts(store.folder / ACCOUNTS)
        if arguments.give_sign_in:
            return _give_sign_in(store, accounts, arguments)
        _check_reach(accounts, arguments)
        settings = Settings(
            store.folder / ACCOUNTS,
            sign_in=bool(accounts.roles()),
            secure=bool(arguments.tls_cert) or arguments.behind_tls,
            names=tuple(arguments.name or ()),
            hooks_to=tuple(arguments.hooks_to or ()),
            key=Path(arguments.sign) if arguments.sign else None,
            passphrase=Path(arguments.passphrase_file) if arguments.passphrase_file else None,
        )
        if arguments.mail:
            settings = replace(settings, mail=stated_mail(store, Path(arguments.mail)))
        if arguments.issuer:
            settings = replace(settings, paper=read_issuer(Path(arguments.issuer)))
        tls = (arguments.tls_cert, arguments.tls_key) if arguments.tls_cert else None
        serve(store, settings, host=arguments.host, port=arguments.port, tls=tls, browser=not arguments.no_browser)
    return 0


def stated_mail(store: Store, path: Path) -> MailSettings:
    """Read the mail server's settings, which lie outside the register.

    Parameters
    ----------
    store : Store
    path : Path

    Returns
    -------
    MailSettings

    Raises
    ------
    FirstliftError
        SND-005, SND-001.
    """
    mail = read_mail_settings(path)
    check_apart(path, mail, store.folder)
    return mail


def _give_sign_in(store: Store, accounts: Accounts, arguments: argparse.Namespace) -> int:
    with store.read() as reader:
        person = person_by(reader, arguments.give_sign_in)
    if arguments.password_file:
        password = read_passphrase(Path(arguments.password_file)).decode("utf-8", "replace")
    else:
        password = getpass.getpass("Password: ")
    accounts.add(person.id, name_of(person), password, Role(arguments.role))
    Sessions(accounts.path).end_all(person.id)
    note(store, Deed.SIGN_IN_GIVEN, who="program:firstlift serve", about=person.id, role=arguments.role)
    sys.stdout.write(f"{name_of(person)} signs in as {arguments.role}\n")
    return 0


def _check_reach(accounts: Accounts, arguments: argparse.Namespace) -> None:
    if bool(arguments.tls_cert) != bool(arguments.tls_key):
        raise UsageError(Problem("WEB-007", "half of what TLS needs is given", "--tls-cert, --tls-key", "both"))
    if arguments.host in LOOPBACK:
        return
    if not accounts.roles():
        raise UsageError(
            Problem(
                "WEB-007",
                f"others could come in at '{arguments.host}' without signing in",
                "--host",
                "a sign-in for somebody of the office",
                'Give one: firstlift serve --give-sign-in "NAME" --role office',
            )
        )
    if not arguments.tls_cert and not arguments.behind_tls:
        sys.stderr.write(
            "firstlift: not encrypted: give --tls-cert and --tls-key, or put a TLS proxy before it (--behind-tls).\n"
        )


def serve(
    store: Store,
    settings: Settings,
    *,
    host: str = "127.0.0.1",
    port: int | None = None,
    tls: tuple[str, str] | None = None,
    browser: bool = True,
) -> None:
    """Serve until the keyboard stops it; says the address once it listens.

    Parameters
    ----------
    store : Store
    settings : Settings
    host : str
    port : int or None
        None: the usual one, or the next that is free.
    tls : (certificate, key) or None
    browser : bool
        Open the page in the browser, where there is a terminal.

    Raises
    ------
    FirstliftError
        WEB-008.
    """
    listener = _listen(host, port)
    shown = f"[{host}]" if ":" in host else host
    address = f"{'https' if tls else 'http'}://{shown}:{listener.getsockname()[1]}/"
    cert, key = tls or (None, None)
    app = create_app(store, settings)
    config = uvicorn.Config(
        app,
        log_level="warning",
        lifespan="off",
        ws="websockets-sansio",
        ssl_certfile=cert,
        ssl_keyfile=key,
        server_header=False,
        timeout_graceful_shutdown=3,
    )
    sys.stdout.write(f"Firstlift is at {address}\nStop it with Ctrl+C.\n")
    sys.stdout.flush()
    if browser and sys.stdout.isatty():
        threading.Timer(0.8, webbrowser.open, (address,)).start()
    courier = Courier(store, Hooks(settings.accounts), networks_of(settings.hooks_to))
    courier.start()
    postman = Postman(store, app.state.outbox, settings.mail)
    app.state.postman_soon = postman.go_soon
    postman.start()
    ahead = threading.Timer(_AHEAD_S, _load_ahead)
    ahead.daemon = True
    ahead.start()
    try:
        uvicorn.Server(config).run(sockets=[listener])
    finally:
        courier.stop()
        postman.stop()


def _load_ahead() -> None:
    """Load what takes seconds, before somebody waits for the first hazard sheet or pull plan."""
    for name in ("CoolProp.CoolProp", "scipy.optimize"):
        importlib.import_module(name)


def _listen(host: str, port: int | None) -> socket.socket:
    reason = ""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for number in (port,) if port is not None else range(PORT, PORT + _PORTS_TRIED):
        listener = socket.socket(family, socket.SOCK_STREAM)
        try:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((host, number))
            listener.listen(128)
        except (OSError, OverflowError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            listener.close()
        else:
            return listener
    raise FirstliftError(
        Problem("WEB-008", f"it cannot listen: {reason}", f"{host}:{port or PORT}", "a free port", "Name one: --port")
    )
