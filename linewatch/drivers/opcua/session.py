"""One session with one server: asyncua under limits of our own.

Rule 1: every call has an outer limit, closing included; a library may wait for ever.
Rule 2: whatever goes wrong is LinkLost, with what was being done; nothing is tried again here.
Rule 3: only reading services are used: endpoints, session, read, translate, subscribe.
Rule 4: a server's limits are asked for and, where it refuses, found by halving.

The library's own reconnection, watchdogs and subscription objects are left unused: they would
restore items under ids that may mean something else by then.
"""

from __future__ import annotations

import asyncio
import logging
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from asyncua import ua
from asyncua.client.client import Client
from asyncua.crypto.security_policies import SecurityPolicyBasic256Sha256
from asyncua.ua.attribute_ids import AttributeIds
from asyncua.ua.uaerrors import UaStatusCodeError

from linewatch.core.errors import LinkLost
from linewatch.drivers.opcua import nodes, security
from linewatch.drivers.opcua.endpoints import check_endpoint
from linewatch.drivers.opcua.tally import Tally
from linewatch.drivers.opcua.trouble import LASTING, TOO_MANY, TROUBLE, in_words

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Sequence

    from linewatch.config.model import LinkSection
    from linewatch.core.ports import Clock

T = TypeVar("T")

# It logs whole requests when it is talkative, a password among them; and what it reports
# reaches us as exceptions anyway.
logging.getLogger("asyncua").setLevel(logging.CRITICAL)

SESSION_MS = 60_000
"""How long a server keeps the session of a client that was killed: it may have few."""
CONNECT_STEPS = 4
"""Connecting is several questions and answers; the whole of it gets so many time limits."""
CLOSE_S = 1.2
"""Closing ends after this, whatever the server does: a driver has two seconds."""
MOST_KEPT = 1000
"""No server is asked to keep more changes of one item than this."""
_IDLE_S = 86_400.0
_MODES = {
    "sign": ua.MessageSecurityMode.Sign,
    "sign-and-encrypt": ua.MessageSecurityMode.SignAndEncrypt,
}


class _TooMany(Exception):
    """The server takes fewer at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """How one item should be monitored."""

    handle: int
    """What its notifications are told under."""
    sampling_s: float
    queue: int | None = None
    """How many changes the server should keep for us; None: as many as it can see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Monitored:
    """What a server made of one item."""

    status: int
    """0 if it is monitored, else why not."""
    sampling_s: float
    wanted: int
    """How many changes it was asked to keep from one publishing to the next."""
    kept: int
    """How many it keeps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Granted:
    """What a server made of the subscription asked for."""

    publishing_s: float
    keep_alive_s: float
    items: tuple[Monitored, ...]


class Session:
    """One session; opened once, closed once, then thrown away.

    Args:
        link: The link's section.
        clock: The time.
        on_news: Takes each notification as it arrives: place of the item, and its value.
        on_lost: Told once when the connection is gone, and how.
    """

    def __init__(
        self,
        link: LinkSection,
        clock: Clock,
        on_news: Callable[[int, ua.DataValue], None],
        on_lost: Callable[[str], None],
    ) -> None:
        self.tally = Tally()
        self.last_publish_s = clock.wall_s()
        """When the server last published anything, a keep-alive included [wall time]."""
        self._link = link
        self._clock = clock
        self._on_news = on_news
        self._on_lost = on_lost
        self._client = Client(link.address, timeout=link.timeout, watchdog_intervall=_IDLE_S)
        self._subscription: int | None = None
        self._publishing_s = 1.0
        self._most = {"read": 1000, "translate": 200, "monitor": 1000, "browse": 100}

    async def open(self) -> None:
        """Connect and open a session.

        Raises:
            LinkLost: nobody answers, or somebody who is not trusted.
        """
        link, client = self._link, self._client
        client.name = client.description = "linewatch"
        client.application_uri = security.APPLICATION_URI
        client.session_timeout = SESSION_MS
        client.connection_lost_callback = self._connection_lost
        secrets = security.secrets_of(link.id, link.secrets)
        pinned = security.trusted_certificate(link.id, link.certificate)
        if pinned is not None or secrets is not None:
            asked = client.connect_and_get_server_endpoints()
            endpoints = await self._call("asking for its endpoints", asked, CONNECT_STEPS)
            check_endpoint(link, endpoints, pinned, has_secrets=secrets is not None)
        if link.security != "none":
            await self._secure(pinned)
        if secrets is not None:
            client.set_user(secrets.user)
            client.set_password(secrets.password)
        await self._call("connecting", client.connect(), CONNECT_STEPS)
        await self._learn_limits()

    async def _secure(self, pinned: bytes | None) -> None:
        link, client = self._link, self._client
        certificate, key = security.own_files(link.own_certificate, link.own_key)
        if link.own_certificate is None:
            made = client.setup_self_signed_certificate(key, certificate)
            await self._call("making a certificate of our own", made, CONNECT_STEPS)
            key.chmod(0o600)
        mode = _MODES[link.security]
        setting = client.set_security(
            SecurityPolicyBasic256Sha256, certificate, key, None, pinned, mode
        )
        await self._call("setting the security", setting, CONNECT_STEPS)

    async def close(self) -> None:
        """Close the session and the connection; within `CLOSE_S`, whatever the server does."""
        closing = asyncio.create_task(self._client.disconnect(), name=f"close {self._link.id}")
        done, _ = await asyncio.wait({closing}, timeout=CLOSE_S)
        if not done:
            # With the socket gone, everything that still waits for an answer ends.
            self._client.disconnect_socket()
            closing.cancel()
            await asyncio.wait({closing}, timeout=CLOSE_S / 4)
        elif not closing.cancelled():
            # A broken connection cannot be closed politely; that is no news.
            closing.exception()

    async def _call(self, doing: str, work: Awaitable[T], limits: float = 1.0) -> T:
        """Await one call of the library under our own limit and in our own words."""
        started_s = self._clock.wall_s()
        self.tally.requests += 1
        limit_s = self._link.timeout * limits
        try:
            async with asyncio.timeout(limit_s):
                result = await work
        except TimeoutError as error:
            raise self._lost("no answer", doing, f"no answer within {limit_s:g} s") from error
        except UaStatusCodeError as error:
            if error.code in TOO_MANY:
                raise _TooMany from error
            lasting = error.code in LASTING
            raise self._lost("refused", doing, in_words(error.code), lasting=lasting) from error
        except AssertionError as error:
            # asyncua asserts the kind of header and does not expect to be turned away.
            happened = "the server turned us away; let it trust our certificate"
            raise self._lost("refused", doing, happened, lasting=True) from error
        except TROUBLE as error:
            raise self._lost("connection", doing, str(error) or repr(error)) from error
        self.tally.answered(self._clock.wall_s() - started_s)
        return result

    def _lost(self, kind: str, doing: str, happened: str, *, lasting: bool = False) -> LinkLost:
        self.tally.failed(kind, f"{doing}: {happened}")
        return LinkLost(self._link.id, doing, happened, lasting=lasting)

    async def _connection_lost(self, error: Exception) -> None:
        self._on_lost(str(error) or "the connection is gone")

    async def _learn_limits(self) -> None:
        """Ask how much the server takes at once; one that does not say takes our own sizes."""
        told = await self.read(list(nodes.MOST.values()), doing="asking for its limits")
        for kind, answer in zip(nodes.MOST, told, strict=True):
            most = answer.Value.Value if answer.Value is not None else None
            if isinstance(most, int) and most > 0:
                self._most[kind] = min(self._most[kind], most)

    async def _in_batches(
        self,
        kind: str,
        doing: str,
        wanted: Sequence[Any],
        ask: Callable[[Sequence[Any]], Awaitable[list[T]]],
    ) -> list[T]:
        """Ask about many in as few questions as the server takes; one answer for each."""
        answers: list[T] = []
        while len(answers) < len(wanted):
            part = wanted[len(answers) : len(answers) + self._most[kind]]
            try:
                some = await self._call(doing, ask(part))
            except _TooMany as error:
                if len(part) == 1:
                    happened = "the server takes not even one"
                    raise self._lost("refused", doing, happened) from error
                self._most[kind] = len(part) // 2
                continue
            if len(some) != len(part):
                happened = f"{len(some)} answers to {len(part)} questions"
                raise self._lost("malformed", doing, happened)
            answers += some
        return answers

    async def read(
        self,
        wanted: Sequence[ua.NodeId],
        attribute: AttributeIds = AttributeIds.Value,
        doing: str = "reading",
    ) -> list[ua.DataValue]:
        """Return one attribute of many nodes, each with its status and times.

        Raises:
            LinkLost: the session is gone.
        """

        async def ask(part: Sequence[ua.NodeId]) -> list[ua.DataValue]:
            parameters = ua.ReadParameters(TimestampsToReturn=ua.TimestampsToReturn.Both)
            parameters.NodesToRead = [
                ua.ReadValueId(NodeId=node, AttributeId=attribute) for node in part
            ]
            return await self._client.uaclient.session.read(parameters)

        return await self._in_batches("read", doing, wanted, ask)

    async def namespaces(self) -> list[str]:
        """Return the URIs of the server's namespaces, in the order of their indices.

        Raises:
            LinkLost: the session is gone.
        """
        (told,) = await self.read([nodes.NAMESPACES], doing="reading its namespaces")
        found = told.Value.Value if told.Value is not None else None
        if not isinstance(found, list):
            raise self._lost("malformed", "reading its namespaces", "it names none")
        return [str(uri) for uri in found]

    async def properties(
        self, wanted: Sequence[ua.NodeId], name: str
    ) -> list[ua.NodeId | None]:
        """Return the id of a standard property of many nodes; None where there is none.

        Raises:
            LinkLost: the session is gone.
        """
        step = ua.RelativePathElement(
            ReferenceTypeId=nodes.HAS_PROPERTY,
            # The library's default is the way back, from a property to its owner.
            IsInverse=False,  # type: ignore[arg-type]
            TargetName=ua.QualifiedName(name, 0),
        )

        async def ask(part: Sequence[ua.NodeId]) -> list[ua.BrowsePathResult]:
            paths = [
                ua.BrowsePath(StartingNode=node, RelativePath=ua.RelativePath([step]))
                for node in part
            ]
            return await self._client.uaclient.session.translate_browsepaths_to_nodeids(paths)

        found = await self._in_batches("translate", "looking for units", wanted, ask)
        return [
            each.Targets[0].TargetId if each.StatusCode.is_good() and each.Targets else None
            for each in found
        ]

    async def children(
        self, wanted: Sequence[ua.NodeId]
    ) -> list[list[ua.ReferenceDescription]]:
        """Return the objects and variables that hang on each of some nodes.

        Raises:
            LinkLost: the session is gone.
        """
        doing = "looking through its nodes"
        classes = ua.NodeClass.Object | ua.NodeClass.Variable
        session = self._client.uaclient.session

        async def ask(part: Sequence[ua.NodeId]) -> list[ua.BrowseResult]:
            parameters = ua.BrowseParameters(RequestedMaxReferencesPerNode=ua.Counter(0))
            parameters.NodesToBrowse = [
                ua.BrowseDescription(
                    NodeId=node,
                    BrowseDirection=ua.BrowseDirection.Forward,
                    ReferenceTypeId=nodes.HIERARCHY,
                    IncludeSubtypes=True,
                    NodeClassMask=ua.UInt32(classes),
                    ResultMask=ua.UInt32(ua.BrowseResultMask.All),
                )
                for node in part
            ]
            return await session.browse(parameters)

        found = await self._in_batches("browse", doing, wanted, ask)
        children = [list(each.References or ()) for each in found]
        for place, each in enumerate(found):
            point = each.ContinuationPoint
            while point:
                parameters = ua.BrowseNextParameters(ContinuationPoints=[point])
                (more,) = await self._call(doing, session.browse_next(parameters))
                children[place] += more.References or ()
                point = more.ContinuationPoint
        return children

    async def subscribe(
        self,
        wanted: Sequence[ua.NodeId],
        wishes: Sequence[Wish],
        keep_alive_s: float,
    ) -> Granted:
        """Monitor items; `on_news` is told their handles.

        Raises:
            LinkLost: the session is gone, or the server grants no subscription.
        """
        publishing_ms = min((wish.sampling_s for wish in wishes), default=1.0) * 1000.0
        count = max(1, round(keep_alive_s * 1000.0 / publishing_ms))
        parameters = ua.CreateSubscriptionParameters(
            RequestedPublishingInterval=publishing_ms,
            RequestedMaxKeepAliveCount=count,
            # Part 4, 5.14.2: the lifetime is at least three keep-alives.
            RequestedLifetimeCount=count * 10,
            MaxNotificationsPerPublish=0,
        )
        session = self._client.uaclient.session
        made = session.create_subscription(parameters, callback=self._published)
        try:
            result = await self._call("subscribing", made)
        except _TooMany as error:
            raise self._lost("refused", "subscribing", "it grants no subscription") from error
        self._subscription = result.SubscriptionId
        self.last_publish_s = self._clock.wall_s()
        self._publishing_s = result.RevisedPublishingInterval / 1000.0
        return Granted(
            publishing_s=self._publishing_s,
            keep_alive_s=self._publishing_s * max(1, result.RevisedMaxKeepAliveCount),
            items=await self.monitor(wanted, wishes),
        )

    async def monitor(
        self, wanted: Sequence[ua.NodeId], wishes: Sequence[Wish]
    ) -> tuple[Monitored, ...]:
        """Add items to the subscription; return what the server makes of each.

        Raises:
            LinkLost: the session is gone.
        """
        queues = [wish.queue or self._changes_seen(wish.sampling_s) for wish in wishes]
        requests = [
            ua.MonitoredItemCreateRequest(
                ItemToMonitor=ua.ReadValueId(NodeId=node, AttributeId=AttributeIds.Value),
                MonitoringMode=ua.MonitoringMode.Reporting,
                RequestedParameters=ua.MonitoringParameters(
                    ClientHandle=wish.handle,
                    SamplingInterval=wish.sampling_s * 1000.0,
                    QueueSize=queue,
                    DiscardOldest=True,
                ),
            )
            for node, wish, queue in zip(wanted, wishes, queues, strict=True)
        ]

        async def ask(
            part: Sequence[ua.MonitoredItemCreateRequest],
        ) -> list[ua.MonitoredItemCreateResult]:
            parameters = ua.CreateMonitoredItemsParameters(
                SubscriptionId=self._subscription,
                TimestampsToReturn=ua.TimestampsToReturn.Both,
                ItemsToCreate=list(part),
            )
            return await self._client.uaclient.session.create_monitored_items(parameters)

        made = await self._in_batches("monitor", "subscribing", requests, ask)
        return tuple(
            Monitored(
                status=0 if each.StatusCode.is_good() else each.StatusCode.value,
                sampling_s=each.RevisedSamplingInterval / 1000.0,
                wanted=queue,
                kept=int(each.RevisedQueueSize),
            )
            for each, queue in zip(made, queues, strict=True)
        )

    def _changes_seen(self, sampling_s: float) -> int:
        """Return how often a server looks at an item from one publishing to the next."""
        return min(MOST_KEPT, max(1, math.ceil(self._publishing_s / sampling_s - 0.01)))

    def _published(self, result: ua.PublishResult) -> None:
        """Take what the server published; in its order, at once, without a queue."""
        self.last_publish_s = self._clock.wall_s()
        for news in result.NotificationMessage.NotificationData or ():
            if isinstance(news, ua.DataChangeNotification):
                for item in news.MonitoredItems:
                    self._on_news(item.ClientHandle, item.Value)
            elif isinstance(news, ua.StatusChangeNotification) and not news.Status.is_good():
                self._on_lost(f"the server ended the subscription: {news.Status.name}")

    async def probe(self) -> None:
        """Ask the server for its state, so that silence on the wire is noticed.

        Raises:
            LinkLost: it does not answer, or is not running.
        """
        await self.read([nodes.STATE], doing="asking for its state")
