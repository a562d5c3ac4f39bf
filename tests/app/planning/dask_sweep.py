"""Compares three choices on a local Dask cluster and prints what came of them.

A process of its own, since a cluster leaves a thread behind when it closes.
"""

from __future__ import annotations

import json

import distributed

from app.planning.choices import stock_choices
from app.planning.compare import Effort, compare
from app.stock.book import StockSheet
from tests.app.planning.small_jobs import INCH, prepared_squares

if __name__ == "__main__":
    prepared = prepared_squares(21)
    sizes = [
        StockSheet("a", "alu", "a", 48 * INCH, 96 * INCH, price=1),
        StockSheet("b", "alu", "b", 60 * INCH, 120 * INCH, price=2),
    ]
    choices = stock_choices(prepared.job.materials[0], prepared.job.cutters[0], sizes)
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            dashboard_address=":0",
            worker_dashboard_address=None,
            host="127.0.0.1",
            silence_logs=50,
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        outcomes = compare(prepared, choices, Effort(0.0, rounds=0), executor=client.get_executor())
        workers = len(client.scheduler_info()["workers"])
    print(json.dumps({"workers": workers, "outcomes": [[one.choice.name, one.sheets, one.cost] for one in outcomes]}))
