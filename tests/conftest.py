"""What the tests of all rooms share: outside programs, recordings, and the rule on skips.

A test that needs an outside program asks for the fixture of its name (`ngspice`, `chromium`,
`recordings`). Where the thing is absent the test is skipped with the reason, and the summary
counts it. With CI=true a skip is a failure: there everything must be present.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from collections.abc import Generator
from importlib import resources
from pathlib import Path
from typing import NoReturn

# Two test workers share two cores: one thread each for the array library, set before it loads.
for _variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_variable, "1")

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parent.parent
IN_CI = os.environ.get("CI", "").lower() in {"1", "true", "yes"}

if (ROOT / "scripts" / "stale_kernels.py").exists():
    from stale_kernels import throw_away

    throw_away()

settings.register_profile(
    "gate",  # the same examples on every machine and every run, and no clock
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("search", parent=settings.get_profile("gate"), derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "gate"))


# ------------------------------------------------------------------ the rule on skips


def _no_skip_in_ci(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Turn a skip into a failure. Expected failures (xfail) are no skips."""
    if not (IN_CI and report.skipped) or hasattr(report, "wasxfail"):
        return
    report.outcome = "failed"
    report.longrepr = f"skipped, but with CI=true nothing may be skipped. {_reason(report)}"


def _reason(report: pytest.TestReport | pytest.CollectReport) -> str:
    """The reason of a skipped report, without the place."""
    if isinstance(report.longrepr, tuple):
        return str(report.longrepr[2]).removeprefix("Skipped: ")
    return str(report.longrepr or "no reason given")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    _no_skip_in_ci(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    _no_skip_in_ci(report)
    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """One line that counts the skipped tests by reason."""
    reasons = Counter(_reason(report) for report in terminalreporter.stats.get("skipped", []))
    if reasons:
        counted = "; ".join(f"{count} x {reason}" for reason, count in reasons.most_common())
        terminalreporter.write_line(f"not tested here: {reasons.total()} ({counted})")


# ------------------------------------------------------------------ things from outside


def _absent(reason: str) -> NoReturn:
    pytest.skip(reason)


@pytest.fixture(scope="session")
def ngspice() -> Path:
    """The independent circuit simulator."""
    found = shutil.which("ngspice")
    return Path(found) if found else _absent("ngspice is not installed")


@pytest.fixture(scope="session")
def chromium() -> Path:
    """A browser for playwright: `launch(executable_path=chromium, args=["--no-sandbox"])`."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if found := shutil.which(name):
            return Path(found)
    return _absent("no Chromium is installed")


@pytest.fixture(scope="session")
def axe_script() -> str:
    """axe-core, the accessibility checker, to be injected into a page (MPL-2.0).

    It comes inside the package axe-playwright-python 0.1.8, which carries axe-core 4.12.1.
    """
    return (resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def recordings() -> Path:
    """The folder of real bus recordings, which may not be redistributed with the code.

    BACKPROBE_RECORDINGS names it; without that, a folder shared/data/tractor_can beside the
    checkout is used.
    """
    beside = ROOT.parent / "shared" / "data" / "tractor_can"
    folder = Path(os.environ.get("BACKPROBE_RECORDINGS", beside))
    return folder if folder.is_dir() else _absent("the tractor recordings are not here")
