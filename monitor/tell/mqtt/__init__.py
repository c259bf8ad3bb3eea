"""MQTT: the broker is told everything here, and nowhere else does anybody speak MQTT."""
