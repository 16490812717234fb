#!/bin/sh
# As root on Linux: `sh tests/running/read-only.sh [what vitest takes]`. The suite, or the tests named, on this tree mounted for reading
# only, by a user without a name, under umask 077; written is to a home and a temporary folder of its own alone.
set -eu
root=$(cd "$(dirname "$0")/../.." && pwd)
id=12345
own=$(mktemp -d)
trap 'rm -rf "$own"' EXIT
chmod 0755 "$own"
mkdir -m 0700 "$own/home" "$own/tmp"
mkdir "$own/tree"
chown "$id:$id" "$own/home" "$own/tmp"
# The mount is seen in here alone and goes with the last process of it.
unshare --mount sh -euc '
  root=$1 own=$2 id=$3
  shift 3
  mount --bind "$root" "$own/tree"
  mount -o remount,bind,ro "$own/tree"
  cd "$own/tree"
  umask 077
  exec setpriv --reuid "$id" --regid "$id" --clear-groups env -i PATH="$PATH" HOME="$own/home" TMPDIR="$own/tmp" \
    node node_modules/vitest/vitest.mjs run --configLoader runner "$@"
' sh "$root" "$own" "$id" "$@"
