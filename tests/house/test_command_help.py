"""Every command of `doorwright` helps those who ask it, in the same manner."""

from collections.abc import Iterator

import click
import pytest

from doorwright.cli.main import cli


def commands(context: click.Context) -> Iterator[click.Context]:
    if not isinstance(context.command, click.Group):
        yield context
        return
    for name in context.command.list_commands(context):
        command = context.command.get_command(context, name)
        assert command is not None
        yield from commands(click.Context(command, info_name=name, parent=context))


COMMANDS = list(commands(click.Context(cli, info_name="doorwright")))
PATHS = [context.command_path for context in COMMANDS]


def test_there_are_commands() -> None:
    assert {"doorwright new", "doorwright plan", "doorwright check", "doorwright pack"} <= set(PATHS)


@pytest.mark.parametrize("context", COMMANDS, ids=PATHS)
def test_help_has_a_sentence_and_an_example_of_this_command(context: click.Context) -> None:
    command = context.command
    assert command.help
    assert command.help.splitlines()[0].endswith((".", ".\n"))
    example = context.get_help().split("Example:", 1)[1]
    words = [word for word in context.command_path.split() if word.islower()]
    assert all(word in example for word in words)


@pytest.mark.parametrize("context", COMMANDS, ids=PATHS)
def test_every_option_says_what_it_does(context: click.Context) -> None:
    for parameter in context.command.params:
        if isinstance(parameter, click.Option) and parameter.name not in ("form", "help"):
            assert parameter.help, f"{context.command_path} {parameter.opts} has no help"


@pytest.mark.parametrize("context", COMMANDS, ids=PATHS)
def test_every_command_takes_json(context: click.Context) -> None:
    assert any("--json" in parameter.opts for parameter in context.command.params)


@pytest.mark.parametrize("context", COMMANDS, ids=PATHS)
def test_no_option_takes_a_secret_as_text(context: click.Context) -> None:
    # command lines are visible to other users of the machine and stay in the shell's history
    for parameter in context.command.params:
        if "passphrase" in (parameter.name or ""):
            assert isinstance(parameter.type, click.File)
