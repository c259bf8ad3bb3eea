"""A device made of libmodbus (C, by ctypes), to be run as a process of its own.

    python libmodbus_device.py tcp PORT
    python libmodbus_device.py rtu DEVICE BAUD PARITY STOP_BITS UNIT

Register n holds 7 * n + 3 (holding) or 11 * n + 5 (input), modulo 65536; coil n is set where n % 3 == 0,
discrete input n where n % 5 == 0. Prints "ready" once it can be asked. One connection at a time.
"""

import ctypes
import sys
import time
from pathlib import Path

ENTRIES = 2000
LONGEST_ADU = 260


class Mapping(ctypes.Structure):
    _fields_ = [
        *((f"n{i}", ctypes.c_int) for i in range(8)),
        ("bits", ctypes.POINTER(ctypes.c_uint8)),
        ("input_bits", ctypes.POINTER(ctypes.c_uint8)),
        ("input_registers", ctypes.POINTER(ctypes.c_uint16)),
        ("registers", ctypes.POINTER(ctypes.c_uint16)),
    ]


def library():
    lib = ctypes.CDLL("libmodbus.so.5")
    lib.modbus_new_tcp.restype = ctypes.c_void_p
    lib.modbus_new_rtu.restype = ctypes.c_void_p
    lib.modbus_new_rtu.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.c_char, ctypes.c_int, ctypes.c_int]
    lib.modbus_mapping_new.restype = ctypes.POINTER(Mapping)
    for name in ("tcp_listen", "tcp_accept", "receive", "reply", "set_slave", "connect", "close", "flush"):
        function = getattr(lib, f"modbus_{name}")
        rest = {
            "tcp_listen": [ctypes.c_int],
            "tcp_accept": [ctypes.c_void_p],
            "receive": [ctypes.c_char_p],
            "reply": [ctypes.c_char_p, ctypes.c_int, ctypes.POINTER(Mapping)],
            "set_slave": [ctypes.c_int],
        }.get(name, [])
        function.argtypes = [ctypes.c_void_p, *rest]
    return lib


def filled(lib):
    mapping = lib.modbus_mapping_new(ENTRIES, ENTRIES, ENTRIES, ENTRIES)
    for n in range(ENTRIES):
        mapping.contents.bits[n] = n % 3 == 0
        mapping.contents.input_bits[n] = n % 5 == 0
        mapping.contents.registers[n] = (7 * n + 3) & 0xFFFF
        mapping.contents.input_registers[n] = (11 * n + 5) & 0xFFFF
    return mapping


def answer(lib, context, mapping):
    """Answer until the other side goes away."""
    query = ctypes.create_string_buffer(LONGEST_ADU)
    while True:
        got = lib.modbus_receive(context, query)
        if got < 0:
            return
        if got > 0:
            lib.modbus_reply(context, query, got, mapping)


def main(argv):
    lib = library()
    mapping = filled(lib)
    if argv[0] == "tcp":
        context = lib.modbus_new_tcp(b"127.0.0.1", int(argv[1]))
        listening = ctypes.c_int(lib.modbus_tcp_listen(context, 5))
        print("ready", flush=True)
        while True:
            lib.modbus_tcp_accept(context, ctypes.byref(listening))
            answer(lib, context, mapping)
            lib.modbus_close(context)
    device, baud, parity, stop_bits, unit_id = argv[1:]
    context = lib.modbus_new_rtu(device.encode(), int(baud), parity.encode(), 8, int(stop_bits))
    lib.modbus_set_slave(context, int(unit_id))
    if lib.modbus_connect(context) != 0:
        sys.exit(f"cannot open {device}")
    print("ready", flush=True)
    while True:
        answer(lib, context, mapping)  # returns on line noise, too: go on
        time.sleep(0.02)
        if not Path(device).exists():
            sys.exit(f"{device} is gone")


if __name__ == "__main__":
    main(sys.argv[1:])
