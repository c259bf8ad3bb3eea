"""``cakewatch run``: watch a site until told to stop."""

import asyncio
import logging
import os
import signal
import sys
from pathlib import Path

import click

from monitor.cli.early_signals import EarlySignals
from monitor.cli.site_file import load_or_exit
from monitor.clock import Clock
from monitor.daemon import logs
from monitor.daemon.running import Daemon
from monitor.daemon.telling import OUTLETS
from monitor.errors import CakewatchError
from monitor.remember.store import Store
from monitor.site.load import load
from monitor.site.plan import SitePlan
from monitor.site.problems import SiteFileError
from monitor.tell.watchdog import Watchdog

log = logging.getLogger(__name__)

#: A scrape of a large plant is drawn in a thread of its own; with the usual 5 ms the loop, each time it has waited
#: for a socket, would wait that long again for its turn.
SWITCH_S = 0.001
#: Something the daemon needs is not there (folder not writable, port taken, another daemon on the store).
CANNOT_START = 3
#: A fault of our own; the service manager should start it again.
OUR_FAULT = 70


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option("--verbose", is_flag=True, help="Log details too, such as units that fall silent.")
@click.pass_obj
def run(early: EarlySignals, site: Path, verbose: bool) -> None:
    """Watch the plant that the SITE file describes, until SIGTERM or Ctrl-C.

    SIGHUP reads the site file again: a valid one is followed without losing a latch, a wrong one is refused and
    watching goes on.

    \b
    Exit codes: 0 stopped as told, 2 the site file is wrong, 3 cannot start,
    70 a fault of its own.
    """  # noqa: D301  click wants the \b as it stands
    logs.begin(os.environ, verbose=verbose)
    sys.setswitchinterval(SWITCH_S)
    early.hung_up = False  # whatever was changed before is about to be read
    plan = load_or_exit(site)
    try:
        asyncio.run(_run(site, plan, early))
    except CakewatchError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_START)
    except Exception:
        log.exception("cakewatch ended by a fault of its own")
        sys.exit(OUR_FAULT)


async def _run(site: Path, plan: SitePlan, early: EarlySignals) -> None:
    loop = asyncio.get_running_loop()
    reloads: set[asyncio.Task[None]] = set()
    # Signals are handed on at the loop's next turn, when the daemon is made.
    daemon: Daemon

    def stop() -> None:
        daemon.stop()

    def hang_up() -> None:
        task = loop.create_task(_reload(daemon, site))
        reloads.add(task)  # the loop itself holds tasks only weakly
        task.add_done_callback(reloads.discard)

    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stop)
    loop.add_signal_handler(signal.SIGHUP, hang_up)
    store_clock = Clock()
    # Always with every outlet's cursor: a reload may add the broker or the phone (see Telling.committed).
    store = Store.open(plan.store, now=store_clock.now, outlets=OUTLETS)
    clock = Clock(start_s=store.scan_s)
    daemon = Daemon(plan, store, clock, Watchdog(os.environ.get("NOTIFY_SOCKET")))
    if early.hung_up:
        hang_up()
    await daemon.run()


async def _reload(daemon: Daemon, site: Path) -> None:
    try:
        plan = await asyncio.to_thread(load, site, os.environ)
    except SiteFileError as error:
        click.echo(str(error), err=True)
        daemon.refuse_reload(site, len(error.problems))
        return
    await daemon.reload(plan)
