"""Exception codes: what does a device mean when it answers with an exception?

Names as in Modbus Application Protocol V1.1b3 §7; 07 and 09 are not in it.
"""

from monitor.words import Failure, Reason

NAMES = {
    0x01: "illegal function",
    0x02: "illegal data address",
    0x03: "illegal data value",
    0x04: "server device failure",
    0x05: "acknowledge",
    0x06: "server device busy",
    0x08: "memory parity error",
    0x0A: "gateway path unavailable",
    0x0B: "gateway target device failed to respond",
}

#: The gateway speaks for a unit that does not: for us that unit is silent, though the link is well.
SAID_BY_GATEWAY = frozenset({0x0A, 0x0B})

#: The device will answer later; we ask again at the next scan, as at any other time.
BUSY = frozenset({0x05, 0x06})


def failure_of(code: int) -> Failure:
    """Return the failure that an exception code stands for."""
    name = NAMES.get(code, "not in the Modbus specification")
    reason = Reason.NO_ANSWER if code in SAID_BY_GATEWAY else Reason.EXCEPTION_CODE
    busy = " (busy: asked again at the next scan)" if code in BUSY else ""
    return Failure(reason, f"exception {code:02X}, {name}{busy}")
