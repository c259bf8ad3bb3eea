"""The site file: YAML in, one checked plan out, every problem reported at once."""
