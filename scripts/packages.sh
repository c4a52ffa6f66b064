# Debian 12 packages, and how the two commands install what is missing. Sourced by scripts/run, scripts/test and scripts/packaging/make_deb.

build_packages=(
  ca-certificates g++ cmake ninja-build pkg-config ccache
  libfmt-dev libkissfft-dev libeigen3-dev libcli11-dev nlohmann-json3-dev libtomlplusplus-dev libpugixml-dev
  portaudio19-dev libsndfile1-dev libsqlite3-dev zlib1g-dev libspeechd-dev
  libimgui-dev libglfw3-dev libfreetype-dev libstb-dev libgl-dev libgl1-mesa-dri fonts-inter fonts-dejavu-core
)

# What the tests stand against: sound servers, a display, fuzzers, sampled and recorded guitars, another pitch tracker, independent readers of our files.
test_packages=(
  doctest-dev
  jackd2 libjack-jackd2-dev libasound2-dev pulseaudio pulseaudio-utils libasound2-plugins pipewire pipewire-jack
  xvfb xdotool speech-dispatcher
  clang-16 libclang-rt-16-dev clang-format-16 clang-tidy-16
  fluidsynth fluid-soundfont-gm sonic-pi-samples freepats libaubio-dev
  sqlite3 python3 flac
)

# What scripts/run and the package build: the program alone.
program_options=(-DLANDFALL_TESTS=OFF -DLANDFALL_WINDOW=ON)

install_missing() {
  local missing=() package
  for package in "$@"; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q '^install ok installed$' || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  if ! command -v apt-get >/dev/null; then
    echo "Missing: ${missing[*]}. This script installs them on Debian 12 only; elsewhere install their like (vcpkg.json names the libraries)." >&2
    return 1
  fi
  local as_root=()
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "Missing: ${missing[*]}. Install them as root: apt-get install ${missing[*]}" >&2; return 1; }
    as_root=(sudo)
  fi
  echo "Installing from Debian: ${missing[*]}"
  "${as_root[@]}" apt-get update -qq
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
}

# One cache serves every checkout of this machine; what includes what is told by the compiler, not found out by a run of its own.
export CCACHE_BASEDIR=$PWD CCACHE_DEPEND=1

# build PRESET [cmake options] [-- targets]: configures and builds into build/PRESET.
build() {
  local preset=$1 options=()
  shift
  while [ $# -gt 0 ] && [ "$1" != "--" ]; do
    options+=("$1")
    shift
  done
  cmake --preset "$preset" -DCMAKE_CXX_COMPILER_LAUNCHER=ccache "${options[@]}" >/dev/null
  cmake --build --preset "$preset" -j "$(nproc)" ${2:+--target "${@:2}"}
}
