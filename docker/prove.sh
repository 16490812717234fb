#!/bin/sh
# Proves the image without a container engine, as root on Debian with debootstrap, buildah, iproute2 and npm:
#   docker/prove.sh WORK [--arch amd64|arm64] [--node VERSION] [--mirror ADDRESS] [--cross]
# A base is made by debootstrap, with Node from the npm registry's packages of it in the place of the official image; every step of the
# Dockerfile is run on it; then the image is started as a container would be: read-only root, an arbitrary user, umask 077, a data directory
# and a /tmp of its own; and a first visit is made (docker/first-visit.js). Unless said: this machine's architecture, the Dockerfile's Node.
# Another architecture is emulated (packages qemu-user-static and binfmt-support), compilers too, which takes hours. With --cross the first
# stage is replaced by docker/cross-bundle.sh, on this machine and after `npm ci`; only the second is run as it stands in the Dockerfile.
# What was made is kept in WORK for the next run. Exit status 0: it became ready, its own health check said so, the visit went as it
# should, it stopped when asked with status 0.
set -eu
usage() { sed -n '3s/^# */Usage: /p' "$0" >&2; exit 2; }
here=$(cd "$(dirname "$0")/.." && pwd)
# FROM node:22-trixie-slim: Node 22, Debian's trixie.
named=$(sed -n 's/^ARG BASE=node://p' "$here/docker/Dockerfile")
work=${1:-}
case $work in '' | -*) usage ;; esac
shift
cross=
arch=$(dpkg --print-architecture)
node=${named%%-*}
mirror=http://deb.debian.org/debian
while [ $# -gt 0 ]; do
  if [ "$1" = --cross ]; then cross=yes && shift && continue; fi
  [ $# -gt 1 ] || usage
  case $1 in --arch) arch=$2 ;; --node) node=$2 ;; --mirror) mirror=$2 ;; *) usage ;; esac
  shift 2
done
[ -z "$cross" ] || [ "$arch-$(dpkg --print-architecture)" = arm64-amd64 ] || { echo '--cross is for arm64 on amd64' >&2; exit 2; }
case $arch in
  amd64) cpu=x64 emulator=qemu-x86_64 ;;
  arm64) cpu=arm64 emulator=qemu-aarch64 ;;
  *) usage ;;
esac
suite=$(echo "$named" | cut -d- -f2)
# Comes with Node 22.
npm_version=10

say() { printf '%s\n' "== $(date +%T) $*"; }

if [ "$arch" != "$(dpkg --print-architecture)" ]; then
  handlers=/proc/sys/fs/binfmt_misc
  [ -e $handlers/register ] || mount -t binfmt_misc none $handlers
  # Debian registers it when the package is set up, or here; the F of its flags lets it be found from within a chroot.
  [ -e $handlers/$emulator ] || update-binfmts --enable $emulator || true
  grep -qs '^flags:.*F' $handlers/$emulator || \
    { echo "$emulator is not registered with this kernel: apt-get install qemu-user-static binfmt-support" >&2; exit 2; }
fi

mkdir -p "$work"
work=$(cd "$work" && pwd)/$arch-node-$node
base=$work/base
image=localhost/loombook-proof
tools="buildah --root $work/storage --runroot $work/run --storage-driver vfs"
user=12345
mkdir -p "$work"

# A package of the npm registry, unpacked as it is: PACKAGE DIRECTORY
unpack() {
  mkdir -p "$2"
  tar -xzf "$work/$(cd "$work" && npm pack --silent "$1" | tail -1)" -C "$2" --strip-components=1
}

if [ ! -e "$work/base-is-made" ]; then
  say "base: Debian $suite for $arch and Node $node"
  [ -e "$base/etc/debian_version" ] ||
    debootstrap --foreign --arch="$arch" --variant=minbase "$suite" "$base" "$mirror" >"$work/debootstrap.log"
  [ ! -e "$base/debootstrap" ] || chroot "$base" /debootstrap/debootstrap --second-stage >>"$work/debootstrap.log"
  unpack "node-linux-$cpu@$node" "$work/node"
  # As the official image has them: headers to build native parts against, and npm.
  cp "$work/node/bin/node" "$base/usr/bin/node"
  mkdir -p "$base/usr/include" && cp -R "$work/node/include/." "$base/usr/include"
  unpack "npm@$npm_version" "$base/usr/lib/node_modules/npm"
  ln -sf ../lib/node_modules/npm/bin/npm-cli.js "$base/usr/bin/npm"
  # The authorities that this machine trusts: its network may have one of its own.
  mkdir -p "$base/etc/ssl/certs"
  cp -L /etc/ssl/certs/ca-certificates.crt "$base/etc/ssl/certs/ca-certificates.crt"
  : >"$work/base-is-made"
fi
echo "node $(chroot "$base" node --version) on $(chroot "$base" node -p process.arch), npm $(chroot "$base" npm --version)"

say "image: ${cross:+the second stage of }docker/Dockerfile"
# Kept from one run in WORK to the next, so that steps whose sources are the same are not run anew.
if ! $tools inspect --type image localhost/loombook-base >/dev/null 2>&1; then
  from=$($tools from --arch "$arch" scratch)
  $tools copy -q "$from" "$base" / >/dev/null
  $tools config --arch "$arch" --env NODE_EXTRA_CA_CERTS=/etc/ssl/certs/ca-certificates.crt --env npm_config_nodedir=/usr "$from"
  $tools commit -q --format docker "$from" localhost/loombook-base >/dev/null
  $tools rm "$from" >/dev/null
fi
if [ -n "$cross" ]; then
  rm -rf "$work/context" && mkdir "$work/context"
  "$here/docker/cross-bundle.sh" "$work/context/app" "$work" "$work/node"
  awk '/^FROM/ { stage++ } stage != 1' "$here/docker/Dockerfile" | sed 's|^COPY --from=build /app |COPY app |' >"$work/context/Dockerfile"
  set -- -f "$work/context/Dockerfile" "$work/context"
else
  set -- --ignorefile "$here/docker/Dockerfile.dockerignore" -f "$here/docker/Dockerfile" "$here"
fi
$tools bud --arch "$arch" --layers --isolation chroot --format docker --build-arg BASE=localhost/loombook-base -t "$image" "$@"
of_image() { $tools inspect --type image --format "$1" "$image"; }
of_image '{{.Docker.Architecture}} {{.Docker.Config.User}} {{.Docker.Config.Healthcheck}} {{.Docker.Config.Cmd}}'
command=$(of_image '{{range .Docker.Config.Cmd}}{{.}} {{end}}')
settings=$(of_image '{{range .Docker.Config.Env}}{{.}} {{end}}')

say "start: read-only root, user $user, umask 077"
made=$($tools from --arch "$arch" "$image")
root=$($tools mount "$made")
rm -rf "$work/data" "$work/ready" "$work/visited" "$work/status"
mkdir "$work/data" && chown $user:$user "$work/data"
# Namespaces of its own: what is mounted here is seen by nobody else and gone at the end, and its door opens to this trial alone.
unshare --mount --net --pid --fork --kill-child sh -eu -c "
  mount --bind '$root' '$root' && mount -o remount,bind,ro '$root'
  mount -t proc proc '$root/proc' && mount -t tmpfs -o mode=1777 tmp '$root/tmp'
  mount --bind '$work/data' '$root/data'
  mount -t tmpfs dev '$root/dev' && for one in null urandom; do : >'$root'/dev/\$one; mount --bind /dev/\$one '$root'/dev/\$one; done
  ip link set lo up
  umask 077
  in_image=\"env -i PATH=/usr/bin:/bin $settings $(command -v chroot) --userspec=$user:$user $root\"
  # Not even root can write there.
  ! ( : >'$root/app/probe' ) 2>/dev/null || { echo 'the root can be written'; exit 1; }
  started_ms=\$(date +%s%3N)
  \$in_image $command & server=\$!
  \$in_image node --input-type=module - first-answer \$started_ms <'$here/docker/first-visit.js'
  for try in \$(seq 120); do \$in_image node /app/healthcheck.js && break; sleep 0.5; done
  \$in_image node /app/healthcheck.js && : >'$work/ready' && echo 'healthcheck.js: ready'
  grep -E 'Name|VmRSS|Uid|Umask' '$root'/proc/\$server/status
  \$in_image node --input-type=module - <'$here/docker/first-visit.js' && : >'$work/visited'
  grep -E 'VmHWM|VmRSS' '$root'/proc/\$server/status
  kill -TERM \$server; status=0; wait \$server || status=\$?; echo \$status >'$work/status'; echo \"stopped with status \$status\"
" || true
ls -ln "$work/data"
$tools umount "$made" >/dev/null && $tools rm "$made" >/dev/null
[ -e "$work/ready" ] && [ -e "$work/visited" ] && [ "$(cat "$work/status")" = 0 ] &&
  say "$arch: it became ready, said so, took a photo, and stopped with status 0"
