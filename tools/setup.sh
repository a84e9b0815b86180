# What tools/try and tools/check share: packages, and the sample photographs. Sourced, not run.

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)

# Debian 12 packages, a line for each purpose: a new library is one more line.
build_packages=(
  g++ cmake ninja-build ccache pkg-config
  libopencv-core-dev libopencv-imgproc-dev libopencv-imgcodecs-dev libopencv-calib3d-dev libopencv-dev
  libceres-dev libeigen3-dev libopenblas-pthread-dev libboost-math-dev
  nlohmann-json3-dev libcli11-dev
  libexiv2-dev libcairo2-dev libpango1.0-dev libdxflib-dev libssl-dev fonts-dejavu-core
  opencv-doc python3   # sample photographs; entering the demo's survey and comparing it with the truth
)
desk_packages=(
  qt6-base-dev libqt6opengl6-dev qt6-svg-dev qt6-pdf-dev libjpeg-dev
  libgl1-mesa-dri   # OpenGL in software, where there is no other
)
check_packages=(
  libgtest-dev libgmock-dev
  python3-jsonschema poppler-utils exiv2
  python3-opencv   # finds the demo's targets, to compare photos and truth
  python3-svgelements python3-lxml python3-ezdxf assimp-utils libcgal-dev   # read back what leaves for the workshop
  locales   # one with a decimal comma is made
  chromium chromium-driver   # the dimension sheet's page
  git clang-format-16 clang-tidy-16
  qt6-l10n-tools   # finds words of the desk that cannot be translated
)

say() { printf '\n== %s\n' "$*"; }

stop() { printf '%s\n' "$@" >&2; exit 1; }

as_root() {
  if [ "$(id -u)" -eq 0 ]; then "$@"; else sudo "$@"; fi
}

# apt_get ARGUMENT…: as root, waiting for another apt that holds the lock.
apt_get() {
  as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=600 "$@"
}

install_missing() {
  command -v apt-get >/dev/null && command -v dpkg-query >/dev/null ||
    stop "This is made for Debian 12: it installs what it needs with apt-get, and there is none here."
  local missing=() package log=$root/build/install.log
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return
  [ "$(id -u)" -eq 0 ] || command -v sudo >/dev/null ||
    stop "These Debian packages are missing: ${missing[*]}." "Install them, or run this as root or with sudo."
  say "Installing ${#missing[@]} Debian packages: ${missing[*]}"
  # An update that reaches no source is no error to apt-get; the installation then says what it lacks.
  if apt_get update > "$log" 2>&1; apt_get install -y --no-install-recommends "${missing[@]}" >> "$log" 2>&1; then
    return
  fi
  tail -n 3 "$log" >&2
  if grep -qE 'Unable to locate package|no installation candidate' "$log" && ! grep -qE '^(Err|W: Failed|E: Failed)' "$log"; then
    stop "" "The package sources have no such package. This is made for Debian 12 (bookworm): see /etc/apt/sources.list*."
  elif grep -qE 'Failed to fetch|Could not resolve|Could not connect|Unable to locate package|Unable to fetch' "$log"; then
    stop "" "No package source could be reached, and packages are missing: ${missing[*]}." \
         "Connect to the network, or see that /etc/apt/sources.list* names a mirror that answers; then run this again." \
         "What apt-get said is in build/install.log."
  fi
  stop "" "apt-get could not install what is missing; what it said is in build/install.log."
}

# Slim Debian images drop /usr/share/doc at install: then the package is unpacked into build/.
find_sample_photos() {
  sample_photos=/usr/share/doc/opencv-doc/examples/data
  [ -e "$sample_photos/left01.jpg" ] && return
  local unpacked=$root/build/opencv-doc log=$root/build/install.log
  sample_photos=$unpacked/usr/share/doc/opencv-doc/examples/data
  [ -e "$sample_photos/left01.jpg" ] && return
  say "Unpacking the sample photographs of opencv-doc into build/opencv-doc"
  rm -rf "$unpacked" "$unpacked.part"
  mkdir -p "$unpacked.part"
  cd "$unpacked.part"
  # Images without package lists have to read them first.
  apt-get download -qq opencv-doc > "$log" 2>&1 ||
    { apt_get update && apt-get download -qq opencv-doc; } >> "$log" 2>&1 ||
    { tail -n 3 "$log" >&2
      stop "" "The Debian package opencv-doc, whose photographs are measured, could not be fetched." \
           "Connect to the network, or see that /etc/apt/sources.list* names a mirror that answers; then run this again."; }
  dpkg-deb -x opencv-doc_*.deb .
  rm -f opencv-doc_*.deb
  cd "$root"
  mv "$unpacked.part" "$unpacked"
}
