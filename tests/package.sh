#!/usr/bin/env bash
# Proves the package in a minimal Debian 12 without compiler: installs the file, calibrates on the virtual bench, issues
# a certificate, verifies it, purges, and finds nothing left. Needs root. Packages come from where this machine's own
# apt has them. Usage: tests/package.sh [DEB] (default: the one in out/package, made where there is none)
set -euo pipefail
cd "$(dirname "$0")/.."
bash bench/install.sh
failed() {
  echo "tests/package.sh: $*" >&2
  exit 1
}
# newest_package: the one in out/package, if there is one.
newest_package() { find out/package -name '*.deb' -printf '%T@ %p\n' 2>/dev/null | sort -n | tail -n1 | cut -d' ' -f2- || true; }
deb=${1:-$(newest_package)}
if [ -z "$deb" ]; then
  bash bench/package.sh
  deb=$(newest_package)
fi
[ -s "$deb" ] || failed "there is no package ${deb:-in out/package}"
size=$(stat -c %s "$deb")
((size <= 6 * 1024 * 1024)) || failed "$deb has $size bytes, more than 6 MiB"
lintian --allow-root --fail-on error,warning "$deb" || failed "lintian"

place=$(mktemp -d)
trap 'rm -rf --one-file-system "$place"' EXIT
root=$place/debian
# The sources of this machine that carry Debian itself.
mapfile -t sources < <(grep -lE '^(Suites:|deb )(.* )?bookworm( |$)' /etc/apt/sources.list /etc/apt/sources.list.d/* 2>/dev/null)
((${#sources[@]})) || failed "this machine's apt has no source of Debian 12"
mmdebstrap --quiet --variant=minbase bookworm "$root" "${sources[@]}"
cp /etc/resolv.conf "$root/etc/resolv.conf"
inside() { chroot "$root" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 "$@"; }
# Someone who works, and is not root.
as_technician() { chroot --userspec=1000:1000 "$root" /usr/bin/env -i PATH=/usr/bin:/bin HOME=/srv/trial LANG=C.UTF-8 TIPWRIGHT_PERSON="A. Signatory" "$@"; }
mkdir "$root/srv/trial"
chown 1000:1000 "$root/srv/trial"
cp "$deb" "$root/tmp/tipwright.deb"
inside apt-get -qq update
listing() { (cd "$root" && find . -xdev \( -path ./proc -o -path ./sys -o -path ./dev -o -path ./srv/trial -o -path ./tmp -o -path ./var/cache \
  -o -path ./var/lib/apt -o -path ./var/lib/dpkg -o -path ./var/log \) -prune -o -print | LC_ALL=C sort); }
listing >"$place/before"
inside env DEBIAN_FRONTEND=noninteractive apt-get -qq install -y --no-install-recommends /tmp/tipwright.deb >"$place/log" 2>&1 ||
  { cat "$place/log" >&2; failed "the package cannot be installed"; }
for compiler in cc c++ gcc g++ clang cmake ninja; do
  ! inside sh -c "command -v $compiler" >/dev/null || failed "$compiler is there: this proves nothing"
done

as_technician tipwright --version
as_technician tipwright list >/dev/null
as_technician tipwright calibrate --bench virtual-bench --gauge demo-siphon-200 --plan ten-rate --out /srv/trial/4711 >"$place/log" 2>&1 ||
  { cat "$place/log" >&2; failed "calibrate"; }
as_technician tipwright verify /srv/trial/4711 >/dev/null || failed "verify"
as_technician tipwright register create >/dev/null || failed "register create"
as_technician tipwright register person add "C. Checker" --may-check true >/dev/null || failed "register person add"
printf 'four words not together\n' >"$place/phrase"
install -m 600 -o 1000 -g 1000 "$place/phrase" "$root/srv/trial/phrase"
as_technician tipwright keys make --passphrase-file /srv/trial/phrase >/dev/null || failed "keys make"
as_technician tipwright certificate draft /srv/trial/4711/record.json --reason "a trial" >/dev/null || failed "certificate draft"
as_technician tipwright certificate check 1 --person "C. Checker" >/dev/null || failed "certificate check"
as_technician tipwright certificate issue 1 --reason "a trial" --passphrase-file /srv/trial/phrase >"$place/log" 2>&1 || { cat "$place/log" >&2; failed "certificate issue"; }
as_technician tipwright keys export --out /srv/trial/public-keys.txt >/dev/null || failed "keys export"
as_technician sh -c 'tipwright pack --out /srv/trial/station.zip --serial "$(tipwright complete life "" | head -n1)"' >"$place/log" 2>&1 ||
  { cat "$place/log" >&2; failed "pack"; }
as_technician tipwright verify --public-keys /srv/trial/public-keys.txt /srv/trial/station.zip >/dev/null || failed "verify the pack"
# Moved as a whole, it still finds its templates.
mkdir "$root/srv/trial/moved"
(cd "$root" && cp -r --parents usr/bin/tipwright usr/share/tipwright srv/trial/moved)
as_technician /srv/trial/moved/usr/bin/tipwright list >/dev/null || failed "a program that was moved finds no templates"
[ "$(as_technician tipwright complete calibrate --plan ten)" = ten-rate ] || failed "completion"
for completion in bash-completion/completions/tipwright zsh/vendor-completions/_tipwright fish/vendor_completions.d/tipwright.fish; do
  [ -s "$root/usr/share/$completion" ] || failed "no completion in /usr/share/$completion"
done
# Nothing of the package may ask for what a Debian 12 does not know.
installed=$(inside dpkg-query -W -f='${Version}' tipwright)
[ "tipwright $installed" = "$(as_technician tipwright --version)" ] || failed "the package is $installed, its program says $(as_technician tipwright --version)"
zcat "$root/usr/share/doc/tipwright/changelog.gz" | head -n1 | grep -qF "tipwright ($installed)" || failed "the newest entry of the change log is not of $installed"
strings -n 6 "$root/usr/bin/tipwright" | grep -F "$PWD" && failed "the program keeps paths of the machine that built it"

inside env DEBIAN_FRONTEND=noninteractive apt-get -qq purge -y --autoremove tipwright >"$place/log" 2>&1 || { cat "$place/log" >&2; failed "purge"; }
listing >"$place/after"
left=$(comm -13 "$place/before" "$place/after")
[ -z "$left" ] || failed "left behind after the purge: $left"
[ -s "$root/srv/trial/4711/journal.twj" ] || failed "the purge took measurements with it"
echo "package: installed, calibrated, certificate issued and verified, purged, nothing left ($size bytes)"
