"""Web TLS: the certificate of our own HTTP address.

It is read at the start. Where its files change on the disk, it is read again for the connections that come after
(``renewed``), so that a renewed certificate needs no restart; what cannot be read then leaves the old one.
"""

import asyncio
import logging
import ssl
from pathlib import Path

from monitor.errors import PlantError
from monitor.tell.settings import ServerTls

log = logging.getLogger(__name__)

#: Whether the files have changed is looked at so often, seconds (our choice).
LOOK_AGAIN_S = 60.0


def server_context(tls: ServerTls) -> ssl.SSLContext:
    """TLS 1.2 and later, with the system's own choice of ciphers.

    Raises:
        PlantError: a file is missing, or certificate and key are none or do not belong together.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    # TLS 1.2 can be made to compute a new handshake over and over; nobody needs that (RFC 9325).
    context.options |= ssl.OP_NO_RENEGOTIATION | ssl.OP_NO_COMPRESSION
    load(context, tls)
    return context


async def renewed(context: ssl.SSLContext, tls: ServerTls) -> None:
    """Read the files again whenever they change, without end."""
    seen = await asyncio.to_thread(stamp, tls)
    while True:
        await asyncio.sleep(LOOK_AGAIN_S)
        found = await asyncio.to_thread(stamp, tls)
        if found == seen:
            continue
        seen = found
        try:
            await asyncio.to_thread(load, context, tls)
            log.info("certificate read anew file=%s", tls.certificate_file)
        except PlantError as error:
            log.warning("certificate not read anew, the old one is still shown why=%r", str(error))


def load(context: ssl.SSLContext, tls: ServerTls) -> None:
    """Read the files into a context; connections from now on get them.

    Raises:
        PlantError: as above; the context is as it was.
    """
    for path, key in ((tls.certificate_file, "certificate"), (tls.key_file, "key")):
        _must_be_readable(path, key)
    try:
        # Tried apart: a failure half way would leave one file's half in the context that serves.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(tls.certificate_file, tls.key_file, _no_password)
        context.load_cert_chain(tls.certificate_file, tls.key_file, _no_password)
    except (ssl.SSLError, ValueError) as error:
        why = getattr(error, "reason", None) or str(error)
        raise PlantError(
            f"http.tls: {tls.certificate_file} and {tls.key_file} must be a certificate with its chain and the "
            f"key that belongs to it, both PEM and without a password ({why}): renew them, or name others"
        ) from None


def stamp(tls: ServerTls) -> tuple[float, ...]:
    """Changes when one of the files does; zeros where one is not there."""
    return tuple(_changed(path) for path in (tls.certificate_file, tls.key_file))


def _must_be_readable(path: Path, key: str) -> None:
    try:
        with path.open("rb"):
            pass
    except OSError as error:
        raise PlantError(
            f"http.tls.{key}: {path} cannot be read ({error.strerror}): name one that the daemon's user may read"
        ) from None


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _no_password() -> str:
    # Without this, OpenSSL would ask for it on the terminal, and the start would hang.
    raise ValueError("the key has a password")
