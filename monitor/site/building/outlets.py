"""Outlets: store, broker and HTTP address of the site file become settings; paths count from the file's folder."""

from collections.abc import Mapping
from pathlib import Path

from monitor.remember.settings import StoreSettings
from monitor.site.shape.outlets import Http, Mqtt, Store, Tls
from monitor.tell.settings import HttpSettings, MqttSettings, ServerTls, TlsSettings

MQTT_PORT = 1883
MQTT_TLS_PORT = 8883


def store_settings(shape: Store, folder: Path) -> StoreSettings:
    """Return where and how much is kept."""
    return StoreSettings(
        folder=folder / shape.folder,
        history_step_s=shape.history_step,
        keep_history_s=shape.keep_history,
        keep_minutes_s=shape.keep_minutes,
        keep_hours_s=shape.keep_hours,
        max_history_mb=shape.max_history,
        flush_s=shape.flush,
        keep_events=shape.keep_events,
    )


def mqtt_settings(shape: Mqtt, password: str | None, folder: Path) -> MqttSettings:
    """Return how the broker is reached; the password was read elsewhere."""
    return MqttSettings(
        host=shape.host,
        port=shape.port or (MQTT_TLS_PORT if shape.tls else MQTT_PORT),
        version=5 if shape.version == "5" else 3,
        client_id=shape.client_id,
        username=shape.username,
        password=password,
        tls=_tls_settings(shape.tls, folder) if shape.tls else None,
        base_topic=shape.base_topic,
        keepalive_s=max(1, round(shape.keepalive)),
        state_period_s=shape.state_period,
        commands=shape.commands,
    )


def http_settings(
    shape: Http, tokens: Mapping[str, str], password_hashes: Mapping[str, str], folder: Path
) -> HttpSettings:
    """Return where to listen, and whom to know by what; the secrets were read elsewhere."""
    tls, metrics = shape.tls, shape.metrics
    return HttpSettings(
        host=shape.host,
        port=shape.port,
        tokens=tokens,
        password_hashes=password_hashes,
        tls=ServerTls(certificate_file=folder / tls.certificate_file, key_file=folder / tls.key_file)
        if tls
        else None,
        metrics=(metrics.host, metrics.port) if metrics else None,
        public_address=shape.public_address or "",
        link_life_s=shape.link_life,
        session_life_s=shape.session_life,
    )


def _tls_settings(shape: Tls, folder: Path) -> TlsSettings:
    return TlsSettings(
        ca_file=folder / shape.ca_file if shape.ca_file else None,
        certificate_file=folder / shape.certificate_file if shape.certificate_file else None,
        key_file=folder / shape.key_file if shape.key_file else None,
    )
