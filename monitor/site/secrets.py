"""Secrets: read from the environment or from a file, and never shown, not even where they were looked for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from monitor.site.problems import KeyPath
from monitor.site.rules.fault import Fault
from monitor.site.shape.commands import Commands
from monitor.site.shape.outlets import Mqtt, ServerTls, Tls
from monitor.site.shape.phone import Channel, Phone, Ping
from monitor.site.shape.whole import SiteFile

LONGEST_SECRET = 10_000

_PEOPLE_SAY = {"password_hash": "hash of the password", "url": "address"}


@dataclass(frozen=True, slots=True)
class Secret:
    """What was read, or the fault that kept it from being read."""

    text: str | None = None
    fault: Fault | None = None

    def __repr__(self) -> str:
        """Return a name that shows nothing."""
        return "Secret(…)"


@dataclass(frozen=True, slots=True)
class _Named:
    """Where the file says that a secret is, and where it says so.

    Attributes:
        what: the secret's kind, such as ``password``; its two keys begin with it.
    """

    path: KeyPath
    what: str
    variable: str | None
    file: str | None

    def key(self, way: str) -> KeyPath:
        """Return the place of one of the two keys."""
        return (*self.path, f"{self.what}_{way}")


def _password(shape: Mqtt, environ: Mapping[str, str], folder: Path) -> Secret:
    return _read(_Named(("mqtt",), "password", shape.password_env, shape.password_file), environ, folder)


def _tokens(shape: Commands, environ: Mapping[str, str], folder: Path) -> dict[str, Secret]:
    return {
        name: _read(
            _Named(("commands", "people", name), "token", person.token_env, person.token_file), environ, folder
        )
        for name, person in shape.people.items()
        if person.token_env is not None or person.token_file is not None
    }


def _hashes(shape: Commands, environ: Mapping[str, str], folder: Path) -> dict[str, Secret]:
    return {
        name: _read(
            _Named(
                ("commands", "people", name),
                "password_hash",
                person.password_hash_env,
                person.password_hash_file,
            ),
            environ,
            folder,
        )
        for name, person in shape.people.items()
        if person.password_hash_env is not None or person.password_hash_file is not None
    }


def _channels(shape: Phone, environ: Mapping[str, str], folder: Path) -> dict[tuple[str, str], Secret]:
    return {
        (name, way): _url(("phone", "people", name, "channels", way), channel, environ, folder)
        for name, person in shape.people.items()
        for way, channel in person.channels.items()
    }


def _url(path: KeyPath, shape: Channel | Ping, environ: Mapping[str, str], folder: Path) -> Secret:
    if shape.url_env is None and shape.url_file is None:
        return Secret(
            fault=Fault(path, "needs url_env or url_file: an address bears secrets and stands elsewhere")
        )
    return _read(_Named(path, "url", shape.url_env, shape.url_file), environ, folder)


def _read(named: _Named, environ: Mapping[str, str], folder: Path) -> Secret:
    """Read one secret.

    The sentences repeat neither the variable's name nor the path: people paste the secret itself there.
    """
    if named.variable is not None and named.file is not None:
        return Secret(fault=Fault(named.key("file"), f"must not stand beside {named.what}_env: keep one"))
    if named.variable is not None:
        return _from_environment(named, environ.get(named.variable, ""))
    return Secret() if named.file is None else _from_file(named, folder / named.file)


@dataclass(frozen=True, slots=True)
class Secrets:
    """Every secret that a site file names.

    Attributes:
        tokens, hashes: of the people who have one, by name.
        channels: addresses of the phone's, by person and channel.
        ping: the address outside.
    """

    password: Secret
    tokens: Mapping[str, Secret]
    hashes: Mapping[str, Secret] = field(default_factory=dict)
    channels: Mapping[tuple[str, str], Secret] = field(default_factory=dict)
    ping: Secret = field(default_factory=Secret)

    def faults(self) -> Iterator[Fault]:
        """Yield why some of them could not be read."""
        several = (self.tokens, self.hashes, self.channels)
        every = (self.password, self.ping, *(secret for some in several for secret in some.values()))
        return (secret.fault for secret in every if secret.fault is not None)

    def token_texts(self) -> dict[str, str]:
        """Return the tokens that could be read, by the name of their owner."""
        return {name: secret.text for name, secret in self.tokens.items() if secret.text is not None}

    def channel_texts(self) -> dict[tuple[str, str], str]:
        """Return the addresses that could be read, by person and channel."""
        return {key: secret.text for key, secret in self.channels.items() if secret.text is not None}

    def hash_texts(self) -> dict[str, str]:
        """Return the hashes of passwords that could be read, by the name of their owner."""
        return {name: secret.text for name, secret in self.hashes.items() if secret.text is not None}


def secrets_of(file: SiteFile, environ: Mapping[str, str], folder: Path) -> Secrets:
    """Return every secret that the file names, each read or with the fault that kept it from being read."""
    password = _password(file.mqtt, environ, folder) if file.mqtt else Secret()
    phone = file.phone
    return Secrets(
        password,
        _tokens(file.commands, environ, folder),
        _hashes(file.commands, environ, folder),
        _channels(phone, environ, folder) if phone else {},
        _url(("phone", "ping"), phone.ping, environ, folder) if phone and phone.ping else Secret(),
    )


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


def server_tls_faults(tls: ServerTls, folder: Path) -> Iterator[Fault]:
    """Yield the files of our own certificate that cannot be read."""
    for key in ("certificate_file", "key_file"):
        name = getattr(tls, key)
        if reason := _why_unreadable(folder / name):
            yield Fault(("http", "tls", key), f"must be a file that can be read: {reason}", f'"{name}"')


def _from_environment(named: _Named, found: str) -> Secret:
    if not found:
        wanted = "must name an environment variable that is set; the one named here is not, or is empty"
        return Secret(fault=Fault(named.key("env"), wanted))
    return Secret(text=found)


def _from_file(named: _Named, path: Path) -> Secret:
    key = named.key("file")
    wanted = f"must be a file that holds the {_PEOPLE_SAY.get(named.what, named.what)}"
    try:
        with path.open(encoding="utf-8") as file:
            found = file.read(LONGEST_SECRET + 1)
    except (OSError, ValueError) as error:
        return Secret(fault=Fault(key, f"{wanted}: {_reason(error)}"))
    # Editors and echo end a file with a line break that is no part of the secret.
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
