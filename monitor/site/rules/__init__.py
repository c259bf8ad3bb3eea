"""Rules: what must hold between the keys of a site file. Each rule yields what breaks it, and where."""
