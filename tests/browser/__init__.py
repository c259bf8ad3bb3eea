"""Browser: what a person sees, in a real Chromium, of the running daemon and a live plant."""
