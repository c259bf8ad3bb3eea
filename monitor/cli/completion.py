"""``cakewatch completion``: the script that lets a shell complete commands, options and files."""

import click
from click.shell_completion import get_completion_class


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def completion(context: click.Context, shell: str) -> None:
    """Print the completion script for SHELL.

    \b
    bash: cakewatch completion bash > ~/.local/share/bash-completion/completions/cakewatch
    zsh:  cakewatch completion zsh > "${fpath[1]}/_cakewatch"
    fish: cakewatch completion fish > ~/.config/fish/completions/cakewatch.fish
    """  # noqa: D301  click wants the \b as it stands
    kind = get_completion_class(shell)
    if kind is None:
        raise click.ClickException(f"no completion for {shell}")
    root = context.find_root().command
    click.echo(kind(root, {}, "cakewatch", "_CAKEWATCH_COMPLETE").source())
