#!/bin/sh
# Proves the image without a container engine, as root on Debian with debootstrap and buildah:
#   docker/prove.sh WORK [MIRROR]
# A base is made by debootstrap with this machine's own Node in the place of the official one; every step of the Dockerfile is run on it; then
# the image is started as a container would be: read-only root, an arbitrary user, umask 077, a data directory and a /tmp of its own.
# Exit status 0: it became ready, its own health check said so, it stopped when asked with status 0.
set -eu
work=$1
mirror=${2:-http://deb.debian.org/debian}
here=$(cd "$(dirname "$0")/.." && pwd)
base=$work/base
image=localhost/loombook-proof
tools="buildah --root $work/storage --runroot $work/run --storage-driver vfs"
port=18480
user=12345

say() { printf '%s\n' "== $*"; }

if [ ! -e "$base/usr/bin/node" ]; then
  say "base: Debian 13 and Node $(node --version)"
  [ -e "$base/etc/debian_version" ] || debootstrap --variant=minbase --include=ca-certificates trixie "$base" "$mirror" >"$work/debootstrap.log"
  cp -L "$(command -v node)" "$base/usr/bin/node"
  mkdir -p "$base/usr/lib/node_modules"
  cp -a "$(dirname "$(readlink -f "$(command -v npm)")")/.." "$base/usr/lib/node_modules/npm"
  ln -sf ../lib/node_modules/npm/bin/npm-cli.js "$base/usr/bin/npm"
  # As the official image has them: headers to build native parts against.
  headers=$(dirname "$(readlink -f "$(command -v node)")")/../include/node
  if [ -d "$headers" ]; then mkdir -p "$base/usr/include" && cp -a "$headers" "$base/usr/include/node"; fi
  # The authorities that this machine trusts: its network may have one of its own.
  cp -L /etc/ssl/certs/ca-certificates.crt "$base/etc/ssl/certs/ca-certificates.crt"
fi
chroot "$base" node --version

say 'image: every step of docker/Dockerfile'
# Kept from one run in WORK to the next, so that steps whose sources are the same are not run anew.
if ! $tools inspect --type image localhost/loombook-base >/dev/null 2>&1; then
  from=$($tools from scratch)
  $tools copy -q "$from" "$base" / >/dev/null
  $tools config --env NODE_EXTRA_CA_CERTS=/etc/ssl/certs/ca-certificates.crt --env npm_config_nodedir=/usr "$from"
  $tools commit -q --format docker "$from" localhost/loombook-base >/dev/null
  $tools rm "$from" >/dev/null
fi
$tools bud --layers --isolation chroot --format docker --build-arg BASE=localhost/loombook-base --ignorefile "$here/docker/Dockerfile.dockerignore" \
  -f "$here/docker/Dockerfile" -t "$image" "$here"
$tools inspect --type image --format '{{.Docker.Config.User}} {{.Docker.Config.Healthcheck}} {{.Docker.Config.Cmd}}' "$image"

say "start: read-only root, user $user, umask 077"
made=$($tools from "$image")
root=$($tools mount "$made")
mkdir -p "$work/data" && chown $user:$user "$work/data"
ready=$work/ready
rm -f "$ready" "$work/status"
# A mount namespace of its own: what is mounted here is seen by nobody else and gone at the end.
unshare --mount --pid --fork --kill-child sh -eu -c "
  mount --bind '$root' '$root' && mount -o remount,bind,ro '$root'
  mount -t proc proc '$root/proc' && mount -t tmpfs -o mode=1777 tmp '$root/tmp'
  mount --bind '$work/data' '$root/data'
  mount -t tmpfs dev '$root/dev' && for one in null urandom; do : >'$root'/dev/\$one; mount --bind /dev/\$one '$root'/dev/\$one; done
  umask 077
  in_image=\"env -i PATH=/usr/bin:/bin NODE_ENV=production LOOMBOOK_DATA=/data LOOMBOOK_HOST=0.0.0.0 LOOMBOOK_PORT=$port \
    $(command -v chroot) --userspec=$user:$user $root\"
  # Not even root can write there.
  ! ( : >'$root/app/probe' ) 2>/dev/null || { echo 'the root can be written'; exit 1; }
  \$in_image node --max-semi-space-size=8 --heap-growing-percent=40 --no-allocation-site-pretenuring /app/server/main.js & server=\$!
  for try in \$(seq 120); do \$in_image node /app/healthcheck.js && break; sleep 0.5; done
  \$in_image node /app/healthcheck.js && : >'$ready'
  grep -E 'Name|VmRSS|Uid|Umask' '$root'/proc/\$server/status
  \$in_image node -e \"fetch('http://127.0.0.1:$port/first-run').then(async (reply) => console.log(reply.status, (await reply.text()).length, 'bytes'))\"
  kill -TERM \$server; status=0; wait \$server || status=\$?; echo \$status >'$work/status'
" || true
ls -ln "$work/data"
$tools umount "$made" >/dev/null && $tools rm "$made" >/dev/null
[ -e "$ready" ] && [ "$(cat "$work/status")" = 0 ] && say 'it became ready, said so, and stopped with status 0'
