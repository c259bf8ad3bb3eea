"""A simulated plant: filter-drag physics behind a real Modbus server. Imported by the demo and by tests alone."""
