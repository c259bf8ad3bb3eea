"""An alarm's life (ISA-18.2 / IEC 62682) as a table. The only place where an alarm's state changes. Pure."""
