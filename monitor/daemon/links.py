"""Links: one worker for each link of the site file, started, replanned and stopped as the file says."""

from collections.abc import Callable, Mapping

from monitor.acquire.settings import LinkPlan
from monitor.acquire.worker import LinkWorker
from monitor.clock import Clock
from monitor.daemon.tasks import Tasks
from monitor.figures import LinkFigures
from monitor.words import LinkChange, UnitScan


class Links:
    """The workers of all links."""

    def __init__(self, clock: Clock, tasks: Tasks, deliver: Callable[[UnitScan | LinkChange], None]) -> None:
        self._clock = clock
        self._tasks = tasks
        self._deliver = deliver
        self._plans: dict[str, LinkPlan] = {}
        self._workers: dict[str, LinkWorker] = {}

    async def follow(self, plans: Mapping[str, LinkPlan]) -> None:
        """Make the workers those of these plans; a link whose own settings are unchanged keeps its connection."""
        for name in [name for name in self._plans if name not in plans]:
            await self._stop(name)
        for name, plan in plans.items():
            before = self._plans.get(name)
            if before is not None and before.link == plan.link:
                self._workers[name].replan(plan)
            else:
                if before is not None:
                    await self._stop(name)
                self._start(name, plan)
            self._plans[name] = plan

    def figures(self) -> dict[str, LinkFigures]:
        """What every worker counts about itself; also asked from the thread that draws the metrics."""
        return {name: worker.figures() for name, worker in tuple(self._workers.items())}

    def set_outputs(self, name: str, values: Mapping[str, int]) -> None:
        """What the outputs of one link shall show; a link that is just being replanned is passed over."""
        if (worker := self._workers.get(name)) is not None:
            worker.set_outputs(values)

    def _start(self, name: str, plan: LinkPlan) -> None:
        worker = LinkWorker(plan, clock=self._clock, deliver=self._deliver)
        self._workers[name] = worker
        self._tasks.start(f"link {name}", worker.run())

    async def _stop(self, name: str) -> None:
        await self._tasks.end(f"link {name}")
        del self._workers[name], self._plans[name]
