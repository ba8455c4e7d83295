"""The floor under the daemon, a process: the libraries that it loads, and as little work as can be.

It reads the same files every 2 s, writes them with one commit every 10 s, and publishes three
messages a minute. It knows no food, no alarm and no forecast, and imports nothing of ours.

Run: python tests/bench/bare_watch.py FOLDER PORT FILE...
"""

import json
import sys
import threading
from itertools import count
from pathlib import Path

import apscheduler.schedulers.background
import numpy as np
import paho.mqtt.client as mqtt
import pydantic
import typer
from paho.mqtt.enums import CallbackAPIVersion

from bench.bare_store import BareStore

LOADED = (apscheduler, np, pydantic, typer)
ROUND_S, COMMIT_ROUNDS, SHOW_ROUNDS = 2.0, 5, 30


def watch(folder: Path, port: int, files: list[Path]) -> None:
    """Go round until killed."""
    store, rows, never = BareStore(folder / "bare.db"), [], threading.Event()
    client = mqtt.Client(CallbackAPIVersion.VERSION2)
    client.connect_async("127.0.0.1", port)
    client.loop_start()
    for number in count():
        values = [int(file.read_text().rpartition("t=")[2]) * 16 // 1000 for file in files]
        rows += [(number * 1024 + series, value) for series, value in enumerate(values)]
        if number % COMMIT_ROUNDS == 0:
            store.commit(rows)
            rows.clear()
        if number % SHOW_ROUNDS == 0:
            for cooker in ("box", "dish", "iron"):
                client.publish(f"bare/{cooker}/now", json.dumps(values), qos=1, retain=True)
        never.wait(ROUND_S)


if __name__ == "__main__":
    watch(Path(sys.argv[1]), int(sys.argv[2]), [Path(name) for name in sys.argv[3:]])
