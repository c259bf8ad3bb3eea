"""Performance: how the alarm system itself is doing, by the events of the journal (ISA-18.2-2016)."""
