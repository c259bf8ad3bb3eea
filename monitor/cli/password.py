"""Password: makes the hash by which a person is known at the page's login; the password itself stays nowhere."""

import click

#: Shorter ones are guessed (our choice; NIST SP 800-63B wants 8 at the least, from memory).
SHORTEST = 12


@click.command("password")
def password() -> None:
    """Make the hash of a password, for a person's login at the page.

    It asks for the password twice and prints the hash: put it in a file of its own, readable by the daemon alone,
    and name that file in the site file (commands.people, password_hash_file).
    """
    text = click.prompt("Password", hide_input=True, confirmation_prompt="Once more", err=True)
    if len(text) < SHORTEST:
        raise click.ClickException(f"a password has {SHORTEST} characters or more: shorter ones are guessed")
    from monitor.tell.web_passwords import hash_password  # noqa: PLC0415  a library that nothing else here needs

    click.echo(hash_password(text))
