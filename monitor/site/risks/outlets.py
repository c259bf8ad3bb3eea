"""Outlets: risks of what can be reached or read from outside."""

from collections.abc import Iterator

from monitor.site.hosts import is_loopback
from monitor.site.plan import SitePlan
from monitor.site.risks.risk import Risk


def risks(plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the outlets of a site."""
    mqtt, http = plan.mqtt, plan.http
    if mqtt is not None and mqtt.password is not None and mqtt.tls is None and not is_loopback(mqtt.host):
        yield Risk(("mqtt",), "sends its password over the network in clear: give it tls")
    if mqtt is not None and mqtt.password is not None and mqtt.username is None:
        yield Risk(
            ("mqtt",), "has a password and no username: most brokers refuse that, and MQTT 3.1.1 forbids it"
        )
    if http is not None and http.metrics is not None and not is_loopback(http.metrics[0]):
        yield Risk(
            ("http", "metrics", "host"),
            "lets every machine that reaches this address read the figures: nothing asks who it is",
        )
