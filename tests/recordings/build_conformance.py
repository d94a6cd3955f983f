"""Build the conformance files: ``python tests/recordings/build_conformance.py FOLDER``.

What is in each is chosen here first and written down beside it; the reader has no part in it.
"""

import json
import math
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from cue_sensors.decoders import Packet, decoder_for
from cue_sensors.recording import RecordingWriter
from cue_sensors.samples import Calibration, Mounting, SensorInfo

START = datetime(2026, 2, 3, 19, 0, 0, 250_000, tzinfo=UTC)
START_NS = 1_770_145_200_250_000_000  # the same moment, by the calendar
G = 9.80665
PER_PACKET, PERIOD_S = 10, 0.005
SCALE_A, SCALE_G = 16 * G / 32768, math.radians(2000) / 32768
CLIPPED = (57, 123)
ENCODE = decoder_for("stroke_stream").encode


def counts(n, n_axes):
    """Return counts that a reader can check by hand: a ramp on each axis, gravity on z."""
    i = np.arange(n)[:, None]
    all_counts = 3 * i + np.array([[100, -200, 2048, 7, -9, 11]])
    all_counts[list(CLIPPED), 0] = 32767
    return all_counts[:, :n_axes].astype(np.int16)


def notifications(n, *, n_axes=6, sequence=0, clock_us=0):
    """Return arrival times and bytes of n packets; each comes 5 ms after its last sample."""
    values = counts(n * PER_PACKET, n_axes)
    for k in range(n):
        first_s = 0.1 + k * PER_PACKET * PERIOD_S
        packet = Packet(
            counts=values[k * PER_PACKET : (k + 1) * PER_PACKET],
            period_us=PERIOD_S * 1e6,
            sequence=(sequence + k) % 2**16,
            device_time_us=(clock_us + k * 50_000) % 2**32,
        )
        arrival_s = first_s + (PER_PACKET - 1) * PERIOD_S + 0.005
        yield START_NS + round(arrival_s * 1e9), ENCODE(packet)


def write(path, sent, **options):
    """Write a recording of those notifications."""
    sensor = SensorInfo(
        "stroke_stream", "bench tag", 16 * G, math.radians(2000), 200.0, SCALE_A, SCALE_G
    )
    mounting = Mounting((0.0, 0.6, 0.8), 0.01, 0.35, 1.46)
    with RecordingWriter(
        path,
        sensor=sensor,
        mounting=mounting,
        labels={"invented": "yes"},
        start_utc=START,
        **options,
    ) as writer:
        for arrival_ns, data in sent:
            writer.write(data, arrival_ns)


def expected(kept, *, n_axes=6, lost_notifications=0, n_problems=0, bias=0.0):
    """Return what a reader must find when the packets of those numbers are left."""
    index = np.concatenate([k * PER_PACKET + np.arange(PER_PACKET) for k in kept])
    values = counts(int(index[-1]) + 1, n_axes)[index]
    checked = sorted({0, 5, len(index) // 2, len(index) - 1})
    result = {
        "n_notifications": len(kept),
        "n_notifications_lost_to_damage": lost_notifications,
        "n_samples": len(index),
        "n_samples_missing": int(index[-1] - index[0] + 1 - len(index)),
        "rate_hz": 200.0,
        "start_utc": "2026-02-03T19:00:00.250000Z",
        "cue_axis": [0.0, 0.6, 0.8],
        "sensor_to_tip_m": 1.11,
        "labels": {"invented": "yes"},
        "clipped_samples": [int(i) for i in np.flatnonzero(values[:, 0] == 32767)],
        "n_problems": n_problems,
        "checked_samples": checked,
        "time_s": [round(0.105 + PERIOD_S * int(index[i]), 6) for i in checked],
        "specific_force_m_s2": [
            [round(float(v) * SCALE_A - bias, 9) for v in values[i, :3]] for i in checked
        ],
    }
    if n_axes == 6:
        result["angular_rate_rad_s"] = [
            [round(float(v) * SCALE_G, 9) for v in values[i, 3:]] for i in checked
        ]
    return result


def save(folder, name, content, result):
    """Write a file and what is in it."""
    (folder / name).write_bytes(content)
    text = json.dumps(result, indent=1)
    (folder / f"{Path(name).stem}.json").write_text(text + "\n", encoding="utf-8")


def build_recordings(folder):
    """Write the recordings."""
    source = folder / "source.mcap"

    def made(sent, **options):
        source.unlink(missing_ok=True)
        write(source, sent, **options)
        return source.read_bytes()

    sent = list(notifications(20))
    whole = made(sent)
    size = len(sent[0][1]) + 9 + 40 + 9 + 22  # a chunk: two heads and two sets of fields
    chunk = [whole.index(data) - (size - len(data)) for _, data in sent]
    save(folder, "whole.mcap", whole, expected(range(20)))
    save(
        folder, "three_axes.mcap", made(notifications(20, n_axes=3)), expected(range(20), n_axes=3)
    )
    wrapping = notifications(20, sequence=2**16 - 7, clock_us=2**32 - 400_000)
    save(folder, "counters_wrap.mcap", made(wrapping), expected(range(20)))
    some = [k for k in range(20) if k not in (6, 7, 13)]
    save(folder, "packets_lost.mcap", made([sent[k] for k in some]), expected(some))
    calibration = Calibration(accel_bias_m_s2=(0.05, 0.05, 0.05))
    content = made(sent, calibration=calibration)
    save(folder, "calibrated.mcap", content, expected(range(20), bias=0.05))
    save(folder, "not_closed.mcap", whole[: chunk[19] + size], expected(range(20), n_problems=1))
    save(folder, "cut_in_a_chunk.mcap", whole[: chunk[15] + 77], expected(range(15), n_problems=1))
    hit = bytearray(whole)
    hit[chunk[9] + 100] ^= 0x10
    left = [k for k in range(20) if k != 9]
    save(
        folder, "chunk_damaged.mcap", bytes(hit), expected(left, lost_notifications=1, n_problems=2)
    )
    hit = bytearray(whole)
    hit[chunk[9] + 3] ^= 0x10  # in the record's length
    save(
        folder,
        "length_damaged.mcap",
        bytes(hit),
        expected(left, lost_notifications=1, n_problems=2),
    )
    hit = bytearray(whole)
    second = whole.index(b"bench tag", whole.index(b"bench tag") + 1)
    hit[second] ^= 0x01
    save(folder, "description_damaged.mcap", bytes(hit), expected(range(20), n_problems=1))
    source.unlink()


def build_stream(folder):
    """Write notifications of the stroke stream, good and bad, as JSON."""
    head = "0103ffff" + "00ffffff" + "8813" + "02" + "0c"
    body = "0100ff7f0080" + "feff00000a00" + "020003000400" + "050006000700"
    good = {
        "sequence": 65535,
        "clock_us": 4294967040,
        "period_us": 5000,
        "counts": [[1, 32767, -32768, -2, 0, 10], [2, 3, 4, 5, 6, 7]],
        "is_saturated": False,
        "has_lost_before": False,
        "is_replayed": False,
    }
    only = {**good, "counts": [[1, 32767, -32768], [-2, 0, 10]]}
    cases = [
        {"is": "two samples of six axes", "hex": head + body, "reads": good},
        {
            "is": "three axes, with every remark set",
            "hex": head.replace("0103", "0139").replace("020c", "0206") + body[:24],
            "reads": {**only, "is_saturated": True, "has_lost_before": True, "is_replayed": True},
        },
        {
            "is": "a further channel behind six axes, skipped",
            "hex": head.replace("0103", "0107").replace("020c", "020e")
            + body[:24] + "aaaa" + body[24:] + "bbbb",
            "reads": good,
        },
        {"is": "unknown flags, ignored", "hex": head.replace("0103", "01c3") + body, "reads": good},
        {"is": "empty", "hex": "", "reads": None},
        {"is": "a byte short of a header", "hex": head[:-2], "reads": None},
        {"is": "a byte short", "hex": (head + body)[:-2], "reads": None},
        {"is": "a byte long", "hex": head + body + "00", "reads": None},
        {"is": "version 2", "hex": "02" + (head + body)[2:], "reads": None},
        {"is": "no accelerometer", "hex": head.replace("0103", "0102") + body, "reads": None},
        {"is": "no samples", "hex": head.replace("020c", "000c"), "reads": None},
        {"is": "period 0", "hex": head.replace("8813", "0000") + body, "reads": None},
        {"is": "six axes in six bytes", "hex": head.replace("0c", "06") + body[:24], "reads": None},
        {"is": "an odd size", "hex": head.replace("020c", "010d") + body[:26], "reads": None},
    ]  # fmt: skip
    text = json.dumps(cases, indent=1)
    (folder / "stroke_stream.json").write_text(text + "\n", encoding="utf-8")


def build_csv(folder):
    """Write the CSV files."""
    n = 40
    rows = [[k * PERIOD_S, 0.01 * k, -0.5, G, 0.001 * k, 0.0, -0.25] for k in range(n)]
    checked = [0, 20, 39]
    result = {
        "n_samples": n,
        "rate_hz": 200.0,
        "cue_axis": [1.0, 0.0, 0.0],
        "checked_samples": checked,
        "time_s": [rows[i][0] for i in checked],
        "specific_force_m_s2": [rows[i][1:4] for i in checked],
        "angular_rate_rad_s": [rows[i][4:] for i in checked],
        "n_problems": 0,
    }
    note = "# cue_axis: 1, 0, 0\n# invented: yes\n"
    si = "time_s,ax_m_s2,ay_m_s2,az_m_s2,gx_rad_s,gy_rad_s,gz_rad_s\n"
    text = "".join(",".join(map(repr, row)) + "\n" for row in rows)
    save(folder, "si.csv", (note + si + text).encode(), result)
    other = "gz_deg_s,gy_deg_s,gx_deg_s,az_g,ay_g,ax_g,time_ms\n"
    for t, ax, ay, az, *gyro in rows:
        values = [*map(math.degrees, reversed(gyro)), az / G, ay / G, ax / G, t * 1000]
        other += ",".join(map(repr, values)) + "\n"
    save(folder, "ms_g_deg.csv", (note + other).encode(), result)
    lists = {key: value[:2] for key, value in result.items() if isinstance(value, list)}
    cut = {**result, **lists, "cue_axis": [1.0, 0.0, 0.0], "n_samples": 39, "n_problems": 1}
    save(folder, "cut_in_a_number.csv", (note + si + text)[:-4].encode(), cut)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(exist_ok=True)
    build_recordings(target)
    build_stream(target)
    build_csv(target)
