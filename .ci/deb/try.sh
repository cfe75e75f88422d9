#!/usr/bin/env bash
# Tries the Debian package: lintian finds no error; on a bare Debian in a folder it is installed with
# what it depends on, solves a frame, shows its manual, and is purged without a trace. Needs root,
# debootstrap and a mirror; `make test-deb` calls it. It takes some minutes.
# usage: .ci/deb/try.sh BUILD_DIR PACKAGE
set -eu
build=${1:?usage: .ci/deb/try.sh BUILD_DIR PACKAGE}
package=${2:?usage: .ci/deb/try.sh BUILD_DIR PACKAGE}
mirror=${MIRROR:-http://deb.debian.org/debian}
if command -v lintian >/dev/null; then
    lintian --fail-on error "$package"
    echo "lintian: no error"
else
    echo "no lintian: not looked at"
fi
[ "$(id -u)" -eq 0 ] && command -v debootstrap >/dev/null ||
    { echo "not installed anywhere: needs root and debootstrap"; exit 1; }
root=$(mktemp -d)
trap 'umount "$root/proc" 2>/dev/null; rm -rf "$root"' EXIT
debootstrap --variant=minbase "$(. /etc/os-release && echo "$VERSION_CODENAME")" "$root" "$mirror" \
    >"$build/debootstrap.log"
cp /etc/resolv.conf "$root/etc/"
cp -r /etc/apt/apt.conf.d/99* "$root/etc/apt/apt.conf.d/" 2>/dev/null || true
[ ! -e /etc/ssl/certs/ca-certificates.crt ] ||
    { mkdir -p "$root/etc/ssl/certs" && cp /etc/ssl/certs/ca-certificates.crt "$root/etc/ssl/certs/"; }
inside() {
    chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 \
        DEBIAN_FRONTEND=noninteractive "$@"
}
inside apt-get -q update >/dev/null
cp "$package" "$root/tmp/alidade.deb"
"$build/demo/render" --stars catalogs/stars.tsv --ra 83.8 --dec -5.4 --focal 135 --pixel 7.4 \
    --size 1500x1000 --exposure 2 --out "$root/tmp/frame.png" >/dev/null
# All but what apt, dpkg and caches of the system keep for themselves.
files() {
    (cd "$root" && find . -xdev \( -path ./proc -o -path ./tmp -o -path ./var/lib/dpkg -o \
        -path ./var/lib/apt -o -path ./var/cache -o -path ./var/log -o -name 'ld.so.cache*' \) \
        -prune -o -print | sort)
}
files >"$build/deb-before.txt"
inside apt-get -q -y --no-install-recommends install /tmp/alidade.deb >"$build/deb-install.log"
inside alidade --version
inside alidade solve /tmp/frame.png
inside alidade object "HIP 5"
inside test -s /usr/share/man/man1/alidade-plan.1.gz -o -e /etc/dpkg/dpkg.cfg.d/docker
inside apt-get -q -y purge alidade >>"$build/deb-install.log"
inside apt-get -q -y --purge autoremove >>"$build/deb-install.log"
files >"$build/deb-after.txt"
if inside find / -xdev -name '*alidade*' -not -path '/tmp/*' -not -path '/var/log/*' | grep .; then
    echo "left behind after purging"
    exit 1
fi
diff "$build/deb-before.txt" "$build/deb-after.txt" >"$build/deb-left.txt" ||
    { echo "files that came with other packages and stayed:"; head -20 "$build/deb-left.txt"; }
echo "$(basename "$package"): installed on a bare Debian, solved a frame, purged without a trace"
