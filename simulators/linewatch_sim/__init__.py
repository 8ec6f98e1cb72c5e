"""Plants that are not there: simulated instruments on real sockets."""
