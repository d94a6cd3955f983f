"""The layout holds: Python's own modules stay visible and imports run one way."""

import ast
import os
import signal
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = {
    "sensors": "cue_sensors",
    "signal": "cue_signal",
    "table": "cue_table",
    "practice": "cue_practice",
    "dashboard": "cue_dashboard",
    "recordings": "cue_recordings",
    "benchmarks": "cue_bench",
}
MAY_IMPORT = {
    "cue_sensors": set(),
    "cue_signal": {"cue_sensors"},
    "cue_table": set(),
    "cue_practice": {"cue_sensors", "cue_signal", "cue_table"},
    "cue_dashboard": {"cue_sensors", "cue_signal", "cue_table", "cue_practice", "cue_recordings"},
    "cue_recordings": set(),
    "cue_bench": set(PACKAGES.values()),
}
DASH_ROOTS = {"dash", "flask", "dash_mantine_components", "dash_ag_grid"}


def test_signal_is_the_standard_module():
    assert Path(signal.__file__).parent == Path(sysconfig.get_path("stdlib"))


@pytest.mark.parametrize("root", PACKAGES)
def test_source_root_is_not_a_package(root):
    assert not (ROOT / root / "__init__.py").exists()


def test_package_names_do_not_shadow_the_standard_library():
    assert not set(PACKAGES.values()) & sys.stdlib_module_names


def _imports(package: str) -> list[tuple[Path, str]]:
    """Return (file, dotted module) of every absolute import in a package."""
    root = next(r for r, p in PACKAGES.items() if p == package)
    found = []
    for file in sorted((ROOT / root / package).rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found += [(file, alias.name) for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.append((file, node.module))
    return found


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_imports_run_one_way(package):
    allowed = MAY_IMPORT[package] | {package}
    wrong = [
        (file.name, module)
        for file, module in _imports(package)
        if module.split(".")[0] in PACKAGES.values() and module.split(".")[0] not in allowed
    ]
    assert wrong == []


def test_the_import_reader_sees_imports():
    assert "cue_signal.stroke" in {m for p in PACKAGES.values() for _, m in _imports(p)}


def test_signal_takes_nothing_from_sensors_but_the_recording_type():
    taken = {m for _, m in _imports("cue_signal") if m.startswith("cue_sensors")}
    assert taken <= {"cue_sensors.samples"}


@pytest.mark.parametrize("package", sorted(set(PACKAGES.values()) - {"cue_dashboard", "cue_bench"}))
def test_nothing_below_the_dashboard_imports_dash(package):
    assert not {m for _, m in _imports(package) if m.split(".")[0] in DASH_ROOTS}


@pytest.mark.parametrize("package", sorted(set(PACKAGES.values()) - {"cue_bench"}))
def test_the_truth_beside_the_recordings_is_read_by_tests_and_benchmarks_only(package):
    root = next(r for r, p in PACKAGES.items() if p == package)
    readers = [
        file.name
        for file in (ROOT / root / package).rglob("*.py")
        if ".truth" in file.read_text(encoding="utf-8")
    ]
    assert readers == []


def test_our_programs_leave_the_second_core_to_others():
    """OpenBLAS reads how many threads it may start when numpy is imported first."""
    told = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    asks = "import cue_dashboard.cli, os; print(os.environ['OPENBLAS_NUM_THREADS'])"
    first = "import sys, cue_dashboard; print('numpy' in sys.modules)"
    for code, answer in ((asks, "1"), (first, "False")):
        done = subprocess.run(
            [sys.executable, "-c", code], env=told, capture_output=True, text=True
        )
        assert done.stdout.strip() == answer, done.stderr
    told["OPENBLAS_NUM_THREADS"] = "2"  # who says so has it so
    done = subprocess.run([sys.executable, "-c", asks], env=told, capture_output=True, text=True)
    assert done.stdout.strip() == "2", done.stderr
