"""Secrets: read from the environment or from a file, and never shown, not even where they were looked for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor.site.rules.fault import Fault
from monitor.site.shape.outlets import Mqtt, Tls

LONGEST_SECRET = 10_000


@dataclass(frozen=True, slots=True)
class Secret:
    """What was read, or the fault that kept it from being read."""

    text: str | None = None
    fault: Fault | None = None

    def __repr__(self) -> str:
        """Return a name that shows nothing."""
        return "Secret(…)"


def mqtt_password(shape: Mqtt, environ: Mapping[str, str], folder: Path) -> Secret:
    """Return the broker's password; without a text and without a fault where none is asked for.

    The sentences repeat neither the variable's name nor the path: people paste the secret itself there.
    """
    if shape.password_env is not None and shape.password_file is not None:
        return Secret(fault=Fault(("mqtt", "password_file"), "must not stand beside password_env: keep one"))
    if shape.password_env is not None:
        return _from_environment(shape.password_env, environ)
    return Secret() if shape.password_file is None else _from_file(folder / shape.password_file)


def tls_faults(tls: Tls, folder: Path) -> Iterator[Fault]:
    """Yield the files for TLS that cannot be read, and a client certificate without its key."""
    if (tls.certificate_file is None) != (tls.key_file is None):
        missing = "key_file" if tls.key_file is None else "certificate_file"
        yield Fault(
            ("mqtt", "tls", missing), "is missing: a client certificate needs certificate_file and key_file"
        )
    for key in ("ca_file", "certificate_file", "key_file"):
        name = getattr(tls, key)
        reason = _why_unreadable(folder / name) if name else ""
        if reason:
            yield Fault(("mqtt", "tls", key), f"must be a file that can be read: {reason}", f'"{name}"')


def _from_environment(name: str, environ: Mapping[str, str]) -> Secret:
    found = environ.get(name, "")
    if not found:
        wanted = "must name an environment variable that is set; the one named here is not, or is empty"
        return Secret(fault=Fault(("mqtt", "password_env"), wanted))
    return Secret(text=found)


def _from_file(path: Path) -> Secret:
    key = ("mqtt", "password_file")
    wanted = "must be a file that holds the password"
    try:
        with path.open(encoding="utf-8") as file:
            found = file.read(LONGEST_SECRET + 1)
    except (OSError, ValueError) as error:
        return Secret(fault=Fault(key, f"{wanted}: {_reason(error)}"))
    # Editors and echo end a file with a line break that is no part of the password.
    found = found.removesuffix("\n").removesuffix("\r")
    if not found or len(found) > LONGEST_SECRET or "\n" in found:
        return Secret(fault=Fault(key, f"{wanted} on one line and nothing else"))
    return Secret(text=found)


def _why_unreadable(path: Path) -> str:
    try:
        with path.open("rb") as file:
            file.read(1)
    except (OSError, ValueError) as error:
        return _reason(error)
    return ""


def _reason(error: OSError | ValueError) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror[0].lower() + error.strerror[1:]
    return "it is not UTF-8 text"
