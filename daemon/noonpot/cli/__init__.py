"""The command ``noonpot``: asks, shows, and tells mistakes in sentences. Exit codes: 0 done, 1 it
failed, 2 the input or the configuration is wrong.
"""

import sys

import typer

from noonpot.cli import backup, cooks, demo, files, plan, probes, rate, report, setup, sky, watching
from noonpot.errors import ConfigError, CookError, NoonpotError, RecordingError, WeatherError

app = typer.Typer(
    name="noonpot",
    help="Watches food in solar cookers, so that you can leave.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command("init")(setup.init)
app.command("demo")(demo.demo)
app.command("run")(watching.run)
app.command("check")(setup.check)
app.command("plan")(plan.plan)
app.command("rate")(rate.rate)
app.command("aim")(sky.aim)
app.command("replay")(files.replay)
app.command("export")(files.export)
app.command("backup")(backup.backup)
app.command("restore")(backup.restore)
app.command("report")(report.report)
app.add_typer(probes.app, name="probes")
app.add_typer(cooks.app, name="cook")

WRONG_INPUT = (ConfigError, CookError, RecordingError, WeatherError)


def main() -> None:
    """Run the command line."""
    try:
        app()
    except NoonpotError as error:
        print(error, file=sys.stderr)
        sys.exit(2 if isinstance(error, WRONG_INPUT) else 1)
