"""Finding a driver by the name of its protocol."""

import subprocess
import sys

import pytest

from linewatch.config.links import LinkSettings
from linewatch.config.model import LinkSection
from linewatch.drivers import PROTOCOLS, open_driver
from linewatch.drivers.modbus.driver import ModbusDriver
from linewatch.engine.clock import SystemClock


def settings(protocol: str) -> LinkSettings:
    link = LinkSection(id="line", protocol="modbus-tcp", address="127.0.0.1:502")
    return LinkSettings(link=link.model_copy(update={"protocol": protocol}), devices=())


@pytest.mark.parametrize("protocol", ["modbus-tcp", "modbus-rtu-over-tcp", "modbus-rtu"])
def test_each_protocol_has_its_driver(protocol):
    assert isinstance(open_driver(settings(protocol), SystemClock()), ModbusDriver)


def test_every_protocol_of_the_configuration_is_known():
    (options,) = (
        field.annotation.__args__
        for name, field in LinkSection.model_fields.items()
        if name == "protocol"
    )
    assert set(options) == set(PROTOCOLS)


def test_a_wrong_name_is_answered_with_those_that_exist():
    with pytest.raises(ValueError, match="no driver 'modbos'") as wrong:
        open_driver(settings("modbos"), SystemClock())
    assert str(wrong.value) == (
        "link.line.protocol: no driver 'modbos';"
        " use one of modbus-tcp, modbus-rtu-over-tcp, modbus-rtu, opcua"
    )


def test_a_driver_is_imported_only_when_it_is_opened():
    code = (
        "import sys, linewatch.drivers;"
        "print([name for name in ('pymodbus', 'serial', 'asyncua',"
        " 'linewatch.drivers.modbus.driver') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
