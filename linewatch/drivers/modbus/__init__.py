"""modbus."""
