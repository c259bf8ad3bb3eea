"""Serve the stand-in by hand: ``python -m tests.tell.page_stub 20 8099``."""

import sys
import time

from tests.tell.page_stub.server import serve

server, _ = serve(int((sys.argv[1:] or ["20"])[0]), int((sys.argv[2:] or ["8099"])[0]))
print(f"http://127.0.0.1:{server.server_port}/")
while True:
    time.sleep(3600)
