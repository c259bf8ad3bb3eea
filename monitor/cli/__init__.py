"""The command line: run, check, read, demo. The only room that speaks with the person at the shell."""
