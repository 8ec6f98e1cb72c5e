"""OPC UA: one session to one server, read-only.

- `driver`: the way in; keeps the newest value of every item and makes blocks of them.
- `session`: the library under limits: connect, read, subscribe, close.
- `meaning`: from status, value and source time to a reading; pure.
- `items`: what is wanted, in wire terms; pure.
- `identity`: whether an item is still the one that it was.
- `security`: certificates and secrets.
- `survey`: what a server has, for commissioning.
"""
