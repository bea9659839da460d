"""Every command's own help."""

from collections.abc import Iterator
from typing import Final

import click

from doorwright.cli.main import cli
from generators import markdown

_INTRO: Final = """
The pages below are what `doorwright COMMAND --help` prints. Every command takes `--json`. How to use the commands in a
script stands in [use in a script](../howto/use-in-a-script.md).
"""
_WIDTH: Final = 96


def page() -> str:
    """Return the page."""
    blocks: list[str] = []
    top = click.Context(cli, info_name="doorwright", terminal_width=_WIDTH, **cli.context_settings)
    for context in contexts(top):
        level = "##" if context.parent is None or context.parent.parent is None else "###"
        help_text = context.command.get_help(context)
        blocks += [f"{level} {_name(context)}", f"```text\n{help_text}\n```"]
    return markdown.page("Commands", _INTRO, *blocks)


def contexts(context: click.Context) -> Iterator[click.Context]:
    """Yield the context of a command and of every command below it."""
    yield context
    if isinstance(context.command, click.Group):
        for name in context.command.list_commands(context):
            command = context.command.get_command(context, name)
            if command is not None:
                below = click.Context(command, info_name=name, parent=context, terminal_width=_WIDTH)
                yield from contexts(below)


def _name(context: click.Context) -> str:
    names: list[str] = []
    at: click.Context | None = context
    while at is not None:
        names.insert(0, at.info_name or "")
        at = at.parent
    return " ".join(names)
