"""CSV: what is read is what was written, and every fault is named with its place and remedy."""

import math
import os
from datetime import UTC, datetime

import numpy as np
import pytest

from cue_sensors.csv_file import read_csv, write_csv
from cue_sensors.errors import RecordingError
from cue_sensors.samples import Mounting, Recording, Samples, SensorInfo

G = 9.80665
HEADER = "time_s,ax_m_s2,ay_m_s2,az_m_s2"


@pytest.fixture
def csv(tmp_path):
    def write(text, name="a.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def rows(*, header=HEADER, n=50, step=0.005, accel=(0.0, 0.0, G), gyro=None, end="\n"):
    values = [*accel, *(gyro or ())]
    lines = [",".join(f"{v:.9g}" for v in [i * step, *values]) for i in range(n)]
    return "\n".join([header, *lines]) + end


def error_of(path, **options):
    with pytest.raises(RecordingError) as caught:
        read_csv(path, **options)
    assert caught.value.file == str(path)
    assert caught.value.remedy
    return caught.value


def seeded_samples(*, n=500, has_gyroscope=True):
    rng = np.random.default_rng(7)
    return Samples(
        time_s=np.cumsum(rng.uniform(0.0045, 0.0055, n)),
        specific_force_m_s2=rng.normal((0, 0, G), 0.1, (n, 3)),
        angular_rate_rad_s=rng.normal(0, 1, (n, 3)) if has_gyroscope else None,
        is_clipped=np.arange(n) % 100 == 3,
        rate_hz=200.0,
    )


@pytest.mark.parametrize("has_gyroscope", [True, False])
def test_what_is_written_reads_back_to_the_last_bit(tmp_path, has_gyroscope):
    samples = seeded_samples(has_gyroscope=has_gyroscope)
    write_csv(samples, tmp_path / "a.csv")
    read = read_csv(tmp_path / "a.csv").samples
    np.testing.assert_array_equal(read.time_s, samples.time_s)
    np.testing.assert_array_equal(read.specific_force_m_s2, samples.specific_force_m_s2)
    np.testing.assert_array_equal(read.is_clipped, samples.is_clipped)
    assert read.has_gyroscope is has_gyroscope
    if has_gyroscope:
        np.testing.assert_array_equal(read.angular_rate_rad_s, samples.angular_rate_rad_s)


def test_a_recordings_notes_read_back(tmp_path):
    recording = Recording(
        name="r",
        samples=seeded_samples(),
        sensor=SensorInfo(name="tag, no 7", accel_range_m_s2=16 * G, gyro_range_rad_s=34.9),
        mounting=Mounting((0.6, 0.8, 0.0), 0.01, 0.31, 1.47),
        start_utc=datetime(2026, 3, 1, 19, 30, tzinfo=UTC),
        labels={"invented": "yes"},
    )
    write_csv(recording, tmp_path / "a.csv")
    read = read_csv(tmp_path / "a.csv")
    assert read.sensor == recording.sensor
    assert read.mounting == recording.mounting
    assert read.start_utc == recording.start_utc
    assert read.labels == recording.labels
    assert read.problems == ()


@pytest.mark.parametrize(
    ("header", "step", "accel", "gyro"),
    [
        ("time_ms,ax_g,ay_g,az_g,gx_deg_s,gy_deg_s,gz_deg_s", 5, (0, 0.6, 0.8), (0, 90, -180)),
        (
            "time_us,ax_mg,ay_mg,az_mg,gx_mdeg_s,gy_mdeg_s,gz_mdeg_s",
            5000,
            (0, 600, 800),
            (0, 9e4, -18e4),
        ),
        (
            HEADER + ",gx_rad_s,gy_rad_s,gz_rad_s",
            0.005,
            (0, 5.88399, 7.84532),
            (0, math.pi / 2, -math.pi),
        ),
    ],
    ids=["ms g deg", "us mg mdeg", "SI"],
)  # 1 g is 9.80665 m/s^2 by definition
def test_units_in_the_header_are_converted(csv, header, step, accel, gyro):
    samples = read_csv(csv(rows(header=header, step=step, accel=accel, gyro=gyro))).samples
    assert samples.rate_hz == pytest.approx(200)
    assert samples.time_s[-1] == pytest.approx(49 * 0.005)
    np.testing.assert_allclose(samples.specific_force_m_s2[5], [0, 0.6 * G, 0.8 * G], rtol=1e-8)
    assert samples.angular_rate_rad_s is not None
    np.testing.assert_allclose(samples.angular_rate_rad_s[5], [0, math.pi / 2, -math.pi], rtol=1e-8)


def test_columns_may_come_in_any_order_after_a_byte_order_mark_with_windows_line_ends(csv):
    text = rows(header="az_m_s2, time_s ,ax_m_s2,ay_m_s2", n=0)
    body = "".join(f"{G},{i * 0.01:.2f},0,0\r\n" for i in range(20))
    samples = read_csv(csv(b"\xef\xbb\xbf" + (text.strip() + "\r\n" + body).encode())).samples
    assert len(samples) == 20
    assert samples.specific_force_m_s2[3].tolist() == [0, 0, G]
    assert samples.rate_hz == pytest.approx(100)


@pytest.mark.parametrize("cut", range(1, 30))
def test_a_cut_last_line_is_left_out_and_said(csv, cut):
    whole = rows(n=50)
    read = read_csv(csv(whole[:-cut]))
    n_whole = whole[:-cut].count("\n") - 1
    assert len(read.samples) == n_whole
    np.testing.assert_allclose(read.samples.time_s, np.arange(n_whole) * 0.005, atol=1e-9)
    is_cut = not whole[:-cut].endswith("\n")
    assert any("cut off" in problem for problem in read.problems) is is_cut


def test_gaps_do_not_bend_the_rate_and_are_counted(csv):
    text = rows(n=100, end="\n").splitlines()
    del text[41:51]
    samples = read_csv(csv("\n".join(text) + "\n")).samples
    assert samples.rate_hz == pytest.approx(200)
    assert samples.n_lost == 10


def test_a_repeated_largest_value_is_taken_as_clipped_and_said(csv):
    text = rows().splitlines()
    for line in (20, 30, 31):
        text[line] = f"{(line - 1) * 0.005},-127.3,2,{G}"
    read = read_csv(csv("\n".join(text) + "\n"))
    assert np.flatnonzero(read.samples.is_clipped).tolist() == [19, 29, 30]
    assert "3 samples" in read.problems[0]
    assert "127.3" in read.problems[0]


def test_one_large_value_alone_is_not_clipped_unless_it_is_a_usual_range(csv):
    for peak, n_clipped in ((127.3, 0), (16 * G, 1), (16 * 9.81, 1)):
        text = rows().splitlines()
        text[20] = f"{19 * 0.005},{peak},2,{G}"
        read = read_csv(csv("\n".join(text) + "\n"))
        assert np.count_nonzero(read.samples.is_clipped) == n_clipped


def test_a_stated_range_decides_what_is_clipped(csv):
    text = rows().splitlines()
    text[20] = f"{19 * 0.005},{8 * G:.4f},2,{G}"
    read = read_csv(csv("# accel_range_g: 8\n" + "\n".join(text) + "\n"))
    assert np.flatnonzero(read.samples.is_clipped).tolist() == [19]
    assert read.problems == ()
    assert read.sensor.accel_range_m_s2 == pytest.approx(8 * G)


def test_comments_tell_the_mounting(csv):
    notes = "# cue_axis: 0, 3, 4\n#sensor_from_butt_m=0.4\n# cue_length_m: 1.45\n# just words\n"
    read = read_csv(csv(notes + "# start_utc: 2026-03-01T19:30:00\n# table: 3\n" + rows()))
    assert read.mounting.cue_axis == (0, 0.6, 0.8)
    assert read.mounting.sensor_to_tip_m == pytest.approx(1.05)
    assert read.start_utc == datetime(2026, 3, 1, 19, 30, tzinfo=UTC)
    assert read.labels == {"table": "3"}


@pytest.mark.parametrize(
    ("header", "accel", "words"),
    [
        (HEADER, (0, 0.6, 0.8), ["1 m_s2", "9.81 m_s2", "looks like g", "ax_g"]),
        (HEADER, (0, 600, 800), ["1e+03 m_s2", "looks like mg", "ax_mg"]),
        ("time_s,ax_g,ay_g,az_g", (0, 0, 9.79), ["9.79 g", "1 g", "looks like m_s2", "ax_m_s2"]),
        ("time_s,ax_g,ay_g,az_g", (0, 0, 1001), ["1e+03 g", "looks like mg"]),
        ("time_s,ax_mg,ay_mg,az_mg", (0, 0, 1.0), ["1 mg", "1e+03 mg", "looks like g"]),
    ],
)
def test_a_rest_in_another_unit_is_refused_with_what_it_looks_like(csv, header, accel, words):
    error = error_of(csv(rows(header=header, accel=accel)))
    assert error.place.startswith("column ax_")
    for word in words:
        assert word in str(error)


def test_the_rest_is_found_between_movements(csv):
    rng = np.random.default_rng(3)
    force = rng.normal(0, 8, (2000, 3))
    force[700:1000] = [0, 0, 1.0]
    lines = [f"{i * 0.005:.3f},{x:.5f},{y:.5f},{z:.5f}" for i, (x, y, z) in enumerate(force)]
    error = error_of(csv("\n".join([HEADER, *lines]) + "\n"))
    assert "looks like g" in error.problem


def test_missing_gravity_is_said_but_not_refused(csv):
    read = read_csv(csv(rows(accel=(0.01, 0.02, 0.0))))
    assert "0.0224 m_s2" in read.problems[0]
    assert "9.81" in read.problems[0]


FAULTS = [
    ("empty", b"", "", "empty"),
    ("only comments", b"# a: b\n", "", "no header"),
    ("header only", HEADER + "\n", "line 1", "0 whole rows"),
    ("one row", HEADER + "\n0,0,0,9.8\n", "line 1", "1 whole rows"),
    ("no row whole", HEADER + "\n0,0,0,9.8", "line 1", "0 whole rows"),
    (
        "text",
        rows().replace("0.1,0,", "0.1,oops,"),
        "line 22, column ax_m_s2",
        "'oops' is no number",
    ),
    ("thousands", rows().replace("0.1,0,", "0.1,1_0,"), "line 22, column ax_m_s2", "'1_0' is no"),
    ("nan", rows().replace("0.1,0,", "0.1,nan,"), "line 22, column ax_m_s2", "'nan' stands where"),
    ("inf", rows().replace("0.1,0,0", "0.1,0,-inf"), "line 22, column ay_m_s2", "'-inf'"),
    ("huge", rows().replace("0.1,0,0", "0.1,0,1e999"), "line 22, column ay_m_s2", "1e999"),
    ("no value", rows().replace("0.1,0,0", "0.1,0,"), "line 22, column ay_m_s2", "missing"),
    ("short row", rows().replace("0.1,0,0,", "0.1,0,"), "line 22", "3 values; the header has 4"),
    ("long row", rows().replace("0.1,0,0,", "0.1,0,0,0,"), "line 22", "5 values; the header has 4"),
    ("first row long", rows().replace("\n0,0,0,", "\n0,0,0,0,"), "line 2", "5 values"),
    ("all rows long", rows(header=HEADER, gyro=(1,)), "line 2", "5 values"),
    ("backwards", rows().replace("\n0.1,", "\n0.05,"), "line 22, column time_s", "0.095 to 0.05"),
    ("twice", rows().replace("\n0.1,", "\n0.095,"), "line 22, column time_s", "0.095 comes twice"),
    ("blank lines", rows().replace("\n0.1,", "\n\n\n0.05,"), "line 24, column time_s", "backwards"),
    ("unknown", rows(header=HEADER.replace("ax_m_s2", "ax")), "line 1", "unknown column 'ax'"),
    ("no unit", rows(header="t,x,y,z"), "line 1", "unknown column 't'"),
    ("one axis missing", "time_s,ax_g,az_g\n0,0,1\n1,0,1\n", "line 1", "no column for ay"),
    ("gyro axis missing", rows(header=HEADER + ",gx_rad_s,gz_rad_s"), "line 1", "no column for gy"),
    ("doubled", rows(header=HEADER + ",ax_g"), "line 1", "two columns for ax"),
    ("semicolons", rows().replace(",", ";"), "line 1", "not separated by commas"),
    ("no header", "0,0,0,9.8\n" * 9, "line 1", "unknown column '0'"),
    ("latin-1 header", "zeit_\xfc\n".encode("latin-1"), "line 1", "not in UTF-8"),
    (
        "latin-1 row",
        rows().encode().replace(b"\n0.1,0", b"\n0.1,\xfc"),
        "line 22, column ax",
        "UTF-8",
    ),
    ("rubbish", bytes(range(256)) * 20, "line 1", "no text"),
    ("one long line", b"a" * 100_000, "line 1", "no text"),
    ("bad comment", "# cue_axis: 0, 0\n" + rows(), "line 1", "'0, 0'"),
    ("bad length", "# a: b\n# cue_length_m: -1.4\n" + rows(), "line 2", "'-1.4'"),
    ("bad start", "# start_utc: noon\n" + rows(), "line 1", "'noon'"),
    ("ms as s", rows(step=5), "column time_s", "0.2 samples a second"),
    (
        "s as us",
        rows(header=HEADER.replace("time_s", "time_us")),
        "column time_us",
        "2e+08 samples",
    ),
]


@pytest.mark.parametrize(
    ("text", "place", "words"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS]
)
def test_a_fault_is_named_with_its_place(csv, text, place, words):
    error = error_of(csv(text))
    assert place in error.place
    assert bool(place) == bool(error.place)
    assert words in error.problem
    assert str(error).count("\n") == 0


def test_an_unknown_column_lists_the_known_ones(csv):
    error = error_of(csv(rows(header=HEADER + ",temperature")))
    for known in ("time_s", "ax_m_s2", "_mg", "gx_rad_s", "_deg_s"):
        assert known in error.remedy


def test_a_gigabyte_is_refused_by_its_size_alone(tmp_path):
    path = tmp_path / "big.csv"
    with path.open("wb") as file:
        file.write(HEADER.encode() + b"\n")
        os.truncate(file.fileno(), 10**9)
    error = error_of(path)
    assert "1000 MB" in error.problem
    assert "537 MB" in error.problem


def test_the_size_limit_is_exact(csv):
    path = csv(rows())
    size = path.stat().st_size
    assert len(read_csv(path, max_bytes=size).samples) == 50
    assert "at most" in error_of(path, max_bytes=size - 1).problem


def test_more_rows_than_are_read_at_once_come_out_whole(csv, monkeypatch):
    monkeypatch.setattr("cue_sensors.csv_file.ROWS_AT_ONCE", 7)
    samples = read_csv(csv(rows(n=50))).samples
    np.testing.assert_allclose(samples.time_s, np.arange(50) * 0.005, atol=1e-9)


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    assert "no such file" in error_of(tmp_path / "none.csv").problem
    assert "folder" in error_of(tmp_path).problem


def test_a_file_one_may_not_read_is_named(csv, monkeypatch):
    path = csv(rows())

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", refuse)
    assert "permission" in error_of(path).problem


def test_writing_leaves_an_existing_file_alone(csv):
    path = csv("precious")
    with pytest.raises(RecordingError, match="already a file"):
        write_csv(seeded_samples(), path)
    assert path.read_text() == "precious"


def test_reading_never_changes_the_file(csv):
    for _, text, *_ in FAULTS:
        path = csv(text)
        before = path.read_bytes()
        error_of(path)
        assert path.read_bytes() == before
