# Wires the contacts of a served bench to the modem inputs of a port behind the serial shim: what its counter tells of
# contact 1 moves CTS, of contact 2 DSR, as fast as it comes. Arguments: the counter's pseudo-terminal, the file of the
# port's lines (ShimLines in serial_shim.hpp).
import mmap
import os
import struct
import sys
import tty

terminal, lines_file = sys.argv[1:3]
source = os.open(terminal, os.O_RDWR | os.O_NOCTTY)
tty.setraw(source)
INPUTS = 0
WIRED = {b"1": (0x020, 8), b"2": (0x100, 12)}  # TIOCM_CTS, TIOCM_DSR; where their changes are counted

with open(lines_file, "r+b") as file:
    lines = mmap.mmap(file.fileno(), 48)


def word(at):
    return struct.unpack_from("<I", lines, at)[0]


held = b""
while True:
    try:
        came = os.read(source, 4096)
    except OSError:
        break
    if not came:
        break
    *whole, held = (held + came).split(b"\n")
    for line in whole:
        fields = line.split()
        if len(fields) != 6 or fields[0] != b"E":
            continue
        bit, count = WIRED[fields[3]]
        closed = fields[4] == b"1"
        if bool(word(INPUTS) & bit) == closed:
            continue
        struct.pack_into("<I", lines, INPUTS, word(INPUTS) ^ bit)
        struct.pack_into("<I", lines, count, (word(count) + 1) & 0xFFFFFFFF)
