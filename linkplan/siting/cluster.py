"""The same work on a dask.distributed cluster that is already running: the same numbers as on one machine.

What all items share travels once to each worker, also to one that joins late or comes back after a crash. It
does so as Python objects (pickle): whoever can reach the scheduler can run code on all of its machines. So it
must be one's own, on a network of one's own, or be reached by TLS as dask's configuration says.
"""

from __future__ import annotations

import asyncio
import logging
import pickle
import uuid
import warnings
from collections import Counter, deque
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkplan.errors import WorkError
from linkplan.siting.alike import surroundings, version_difference
from linkplan.siting.cluster_worker import Done, carry, do
from linkplan.siting.crew import MOST_TRIES
from linkplan.siting.piece import Failure, Ready, Result, Shared, What, Work
from linkplan.siting.work import Key, ends_in_order

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_S = 10.0
"""For the scheduler to answer at first."""
PATIENCE_S = 30.0
"""Without any worker, or without an answer of the scheduler, before giving up."""
_LOOK_S = 1.0
"""Between two looks at the cluster."""
_AHEAD = 2
"""Items sent for each thread of the workers: one that is computed, and one that waits there."""
_LEAVE_S = 2.0
_MORE_S = 0.3


def run_on_cluster(
    address: str,
    items: Sequence[tuple[Key, What]],
    shared: Shared,
    *,
    prepare: Callable[[Shared, Path], Ready],
    compute: Callable[[Ready, What], Result],
    on_result: Callable[[Key, Result], None],
    progress: Callable[[float], None] | None = None,
    name: Callable[[What], str] = str,
    patience_s: float = PATIENCE_S,
) -> tuple[str, ...]:
    """As `work.run_items`, by the workers of the scheduler at `address` ("host:8786").

    `prepare` is called once in each worker process, with a folder on the worker's machine, where this
    machine's files are not to be had; `compute` may be called from several threads at once. linkplan and
    what its numbers depend on must have the same versions here and there. Gives notes for the user.

    Raises WorkError where the cluster cannot be reached, is not alike, is without workers for `patience_s`,
    or gives an item up because its workers die; what `compute` raises comes out as it is.
    """
    if not items:
        return ()
    _require_distributed()
    work = pickle.dumps(Work(shared, prepare, compute), protocol=pickle.HIGHEST_PROTOCOL)
    done = 0

    def deliver(number: int, result: Result) -> None:
        nonlocal done
        on_result(items[number][0], result)
        done += 1
        if progress is not None:
            progress(done / len(items))

    async def converse() -> tuple[str, ...]:
        async with _connected(address) as client:
            talk = _Talk(client, address, patience_s)
            run = _Run(talk, work, [what for _, what in items], deliver, name)
            return await run.to_the_end()

    with ends_in_order(), _quiet():
        return asyncio.run(converse())


def _require_distributed() -> None:
    try:
        import distributed  # noqa: F401
    except ImportError:
        raise WorkError(
            "a cluster needs the package distributed here and there: pip install 'linkplan[cluster]'"
        ) from None


@contextmanager
def _quiet() -> Iterator[None]:
    """What the library logs and warns of reaches nobody: what matters is said in one line."""
    roots = ("distributed", "tornado", "asyncio")
    names = {*roots, *(name for name in logging.root.manager.loggerDict if name.split(".")[0] in roots)}
    levels = {name: logging.getLogger(name).level for name in names}
    for name in names:
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", module=r"distributed\b")
            yield
    finally:
        for name, level in levels.items():
            logging.getLogger(name).setLevel(level)


@asynccontextmanager
async def _connected(address: str) -> AsyncIterator[Client]:
    import distributed

    fault = f"no scheduler of a cluster can be reached at {address!r}"
    client = None
    try:
        try:
            async with asyncio.timeout(CONNECT_S + 1.0):
                ways = {"asynchronous": True, "set_as_default": False, "timeout": CONNECT_S}
                client = distributed.Client(address, **ways)
                await client
        except TimeoutError:
            raise WorkError(f"{fault}: what is there does not answer as one does") from None
        except Exception as error:
            cure = (
                f"write host:port, as it shows it; its distributed must be {distributed.__version__}, as here"
            )
            raise WorkError(f"{fault} ({_line(error)}); {cure}") from None
        yield client
    finally:
        if client is not None:
            with suppress(Exception):
                async with asyncio.timeout(_LEAVE_S):
                    await client.close()


def _line(error: BaseException) -> str:
    """The first line of an error, with its kind where the words are few."""
    words = str(error).strip().splitlines()
    return f"{type(error).__name__}: {words[0][:200]}" if words else type(error).__name__


class _Talk:
    """What is asked of a scheduler besides the work, with a clear word where no answer comes."""

    def __init__(self, client: Client, address: str, patience_s: float) -> None:
        self.client = client
        self.address = address
        self._patience_s = patience_s
        self._now = asyncio.get_running_loop().time
        self._worker_seen = self._now()
        self._looked = -1e9
        self.threads = 0
        """Of all workers together, as of the last look."""

    async def look(self) -> None:
        """Count the workers' threads, not too often. Raises WorkError when there have been none for long."""
        if self._now() - self._looked < _LOOK_S:
            return
        counts: dict[str, int] = await self._ask(lambda: self.client.nthreads())
        self._looked = self._now()
        self.threads = sum(counts.values())
        if self.threads:
            self._worker_seen = self._now()
        elif self._now() - self._worker_seen > self._patience_s:
            raise WorkError(
                f"the cluster at {self.address!r} has had no worker for {self._patience_s:g} s; "
                "start some (dask worker ADDRESS), and run again"
            )

    async def require_alike(self) -> None:
        """WorkError where the scheduler or a worker lacks linkplan, or has another version.

        All else that must be alike each worker looks at itself, before its first item.
        """
        found = await self._ask(lambda: self.client.get_versions(packages=["linkplan"]))
        version = found["client"]["packages"]["linkplan"]
        here = {"linkplan": version} if version else {}  # not installed, but on the path
        ends = {"the scheduler": found["scheduler"]} | {
            f"worker {address}": about for address, about in sorted(found["workers"].items())
        }
        for end, about in ends.items():
            unlike = about and version_difference(here, about["packages"])  # nothing: it was too busy to tell
            if unlike:
                raise WorkError(f"{end} of the cluster at {self.address!r} {unlike}; install the same there")

    async def _ask(self, question: Callable[[], Any]) -> Any:
        try:
            async with asyncio.timeout(max(self._patience_s, CONNECT_S)):
                return await question()
        except Exception as error:
            raise self.lost(error) from None

    def lost(self, error: BaseException) -> WorkError:
        """The scheduler is gone, or does not answer any more."""
        return WorkError(
            f"the scheduler at {self.address!r} was lost ({_line(error)}); run again when it is back"
        )


@dataclass(frozen=True)
class _Heard:
    """What came of an item that was sent."""

    number: int
    said: Done | BaseException
    cancelled: bool
    """Neither done nor failed: the scheduler, or what the item needs, was lost."""


class _Run:
    """All items, from the first that is sent to the last result."""

    def __init__(
        self,
        talk: _Talk,
        work: bytes,
        tasks: Sequence[Any],
        deliver: Callable[[int, Result], None],
        name: Callable[[Any], str],
    ) -> None:
        self._talk = talk
        self._client = talk.client
        self._work = work
        self._tasks = tasks
        self._deliver = deliver
        self._name = name
        self._label = uuid.uuid4().hex
        self._waiting = deque(range(len(tasks)))
        self._losses: Counter[int] = Counter()
        self._carried: Future | None = None
        self._listeners: set[asyncio.Task[None]] = set()
        self._heard: asyncio.Queue[_Heard] = asyncio.Queue()
        self._sent = 0
        self._processors: set[str] = set()

    async def to_the_end(self) -> tuple[str, ...]:
        """Deliver all results; gives notes for the user."""
        await self._talk.require_alike()
        left = len(self._tasks)
        out = 0
        try:
            while left:
                await self._talk.look()
                while self._waiting and out < max(1, _AHEAD * self._talk.threads):
                    self._send(self._waiting.popleft())
                    out += 1
                heard = None
                with suppress(TimeoutError):
                    async with asyncio.timeout(_LOOK_S):
                        heard = await self._heard.get()
                if heard is not None:
                    out -= 1
                    left -= await self._take(heard)
        finally:
            for listener in self._listeners:
                listener.cancel()
        return self._notes()

    def _send(self, number: int) -> None:
        """Submit an item; first, or where it is lost, what all share."""
        self._sent += 1
        submit, label = self._client.submit, f"{self._label}-{self._sent}"
        try:
            if self._carried is None or self._carried.status not in ("pending", "finished"):
                self._carried = submit(
                    carry, self._work, surroundings(), key=f"linkplan-shared-{label}", pure=False
                )
            future = submit(do, self._carried, self._tasks[number], key=f"linkplan-item-{label}", pure=False)
        except Exception as error:
            raise self._talk.lost(error) from None
        listener = asyncio.create_task(self._listen(number, future))
        self._listeners.add(listener)
        listener.add_done_callback(self._listeners.discard)

    async def _listen(self, number: int, future: Future) -> None:
        try:
            said = await future.result()
        except BaseException as error:  # cancelled comes in several kinds
            said = error
        self._heard.put_nowait(_Heard(number, said, future.cancelled()))

    async def _take(self, heard: _Heard) -> int:
        """Deliver a result, or see to what came instead; gives the number of results delivered."""
        number, said = heard.number, heard.said
        if isinstance(said, Done):
            if isinstance(said.outcome, Failure):
                raise said.outcome.error
            self._processors.add(said.processor)
            self._deliver(number, said.outcome)
            return 1
        if not heard.cancelled:
            raise await self._explained(number, said)
        if self._client.status != "running":
            raise self._talk.lost(said)
        self._losses[number] += 1
        if self._losses[number] >= MOST_TRIES:
            raise WorkError(
                f"{self._name(self._tasks[number])}: the cluster at {self._talk.address!r} dropped it "
                f"{MOST_TRIES} times ({_line(said)})"
            )
        self._waiting.appendleft(number)
        return 0

    async def _explained(self, number: int, error: BaseException) -> WorkError:
        """Why the cluster itself could not do an item."""
        from distributed.scheduler import KilledWorker

        if isinstance(error, KilledWorker):
            await asyncio.sleep(_MORE_S)  # those that waited behind it at the same workers come with it
            numbers = [number]
            while not self._heard.empty():
                more = self._heard.get_nowait()
                numbers += [more.number] if isinstance(more.said, KilledWorker) else []
            names = " or ".join(self._name(self._tasks[one]) for one in sorted(numbers))
            return WorkError(
                f"{names}: given up, for the workers that had it died one after another; where memory is "
                "short, start fewer workers on a machine"
            )
        await self._talk.require_alike()  # a worker that joined later may not be
        return WorkError(
            f"{self._name(self._tasks[number])}: the cluster at {self._talk.address!r} failed at it "
            f"({_line(error)})"
        )

    def _notes(self) -> tuple[str, ...]:
        others = sorted(self._processors - {surroundings().processor})
        if not others:
            return ()
        return (
            f"Workers have other processors ({', '.join(others)}) than this machine "
            f"({surroundings().processor}): the last bits of their numbers may differ.",
        )
