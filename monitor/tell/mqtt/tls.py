"""TLS: what we trust and who we are, from the files that the site file names."""

import ssl

from monitor.errors import PlantError
from monitor.tell.settings import TlsSettings


def tls_context(tls: TlsSettings) -> ssl.SSLContext:
    """What we trust and who we are.

    Raises:
        PlantError: a file is missing or is no certificate or key.
    """
    path = tls.ca_file
    try:
        context = ssl.create_default_context(cafile=None if path is None else str(path))
        path = tls.certificate_file
        if path is not None:
            context.load_cert_chain(str(path), None if tls.key_file is None else str(tls.key_file))
    except ssl.SSLError as error:
        raise PlantError(f"{path} is no certificate (or the key does not belong to it): {error.reason}") from None
    except OSError as error:
        raise PlantError(f"{path} or its key cannot be read: {error.strerror}") from None
    return context
