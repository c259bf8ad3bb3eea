"""Password: makes the hash by which a person is known at the page's login; the password itself stays nowhere."""

import click

from monitor.tell.web_passwords import hash_password


@click.command("password")
def password() -> None:
    """Make the hash of a password, for a person's login at the page.

    It asks for the password twice and prints the hash: put it in a file of its own, readable by the daemon alone,
    and name that file in the site file (commands.people, password_hash_file).
    """
    text = click.prompt("Password", hide_input=True, confirmation_prompt="Once more", err=True)
    try:
        click.echo(hash_password(text))
    except ValueError as error:
        raise click.ClickException(str(error)) from None
