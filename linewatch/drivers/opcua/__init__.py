"""opcua."""
