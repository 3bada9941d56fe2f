"""airhours' share of the job: load and models, no pages; `python -m bench.speed.jobs.airhours_job SITE DATABASE`."""

import sys
from pathlib import Path

from bench.speed.jobs.job import STATES, print_answer
from pipeline.ingest import load_site
from pipeline.model import build_models
from pipeline.settings import read_settings
from pipeline.store import Store

UNREADABLE = "select count(*) from raw_set_aside where feed in ('events', 'switches', 'bookings', 'tickets')"
REPEATS = "select sum(repeat_count) from core_files where feed in ('events', 'switches')"


def main() -> None:
    site = Path(sys.argv[1])
    settings = read_settings(site)
    sums = ", ".join(f"sum({state}_s) as {state}" for state in STATES)
    with Store(Path(sys.argv[2])) as store:
        with store.transaction():
            load_site(site, settings, store)
            build_models(store)
        months = store.read(f"select month, {sums} from metric_air group by month").rows(named=True)
        aside, repeats = (int(store.value(question)) for question in (UNREADABLE, REPEATS))
    by_state = [(row["month"], state, round(row[state] * 1_000_000)) for row in months for state in STATES]
    print_answer(by_state, aside, repeats)


if __name__ == "__main__":
    main()
