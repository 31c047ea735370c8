# For test scripts that mount. Sourced with the script's arguments, before anything else: the script begins anew in a
# mount name space of its own, with "inside" as a further argument; ends with 77 (skipped) where none may be made.
if [ "${*: -1}" != inside ]; then
  for way in "unshare --mount" "unshare --user --map-root-user --mount"; do
    probe=$(mktemp -d)
    if $way mount -t tmpfs -o size=1m none "$probe" 2>/dev/null; then
      rmdir "$probe"
      exec $way bash "$0" "$@" inside
    fi
    rmdir "$probe"
  done
  echo "SKIPPED: nothing may be mounted here"
  exit 77
fi
