# shellcheck shell=bash
# Shared by deploy/run and deploy/test: what they need on the machine, and how they get it on Debian.

export DOTNET_NOLOGO=1 DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_CLI_UI_LANGUAGE=en

say() { printf '%s\n' "$*" >&2; }

fail() {
  say "$*"
  exit 1
}

as_root() {
  if [[ $(id -u) -eq 0 ]]; then
    "$@"
  elif command -v sudo >/dev/null; then
    sudo "$@"
  else
    fail "This needs root: run it as root or install sudo. It was: $*"
  fi
}

need_sdk() {
  command -v dotnet >/dev/null ||
    fail "The .NET SDK 10 is needed and \"dotnet\" is not on PATH. Install it first: https://learn.microsoft.com/dotnet/core/install/linux"
  local sdks
  sdks=$(dotnet --list-sdks)
  grep -q '^10\.' <<<"$sdks" ||
    fail "The .NET SDK 10 is needed; there is only: ${sdks:-no SDK at all}. Install it first: https://learn.microsoft.com/dotnet/core/install/linux"
}

# install PACKAGE...: says so, and refreshes the package lists only if they don't know a package.
install() {
  command -v apt-get >/dev/null ||
    fail "Missing: $*. This script installs on Debian only; install the like of it by hand and start again."
  say "Installing from the distribution: $*"
  local package
  for package in "$@"; do
    if ! apt-cache show "$package" >/dev/null 2>&1; then
      as_root apt-get update -q >&2
      break
    fi
  done
  if ! as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q "$@" >&2; then
    say "That failed; trying once more with fresh package lists."
    as_root apt-get update -q >&2
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q "$@" >&2
  fi
}

have_postgres() {
  local folder folders=(/usr/lib/postgresql/*/bin) path
  IFS=: read -r -a path <<<"$PATH"
  for folder in "${folders[@]}" "${path[@]}" "${TRACEABILITY_POSTGRES_BIN:-}"; do
    [[ -n $folder && -x $folder/postgres && -x $folder/initdb ]] && return 0
  done
  return 1
}

# The programs are wanted, not a running server. Debian's package would make a cluster and start it: told not to,
# but only where this script is the one that brings PostgreSQL to the machine.
need_postgres() {
  have_postgres && return
  local conf=/etc/postgresql-common/createcluster.conf
  if [[ ! -e $conf ]]; then
    install postgresql-common
    say "Setting create_main_cluster = false in $conf, so that the package starts no server of its own."
    # shellcheck disable=SC2016 # sed's $, not the shell's.
    as_root sed -i -E '/^[#[:space:]]*create_main_cluster[[:space:]]*=/d; $a create_main_cluster = false' "$conf"
  fi
  install postgresql
  have_postgres || fail "PostgreSQL was installed, but its programs are not in /usr/lib/postgresql/*/bin."
}

build() {
  local locked=()
  [[ ${CI:-} == true ]] && locked=(-p:RestoreLockedMode=true)
  dotnet build "$@" -c Release -v q --nologo --disable-build-servers -nodeReuse:false "${locked[@]}" </dev/null >&2
}
