#!/usr/bin/env python3
"""Attacks on who checks and who seals, through the shipped program: forged seals, keys past their end, hostile names
and texts, edited records, tables, scans, descriptions. Each must be told, and none may end in a signal.
Arguments: the program, the source folder. Prints how many attacks held; the exit code says whether all did."""
import glob
import hashlib
import json
import os
import pty
import re
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import termios
import time
import zipfile
import zlib

tipwright, source = sys.argv[1], sys.argv[2]
work = tempfile.mkdtemp()
os.umask(0o077)
env = dict(os.environ, HOME=work, TIPWRIGHT_REGISTER=work + "/register", TIPWRIGHT_KEYS=work + "/keys",
           TIPWRIGHT_TRIAL_NOW="2026-11-23T08:00:00Z", TIPWRIGHT_PERSON="A. Signatory")
held = {}
failures = []
hidden = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]")


def run(*arguments, more=None, input=None):
    done = subprocess.run([tipwright, *arguments], env={**env, **(more or {})}, input=input, capture_output=True,
                          timeout=300)
    out = (done.stdout + done.stderr).decode("utf-8", "strict")
    return done.returncode, out


def must(kind, name, good, said=""):
    if good:
        held[kind] = held.get(kind, 0) + 1
    else:
        failures.append(f"{kind}: {name}: {said[-400:]}")
        print("FAILED", failures[-1], file=sys.stderr)


def need(*arguments, **options):
    code, out = run(*arguments, **options)
    if code != 0:
        sys.exit(f"{' '.join(arguments)}: exit code {code}: {out}")
    return out


def refused(kind, name, *arguments, codes=(5,), **options):
    code, out = run(*arguments, **options)
    must(kind, name, code in codes and "Proved:" not in out and not hidden.search(out), f"exit code {code}: {out}")
    return out


def write(path, data):
    with open(path, "wb") as file:
        file.write(data)
    return path


def read(path):
    with open(path, "rb") as file:
        return file.read()


# --- a laboratory: a run, a certificate ---
write(work + "/phrase", b"a long passphrase\n")
write(work + "/new", b"another long passphrase\n")
secret = ["--passphrase-file", work + "/phrase"]
public = work + "/public-keys.txt"


def measure(name, *more, at="2026-11-20T08:00:00Z"):
    need("calibrate", "--bench", "virtual-bench", "--gauge", "demo-bucket-200-twin", "--plan", "three-point-check",
         "--started-at", at, "--reason", "a trial with years between", "--out", f"{work}/{name}", *more)
    return f"{work}/{name}"


def issue(record, out, more=None, phrase=secret):
    need("certificate", "draft", record, more=more)
    need("certificate", "check", "1", "--person", "C. Checker", more=more)
    need("certificate", "issue", "1", *phrase, "--out", out, more=more)
    return glob.glob(out + "/*")[0]


def register(more=None):
    need("register", "create", more=more)
    need("register", "person", "add", "C. Checker", "--may-check", "true", more=more)


need("keys", "make", *secret)
register()
run_folder = measure("run")
issued = issue(run_folder + "/record.json", work + "/issued")
need("keys", "export", "--force", "--out", public)
verify = ["verify", "--public-keys", public]
need("pack", os.path.basename(issued), "--out", work + "/pack.zip")

# --- what is whole is told so, and what was not proved with it ---
for arguments, words in (([*verify, issued], "valid then (2026-11-23)"), ([*verify, work + "/pack.zip"], "every checksum fits"),
                         (["verify", issued + "/certificate.pdf"], "valid then"), (["verify", run_folder], "what the journal gives"),
                         (["verify", *sorted(glob.glob(run_folder + "/*"))], "what the journal gives"),
                         (["verify", run_folder + "/record.json"], "journal not given")):
    code, out = run(*arguments)
    must("whole", " ".join(arguments), code == 0 and words in out and "Proved:" in out, f"exit code {code}: {out}")

# --- forged seals: every file of the certificate, by itself ---
names = sorted(os.path.basename(path) for path in glob.glob(issued + "/*"))
scratch = work + "/scratch"
os.mkdir(scratch)
for name in names:
    good = read(f"{issued}/{name}")
    line = good.rstrip(b"\n").rsplit(b"\n", 1)[-1] if b"tipwright-file-seal" in good else b""
    forged = {"a bit": bytes([*good[: len(good) // 2], good[len(good) // 2] ^ 1, *good[len(good) // 2 + 1:]]),
              "first byte": bytes([good[0] ^ 1]) + good[1:], "cut": good[:-1], "half": good[: len(good) // 2],
              "longer": good + b"\n", "another byte before": b" " + good}
    if line or name == "seal.txt":
        forged["another number"] = good.replace(b"B1-2026-00001", b"B1-2026-00002")
        forged["another date"] = good.replace(b"on 2026-11-23", b"on 2026-11-24", 1)
        forged["a digit of the signature"] = re.sub(rb"(signature .{20})(.)", lambda m: m[1] + (b"0" if m[2] != b"0" else b"1"), good)
    if line:
        forged["no seal"] = good.replace(line + b"\n", b"")
        forged["the seal of another file"] = good.replace(line, read(issued + "/formula.txt").rstrip(b"\n").rsplit(b"\n", 1)[-1]
                                                           if name != "formula.txt" else read(issued + "/correction.csv").rstrip(b"\n").rsplit(b"\n", 1)[-1])
    for what, data in forged.items():
        if data == good:
            continue
        path = write(f"{scratch}/{name}", data)
        refused("forged_seal", f"{name}, {what}", *verify, path, codes=(2, 5))
        os.remove(path)

# --- a second certificate of the same number ---
# Whoever has the keys but not the note beside them of the numbers that were given.
shutil.copytree(work + "/keys", work + "/unnoted")
for note in glob.glob(work + "/unnoted/issued-numbers*"):
    os.remove(note)
other = {"TIPWRIGHT_REGISTER": work + "/second", "TIPWRIGHT_KEYS": work + "/unnoted"}
register(other)
need("certificate", "draft", measure("run2", "--seed", "7") + "/record.json", more=other)
need("certificate", "check", "1", "--person", "C. Checker", more=other)
out = refused("twice", "without the note", "certificate", "issue", "1", *secret, codes=(2,), more=other)
must("twice", "the way is said", "register seal --numbers-anew" in out, out)
need("register", "seal", "--numbers-anew", "the disk broke", *secret, more=other)
need("certificate", "issue", "1", *secret, "--out", work + "/issued2", more=other)
second = glob.glob(work + "/issued2/*")[0]
need("pack", os.path.basename(second), "--out", work + "/pack2.zip", more=other)
names_twice = ("certificate.pdf", "certificate.xml", "correction.csv", "formula.txt", "seal.txt")
for name in names_twice:
    out = refused("twice", name, *verify, f"{issued}/{name}", f"{second}/{name}")
    must("twice", name + " said", "is another certificate" in out, out)
out = refused("twice", "two packs", *verify, work + "/pack.zip", work + "/pack2.zip")
must("twice", "two packs said", "is another certificate" in out, out)
for name in names_twice:
    refused("twice", "pack and " + name, *verify, work + "/pack.zip", f"{second}/{name}")
    refused("twice", name + " and pack", *verify, f"{second}/{name}", work + "/pack.zip")
    code, out = run(*verify, work + "/pack.zip", f"{issued}/{name}")
    must("twice", "pack and its own " + name, code == 0 and "belong together" not in out, f"exit code {code}: {out}")
# Files of two kinds: a record, or what carries one, tells; the others cannot be tied together, and that is said.
with_record = ("certificate.pdf", "certificate.xml", "seal.txt")
for first in names_twice:
    for name in names_twice:
        if first == name:
            continue
        if {first, name} & {"certificate.pdf", "certificate.xml"} or {first, name} <= set(with_record):
            refused("twice", f"{first} and {name}", *verify, f"{issued}/{first}", f"{second}/{name}")
            code, out = run(*verify, f"{issued}/{first}", f"{issued}/{name}")
            must("twice", f"{first} and its own {name}", code == 0 and "belong together" not in out, f"exit code {code}: {out}")
        else:
            for folder in (issued, second):
                code, out = run(*verify, f"{issued}/{first}", f"{folder}/{name}")
                must("twice", f"{first} and {name} are not tied", code == 0 and "that files of the same number" in out.split("Not proved:")[-1],
                     f"exit code {code}: {out}")
# A register that was sealed holds the digest of every file that it gave out.
need("register", "seal", *secret)
held_by = [*verify, "--register", work + "/register"]
for name in [*names_twice, "record.json"]:
    given = [name] if name != "record.json" else [name, "seal.txt"]
    code, out = run(*held_by, *(f"{issued}/{one}" for one in given))
    must("register", name, code == 0 and "of certificate B1-2026-00001 that the register" in out, f"exit code {code}: {out}")
    refused("register", "another " + name, *held_by, *(f"{second}/{one}" for one in given))
code, out = run(*held_by, work + "/pack.zip", issued + "/seal.txt", issued + "/formula.txt")
must("register", "pack, seal and formula", code == 0 and "belong together" not in out, f"exit code {code}: {out}")
refused("register", "another pack", *held_by, work + "/pack2.zip")
code, out = run(*held_by, issued + "/seal.txt", issued + "/formula.txt")
must("register", "what the register holds is tied", code == 0 and "belong together" not in out, f"exit code {code}: {out}")

# --- a key past its end: whoever kept a copy of it seals on ---
shutil.copytree(work + "/keys", work + "/thief")
old_key = read(work + "/keys/public-keys.txt").split(b"\n")[1].split()[1].decode()
need("keys", "rotate", *secret, "--new-passphrase-file", work + "/new", more={"TIPWRIGHT_TRIAL_NOW": "2027-01-01T08:00:00Z"})
need("keys", "export", "--force", "--out", public)
code, out = run(*verify, issued)
must("past_end", "what was sealed before stays good", code == 0, out)


def thief(name, now):
    more = {"TIPWRIGHT_KEYS": work + "/thief", "TIPWRIGHT_REGISTER": f"{work}/register-{name}", "TIPWRIGHT_TRIAL_NOW": now}
    register(more)
    folder = issue(run_folder + "/record.json", f"{work}/issued-{name}", more)
    need("pack", os.path.basename(folder), "--out", f"{work}/{name}.zip", more=more)
    return folder


late = thief("late", "2027-03-01T08:00:00Z")
early = thief("early", "2026-12-15T08:00:00Z")
for path in [*sorted(glob.glob(late + "/*")), late, work + "/late.zip"]:
    if not path.endswith("record.json"):
        refused("past_end", path, *verify, path)
refused("past_end", "record and seal", *verify, late + "/record.json", late + "/seal.txt")
refused("past_end", "record alone", *verify, late + "/record.json")
code, out = run(*verify, early, more={"TIPWRIGHT_TRIAL_NOW": "2027-03-01T08:00:00Z"})
must("past_end", "before its end it counts", code == 0, out)
out = refused("past_end", "before its day it does not", *verify, early)
must("past_end", "before its day, said", "a day in the future" in out, out)
code, out = run("keys", "revoke", old_key, "--from", "2026-12-01", "--reason", "laptop stolen", "--passphrase-file", work + "/new",
                more={"TIPWRIGHT_TRIAL_NOW": "2027-03-02T08:00:00Z"})
must("past_end", "keys revoke", code == 0, out)
need("keys", "export", "--force", "--out", public)
for path in [*sorted(glob.glob(early + "/*")), work + "/early.zip"]:
    if not path.endswith("record.json"):
        out = refused("past_end", "revoked: " + path, *verify, path)
env["TIPWRIGHT_TRIAL_NOW"] = "2027-03-03T08:00:00Z"
# Whoever has the stolen key dates back: what bears an earlier date is not wrong, and its day is not proved ...
for path in (issued, issued + "/certificate.pdf", issued + "/seal.txt", work + "/pack.zip"):
    code, out = run(*verify, path)
    must("past_end", "what was sealed before the revocation stays good: " + path,
         code == 0 and "was sealed on 2026-11-23: key" in out.split("Not proved:")[1] and "valid then" not in out, f"exit code {code}: {out}")
# ... but where the laboratory has sealed since, with another key, a register that holds it.
code, out = run(*held_by, issued + "/certificate.pdf")
must("past_end", "a register sealed by that key proves nothing", code != 0 or "valid then (2026-11-23)" not in out, f"exit code {code}: {out}")
need("register", "seal", "--passphrase-file", work + "/new")
for name in ("certificate.pdf", "certificate.xml", "seal.txt"):
    code, out = run(*held_by, f"{issued}/{name}")
    must("past_end", "a register sealed since proves " + name, code == 0 and "valid then (2026-11-23)" in out and "date back" not in out, f"exit code {code}: {out}")

# --- a certificate that was replaced, a pack that lost one, a seal of another ---
own = {"TIPWRIGHT_REGISTER": work + "/void", "TIPWRIGHT_KEYS": work + "/void-keys"}
need("keys", "make", *secret, more=own)
register(own)
own_verify = ["verify", "--public-keys", work + "/void-keys/public-keys.txt"]
chain = [issue(run_folder + "/record.json", work + "/void-1", own)]
for i, language in enumerate(("en", "de", "fr", "es"), 2):
    need("certificate", "replace", os.path.basename(chain[-1]), "--reason", "the customer's name was wrong", more=own)
    need("certificate", "check", str(i), "--person", "C. Checker", more=own)
    need("certificate", "issue", str(i), *secret, "--language", language, "--out", f"{work}/void-{i}", more=own)
    chain.append(glob.glob(f"{work}/void-{i}/*")[0])
    old, new = chain[-2:]
    for files in ([old, new], [old + "/certificate.pdf", new + "/certificate.pdf"], [old + "/formula.txt", new + "/certificate.xml"],
                  [old + "/record.json", old + "/seal.txt", new + "/certificate.pdf"]):
        code, out = run(*own_verify, *files)
        must("void", f"{language}: {' '.join(files)}", code == 5 and "VOID" in out and "Void, do not use: certificate " + os.path.basename(old) in out,
             f"exit code {code}: {out}")
numbers = [os.path.basename(folder) for folder in chain]
for name in ("certificate.pdf", "certificate.xml", "seal.txt", "formula.txt"):
    code, out = run(*own_verify, f"{chain[0]}/{name}")
    must("void", name + " alone", code == 0 and "has not replaced it since" in out.split("Not proved:")[1], f"exit code {code}: {out}")
    code, out = run(*own_verify, "--register", work + "/void", f"{chain[0]}/{name}")
    must("void", name + " with the register", code == 5 and f"replaced by {numbers[1]}" in out and "WRONG" not in out, f"exit code {code}: {out}")
code, out = run(*own_verify, "--register", work + "/void", chain[-1])
must("void", "the last one with the register", code == 0 and "replaced" not in out, f"exit code {code}: {out}")
code, out = run("--json", *own_verify, chain[0], chain[1])
said = json.loads(out)
must("void", "for machines", code == 5 and not said["ok"] and said["proved"] == [] and said["void"] == [f"certificate {numbers[0]}, replaced by {numbers[1]}"], out)
code, out = run("pack", numbers[0], "--out", work + "/void.zip", more=own)
must("void", "is not packed", code == 6 and numbers[1] in out and not os.path.exists(work + "/void.zip"), f"exit code {code}: {out}")
code, out = run("pack", numbers[0], "--replaced", "--out", work + "/void.zip", more=own)
must("void", "is packed where it is meant", code == 0 and "warning" in out and "is void" in out, f"exit code {code}: {out}")
code, out = run(*own_verify, "--register", work + "/void", work + "/void.zip")
must("void", "its pack with the register", code == 5 and "Void, do not use" in out, f"exit code {code}: {out}")
need("certificate", "amend", numbers[-1], "--reason", "a remark was left out", more=own)
need("certificate", "check", "6", "--person", "C. Checker", more=own)
need("certificate", "issue", "6", *secret, "--out", work + "/void-6", more=own)
amendment = glob.glob(work + "/void-6/*")[0]
code, out = run(*own_verify, chain[-1], amendment)
must("void", "amended, with the amendment", code == 0 and "is amended by " + os.path.basename(amendment) in out, f"exit code {code}: {out}")
code, out = run(*own_verify, "--register", work + "/void", chain[-1])
must("void", "amended, without it", code == 0 and f"it is amended, certificate {numbers[-1]} by" in out.split("Not proved:")[1], f"exit code {code}: {out}")

later = {"TIPWRIGHT_REGISTER": work + "/future", "TIPWRIGHT_KEYS": work + "/future-keys", "TIPWRIGHT_TRIAL_NOW": "2099-01-01T08:00:00Z"}
shutil.copytree(work + "/void-keys", work + "/future-keys")
for note in glob.glob(work + "/future-keys/issued-numbers*"):
    os.remove(note)
register(later)
need("register", "seal", "--numbers-anew", "the disk broke", *secret, more=later)
future = issue(run_folder + "/record.json", work + "/issued-future", later)
need("pack", os.path.basename(future), "--out", work + "/future.zip", more=later)
for path in [*(f"{future}/{name}" for name in names_twice), work + "/future.zip"]:
    out = refused("future", path, *own_verify, path)
    must("future", "said: " + path, "a day in the future" in out, out)


def unpacked(pack):
    folder = tempfile.mkdtemp(dir=scratch)
    zipfile.ZipFile(pack).extractall(folder)
    return folder


def summed(folder):
    names = sorted(os.path.relpath(os.path.join(at, name), folder) for at, _, files in os.walk(folder) for name in files)
    write(folder + "/SHA256SUMS", b"".join(hashlib.sha256(read(f"{folder}/{name}")).hexdigest().encode() + b"  " + name.encode() + b"\n"
                                           for name in names if name != "SHA256SUMS"))
    return folder


def cut(folder, number):
    """Takes a certificate out and makes both lists anew, for which no key is needed."""
    shutil.rmtree(f"{folder}/{number}")
    text = read(folder + "/contents.txt").decode()
    seal = text[text.index("# tipwright-file-seal"):] if "# tipwright-file-seal" in text else ""
    entry = text.index(f"\n{number}\n") + 1
    end = re.compile(r"\n(?=\S)").search(text, entry + len(number) + 1)
    write(folder + "/contents.txt", (text[:entry] + (text[end.start() + 1:] if end else "")).encode())
    summed(folder)
    return seal


two = [numbers[-1], os.path.basename(amendment)]
need("pack", *two, "--out", work + "/two.zip", more=own)
need("pack", *two, "--out", work + "/sealed.zip", "--seal", *secret, more=own)
code, out = run(*own_verify, work + "/two.zip")
must("pack", "without a sealed list", code == 0 and "no certificate is missing" in out.split("Not proved:")[1] and "pack whole" not in out, f"exit code {code}: {out}")
code, out = run(*own_verify, work + "/sealed.zip")
must("pack", "with a sealed list", code == 0 and "pack whole" in out and "is missing" not in out, f"exit code {code}: {out}")
for number in two:
    folder = unpacked(work + "/two.zip")
    cut(folder, number)
    code, out = run(*own_verify, folder)
    must("pack", "one cut out of an unsealed list", code == 0 and "pack whole" not in out and "no certificate is missing" in out, f"exit code {code}: {out}")
    folder = unpacked(work + "/sealed.zip")
    seal = cut(folder, number)
    if "# tipwright-file-seal" in read(folder + "/contents.txt").decode():
        refused("pack", "one cut out, the seal left", *own_verify, folder)
    else:
        code, out = run(*own_verify, folder)
        must("pack", "one cut out with the seal", code == 0 and "pack whole" not in out and "no certificate is missing" in out, f"exit code {code}: {out}")
        write(folder + "/contents.txt", read(folder + "/contents.txt") + seal.encode())
        refused("pack", "one cut out, the seal put back", *own_verify, summed(folder))
refused("pack", "its list by itself", *own_verify, unpacked(work + "/sealed.zip") + "/contents.txt")
for source_name, name in (("formula.txt", "correction.csv"), ("correction.csv", "formula.txt")):
    folder = unpacked(work + "/two.zip")
    shutil.copy(f"{folder}/{two[0]}/{source_name}", f"{folder}/{two[0]}/{name}")
    out = refused("pack", f"{source_name} as {name}", *own_verify, summed(folder))
    must("pack", f"{source_name} as {name}, said", "not under this name" in out, out)
shutil.copy(work + "/two.zip", scratch + "/more.zip")
with zipfile.ZipFile(scratch + "/more.zip", "a") as archive:
    archive.writestr("/etc/x", b"x")
out = refused("pack", "a name from the root", *own_verify, scratch + "/more.zip")
must("pack", "a name from the root stays inside", f"{scratch}/more.zip//etc/x" in out or "more.zip: " in out, out)
must("pack", "a name from the root is no path", not re.search(r"^WRONG +/etc/x", out, re.M), out)
out = refused("stranger", "a page with the code of another", *own_verify, chain[0] + "/certificate.pdf", chain[2] + "/seal.txt")
must("stranger", "said", "do not belong together" in out, out)
code, out = run("--json", *own_verify, chain[0] + "/certificate.pdf", chain[2] + "/seal.txt")
said = json.loads(out)
must("stranger", "for machines nothing is proved", code == 5 and not said["ok"] and said["proved"] == [] and said["summary"].startswith("Not in order"), out)
code, out = run(*own_verify, chain[0] + "/seal.txt", chain[2] + "/seal.txt")
must("stranger", "codes alone", code == 0, f"exit code {code}: {out}")

# --- a pipe where the program looks for a file by itself ---
os.mkfifo(scratch + "/pipe")
for name, more in (("TIPWRIGHT_KEYS", {"TIPWRIGHT_KEYS": scratch + "/pipe"}), ("in the keys' folder", {"TIPWRIGHT_KEYS": scratch + "/keys-of-pipes"})):
    os.makedirs(scratch + "/keys-of-pipes", exist_ok=True)
    if not os.path.exists(scratch + "/keys-of-pipes/public-keys.txt"):
        os.mkfifo(scratch + "/keys-of-pipes/public-keys.txt")
    code, out = run("verify", issued + "/seal.txt", more=more)
    must("no_file", name, code != 0 and "pipe" in out, f"exit code {code}: {out}")
code, out = run("verify", "--public-keys", scratch + "/pipe", issued)
must("no_file", "--public-keys", code != 0 and "pipe" in out, f"exit code {code}: {out}")
code, out = run("keys", "make", "--keys", scratch + "/k2", "--passphrase-file", scratch + "/pipe")
must("no_file", "--passphrase-file", code != 0 and "pipe" in out, f"exit code {code}: {out}")
os.remove(scratch + "/pipe")
shutil.copytree(work + "/void", scratch + "/piped")
kept = next(path for path in sorted(glob.glob(scratch + "/piped/documents/**/*", recursive=True)) if os.path.isfile(path))
os.remove(kept)
os.mkfifo(kept)
code, out = run("register", "check", "--register", scratch + "/piped", more=own)
must("no_file", "register check", code != 0 and "pipe" in out, f"exit code {code}: {out}")
code, out = run(*own_verify, "--register", scratch + "/piped")
must("no_file", "verify --register", code == 5 and "pipe" in out, f"exit code {code}: {out}")
done = subprocess.run(["bash", "-c", '"$0" verify --public-keys <(cat "$1") "$2"', tipwright, public, issued + "/certificate.pdf"], env=env,
                      capture_output=True, timeout=300)
must("no_file", "what the shell hands over is read", done.returncode == 0, (done.stdout + done.stderr).decode())

# --- files that nothing can be said of ---
for name, data in {"empty": b"", "a": b"x", "small.xml": b"<?xml version='1.0'?><a/>", "small.json": b"{}", "small.pdf": b"%PDF-1.7\n",
                   "small.zip": b"PK\x03\x04", "small.twj": b"tipwright-journal 1.0\n", "seal": b"tipwright seal 1.0\n",
                   "code": b"TIPWRIGHT SEAL 1.0\n", "words.txt": b"all is well\n", "zero": b"\0" * 600,
                   "results.csv": read(run_folder + "/results.csv"), "correction.csv": read(run_folder + "/correction.csv")}.items():
    path = write(f"{scratch}/{name}", data)
    for first in (["verify"], verify):
        code, out = run(*first, path)
        must("unjudged", name, code in (2, 5, 8) and out.strip() != "", f"exit code {code}: {out}")
    os.remove(path)

# --- what is no file: a pipe, a socket ---
os.mkdir(scratch + "/pipes")
shutil.copy(issued + "/certificate.pdf", scratch + "/pipes")
os.mkfifo(scratch + "/pipes/pipe")
refused("no_file", "a pipe", *verify, scratch + "/pipes/pipe")
refused("no_file", "a folder with a pipe", *verify, scratch + "/pipes")
os.remove(scratch + "/pipes/pipe")
code, out = run(*verify, scratch + "/pipes")
must("no_file", "without it", code == 0, out)
listening = socket.socket(socket.AF_UNIX)
listening.bind(scratch + "/pipes/s")
refused("no_file", "a folder with a socket", *verify, scratch + "/pipes")
listening.close()
shutil.rmtree(scratch + "/pipes")
need("verify", "--public-keys", public, work + "/pack.zip")
zipfile.ZipFile(work + "/pack.zip").extractall(scratch + "/unpacked")
os.mkfifo(scratch + "/unpacked/pipe")
refused("no_file", "a pack with a pipe", *verify, scratch + "/unpacked")
shutil.rmtree(scratch + "/unpacked")
for arguments in (["evaluate", scratch + "/pipe", "--out", scratch + "/e"], ["compare", scratch + "/pipe", run_folder + "/record.json"]):
    os.mkfifo(scratch + "/pipe")
    code, out = run(*arguments)
    must("no_file", arguments[0], code == 2 and "pipe" in out, f"exit code {code}: {out}")
    os.remove(scratch + "/pipe")

# --- pages of a PDF without seal are not judged, and that is said ---
for folder, said in ((run_folder, True), (issued, False)):
    code, out = run("--json", *(["verify"] if said else verify), *(f"{folder}/{name}" for name in ("certificate.pdf", "journal.twj") if os.path.exists(f"{folder}/{name}")))
    open_ = [text for text in json.loads(out)["not_proved"] if "pages of an unsealed PDF" in text]
    must("pages", folder, code == 0 and len(open_) == (1 if said else 0), f"exit code {code}: {out}")

# --- tables beside the record they do not follow from ---
for name in ("correction.csv", "results.csv"):
    shutil.copytree(run_folder, scratch + "/run")
    data = read(f"{scratch}/run/{name}")
    at = data.rindex(b"1")
    write(f"{scratch}/run/{name}", data[:at] + b"2" + data[at + 1:])
    refused("table", name, "verify", scratch + "/run")
    shutil.rmtree(scratch + "/run")

# --- names and texts that would draw over a line ---
evil = ["\n ok x: all is well", "\r\x1b[2Kok", "\x1b[8m", "\u202egpj.", "a\u200bb", "\x85", "\x9b2J", "\u2028", "\ufeff", "\u2066x\u2069"]
for text in evil:
    path = write(f"{scratch}/{text.replace('/', '_')}", b"x")
    refused("hostile_name", repr(text), *verify, path)
    must("hostile_name", "json " + repr(text), not hidden.search(run("--json", *verify, path)[1]))
    os.remove(path)
record = read(run_folder + "/record.json")
for text in evil:
    escaped = "".join(c if ord(c) > 127 else f"\\u{ord(c):04x}" if ord(c) < 32 else c for c in text).encode()
    path = write(scratch + "/record.json", record.replace(b"INV-200-0002", b"INV" + escaped))
    for command in (["verify", path], ["compare", path, run_folder + "/record.json"], ["adjust", path]):
        code, out = run(*command)
        must("hostile_text", command[0] + " " + repr(text), code >= 0 and not hidden.search(out), out)

# --- an edited record becomes no draft ---
for name, old, new in (("invented", b'"invented": true', b'"invented": false'), ("origin", b'"virtual_bench"', b'"real_bench"'),
                       ("origin", b'"virtual_bench"', b'"supplied_data"'), ("place", b'"place": "', b'"place": "Elsewhere, '),
                       ("source", b'"source_sha256": "', b'"source_sha256": "0'),
                       ("state", b'"state": "as_found"', b'"state": "as_left"'),
                       ("version", b'"program_version": "', b'"program_version": "0.')):
    shutil.copytree(run_folder, scratch + "/run")
    edited = record.replace(old, new, 1)
    must("edited_record", name + " is there to be edited", edited != record)
    write(scratch + "/run/record.json", edited)
    code, out = run("certificate", "draft", scratch + "/run/record.json")
    must("edited_record", name, code in (2, 6), f"exit code {code}: {out}")
    refused("edited_record", name + ", verify", "verify", scratch + "/run/record.json", scratch + "/run/journal.twj")
    shutil.rmtree(scratch + "/run")

# --- an unsealed record says no more than its journal ---
text = record.decode()
made_up = {"authorised_by": text.replace('"authorised_by": ""', '"authorised_by": "Q. Manager"'),
           "issued_on": text.replace('"issued_on": ""', '"issued_on": "2026-11-21"'),
           "limits": text.replace('"confirmed": false', '"confirmed": true').replace(
               '"source": "EN 17277:2019, class B"', '"source": "EN 17277:2019, class B; edition 2019 (Q. Manager, 2026-11-01)"'),
           "verdict": text.replace('"verdict": "reserved"', '"verdict": "stated"'),
           "reservations": re.sub(r'"reservations": \[\n.*?\n *\]', '"reservations": []', text, flags=re.S)}
made_up["acceptance"] = text.replace('"acceptance": null', '"acceptance": {"reason": "fine", "by": "Q. Manager", "on": "2026-11-21"}')
for name, edited in made_up.items():
    must("more_than_journal", name + " is there to be edited", edited != text)
    refused("more_than_journal", name, "verify", write(scratch + "/record.json", edited.encode()), run_folder + "/journal.twj")
path = write(scratch + "/record.json", re.sub(r'"source_name": "[^"]*"', '"source_name": "other.twj"', text).encode())
code, out = run("verify", path, run_folder + "/journal.twj")
must("more_than_journal", "the name of the source", code == 0 and "name of the source" in out.split("Not proved:")[1], f"exit code {code}: {out}")
os.remove(path)

# --- a virtual run rewritten as a real one: its seed still tells ---
journal, inside = [], False
for line in read(run_folder + "/journal.twj").split(b"\n"):
    if b" *" in line and not line.startswith(b"tipwright"):
        # Each instrument is given a link of its own.
        body = line[: line.rindex(b" *")].replace(b'link = \\"virtual\\"', b'link = \\"serial usb:A1B2C%d\\"' % len(journal))
        body = body.replace(b"invented = true ", b"invented = false").replace(b"(invented)", b"").replace(b"(virtual)", b"")
        given = re.match(rb"\d+ 0 given what=bench .*? text=(.*)$", body)
        if given:
            quoted = given[1].strip(b'"')
            if quoted.startswith(b"["):
                inside = quoted.startswith(b"[virtual") or quoted.startswith(b"[[virtual")
            if inside:
                body = body[: body.index(b" text=")] + b' text=""'
        else:
            inside = False
        line = body + b" *%08x" % zlib.crc32(body)
    journal.append(line)
os.mkdir(scratch + "/real")
write(scratch + "/real/journal.twj", b"\n".join(journal))
need("evaluate", scratch + "/real/journal.twj", "--out", scratch + "/real/e")
said = json.loads(read(scratch + "/real/e/record.json"))
must("virtual", "stays virtual and invented", said["origin"] == "virtual_bench" and said["invented"], str((said["origin"], said["invented"])))
code, out = run("verify", scratch + "/real/journal.twj")
must("virtual", "is told", code == 0 and "simulated on a virtual bench" in out and "damage, not intent" in out, f"exit code {code}: {out}")

# --- texts that overflow a parser's stack ---
deep = b".".join([b"a"] * 30000) + b" = 1\n"
limit = 8 << 20
resource.setrlimit(resource.RLIMIT_STACK, (limit, limit))
texts = [b'"x\\\\".' + deep, b"[" + deep[:-5] + b"]\n", b"a = 'C:\\'\n" + deep, b"a = '''\n\\'''\n" + deep, b'a = """\n\\""" \'"""\n' + deep,
         b"a = " + b"[" * 40000, b"a = " + b"{a = " * 20000, b"a = [\n" + deep]
lines = read(run_folder + "/journal.twj").split(b"\n")
for i, text in enumerate(texts):
    path = write(scratch + "/deep.toml", text)
    for arguments in (["calibrate", "--bench", "virtual-bench", "--gauge", path, "--plan", "three-point-check", "--out", scratch + "/r"],
                      ["calibrate", "--bench", path, "--gauge", "demo-bucket-200-twin", "--plan", "three-point-check", "--out", scratch + "/r"],
                      ["certify", run_folder + "/record.json", "--language", path, "--out", scratch + "/c.pdf"]):
        code, out = run(*arguments)
        must("deep_text", f"{i} {arguments[0]} {arguments[3]}", code == 2, f"exit code {code}: {out}")
    # A journal carries descriptions a line an entry: the first line of the gauge becomes this one.
    journal, done = [], False
    for line in lines:
        if not done and b" given what=gauge " in line and b" line=1 " in line:
            body = line[: line.rindex(b" *")]
            quoted = text.split(b"\n")[-2 if text.endswith(b"\n") else -1][:60000].replace(b"\\", b"\\\\").replace(b'"', b'\\"')
            body = body[: body.index(b" text=")] + b' text="' + quoted + b'"'
            line, done = body + b" *%08x" % zlib.crc32(body), True
        journal.append(line)
    path = write(scratch + "/deep.twj", b"\n".join(journal))
    must("deep_text", "the journal was changed", done)
    for arguments in (["verify", path], ["evaluate", path, "--out", scratch + "/e"]):
        code, out = run(*arguments)
        must("deep_text", f"{i} {arguments[0]} journal", code in (2, 5), f"exit code {code}: {out}")

# --- letters that no certificate can carry are told before water flows ---
gauge = read(source + "/templates/gauges/demo-bucket-200-twin.toml")
for letter in ("\u6c34", "\U0001f4a7", "\u05d0", "\u0e01"):
    path = write(scratch + "/gauge.toml", gauge.replace(b"INV-200-0002", b"INV" + letter.encode()))
    code, out = run("calibrate", "--bench", "virtual-bench", "--gauge", path, "--plan", "three-point-check", "--out", scratch + "/l")
    must("letter", letter, code == 2 and "letter" in out and not os.path.exists(scratch + "/l"), f"exit code {code}: {out}")

# --- codes of a scan: all of them count ---
seal = dict(line.split(b" ", 1) for line in read(issued + "/seal.txt").strip().split(b"\n")[1:])
import base64
signature = base64.b32encode(bytes.fromhex(seal[b"signature"].decode())).rstrip(b"=")
code_text = b"TIPWRIGHT SEAL 1.0 NO %s SHA256 %s ON %s KEY %s SIG %s" % (
    seal[b"number"], seal[b"record"].upper(), seal[b"on"], seal[b"key"].upper(), signature)
code, out = run(*verify, "-", input=code_text + b"\n")
must("scan", "one code", code == 0, out)
code, out = run(*verify, "-", input=b"QR-Code:" + code_text + b"\nQR-Code:" + code_text + b"\n")
must("scan", "twice the same", code == 0, out)
for name, text in {"a forged one second": code_text + b"\n" + code_text.replace(b"00001", b"00002"),
                   "a forged one first": code_text.replace(b"00001", b"00002") + b"\n" + code_text,
                   "none": b"\n", "another's": b"https://example.org/\n"}.items():
    refused("scan", name, *verify, "-", input=text + b"\n")
code, out = run(*verify, "-", input=b"https://example.org/\n" + code_text + b"\n")
must("scan", "a foreign code is named", code == 0 and "was not judged" in out, out)

# --- archives too large are not read ---
with open(scratch + "/large.zip", "wb") as file:
    file.write(b"PK\x03\x04")
    file.truncate(3 << 30)
began = time.process_time()
refused("large", "3 GiB", *verify, scratch + "/large.zip", codes=(2, 5))
os.remove(scratch + "/large.zip")

# --- keys ---
for phrase in (b"aaaaaaaa", b"12345678", b"abcabcabcabc", b"password1"):
    path = write(scratch + "/phrase", phrase + b"\n")
    code, out = run("keys", "make", "--keys", scratch + "/k", "--passphrase-file", path)
    must("passphrase", phrase.decode(), code in (2, 6) and "guessed" in out, f"exit code {code}: {out}")
for mode in (0o755, 0o710, 0o701):
    os.chmod(work + "/keys", mode)
    code, out = run("keys", "rotate", "--passphrase-file", work + "/new", "--new-passphrase-file", work + "/new")
    must("open_folder", oct(mode), code == 6 and "chmod 700" in out, f"exit code {code}: {out}")
os.chmod(work + "/keys", 0o700)


for mode in (0o755, 0o750, 0o711):
    os.chmod(work + "/keys", mode)
    code, out = run("keys", "passphrase", "--passphrase-file", work + "/new", "--new-passphrase-file", work + "/new")
    must("open_folder", "keys passphrase " + oct(mode), code == 6 and "chmod 700" in out, f"exit code {code}: {out}")
os.chmod(work + "/keys", 0o700)

# --- who may check: nobody their own work by another spelling, nobody by a passphrase that is tried first ---
people = {"TIPWRIGHT_REGISTER": work + "/people"}
write(scratch + "/phrase", b"a long passphrase\n")
for phrase in (b"aaaaaaaa", b"        ", b"password", b"short", b"12345678"):
    path = write(scratch + "/weak", phrase + b"\n")
    code, out = run("register", "create", "--logins", "--new-passphrase-file", path, more=people)
    must("login", phrase.decode(), code in (2, 6) and "passphrase" in out and not run("register", "person", "list", more=people)[1].count("A. Signatory"),
         f"exit code {code}: {out}")
shutil.rmtree(work + "/people", ignore_errors=True)
own_names = {"Nadine Olivier": ["Dr. Nadine Olivier", "N. Olivier", "Nadine M. Olivier", "Nadine Olivier 2", "Olivier", "Nadine", "Nadine O.", "Olivier, Nadine",
                                "Mrs Olivier", "Nadine Olivi\u212er", "\u0274adine Olivier", "Nad\u00edne Olivier", "Nadine Olivier (2)", "Nadine \u217civier"],
             "Jan M\u00fcller-Wei\u00df": ["Jan Mueller-Weiss", "Jan Mueller Wei\u00df", "J. Mueller-Weiss", "Jan Muller"],
             "S\u00f8ren \u00c5s": ["Soeren Aas", "Soren As", "S. Aas"]}
for own, others in own_names.items():
    for spelt in others:
        shutil.rmtree(work + "/people", ignore_errors=True)
        need("register", "create", more=people)
        need("register", "person", "add", own, "--may-check", "true", more=people)
        need("certificate", "draft", run_folder + "/record.json", "--person", own, more=people)
        entered, said = run("register", "person", "add", spelt, "--may-check", "true", more=people)
        code, out = run("certificate", "check", "1", "--person", spelt, more=people)
        must("own_work", f"{own} as {spelt}", code in (2, 6), f"exit code {code}: {said} {out}")
for name in ("Nadine Olivi\u212er", "\u0274adine Olivier", "Nadine (2)", "A/B", "Nadine \u217civier", "N@dine", "Nadine_O", "=Nadine"):
    code, out = run("register", "person", "add", name, more=people)
    must("own_work", "refused at entry: " + name, code in (2, 6) and "everyday letters" in out and len(out.strip().split("\n")) == 1, f"exit code {code}: {out}")

# --- a passphrase being typed: no core, locked memory, and the echo back whatever ends the program ---
def at_prompt(end):
    pid, terminal = pty.fork()
    if pid == 0:
        os.execve(tipwright, [tipwright, "keys", "make", "--keys", scratch + "/typed"], env)
    seen = b""
    while b": " not in seen:
        seen += os.read(terminal, 1000)
    quiet = not termios.tcgetattr(terminal)[3] & termios.ECHO
    os.write(terminal, b"half a pass")
    time.sleep(0.2)
    limits = read(f"/proc/{pid}/limits").decode()
    locked = re.search(r"VmLck:\s+(\d+)", read(f"/proc/{pid}/status").decode())
    os.kill(pid, end)
    os.waitpid(pid, 0)
    for _ in range(50):
        if termios.tcgetattr(terminal)[3] & termios.ECHO:
            break
        time.sleep(0.05)
    echo = bool(termios.tcgetattr(terminal)[3] & termios.ECHO)
    os.close(terminal)
    return quiet, echo, re.search(r"Max core file size\s+0\s+0", limits) is not None, int(locked[1]) > 0


for end in (signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGSEGV):
    quiet, echo, no_core, locked = at_prompt(end)
    must("typed", f"{end.name}: no echo while it is typed", quiet)
    must("typed", f"{end.name}: the echo comes back", echo)
    must("typed", f"{end.name}: no core", no_core)
    must("typed", f"{end.name}: locked memory", locked)

# --- issuing that cannot write is refused before a number is given (what breaks off later: issue_disk_full_test.sh) ---
os.mkdir(work + "/many")
subprocess.run([sys.executable, source + "/tests/support/renamed_runs.py", run_folder, "INV-200-0002", "M", "3", work + "/many/runs"], check=True)
many = {"TIPWRIGHT_REGISTER": work + "/many/register"}
register(many)
need("certificate", "draft", *sorted(glob.glob(work + "/many/runs/*/record.json")), more=many)
need("certificate", "check", "1", "2", "3", "--person", "C. Checker", more=many)
write(scratch + "/a-file", b"")
code, out = run("certificate", "issue", "--all", "--passphrase-file", work + "/new", "--out", scratch + "/a-file", more=many)
must("cannot_write", "issue --out to a file", code == 2 and "is a file" in out, f"exit code {code}: {out}")
code, out = run("certificate", "issue", "--all", "--passphrase-file", work + "/new", more=many)
must("cannot_write", "and the same again without", code == 0 and "00001" in out and "00003" in out, f"exit code {code}: {out}")

# --- a table for a spreadsheet runs nothing, and is read back as it was ---
need("register", "customer", "add", "=1+1 (invented)")
need("register", "gauge", "add", "SHEET-1", "--model", "@model", "--kind", "bucket-200-twin", "--nominal-tip-mm", "0.2",
     "--catch-diameter-mm", "200", "--customer", "=1+1 (invented)")
code, out = run("ask", "due", "--csv", scratch + "/due.csv")
text = read(scratch + "/due.csv") if os.path.exists(scratch + "/due.csv") else b""
must("spreadsheet", "ask due", code == 0 and not re.search(rb"(^|,)[=+@-]", text, re.M) and b"'=1+1" in text, out + repr(text))

shutil.rmtree(work)
for kind, count in held.items():
    print(f"attacks {kind} {count}")
print(f"attacks failed {len(failures)}")
sys.exit(1 if failures else 0)
