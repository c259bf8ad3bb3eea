"""The inside goes out: one file or folder for each outlet. Nothing here judges anything."""
