"""Exit codes that monitoring systems read, and a command that keeps to them."""

from enum import IntEnum

import click


class Condition(IntEnum):
    """Exit codes of the Monitoring Plugins Development Guidelines."""

    HEALTHY = 0
    WARNING = 1
    CRITICAL = 2
    UNKNOWN = 3


class MonitoringCommand(click.Command):
    """A command whose wrong usage is `unknown`: click's own exit code 2 would read as critical."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the options; a wrong one is told as click tells it, and ends with 3."""
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            error.show()
            raise click.exceptions.Exit(Condition.UNKNOWN) from error
