#!/bin/sh
# docker/cross-bundle.sh OUT WORK NODE: the bundle for arm64, made on another kind of machine without emulation, for docker/prove.sh.
# What is native in it is exchanged: the picture library's packages for arm64 come from the npm registry, the database driver is compiled by
# aarch64-linux-gnu-g++ (Debian: g++-aarch64-linux-gnu) for the Node whose package is unpacked in NODE. After `npm ci`. WORK keeps the driver.
set -eu
out=$1
work=$2
node=$3
here=$(cd "$(dirname "$0")/.." && pwd)
driver=$work/better-sqlite3
binary=build/Release/better_sqlite3.node

if [ ! -e "$driver/$binary" ]; then
  rm -rf "$driver" && cp -R "$here/node_modules/better-sqlite3" "$driver" && rm -rf "$driver/build"
  cd "$driver"
  CC=aarch64-linux-gnu-gcc CXX=aarch64-linux-gnu-g++ AR=aarch64-linux-gnu-ar LINK=aarch64-linux-gnu-g++ CC_host=gcc CXX_host=g++ \
    node "$(npm root -g)/npm/node_modules/node-gyp/bin/node-gyp.js" rebuild --release --arch=arm64 --nodedir="$node" >"$work/compiled.log" 2>&1
fi

cd "$here" && node --import tsx docker/bundle.ts --out "$out"
cp "$driver/$binary" "$out/node_modules/better-sqlite3/$binary"
for package in "$out"/node_modules/@img/*-linux-x64; do
  name=$(basename "$package" x64)arm64
  version=$(node -p "require('$package/package.json').version")
  mkdir "$out/node_modules/@img/$name"
  tar -xzf "$work/$(cd "$work" && npm pack --silent "@img/$name@$version" | tail -1)" -C "$out/node_modules/@img/$name" --strip-components=1
  rm -rf "$package"
done
