"""`--share`: a second address for paired phones, and what is said when there is none."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from backprobe.cli import serving
from backprobe.cli.exits import Exit

NEIGHBOUR = "127.0.0.2"
"""A second address of this computer, as one in the shop's network would be."""
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="127.0.0.2 is there on Linux only")


def test_phones_come_in_by_a_second_address_and_are_asked_for_the_code(shop: Path) -> None:
    program = subprocess.Popen(
        [
            *(sys.executable, "-m", "backprobe.cli", "serve", "--shop", str(shop), "--port", "0"),
            *("--json", "--share", NEIGHBOUR),
        ],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert program.stdout is not None
        said = json.loads("".join(program.stdout.readline() for _ in range(4)))
        with urllib.request.urlopen(said["address"], timeout=30) as answer:
            assert "Phones beside the machine" in answer.read().decode()
        assert said["pair"].startswith(f"http://{NEIGHBOUR}:")
        with pytest.raises(urllib.error.HTTPError) as stranger:
            urllib.request.urlopen(said["pair"].rpartition("/pair/")[0], timeout=30)
        assert stranger.value.code == 403
        stranger.value.close()
        with urllib.request.urlopen(said["pair"], timeout=30) as answer:
            assert "Pair this phone" in answer.read().decode()
    finally:
        program.terminate()
        program.communicate(timeout=30)
    assert program.returncode == Exit.DONE


def test_what_is_printed_says_how_to_pair(shop: Path) -> None:
    program = subprocess.Popen(
        [
            *(sys.executable, "-u", "-m", "backprobe.cli", "serve", "--shop", str(shop)),
            *("--port", "0", "--share", NEIGHBOUR),
        ],
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env={"PYTHONIOENCODING": "utf-8", "PATH": "/usr/bin:/bin"},
    )
    try:
        assert program.stdout is not None
        lines = []
        while not lines or "letting them go" not in lines[-1]:
            lines.append(program.stdout.readline())
            assert lines[-1], lines
    finally:
        program.terminate()
        program.communicate(timeout=30)
    text = "".join(lines)
    assert lines[0].startswith("Backprobe: http://127.0.0.1:")
    assert f"Pair a phone, within 10 minutes: http://{NEIGHBOUR}:" in text
    assert sum("\u2588" in line or "\u2580" in line for line in lines) > 12  # the QR code


def test_sharing_is_off_unless_asked_for(shop: Path) -> None:
    program = subprocess.Popen(
        [
            *(sys.executable, "-m", "backprobe.cli", "serve", "--shop", str(shop), "--port", "0"),
            "--json",
        ],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert program.stdout is not None
        said = json.loads("".join(program.stdout.readline() for _ in range(3)))
        assert list(said) == ["address"]
        port = int(said["address"].rpartition(":")[2])
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection((NEIGHBOUR, port), timeout=5)
    finally:
        program.terminate()
        program.communicate(timeout=30)


def test_error_an_address_of_another_computer(command, shop: Path) -> None:
    said = command("serve", "--port", "0", "--shop", shop, "--share", "192.0.2.7")
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: 192.0.2.7 is not an address of this computer. [address-not-here]\n"
        "  why: Phones can only be let in by an address this computer has in their network.\n"
        "  do:  Say --share alone, or give the address the network settings show.\n"
    )


def test_error_no_network(command, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "ELSEWHERE", "127.0.0.1")
    said = command("serve", "--port", "0", "--shop", shop, "--share")
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: This computer is in no network, so there is nobody to share with. [no-network]\n"
        "  why: Its Wi-Fi is off, or no cable is in.\n"
        "  do:  Join the shop's network or a phone's hot spot, then start again. Without --share "
        "it works on this computer alone.\n"
    )
