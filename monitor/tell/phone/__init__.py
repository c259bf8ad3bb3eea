"""Phone: alarms reach a person, once for each cause, until somebody acknowledges."""
