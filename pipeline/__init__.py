"""Turn a playback room's logs into continuity figures and signed-for reports.

Data flows one way: files → ``ingest`` → ``check`` and ``model`` → ``measure`` → ``render``. The rooms meet only in
the database; ``flow`` knows their order.
"""

__version__ = "0.1.0"
