"""airhours' load alone, with all it does; `python -m bench.speed.jobs.airhours_load SITE DATABASE`."""

import sys
from pathlib import Path

from pipeline.ingest import load_site
from pipeline.settings import read_settings
from pipeline.store import Store


def main() -> None:
    site = Path(sys.argv[1])
    settings = read_settings(site)
    with Store(Path(sys.argv[2])) as store, store.transaction():
        load_site(site, settings, store)


if __name__ == "__main__":
    main()
