"""Digitizers on one line that speak only when asked, each with its own manners.

A question is "#AA\\r", the answer a line "AA,POSITION,TEMPERATURE\\r\\n" of the address AA. First argument: "echo" to send
each question back first, or "plain"; second: the prompt sent behind each answer, or "". Prints the terminal to open.
"""
import os, sys, time, tty

echo, prompt = sys.argv[1] == "echo", sys.argv[2].encode()
master, slave = os.openpty()
tty.setraw(slave)
print(os.ttyname(slave), flush=True)
asked = {}


def send(data, each=0.0):
    if not each:
        os.write(master, data)
        return
    for i in range(len(data)):
        os.write(master, data[i:i + 1])
        time.sleep(each)


question = b""
while True:
    c = os.read(master, 1)
    if not c:
        break
    question += c
    if c != b"\r":
        continue
    q, question = question, b""
    if echo:
        send(q)
    address = q[1:-1].decode("ascii", "replace")
    n = asked[address] = asked.get(address, 0) + 1
    good = b"%s,%.2f,21.5\r\n" % (address.encode(), 100 + int(address or 0) + n / 100)
    manner = {"01": "good", "02": "slow", "03": "late", "04": "other", "05": "none", "06": "word", "07": "garbage", "08": "half"}.get(address)
    if manner == "good":
        send(good + prompt)
    elif manner == "slow":  # a character every 20 ms
        send(good + prompt, 0.02)
    elif manner == "late":  # every other answer comes after the timeout
        time.sleep(0.45 if n % 2 else 0)
        send(good + prompt)
    elif manner == "other":
        send(b"01,999.00,21.5\r\n" + prompt)
    elif manner == "word":
        send(b"06,OVER,21.5\r\n" + prompt)
    elif manner == "garbage":
        send(b"\xff\x00\x9c,,,\r\n" + prompt)
    elif manner == "half":
        send(b"08,12")
