#!/usr/bin/env bash
# Makes the Debian package: out/package/tipwright_VERSION_ARCH.deb, checked by lintian. Further arguments go to CMake.
set -euo pipefail
cd "$(dirname "$0")/.."
bash bench/install.sh
SOURCE_DATE_EPOCH=$(date -d "$(sed -n 's/^ -- .*>  //p' bench/package/changelog | head -n1)" +%s)
export SOURCE_DATE_EPOCH
cmake -S . -B build/package -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_TESTS=OFF \
  -DCMAKE_EXE_LINKER_FLAGS="-Wl,-z,relro,-z,now" "$@" >/dev/null
cmake --build build/package
rm -rf out/package
mkdir -p out/package
cpack --config build/package/CPackConfig.cmake -G DEB -B build/package/cpack >build/package/cpack.log ||
  { cat build/package/cpack.log >&2; exit 1; }
mv build/package/cpack/*.deb out/package/
lintian --allow-root --fail-on error,warning out/package/*.deb
ls -l out/package/*.deb
