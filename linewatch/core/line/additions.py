"""Additions: what each bath is owed, what went in, and the metal that is in it.

Rule 1: charge is counted by what it was for at the moment that this changes; looks only close
        what is counted anyway, so that the same sequence gives the same sums to the bit.
Rule 2: what a configuration changes holds from the run that brings it; what accrued before
        stays. An additive or a bath that it no longer has keeps its account.
"""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING, Any

from linewatch.core.additions.balance import (
    Account,
    Counts,
    Entry,
    Rates,
    account_from,
    millilitres,
    nanolitres,
    rates_of,
)
from linewatch.core.additions.counting import BathCount, Given, Use, bath_count_from
from linewatch.core.additions.doubts import doubts
from linewatch.core.commands import LogAddition, MarkDummy
from linewatch.core.errors import Refused
from linewatch.core.events import Event, EventKind
from linewatch.core.line import owing
from linewatch.core.line.metals_in_baths import Metals
from linewatch.core.line.study import Study

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import Command
    from linewatch.core.line.counting import Rectifier
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import AdditivePlan, BathPlan, LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000
MARK_NS = 150 * NS
MARKS_KEPT = 13
"""How fast it goes is taken over the last half hour: common practice."""
LOTS_KEPT = 200
FINE_PER_UA_NS = 2


class Additions(Study):
    """Keeps the accounts of all baths.

    Args:
        plan: The line as it is configured.
    """

    NAME = "additions"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self.baths: dict[str, BathCount] = {}
        self.accounts: dict[str, Account] = {}
        """By bath/additive; also those that the plan no longer has."""
        self.metals = Metals(plan)
        self.dummies: dict[str, int] = {}
        """Since when a tank plates dummies, by tank [ns, wall clock]."""
        self.most_ua: dict[str, int] = {}
        """The largest cathodic current seen at a look, by rectifier [µA]."""
        self.base_ns: dict[str, int] = {}
        """Unmetered time before anything was counted here, by rectifier [ns]."""
        self.flowed_ns: dict[str, int] = {}
        """Line time of the last look at which current flowed, by bath [ns]."""
        self.lots: dict[str, str] = {}
        """Which account a lot was last logged to."""
        self.next_number = 1
        self._in_force = in_force(plan)
        self._settled_for = ""
        """What of the plan is in force, as text; '' before the first entry."""
        self._bath_of = {tank.id: tank.bath for tank in plan.tanks if tank.bath}
        self._tank = {tank.id: tank for tank in plan.tanks}

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 where no bath has an account to go on with."""
        has_account = any(
            bath.additives or (bath.metal_g_per_l is not None and bath.volume_l is not None)
            for bath in self.plan.baths
        )
        return self.PERIOD_NS if has_account else 0

    # What it hears, sees and is told.

    def hear(self, line: Line, event: Event) -> list[Event]:
        """Hear that a load came or left, and what an analysis found."""
        self.settle(line)
        if event.kind is EventKind.LOAD and event.values.get("what") in {"in", "out"}:
            self._load_moved(line, event)
        elif event.kind is EventKind.ANALYSIS:
            return self.metals.hear_analysis(line, event)
        return []

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Go on with every account; tell what has become due."""
        self.settle(line)
        for name, rectifier in line.rectifiers.items():
            last = rectifier.ledger.last
            if last is not None and last.ua > 0:
                self.most_ua[name] = max(self.most_ua.get(name, 0), last.ua)
        self._go_on(line)
        self.metals.look(line, at)
        events: list[Event] = []
        for bath in self.plan.baths:
            if owing.has_current(line, bath.id):
                self.flowed_ns[bath.id] = at.mono_ns
            for additive in bath.additives:
                account = self.accounts[f"{bath.id}/{additive.id}"]
                account.mark(at.mono_ns, MARK_NS, MARKS_KEPT)
                events += self._turn(line, bath, additive, at)
        return events

    def obey(self, line: Line, command: Command, at: Moment) -> list[Event] | None:
        """Log a dose, take an entry back, or mark dummy plating.

        Returns:
            What followed; None if it is another command.

        Raises:
            Refused: there is no such additive, entry or tank, or a reason is missing.
        """
        if isinstance(command, LogAddition):
            self.settle(line)
            return self._log(line, command, at)
        if isinstance(command, MarkDummy):
            self.settle(line)
            return self._mark_dummy(line, command, at)
        return None

    # Counting.

    def settle(self, line: Line) -> None:
        """Let the plan hold from here on, if another held before."""
        if self._settled_for == self._in_force:
            return
        self._settled_for = self._in_force
        for name, rectifier in line.rectifiers.items():
            self.base_ns.setdefault(name, rectifier.ledger.unmetered_ns(line.now_ns))
        self._close_old(line)
        tanks = _plated(self.plan, line)
        for name, count in self.baths.items():
            count.settle(tanks.get(name, ()))
        for name, own in tanks.items():
            self._take_tanks(line, name, own)
        for each in self.plan.baths:
            for additive in each.additives:
                self._open(line, each.id, additive)
        self.metals.settle(line)

    def _close_old(self, line: Line) -> None:
        """Count up to now by what held until now; then only what the plan has accrues."""
        self._go_on(line)
        for account in self.accounts.values():
            account.rates = Rates()

    def _take_tanks(self, line: Line, name: str, tanks: list[str]) -> None:
        count = self.baths.setdefault(name, BathCount(began_ns=line.now_ns))
        count.settle(tanks)
        for tank, each in count.tanks.items():
            each.use = self.use(line, tank)
        count.close(self.sources(line, count))

    def _open(self, line: Line, bath: str, additive: AdditivePlan) -> None:
        counts = self.counts(line, bath)
        account = self.accounts.get(f"{bath}/{additive.id}")
        if account is None:
            account = Account(rates=rates_of(additive), seen=counts)
            self.accounts[f"{bath}/{additive.id}"] = account
        account.change(rates_of(additive), counts)

    def counts(self, line: Line, bath: str) -> Counts:
        """Return what a bath has seen up to now."""
        count = self.baths.get(bath)
        return (
            Counts() if count is None else count.counts(self.sources(line, count), line.now_ns)
        )

    def sources(self, line: Line, bath: BathCount) -> dict[str, tuple[Given, ...]]:
        """Return what the rectifiers of a bath's tanks have given, by tank."""
        found = {}
        for tank, count in bath.tanks.items():
            plating = line.platings.get(tank)
            shares = {each.name: each.share for each in plating.feeds} if plating else {}
            names = dict.fromkeys((*shares, *count.open))
            found[tank] = tuple(
                self._given(line.rectifiers[name], shares.get(name, 0.0), line.now_ns)
                for name in names
                if name in line.rectifiers
            )
        return found

    def _given(self, rectifier: Rectifier, share: float, now_ns: int) -> Given:
        return Given(
            name=rectifier.plan.id,
            share=share,
            cathodic=rectifier.ledger.cathodic,
            unmetered=self.likely_most(rectifier, now_ns),
        )

    def likely_most(self, rectifier: Rectifier, now_ns: int) -> int:
        """Return the likely most that flowed while nothing told [fine units]."""
        plan = rectifier.plan
        ns = rectifier.missed_ns(now_ns) - self.base_ns.get(plan.id, 0)
        rated_ua = round(plan.rated_current_a * 1e6) if plan.polarity == "cathodic" else 0
        return max(0, ns) * self.most_ua.get(plan.id, rated_ua) * FINE_PER_UA_NS

    def use(self, line: Line, tank: str) -> Use:
        """Return what the charge of a tank is for now."""
        if tank in self.dummies:
            return "dummy"
        return "idle" if line.positions.present.get(tank) is False else "product"

    def _go_on(self, line: Line) -> None:
        for count in self.baths.values():
            count.close(self.sources(line, count))
        for name, account in self.accounts.items():
            account.go_on(self.counts(line, name.partition("/")[0]))

    def _change_use(self, line: Line, tank: str) -> None:
        """Close what a tank has given so far; from now on it is for something else."""
        count = self.baths.get(self._bath_of.get(tank) or "")
        if count is None or tank not in count.tanks:
            return
        count.tanks[tank].close(self.sources(line, count)[tank])
        count.tanks[tank].use = self.use(line, tank)

    def _load_moved(self, line: Line, event: Event) -> None:
        tank, bath = event.subject, self._bath_of.get(event.subject)
        self._change_use(line, tank)
        count = self.baths.get(bath or "")
        if event.values["what"] == "in" or bath is None or count is None:
            return
        area_dm2 = self._tank[tank].area_dm2 or 0.0
        count.loads += 1
        count.area_cm2 += round(area_dm2 * 100)
        self.metals.carry_out(line, bath, area_dm2)

    # Dues.

    def _turn(
        self, line: Line, bath: BathPlan, additive: AdditivePlan, at: Moment
    ) -> list[Event]:
        """Tell when a dose has become due, and when it no longer is."""
        account = self.accounts[f"{bath.id}/{additive.id}"]
        counts = self.counts(line, bath.id)
        is_due = owing.is_due(additive, account, counts, at.mono_ns)
        events: list[Event] = []
        if is_due and account.due_utc_ns is None:
            account.due_utc_ns = at.utc_ns
            owed_ml = millilitres(account.owed_at(counts))
            text = f"{additive.name} is due: {owed_ml:.0f} {additive.measure} owed"
            parts = {**self._parts(line, bath.id, additive, account), "what": "due"}
            events.append(_event(bath.id, at, text, parts))
        elif not is_due:
            account.due_utc_ns = None
        alarm = line.alarms.number.get(f"{bath.id}.{additive.id}.due")
        if alarm is not None and line.alarms.active[alarm] != is_due:
            events += line.alarms.turned(alarm, at, None, active=is_due)
        return events

    # People.

    def _log(self, line: Line, command: LogAddition, at: Moment) -> list[Event]:
        name = f"{command.bath}/{command.additive}"
        account, asked = self.accounts.get(name), f"log addition {name}"
        additive = self.additive(command.bath, command.additive)
        if account is None:
            known = [
                each.partition("/")[2] for each in self.accounts if _of(each, command.bath)
            ]
            reason = (
                f"that bath has no {command.additive!r}; it has {', '.join(known) or 'none'}"
            )
            raise Refused(asked, reason)
        entry = self._entry(command, at)
        if command.corrects is not None:
            _check_correction(asked, entry, account)
        else:
            self._check_dose(line, command, entry, at)
        self.next_number += 1
        account.go_on(self.counts(line, command.bath))
        account.book(entry)
        self.lots[command.lot.strip().casefold()] = name
        self.lots.pop("", None)
        while len(self.lots) > LOTS_KEPT:
            self.lots.pop(next(iter(self.lots)))
        self.metals.added(command.bath, additive, command.amount_ml)
        return self._logged(line, command, entry, at)

    def _entry(self, command: LogAddition, at: Moment) -> Entry:
        amount_nl = nanolitres(command.amount_ml)
        return Entry(
            number=self.next_number,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            amount_nl=amount_nl,
            who=command.who,
            lot=command.lot.strip(),
            corrects=command.corrects,
            why=command.why.strip(),
        )

    def _check_dose(self, line: Line, command: LogAddition, entry: Entry, at: Moment) -> None:
        asked = f"log addition {command.bath}/{command.additive}"
        if entry.amount_nl <= 0:
            raise Refused(asked, "a negative amount takes an entry back: choose that entry")
        standing = owing.standing(line, self, command.bath, command.additive, command.lot)
        against = doubts(command.amount_ml, standing, at.utc_ns)
        if against and not entry.why:
            raise Refused(asked, f"{'; '.join(against)}. If it went in all the same, say why")
        entry.is_beyond = command.amount_ml > max(standing.owed_ml * 1.1, standing.least_ml)

    def _logged(
        self, line: Line, command: LogAddition, entry: Entry, at: Moment
    ) -> list[Event]:
        additive = self.additive(command.bath, command.additive)
        account = self.accounts[f"{command.bath}/{command.additive}"]
        parts = self._parts(line, command.bath, additive, account) | {
            "what": "logged" if entry.corrects is None else "corrected",
            "additive": command.additive,
            "number": entry.number,
            "amount_ml": entry.amount_nl / 1e6,
            "amount_nl": entry.amount_nl,
            "lot": entry.lot,
            "who": entry.who,
            "why": entry.why,
            "corrects": entry.corrects,
            "beyond": entry.is_beyond,
        }
        called = additive.name if additive is not None else command.additive
        unit = additive.measure if additive is not None else "mL"
        text = (
            f"{entry.amount_nl / 1e6:g} {unit} of {called} by {entry.who}, entry {entry.number}"
        )
        if entry.corrects is not None:
            text += f", takes entry {entry.corrects} back: {entry.why}"
        events = [_event(command.bath, at, text, parts)]
        bath = next((each for each in self.plan.baths if each.id == command.bath), None)
        if bath is not None and additive is not None:
            events += self._turn(line, bath, additive, at)
        return events

    def _parts(
        self, line: Line, bath: str, additive: AdditivePlan | None, account: Account
    ) -> dict[str, Any]:
        """Return how an account stands, with the rate and configuration in force."""
        counts = self.counts(line, bath)
        return {
            "bath": bath,
            "additive": additive.id if additive is not None else "",
            "name": additive.name if additive is not None else "",
            "measure": additive.measure if additive is not None else "mL",
            "accrued_ml": millilitres(account.accrued_at(counts)),
            "dosed_ml": account.dosed_nl / 1e6,
            "owed_ml": millilitres(account.owed_at(counts)),
            "owed_high_ml": millilitres(account.most_owed_at(counts)),
            "rate_ml_per_kah": account.rates.charge_nl / 1e6,
            "rates": owing.rate_words(additive) if additive is not None else "",
            "configuration": line.plan.fingerprint,
        }

    def _mark_dummy(self, line: Line, command: MarkDummy, at: Moment) -> list[Event]:
        tank, asked = command.tank, f"mark dummy plating {command.tank}"
        if tank not in line.platings:
            raise Refused(asked, "no current is counted there")
        if command.begins == (tank in self.dummies):
            said = "it plates dummies already" if command.begins else "it plates no dummies"
            raise Refused(asked, said)
        if command.begins:
            self.dummies[tank] = at.utc_ns
        else:
            del self.dummies[tank]
        self._change_use(line, tank)
        return []

    def additive(self, bath: str, additive: str) -> AdditivePlan | None:
        """Return an additive of the plan; None if it has none of that name."""
        return next(
            (
                each
                for of in self.plan.baths
                if of.id == bath
                for each in of.additives
                if each.id == additive
            ),
            None,
        )

    # Memory.

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on."""
        return {
            "settled_for": self._settled_for,
            "baths": {name: each.state() for name, each in self.baths.items()},
            "accounts": {name: each.state() for name, each in self.accounts.items()},
            "metals": self.metals.state(),
            "dummies": self.dummies,
            "most_ua": self.most_ua,
            "base_ns": self.base_ns,
            "flowed_ns": self.flowed_ns,
            "lots": self.lots,
            "next_number": self.next_number,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered; `settle` then lets the present plan hold."""
        self._settled_for = kept["settled_for"]
        self.baths = {name: bath_count_from(each) for name, each in kept["baths"].items()}
        self.accounts = {name: account_from(each) for name, each in kept["accounts"].items()}
        self.metals.recall(kept["metals"])
        self.dummies = dict(kept["dummies"])
        self.most_ua = dict(kept["most_ua"])
        self.base_ns = dict(kept["base_ns"])
        self.flowed_ns = dict(kept["flowed_ns"])
        self.lots = dict(kept["lots"])
        self.next_number = kept["next_number"]


def additions_of(line: Line) -> Additions | None:
    """Return the accounts of a line; None if nobody keeps them."""
    return line.studies.of(Additions)


def in_force(plan: LinePlan) -> str:
    """Return all of a plan that accounts depend on, as text."""
    feeds = [(each.id, each.feeds) for each in plan.rectifiers]
    tanks = [(each.id, each.bath) for each in plan.tanks]
    text = repr((plan.baths, feeds, tanks))
    return sha256(text.encode()).hexdigest()


def _plated(plan: LinePlan, line: Line) -> dict[str, list[str]]:
    """Return the tanks through which current passes, by bath."""
    tanks: dict[str, list[str]] = {each.id: [] for each in plan.baths}
    for tank in plan.tanks:
        if tank.id in line.platings and tank.bath in tanks:
            tanks[tank.bath].append(tank.id)
    return tanks


def _of(name: str, bath: str) -> bool:
    return name.partition("/")[0] == bath


def _check_correction(asked: str, entry: Entry, account: Account) -> None:
    """Refuse a counter-entry that does not take back exactly one entry that counts."""
    corrected = account.entry(entry.corrects)
    if corrected is None:
        raise Refused(
            asked, f"there is no entry {entry.corrects} of it that could be corrected"
        )
    if corrected.corrects is not None:
        raise Refused(asked, "that is a counter-entry; log what really went in")
    if corrected.corrected_by is not None:
        raise Refused(asked, f"entry {corrected.corrected_by} took it back already")
    if entry.amount_nl != -corrected.amount_nl:
        reason = (
            f"it takes back all of it: {-corrected.amount_nl / 1e6:g}, then log what went in"
        )
        raise Refused(asked, reason)
    if not entry.why:
        raise Refused(asked, "say why it is taken back")


def _event(bath: str, at: Moment, text: str, parts: Mapping[str, Any]) -> Event:
    return Event(
        kind=EventKind.ADDITION,
        subject=bath,
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=text,
        values=dict(parts),
    )
