"""``python -m monitor`` is the command line."""

from monitor.cli.main import main

if __name__ == "__main__":
    main()
