"""What survives a power cut: the journal, the outlets' cursors, the judge's state, the history. The only SQL."""
