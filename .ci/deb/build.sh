#!/usr/bin/env bash
# Builds a Debian package of the tree: compiles for /usr in a folder of its own, lays the files out as
# Debian wants them, has the libraries' packages found, and packs. `make deb` calls it.
# usage: .ci/deb/build.sh BUILD_DIR VERSION
set -eu
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/../.."
top=${1:?usage: .ci/deb/build.sh BUILD_DIR VERSION}/deb
version=${2:?usage: .ci/deb/build.sh BUILD_DIR VERSION}
package=$(pwd)/$top/alidade
for need in dpkg-deb dpkg-shlibdeps dpkg-gencontrol dpkg-buildflags; do
    command -v $need >/dev/null || { echo "make deb needs $need: apt install dpkg-dev" >&2; exit 1; }
done
rm -rf "$package" "$top/debian"
mkdir -p "$package/DEBIAN" "$top/debian"

make B="$top/compiled" PREFIX=/usr DESTDIR="$package" \
    ZSH_COMPLETIONS="$package/usr/share/zsh/vendor-completions" \
    EXTRA_CFLAGS="$(dpkg-buildflags --get CFLAGS | tr ' ' '\n' | grep -vE '^-O|^-g$' | tr '\n' ' ')" \
    LDFLAGS="$(dpkg-buildflags --get LDFLAGS)" install
strip --remove-section=.comment --remove-section=.note "$package"/usr/bin/*

# Licences are in the copyright file, where Debian looks for them.
doc=$package/usr/share/doc/alidade
mkdir -p "$doc"
rm "$package"/usr/share/alidade/LICENSE*
bash "$here/copyright.sh" >"$doc/copyright"
sed -e "s/@VERSION@/$version/" "$here/changelog" >"$top/debian/changelog"
gzip -9n <"$top/debian/changelog" >"$doc/changelog.gz"
gzip -9n "$package"/usr/share/man/man*/*

cp "$here/control" "$top/debian/control"
cd "$top"
dpkg-shlibdeps -Tsubstvars alidade/usr/bin/*
dpkg-gencontrol -Tsubstvars -Palidade -fdebian/files
chmod -R u=rwX,go=rX alidade
file=alidade_${version}_$(dpkg --print-architecture).deb
dpkg-deb --root-owner-group -Zxz -z2 --build alidade "../$file"
echo "build/$file"
