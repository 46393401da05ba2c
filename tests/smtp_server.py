"""A small mail server of this machine, that takes messages as one would, or fails where it is told to."""

import asyncio
import base64
import datetime as dt
import ipaddress
import ssl
import threading
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID


def make_certificate(folder: Path, address="127.0.0.1"):
    """Make a certificate that vouches for itself; gives the file of it and of its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "mail server of the tests")])
    begin = dt.datetime.now(dt.UTC) - dt.timedelta(hours=1)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(begin + dt.timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    cert, private = folder / "server.pem", folder / "server.key"
    cert.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return cert, private


class MailServer:
    """Takes messages on a port of its own.

    ``fails`` names what goes wrong: "no-starttls", "starttls-refused", "sign-in", "sender-later", "rcpt-unknown",
    "drop-in-data" (reads nothing more and breaks off), "drop-at-end" (has it all, answers nothing), "later" (451 at the
    end). ``times``: so often, then all is well. ``size``: what it says it takes at most.
    """

    def __init__(self, folder, *, user="valves", password="five grey herons", implicit=False, fails="", times=10**9):
        self.cert, private = make_certificate(folder)
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.load_cert_chain(self.cert, private)
        self.user, self.password, self.implicit = user, password, implicit
        self.fails, self.times, self.size = fails, times, 0
        self.messages, self.signed_in, self.seen, self.connections = [], 0, [], 0
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self._thread.start()
        assert self._ready.wait(10)
        return self

    def __exit__(self, *_):
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)

    def _run(self):
        asyncio.set_event_loop(self._loop)
        context = self.context if self.implicit else None
        server = self._loop.run_until_complete(
            asyncio.start_server(self._talk, "127.0.0.1", 0, ssl=context, limit=2**16)
        )
        self.port = server.sockets[0].getsockname()[1]
        self._ready.set()
        self._loop.run_forever()
        server.close()
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0.05))
        self._loop.close()

    def _failing(self, what):
        if self.fails == what and self.times > 0:
            self.times -= 1
            return True
        return False

    async def _talk(self, reader, writer):
        self.connections += 1
        try:
            await self._session(reader, writer)
        except (ConnectionError, asyncio.IncompleteReadError, ssl.SSLError):
            pass
        finally:
            writer.transport.abort()

    async def _session(self, reader, writer):
        async def say(text):
            writer.write(f"{text}\r\n".encode())
            await writer.drain()

        secure, known = self.implicit, False
        await say("220 mail server of the tests")
        while line := await reader.readline():
            text = line.decode("utf-8", "replace").strip()
            self.seen.append((secure, text))
            verb = text.partition(" ")[0].upper()
            if verb == "EHLO":
                offers = [] if secure or self.fails == "no-starttls" else ["STARTTLS"]
                offers += ["AUTH PLAIN LOGIN"] if secure else []
                offers += [f"SIZE {self.size}"] if self.size else []
                await say("250-mail server of the tests")
                for each in offers:
                    await say(f"250-{each}")
                await say("250 HELP")
            elif verb == "STARTTLS":
                if self._failing("starttls-refused"):
                    await say("454 TLS not available")
                    continue
                await say("220 go ahead")
                await writer.start_tls(self.context)
                secure = True
            elif verb == "AUTH":
                given = base64.b64decode(text.split()[2]).decode().split("\0")[1:]
                if given == [self.user, self.password] and not self._failing("sign-in"):
                    known, self.signed_in = True, self.signed_in + 1
                    await say("235 welcome")
                else:
                    await say("535 5.7.8 wrong user or password")
            elif verb == "MAIL" and not known:
                await say("530 sign in first")
            elif verb == "MAIL" and self._failing("sender-later"):
                await say("451 busy, come again")
            elif verb == "RCPT" and self._failing("rcpt-unknown"):
                await say("550 5.1.1 <somebody@example.org> unknown")
            elif verb == "DATA":
                await say("354 go on")
                if self._failing("drop-in-data"):
                    return
                data = await self._data(reader)
                if self._failing("drop-at-end"):
                    self.messages.append(data)
                    return
                if self._failing("later"):
                    await say("451 the disk is full")
                    continue
                self.messages.append(data)
                await say("250 taken as 4711")
            elif verb == "QUIT":
                await say("221 good bye")
                return
            else:
                await say("250 well")

    async def _data(self, reader):
        found = bytearray()
        while not found.endswith(b"\r\n.\r\n"):
            piece = await reader.read(2**16)
            if not piece:
                raise ConnectionError
            found += piece
        return bytes(found[:-3]).replace(b"\r\n..", b"\r\n.")
