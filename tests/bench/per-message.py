"""The yardstick beside an outside broker: the short script that commits each message by itself.

    python3 per-message.py PORT FILE TOPIC_FILTER COUNT

SQLite in WAL mode with synchronous = FULL, a row for each sample, a commit for each message, which is acknowledged
(QoS 1) when that is done. Prints `ready`, then `first` with the first message and `done` with the last.
"""

import json
import sqlite3
import sys

import paho.mqtt.client as mqtt

port, file, topic, count = int(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])
store = sqlite3.connect(file, isolation_level=None, check_same_thread=False)
store.execute("PRAGMA journal_mode = WAL")
store.execute("PRAGMA synchronous = FULL")
store.execute("CREATE TABLE sample (topic TEXT, name TEXT, t REAL, v REAL)")
taken = 0


def on_message(client, _data, message):
    global taken
    pack = json.loads(message.payload)
    base, at = pack[0].get("bn", ""), pack[0].get("bt", 0)
    store.execute("BEGIN IMMEDIATE")
    for record in pack:
        row = (message.topic, base + record["n"], at + record.get("t", 0), record["v"])
        store.execute("INSERT INTO sample VALUES (?, ?, ?, ?)", row)
    store.execute("COMMIT")
    taken += 1
    if taken == 1:
        print("first", flush=True)
    if taken == count:
        print("done", flush=True)


def on_subscribe(*_):
    print("ready", flush=True)


client = mqtt.Client(client_id="per-message", clean_session=True)
client.on_message = on_message
client.on_subscribe = on_subscribe
client.on_connect = lambda *_: client.subscribe(topic, qos=1)
client.connect("127.0.0.1", port, keepalive=60)
client.loop_forever()
