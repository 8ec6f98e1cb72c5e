"""Modbus over TCP, over a serial line, and RTU over TCP; reading functions only."""
