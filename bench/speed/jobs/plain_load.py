"""The measure of all: the engine's own plain load of the same files.

`python -m bench.speed.jobs.plain_load SITE DATABASE`. It guesses columns and types itself, passes over
what it cannot read, and keeps neither the file nor the line of a row.
"""

import sys
from pathlib import Path

import duckdb

FEEDS = ("events/*", "switches*", "bookings*", "tickets*", "machines*", "reels*")


def main() -> None:
    site, database = Path(sys.argv[1]), sys.argv[2]
    with duckdb.connect(database) as engine:
        for pattern in FEEDS:
            if any(site.glob(f"{pattern}.csv")):
                table = pattern.strip("/*")
                files = str(site / f"{pattern}.csv").replace("'", "''")
                engine.execute(f"create table {table} as select * from read_csv('{files}', ignore_errors = true)")


if __name__ == "__main__":
    main()
