# What tools/try and tools/check share: packages, and the sample photographs. Sourced, not run.

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)

build_packages=(
  g++ cmake ninja-build ccache pkg-config
  libopencv-core-dev libopencv-imgproc-dev libopencv-imgcodecs-dev libopencv-calib3d-dev libopencv-dev
  libceres-dev libeigen3-dev libopenblas-pthread-dev libboost-math-dev nlohmann-json3-dev libcli11-dev
  libexiv2-dev libcairo2-dev libssl-dev fonts-dejavu-core
  opencv-doc python3-minimal
)
desk_packages=(
  qt6-base-dev libqt6opengl6-dev libqt6svg6-dev qt6-l10n-tools qt6-tools-dev qt6-tools-dev-tools
  libgl1-mesa-dri
)
check_packages=(
  libgtest-dev libgmock-dev python3 python3-jsonschema poppler-utils exiv2 git
  clang-format-16 clang-tidy-16
)

say() { printf '\n== %s\n' "$*"; }

as_root() {
  if [ "$(id -u)" -eq 0 ]; then "$@"
  elif command -v sudo >/dev/null 2>&1; then sudo "$@"
  else
    echo "These Debian packages are missing: ${missing[*]}. Install them, or run this as root or with sudo." >&2
    exit 1
  fi
}

install_missing() {
  missing=()
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return
  say "Installing ${#missing[@]} Debian packages: ${missing[*]}"
  as_root apt-get update -qq
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" \
    > "$root/build/install.log" 2>&1 || { tail -n 20 "$root/build/install.log" >&2; exit 1; }
}

# Slim Debian images drop /usr/share/doc at install: then the package is unpacked into build/.
find_sample_photos() {
  sample_photos=/usr/share/doc/opencv-doc/examples/data
  [ -e "$sample_photos/left01.jpg" ] && return
  sample_photos=$root/build/opencv-doc/usr/share/doc/opencv-doc/examples/data
  [ -e "$sample_photos/left01.jpg" ] && return
  say "Unpacking the sample photographs of opencv-doc into build/opencv-doc"
  mkdir -p "$root/build/opencv-doc"
  (cd "$root/build/opencv-doc" && apt-get download -qq opencv-doc && dpkg-deb -x opencv-doc_*.deb . && rm -f opencv-doc_*.deb)
}
