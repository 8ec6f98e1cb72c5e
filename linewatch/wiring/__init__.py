"""The only place where drivers, engine, history and screen meet."""
