# What a line becomes when somebody types it in an interactive shell and presses the tabulator key. A shell of its own on a
# pseudo-terminal, without the person's files; tipwright is what PATH finds. Lines come on standard input, and go out as
# they then stand, one each. Usage: completed_lines.py bash|zsh|fish FOLDER_OF_COMPLETIONS SCRATCH
import os
import pty
import select
import shlex
import signal
import sys
import time

shell, completions, scratch = sys.argv[1:4]
PATIENCE_S = 60
PROMPT = "~ready~"
LINE_FILE = os.path.join(scratch, "line")
files = {
    # Control-X Control-L writes the line down and clears it.
    "bash": f"""
PS1='{PROMPT}'
bind 'set bell-style none'
. {shlex.quote(completions + "/tipwright.bash")}
told() {{ printf '%s' "$READLINE_LINE" >{LINE_FILE}.new; mv {LINE_FILE}.new {LINE_FILE}; READLINE_LINE= READLINE_POINT=0; }}
bind -x '"\\C-x\\C-l": told'
""",
    "zsh": f"""
PS1='{PROMPT}' PROMPT_EOL_MARK= ZLE_RPROMPT_INDENT=0
unsetopt beep zle_bracketed_paste 2>/dev/null
fpath=({shlex.quote(completions)} $fpath)
autoload -Uz compinit
compinit -u -D
told() {{ print -rn -- "$BUFFER" >{LINE_FILE}.new; mv {LINE_FILE}.new {LINE_FILE}; BUFFER= }}
zle -N told
bindkey '^X^L' told
bindkey '^I' complete-word
""",
    "fish": f"""
function fish_prompt; echo -n '{PROMPT}'; end
function fish_greeting; end
set -p fish_complete_path {shlex.quote(completions)}
function told; commandline -b | string collect >{LINE_FILE}.new; mv {LINE_FILE}.new {LINE_FILE}; commandline ''; end
bind \\cx\\cl told
""",
}
start = os.path.join(scratch, {"bash": "rc.bash", "zsh": ".zshrc", "fish": "rc.fish"}[shell])
with open(start, "w") as out:
    out.write(files[shell])
command = {"bash": ["bash", "--noprofile", "--rcfile", start, "-i"],
           "zsh": ["zsh", "-d", "-i"],
           "fish": ["fish", "--no-config", "--private", "-C", f"source {shlex.quote(start)}"]}[shell]
environment = {key: value for key, value in os.environ.items() if not key.startswith(("ZDOTDIR", "XDG_"))}
environment.update(ZDOTDIR=scratch, XDG_CONFIG_HOME=scratch, XDG_DATA_HOME=scratch, TERM="dumb" if shell != "fish" else "vt100",
                   INPUTRC="/dev/null", HISTFILE="/dev/null")
child, terminal = pty.fork()
if child == 0:
    os.execvpe(command[0], command, environment)
said = b""


def listen(until):
    """Takes what the shell draws until `until()` holds."""
    global said
    end = time.monotonic() + PATIENCE_S
    while not until():
        if time.monotonic() > end:
            sys.exit(f"completed_lines.py: {shell} does not answer; it drew {said[-2000:]!r}")
        if select.select([terminal], [], [], 0.05)[0]:
            try:
                said += os.read(terminal, 65536)
            except OSError:
                sys.exit(f"completed_lines.py: {shell} ended; it drew {said[-2000:]!r}")


try:
    listen(lambda: PROMPT.encode() in said)
    for line in sys.stdin.read().splitlines():
        if os.path.exists(LINE_FILE):
            os.remove(LINE_FILE)
        os.write(terminal, line.encode() + b"\t" + b"\x18\x0c")
        listen(lambda: os.path.exists(LINE_FILE))
        with open(LINE_FILE) as told:
            print(told.read().rstrip("\n"))
finally:
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
