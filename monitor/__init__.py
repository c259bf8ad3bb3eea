"""cakewatch: watches the pressure drop across pulse-jet filters and says when something is wrong.

The rooms are named by what happens in them, and sort in the order in which a value passes:

    acquire → condition → interpret → judge → remember → tell

``DEVELOPERS.md`` has the whole house on one page.
"""

__version__ = "0.1.0"
