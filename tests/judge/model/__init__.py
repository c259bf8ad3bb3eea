"""Every state that an alarm can reach, and what must hold in each: worlds, their books, the invariants."""
