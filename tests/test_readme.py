"""README.md is true: its commands run, its messages are the program's, nothing is left out."""

import os
import re
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import typer.main
from typer.core import TyperGroup

from cookingcases import examples as cooking_examples
from noonpot.cli import command_line
from noonpot.core.readings import Fault, FaultKind, Role
from noonpot.core.rules import RULES
from noonpot.core.rules.doubt import lid_text, misplaced_text
from noonpot.core.sanity_signs import Sign, SignKind
from noonpot.core.wording import Wording
from noonpot.settings.foodlist import read_foods
from noonpot.settings.reading import load
from safetycases import examples as safety_examples
from stationcases import examples

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
CONFIG = ROOT / "tests" / "config" / "readme.toml"
DEADLINE_S = 60.0

# What a person answers to `noonpot init`, by the words with which each question begins. An empty
# answer is the default.
PERSON = {"Latitude": "40.2", "Longitude": "-105.1", "Elevation": "5250 ft"}
ROLES = {"box/pot": "pot", "box/core": "core", "ambient": "ambient", "irradiance": "irradiance"}


def blocks(text: str, kind: str) -> list[str]:
    """What stands between fences of this kind, also where they are indented in a list."""
    found = re.findall(rf"^( *)```{kind}\n(.*?)^\1```", text, flags=re.MULTILINE | re.DOTALL)
    return [textwrap.dedent(body) for _, body in found]


def commands() -> list[str]:
    lines = "".join(blocks(README, "console")).splitlines()
    return [line.removeprefix("$ ") for line in lines if line.startswith("$ ")]


class Terminal:
    """A terminal in a folder with a configuration, in which the page is followed."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self._folder = folder
        self._stack = stack
        self._environment = {**os.environ, "COLUMNS": "100"}
        self._environment.pop("NOONPOT_CONFIG", None)
        self.done: list[str] = []

    def follow(self, line: str) -> None:
        match shlex.split(line):
            case ["noonpot", "run", *_]:
                self._stack.enter_context(self._daemon(shlex.split(line)[1:]))
            case ["noonpot", *arguments]:
                self._noonpot(arguments)
            case ["export", setting]:
                name, _, value = setting.partition("=")
                self._environment[name] = value
            case ["make", target]:
                makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
                assert re.search(rf"^{target}:", makefile, flags=re.MULTILINE), line
            case ["source", ".venv/bin/activate"]:
                assert "VENV := .venv\n" in (ROOT / "Makefile").read_text(encoding="utf-8")
            case ["sudo", "apt", "install", *packages]:
                assert {"make", "python3-venv"} >= set(packages), line
            case _:
                raise AssertionError(f"nobody tries {line!r} before a cook does")
        self.done.append(line)

    def _noonpot(self, arguments: list[str]) -> None:
        ran = subprocess.run(
            [sys.executable, "-m", "noonpot", *arguments],
            cwd=self._folder,
            env=self._environment,
            input=answers() if arguments[0] == "init" else "",
            capture_output=True,
            encoding="utf-8",
            timeout=DEADLINE_S,
            check=False,
        )
        print(f"$ noonpot {shlex.join(arguments)}\n{ran.stdout}{ran.stderr}")
        assert ran.returncode == 0, f"noonpot {shlex.join(arguments)}: {ran.stderr}{ran.stdout}"

    @contextmanager
    def _daemon(self, arguments: list[str]) -> Iterator[None]:
        """The real daemon, from the moment it says it is ready until it is told to stop."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as notices:
            notices.bind(str(self._folder / "notices"))
            notices.settimeout(DEADLINE_S)
            daemon = subprocess.Popen(
                [sys.executable, "-m", "noonpot", *arguments],
                cwd=self._folder,
                env={**self._environment, "NOTIFY_SOCKET": str(self._folder / "notices")},
            )
            try:
                while notices.recv(1024) != b"READY=1":
                    assert daemon.poll() is None
                yield
                daemon.send_signal(signal.SIGTERM)
                assert daemon.wait(DEADLINE_S) == 0
            finally:
                daemon.kill()
                daemon.wait()


def answers() -> str:
    """One line for each question of `noonpot init --simulated`, in their order."""
    station = ["", PERSON["Latitude"], PERSON["Longitude"], PERSON["Elevation"], "", ""]
    cooker = ["", "", "", "none"]
    probes = [line for role in ROLES.values() for line in (role, "")]
    return "\n".join([*station, *cooker, *probes, "none", ""])


def test_every_command_on_the_page_works_in_the_order_of_the_page(tmp_path: Path) -> None:
    shutil.copy(CONFIG, tmp_path / "noonpot.toml")
    with ExitStack() as stack:
        terminal = Terminal(tmp_path, stack)
        for line in commands():
            terminal.follow(line)
    assert sum(line.startswith("noonpot ") for line in terminal.done) >= 15
    assert "noonpot run" in terminal.done
    assert "bread" in (tmp_path / "first-loaf.csv").read_text(encoding="utf-8")
    trial = load(tmp_path / "trial.toml")
    assert {p.address: p.role.value for p in trial.station.probes} == ROLES


def known_commands(group: object, name: str = "noonpot") -> dict[str, set[str]]:
    """The options of every command of the program."""
    assert isinstance(group, TyperGroup)
    known: dict[str, set[str]] = {}
    for word, command in group.commands.items():
        if isinstance(command, TyperGroup):
            known |= known_commands(command, f"{name} {word}")
        if not isinstance(command, TyperGroup) or command.invoke_without_command:
            known[f"{name} {word}"] = {option for p in command.params for option in p.opts}
    return known


COMMANDS = known_commands(typer.main.get_command(command_line()))


def test_every_command_has_a_line_in_the_table() -> None:
    told = re.findall(r"^\| `(noonpot [a-z ]+?)(?: [A-Z][A-Z_ ]*)?` \|", README, flags=re.MULTILINE)
    assert sorted(told) == sorted(COMMANDS)


def test_the_page_promises_no_option_that_is_not_there() -> None:
    told = set(re.findall(r"(?<=[ `])--[a-z][a-z0-9-]+", README))
    of_others = {"--help", "--since"}  # typer's own, and journalctl's
    before = {option for p in typer.main.get_command(command_line()).params for option in p.opts}
    assert told - of_others <= before.union(*COMMANDS.values())


OUT = Sign(SignKind.OUT, "box-core", 0.0, 61.0, 92.0, 60.0, Role.POT, 95.0)
LID = Sign(SignKind.LID, "box-pot", 0.0, 112.0, 81.0, 60.0, Role.IRRADIANCE, 0.0)


def message_rows() -> dict[str, str]:
    section = README.split("## What each message means")[1].split("\n## ")[0]
    rows = [line.split(" | ") for line in section.splitlines() if line.startswith("| `")]
    return {row[0].strip("| `"): row[2] for row in rows}


def test_every_alarm_is_explained_in_the_words_that_reach_the_phone() -> None:
    words = Wording(declination_deg=8.0)
    now = datetime(2026, 6, 3, 11, 42, tzinfo=UTC)
    silent = Fault("box-core", now, 0.0, FaultKind.NOT_ANSWERING)
    said = (
        {
            "preheated": words.preheated("box", 112.0, 110.0, "bread"),
            "done": words.done("box", "bread", 96.0, 120.0, hazardous=False),
            "turn": words.turn("box", 19.0, 0.59, 140.0, 58.0, 720.0),
            "probe": words.probe("box", [silent]),
            "probe-out": misplaced_text(words, "box", OUT),
            "lid": lid_text(words, "box", LID, 60.0),
            "no-news": words.no_news("box", now),
        }
        | safety_examples()
        | cooking_examples()
    )
    assert set(said) == set(RULES)
    assert message_rows() == said | examples()


def test_the_page_says_what_can_burn_blind_break_and_sicken() -> None:
    cautions = README.split("## Before you begin")[1].split("\n## ")[0]
    for word in ("Burns", "Eyes", "Glass", "Food safety", "second thermometer", "rely on Noonpot"):
        assert word in cautions


def pages() -> list[Path]:
    inside = [
        p for d in ("daemon", "hardware", "systemd", "docs") for p in (ROOT / d).rglob("*.md")
    ]
    return sorted([*ROOT.glob("*.md"), *inside])


def headings(page: Path) -> set[str]:
    """The anchors of a page, made as forges make them."""
    titles = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return {re.sub(r"[^\w -]", "", title).lower().replace(" ", "-") for title in titles}


def test_every_link_and_picture_leads_somewhere() -> None:
    broken = []
    for page in pages():
        text = page.read_text(encoding="utf-8")
        for link in re.findall(r'(?<=\]\()[^)\s]+(?=\))|(?<=src=")[^"]+', text):
            name, _, anchor = link.partition("#")
            target = page.parent / name if name else page
            if link.startswith("https://"):
                continue
            if not target.exists() or (anchor and anchor not in headings(target)):
                broken.append(f"{page.relative_to(ROOT)}: {link}")
    assert broken == []


DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_place_on_the_map_for_developers_is_there() -> None:
    places = re.findall(r"`((?:[a-z_]+/)[\w./-]*)`", DEVELOPERS)
    assert len(places) > 30
    assert [place for place in places if not (ROOT / place).exists()] == []


def test_the_map_for_developers_stays_short_and_lists_every_decision() -> None:
    assert len(DEVELOPERS.splitlines()) <= 150
    for decision in (ROOT / "docs" / "decisions").glob("*.md"):
        title = decision.read_text(encoding="utf-8").splitlines()[0].removeprefix("# ")
        link = f"[{title.replace('`', '')}](docs/decisions/{decision.name})"
        assert link in DEVELOPERS


def test_every_module_that_a_decision_points_to_is_there() -> None:
    modules = [
        p.as_posix() for d in ("daemon", "hardware", "tests") for p in (ROOT / d).rglob("*.py")
    ]
    for page in (ROOT / "docs" / "decisions").glob("*.md"):
        for name in re.findall(r"`([\w/]+\.py)`", page.read_text(encoding="utf-8")):
            assert any(module.endswith(f"/{name}") for module in modules), f"{page.name}: {name}"


def test_the_probe_that_developers_are_shown_reads(tmp_path: Path) -> None:
    probe, alarm = blocks(DEVELOPERS, "python")
    imports = (
        "from collections.abc import Mapping, Sequence\nfrom pathlib import Path\n"
        "from noonpot.core.cook import Event\n"
        "from noonpot.core.readings import Defect, FaultKind, Measured\n"
        "from noonpot.core.alarms import Condition\n"
        "from noonpot.core.facts import Case\n"
        "from noonpot.ports import Bus, Found, Surroundings\n"
    )
    (tmp_path / "example.py").write_text(f"{imports}\n{probe}\n{alarm}", encoding="utf-8")
    (tmp_path / "number").write_text("41.5")
    trial = (
        "import example\nbus = example.open_bus({'file': 'number'}, None)\n"
        "print(bus.scan()[0].address, bus.read('number').value)\n"
        "print(example.open_bus({'file': 'gone'}, None).read('number').kind)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", trial], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert ran.stdout == "number 41.5\nnot-answering\n"


def test_the_food_that_developers_are_shown_is_taken(tmp_path: Path) -> None:
    (food,) = blocks(DEVELOPERS, "toml")
    (tmp_path / "foods.toml").write_text(food, encoding="utf-8")
    assert read_foods(tmp_path / "foods.toml")["polenta"].hold_s == 1200
    (tmp_path / "noonpot.toml").write_text(CONFIG.read_text(encoding="utf-8") + food)
    assert load(tmp_path / "noonpot.toml").foods["polenta"].wet
