"""What `firstlift serve` takes."""

from __future__ import annotations

import argparse

_EPILOG = """\
Without any sign-in it answers on this machine alone and asks who is working. Once somebody has a sign-in, everybody
signs in, and --host opens it to others. Passwords and sessions are kept in accounts.sqlite in the store's folder,
apart from the register.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    serve = commands.add_parser(
        "serve",
        help="the app in the browser, on a register",
        description="Serve the app on a register.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    serve.add_argument(
        "--store", metavar="PATH|URL", help="the register (default FIRSTLIFT_STORE, ./firstlift-register)"
    )
    serve.add_argument("--host", default="127.0.0.1", help="address to listen on (default 127.0.0.1: this machine)")
    serve.add_argument("--port", type=int, help="port (default 8620, or the next that is free)")
    serve.add_argument("--tls-cert", metavar="FILE", help="certificate chain (PEM)")
    serve.add_argument("--tls-key", metavar="FILE", help="its key (PEM)")
    serve.add_argument("--behind-tls", action="store_true", help="a proxy before it speaks TLS to the browsers")
    serve.add_argument(
        "--name", metavar="HOST", action="append", help="a name that others reach it by, beside this machine's own"
    )
    serve.add_argument(
        "--hooks-to",
        metavar="NETWORK",
        action="append",
        help="let web-hooks go to a network of one's own, as 10.1.0.0/16 (default: public addresses alone)",
    )
    serve.add_argument("--mail", metavar="MAIL.toml", help="the mail server that papers are sent by (default: none)")
    serve.add_argument("--issuer", metavar="ISSUER.toml", help="the issuer's settings for certificates")
    serve.add_argument("--sign", metavar="KEY.p12", help="key that signs certificates (default: one made here)")
    serve.add_argument("--passphrase-file", metavar="FILE", help="its passphrase, the first line of a file")
    serve.add_argument("--no-browser", action="store_true", help="do not open the browser")
    serve.add_argument("--give-sign-in", metavar="NAME", help="give a person of the register a sign-in, then end")
    serve.add_argument(
        "--role", choices=("technician", "reviewer", "office", "reader"), default="office", help="their role"
    )
    serve.add_argument("--password-file", metavar="FILE", help="their password (default: asked for)")
    # the app is beside the command line, not under it: it is named here and found when it runs
    serve.set_defaults(run="firstlift.web.serve")
