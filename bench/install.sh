#!/usr/bin/env bash
# Installs from Debian's packages what building, testing and running need. Safe to run again: asks apt only
# for what is missing.
set -euo pipefail
packages=(
  g++ clang libclang-rt-dev cmake ninja-build pkg-config ccache
  libboost1.81-dev libserialport-dev libeigen3-dev libhpdf-dev libqpdf-dev libsodium-dev libicu-dev
  libharfbuzz-dev libutfcpp-dev zlib1g-dev libssl-dev libxmlsec1-dev openssl xmlsec1
  libnlopt-dev libsoci-dev libsqlite3-dev libpq-dev libqrencode-dev
  libcli11-dev libtomlplusplus-dev nlohmann-json3-dev fonts-dejavu-core
  catch2 llvm libgsl-dev libmpfr-dev qpdf poppler-utils python3 python3-numpy python3-jsonschema libxml2-utils
  postgresql sqlite3 zbar-tools clang-format clang-tidy
  lowdown dpkg-dev lintian mmdebstrap man-db zsh fish
  chromium chromium-driver python3-selenium curl
)
missing=()
for package in "${packages[@]}"; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
done
if ((${#missing[@]})); then
  echo "Installing: ${missing[*]}"
  as_root=()
  [ "$(id -u)" = 0 ] || as_root=(sudo)
  "${as_root[@]}" apt-get update -q >/dev/null
  DEBIAN_FRONTEND=noninteractive "${as_root[@]}" apt-get install -y -q --no-install-recommends "${missing[@]}" >/dev/null
fi
