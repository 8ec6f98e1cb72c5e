"""What the line is made of: configuration files in, plans and settings out.

- `works`: the way in; `read` a file, `read_text`, `Works`.
- `text`, `sections`, `model`: from bytes to validated sections, every fault collected.
- `references`, `windows`, `tags`, `addresses`, `baths`, `conditions`, `line`: from sections to
  the core's plan and the drivers' settings (`links`).
- `library`: the bath library. `advice`: what to say with an alarm. `schema`: for editors.
"""

from linewatch.config.works import Works, read, read_text, replace_addresses

__all__ = ["Works", "read", "read_text", "replace_addresses"]
