# A balance on Modbus RTU behind a TCP port of the loopback interface, as generic-balance-modbus describes one: for
# trials of the shipped program. Prints its port, answers until it is killed. After "MODBUS Application Protocol
# V1.1b3", 6.3 and 6.4, and "MODBUS over serial line V1.02" (frame, CRC).
import socket

INPUT = {0: 0, 1: 12345, 2: 1}  # 123.45 g, stable
HOLDING = dict(enumerate([0x5472, 0x6961, 0x6C20, 0x6261, 0x6C61, 0x6E63, 0x6520, 0x3700], 1000))  # "Trial balance 7"


def crc(frame):
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return value.to_bytes(2, "little")


def answer(request):
    unit, function = request[0], request[1]
    first, count = int.from_bytes(request[2:4], "big"), int.from_bytes(request[4:6], "big")
    registers = {3: HOLDING, 4: INPUT}.get(function, {})
    if any(at not in registers for at in range(first, first + count)):
        body = bytes([unit, function | 0x80, 2])
    else:
        words = b"".join(registers[at].to_bytes(2, "big") for at in range(first, first + count))
        body = bytes([unit, function, len(words)]) + words
    return body + crc(body)


server = socket.create_server(("127.0.0.1", 0))
print(server.getsockname()[1], flush=True)
while True:
    link, _ = server.accept()
    held = b""
    while True:
        try:
            came = link.recv(256)
        except OSError:
            break
        if not came:
            break
        held += came
        while len(held) >= 8:
            if crc(held[:6]) != held[6:8]:
                held = held[1:]
                continue
            request, held = held[:8], held[8:]
            if request[0] == 2:
                link.sendall(answer(request))
    link.close()
