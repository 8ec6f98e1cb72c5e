"""What a server has is listed with its ids, ready to be written into a configuration."""

import tomllib
import uuid
from types import SimpleNamespace

import pytest
from asyncua import ua

from linewatch.config.model import LinkSection, TagSection
from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality
from linewatch.drivers.opcua import nodes
from linewatch.drivers.opcua.driver import OpcuaDriver
from linewatch.drivers.opcua.session import Session
from linewatch.drivers.opcua.survey import survey, surveyed_block
from tests.drivers.opcua.plant import BATH, WATER, Plant, settings_for

pytestmark = pytest.mark.wire


@pytest.fixture(scope="module")
def works():
    """A server with a folder, ids of every kind, a unit and a bad value."""
    plant = Plant()

    async def add() -> None:
        index = plant.index[BATH]
        folder = await plant.server.nodes.objects.add_folder(index, "Nickel")
        for node, name, value in (
            (ua.NodeId("Ni;T=1", index), "Temperature", 58.5),
            (ua.NodeId(1042, index), "Level", 850),
            (ua.NodeId(uuid.UUID(int=7), index), "Running", True),
            (ua.NodeId(b"\x01\x02", index, ua.NodeIdType.ByteString), "Charge", 12.5),
            (ua.NodeId("Maker", index), "Maker", "A\x1b[2JB"),
        ):
            await folder.add_variable(node, ua.QualifiedName(name, index), value)

    plant.run(add())
    plant.add("pH", 8.4, WATER)
    plant.add_unit("pH", 5321520, WATER)
    plant.write("pH", 8.4, status=0x808C0000, uri=WATER)
    yield plant
    plant.stop()


def link_to(plant: Plant) -> LinkSection:
    return LinkSection(id="ua", protocol="opcua", address=plant.address, security="none")


async def test_every_variable_is_listed_with_path_id_and_value(works, clock):
    found = await survey(link_to(works), clock)

    assert found.is_whole
    listed = {each.path: each for each in found.variables}
    assert {path: each.node for path, each in listed.items() if path != "pH"} == {
        "Nickel / Temperature": "s=Ni;T=1",
        "Nickel / Level": "i=1042",
        "Nickel / Running": f"g={uuid.UUID(int=7)}",
        "Nickel / Charge": "b=AQI=",
        "Nickel / Maker": "s=Maker",
    }
    assert {each.namespace for each in found.variables} == {BATH, WATER}
    assert listed["Nickel / Temperature"].value == "58.5"
    assert not listed["Nickel / Maker"].is_number
    assert "\x1b" not in listed["Nickel / Maker"].value
    assert (listed["pH"].unit, listed["pH"].quality) == ("pH", "sensor fault")


async def test_what_is_listed_can_be_read_by_the_driver(works, clock):
    found = await survey(link_to(works), clock)
    numbers = [each for each in found.variables if each.is_number]
    tags = {
        f"a.count.n{place}": {"node": each.node, "namespace": each.namespace}
        for place, each in enumerate(numbers)
    }

    async with OpcuaDriver(settings_for(works.address, tags), clock) as driver:
        block = await anext(driver.readings())

    good = [each for each in numbers if each.quality == "good"]
    assert len(good) == 4
    assert (block.quality == Quality.GOOD).sum() == 4


async def test_the_block_that_is_printed_is_a_tag_of_a_configuration(works, clock):
    found = await survey(link_to(works), clock)

    for variable in found.variables:
        (tag,) = tomllib.loads(f"[[device]]\n{surveyed_block(variable)}")["device"][0]["tag"]
        read = TagSection.model_validate(tag).read
        assert (read.node, read.namespace) == (variable.node, variable.namespace)


class InParts:
    """Gives two references at a time, as servers may; the library's own server cannot."""

    def __init__(self) -> None:
        self.left = [ua.ReferenceDescription(BrowseName=ua.QualifiedName(n)) for n in "abcde"]

    async def browse(self, _: ua.BrowseParameters) -> list[ua.BrowseResult]:
        return [self.some()]

    async def browse_next(self, _: ua.BrowseNextParameters) -> list[ua.BrowseResult]:
        return [self.some()]

    def some(self) -> ua.BrowseResult:
        part, self.left = self.left[:2], self.left[2:]
        return ua.BrowseResult(
            ContinuationPoint=b"more" if self.left else None, References=part
        )


async def test_references_that_come_in_parts_are_all_taken(clock):
    link = LinkSection(id="ua", protocol="opcua", address="opc.tcp://127.0.0.1:1")
    session = Session(link, clock, lambda *_: None, lambda _: None)
    session._client = SimpleNamespace(uaclient=SimpleNamespace(session=InParts()))

    (children,) = await session.children([nodes.OBJECTS])

    assert [each.BrowseName.Name for each in children] == list("abcde")


async def test_nobody_to_survey_is_a_lost_link(clock):
    link = LinkSection(id="ua", protocol="opcua", address="opc.tcp://127.0.0.1:1")

    with pytest.raises(LinkLost):
        await survey(link, clock)


@pytest.mark.parametrize("text", ["i=1042", "s=A;B=C", "s=", f"g={uuid.UUID(int=7)}", "b=AQI="])
def test_an_id_reads_as_it_was_written(text):
    node = nodes.node_id(3, text)

    assert node.NamespaceIndex == 3
    assert nodes.node_text(node) == text
