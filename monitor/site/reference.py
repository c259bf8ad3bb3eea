"""Reference numbers: the two ways to name a Modbus entry, which are one apart.

On the wire every table begins at 0: the protocol address. Most manuals print reference numbers, from 1, with a
leading digit for the table: 30001 is input register 0. The second way is a habit of the trade and stands in no
Modbus specification, so both are always shown side by side.
"""

from monitor.words import Table

TABLE_OF_DIGIT = {
    "0": Table.COIL,
    "1": Table.DISCRETE_INPUT,
    "3": Table.INPUT_REGISTER,
    "4": Table.HOLDING_REGISTER,
}
DIGIT_OF_TABLE = {table: digit for digit, table in TABLE_OF_DIGIT.items()}

#: Entries in a table: protocol addresses 0 to 65535.
ENTRIES = 65536


def parse(reference_number: str) -> tuple[Table, int]:
    """Return the table and protocol address of a reference number of 5 or 6 digits.

    Raises:
        ValueError: it names entry 0, which does not exist, or one beyond the end of the table.
    """
    table, entry = TABLE_OF_DIGIT[reference_number[0]], int(reference_number[1:])
    if not 1 <= entry <= ENTRIES:
        raise ValueError(f"entries are counted from 1 to {ENTRIES}")
    return table, entry - 1


def reference_of(table: Table, address: int) -> str:
    """Return the reference number: 5 digits where they are enough, otherwise 6."""
    entry = address + 1
    return f"{DIGIT_OF_TABLE[table]}{entry:04d}" if entry <= 9999 else f"{DIGIT_OF_TABLE[table]}{entry:05d}"


def with_article(table: Table) -> str:
    """Return ``a coil``, ``an input register``."""
    return f"an {table}" if table is Table.INPUT_REGISTER else f"a {table}"


def mistaken_for_address(table: Table, address: int) -> int | None:
    """Return the protocol address that was probably meant, where one looks like a reference number."""
    text = str(address)
    if len(text) == 5 and text[0] == DIGIT_OF_TABLE[table] and 1 <= int(text[1:]) <= 9999:
        return int(text[1:]) - 1
    return None


def place(link: str, unit_id: int, table: Table, address: int, width: int = 1) -> str:
    """Return where a point is read, for people, in both ways of counting."""
    last = f" to {address + width - 1}" if width > 1 else ""
    last_reference = f" to {reference_of(table, address + width - 1)}" if width > 1 else ""
    word = "addresses" if width > 1 else "address"
    reference = reference_of(table, address)
    return (
        f"{link} unit {unit_id}, {table}, protocol {word} {address}{last} (reference {reference}{last_reference})"
    )
