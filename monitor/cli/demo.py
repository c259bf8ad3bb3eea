"""``cakewatch demo``: a simulated plant, a broker and the real daemon in one process, shown live.

Everything between the plant and the screen is the product itself: Modbus TCP in, MQTT and HTTP out. Only the
plant is invented, and its clock runs fast.
"""

import asyncio
import contextlib
import logging
import signal
import sys
import tempfile
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path

import click
from rich.console import Console
from rich.live import Live

from monitor.cli import demo_broker, demo_stage
from monitor.cli.demo_picture import save_picture
from monitor.cli.demo_plain import plain_lines
from monitor.cli.demo_screen import screen
from monitor.cli.demo_stage import HOST, Ports
from monitor.cli.demo_view import Addresses, DemoView, duration
from monitor.cli.demo_watch import Watched
from monitor.cli.run import CANNOT_START
from monitor.clock import Clock
from monitor.daemon.running import Daemon
from monitor.daemon.telling import OUTLETS
from monitor.errors import CakewatchError
from monitor.plant.demo_plant import demo_plant
from monitor.plant.server import serve
from monitor.remember.store import Store
from monitor.site.load import load

#: The screen is drawn anew this often, real seconds.
FRAME_S = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What was asked for on the command line; ``minutes`` is real time, None is until Ctrl+C."""

    seed: int
    speed: float
    minutes: float | None
    ports: Ports
    plain: bool
    picture: Path | None


@click.command()
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same plant.")
@click.option("--speed", type=click.FloatRange(1, 240), default=60.0, show_default=True, help="Times real time.")
@click.option("--minutes", type=click.FloatRange(0, min_open=True), help="End after that many real minutes.")
@click.option("--port", type=click.IntRange(1, 65533), help="HTTP here, MQTT and Modbus on the next two.")
@click.option("--plain", is_flag=True, help="Append lines instead of drawing (so it is in a pipe).")
@click.option("--picture", type=click.Path(path_type=Path), help="Draw the last screen into that file, as SVG.")
def demo(
    seed: int, speed: float, minutes: float | None, port: int | None, plain: bool, picture: Path | None
) -> None:
    """Show the daemon at work on a simulated plant, with nothing to install or set up.

    Within two minutes: the sawtooth of cleaning, a high alarm that latches, and its timed clearing. Ports are
    free ones unless --port names the first of three.
    """
    options = Options(
        seed=seed,
        speed=speed,
        minutes=minutes,
        ports=Ports.from_first(port),
        plain=plain or not sys.stdout.isatty(),
        picture=picture,
    )
    try:
        asyncio.run(_play(options))
    except CakewatchError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_START)


async def _play(options: Options) -> None:
    """Set the stage, run the daemon on it, and show it until told to stop."""
    async with _stage(options) as (daemon, watched):
        _end_on_signals(daemon)
        running = asyncio.create_task(daemon.run())
        try:
            async with asyncio.timeout(None if options.minutes is None else options.minutes * 60.0):
                await _show(watched, running, plain=options.plain)
        except TimeoutError:
            daemon.stop()
        await running
        if options.picture is not None and watched.latest is not None:
            save_picture(watched.latest, options.picture)


@contextlib.asynccontextmanager
async def _stage(options: Options) -> AsyncIterator[tuple[Daemon, Watched]]:
    """Plant, broker, site file and store, in this order; all gone afterwards."""
    trouble = _keep_logs_off_the_screen()
    clock = Clock(speed=options.speed)
    async with contextlib.AsyncExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cakewatch-demo-")))
        plant = await serve(demo_plant(options.seed), clock, HOST, demo_stage.free_port(options.ports.modbus))
        stack.push_async_callback(plant.close)
        mqtt = await stack.enter_async_context(demo_broker.broker(HOST, options.ports.mqtt))
        ports = Ports(http=demo_stage.free_port(options.ports.http), mqtt=mqtt, modbus=plant.port)
        yield _daemon(folder, ports, clock, trouble)


def _daemon(folder: Path, ports: Ports, clock: Clock, trouble: "_Trouble") -> tuple[Daemon, Watched]:
    """Build the daemon exactly as ``cakewatch run`` does, from a site file on the disk."""
    file = folder / "demo-site.yaml"
    file.write_text(demo_stage.site_text(ports, folder / "store"), encoding="utf-8")
    plan = load(file, {})
    store = Store.open(plan.store, now=clock.now, outlets=OUTLETS)
    daemon = Daemon(plan, store, clock, watch=lambda names: watched.changed(names))  # noqa: PLW0108 - made a line below
    watched = Watched(daemon, _addresses(ports, plan.mqtt.base_topic if plan.mqtt else ""), clock.now())
    trouble.watched = watched
    return daemon, watched


def _addresses(ports: Ports, base_topic: str) -> Addresses:
    return Addresses(
        modbus=f"{HOST}:{ports.modbus}",
        mqtt_host=HOST,
        mqtt_port=ports.mqtt,
        base_topic=base_topic,
        http_url=f"http://{HOST}:{ports.http}",
    )


def _end_on_signals(daemon: Daemon) -> None:
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, daemon.stop)


async def _show(watched: Watched, running: asyncio.Task[None], *, plain: bool) -> None:
    """Show moment after moment until the daemon ends."""
    if plain:
        await _tell(watched, running)
    else:
        await _draw(watched, running)


async def _tell(watched: Watched, running: asyncio.Task[None]) -> None:
    previous: DemoView | None = None
    while not running.done():
        view = await watched.look()
        for line in plain_lines(previous, view):
            click.echo(line)
        previous = view
        await asyncio.wait((running,), timeout=FRAME_S)


async def _draw(watched: Watched, running: asyncio.Task[None]) -> None:
    console = Console()
    with Live(console=console, auto_refresh=False, vertical_overflow="crop") as live:
        while not running.done():
            view = await watched.look()
            # One line stays free for the cursor, or the terminal would scroll.
            live.update(screen(view, width=console.width, height=console.height - 1), refresh=True)
            await asyncio.wait((running,), timeout=FRAME_S)
    console.print(f"Ended after {duration(view.plant_s)} of plant time.")


class _Trouble(logging.Handler):
    """Puts the last error that anything logged where the viewer sees it."""

    watched: Watched | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Show one error."""
        if self.watched is not None:
            self.watched.problem = record.getMessage().splitlines()[0]


def _keep_logs_off_the_screen() -> _Trouble:
    trouble = _Trouble(level=logging.ERROR)
    logging.getLogger().handlers = [trouble]
    return trouble
