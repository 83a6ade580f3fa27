#!/usr/bin/env bash
# Packs a built program for Debian 12: program, man page, completion for three shells, the docs.
# Usage: package.sh PROGRAM FOLDER; writes FOLDER/evenbeam_VERSION_ARCHITECTURE.deb and prints its path.
set -euo pipefail
program=$(realpath "$1") folder=$(realpath -m "$2")
cd "$(dirname "${BASH_SOURCE[0]}")/.."
version=$("$program" --version | cut -d' ' -f2)
architecture=$(dpkg --print-architecture)
root=$folder/root
rm -rf "$root"
umask 022
mkdir -p "$root"/DEBIAN "$root"/usr/{bin,share/{man/man1,bash-completion/completions,zsh/vendor-completions,fish/vendor_completions.d,doc/evenbeam}}

strip --strip-unneeded -o "$root/usr/bin/evenbeam" "$program"
chmod 755 "$root/usr/bin/evenbeam"
"$program" manual man | gzip -9n >"$root/usr/share/man/man1/evenbeam.1.gz"
"$program" manual bash >"$root/usr/share/bash-completion/completions/evenbeam"
"$program" manual zsh >"$root/usr/share/zsh/vendor-completions/_evenbeam"
"$program" manual fish >"$root/usr/share/fish/vendor_completions.d/evenbeam.fish"
cp README.md docs/*.md "$root/usr/share/doc/evenbeam/"
sed -i 's|](docs/|](|g' "$root/usr/share/doc/evenbeam/README.md"  # the pages lie beside it there
gzip -9nc CHANGELOG.md >"$root/usr/share/doc/evenbeam/changelog.gz"
printf '%s\n' "evenbeam, licence GPL-3.0-or-later; on Debian in /usr/share/common-licenses/GPL-3." >"$root/usr/share/doc/evenbeam/copyright"

# dpkg-shlibdeps wants a source package's control file beside it.
mkdir -p "$folder/debian" && printf 'Source: evenbeam\n\nPackage: evenbeam\nArchitecture: any\n' >"$folder/debian/control"
needs=$(cd "$folder" && dpkg-shlibdeps -O "$root/usr/bin/evenbeam" | sed -n 's/^shlibs:Depends=//p')
rm -r "$folder/debian"
[ -n "$needs" ] || { echo "dpkg-shlibdeps names no libraries" >&2; exit 1; }

cat >"$root/DEBIAN/control" <<END_OF_CONTROL
Package: evenbeam
Version: $version
Architecture: $architecture
Maintainer: evenbeam <evenbeam@localhost>
Installed-Size: $(du -sk "$root/usr" | cut -f1)
Depends: $needs
Suggests: chromium, fonts-dejavu-core
Section: science
Priority: optional
Description: commissioning bench for dual-drive gantries
 Takes what the papers say and a folder of recordings of a machine whose bridge
 is moved by two motors, tells what machine it is and what is wrong with it, and
 proposes settings. It computes and advises; it never moves a machine.
 A Chromium prints the report as PDF; without one the HTML is complete.
END_OF_CONTROL

# The same commit gives the same bytes.
SOURCE_DATE_EPOCH=$(git log -1 --format=%ct 2>/dev/null || stat -c %Y CHANGELOG.md)
export SOURCE_DATE_EPOCH
package=$folder/evenbeam_${version}_${architecture}.deb
dpkg-deb --root-owner-group -b "$root" "$package" >&2
rm -r "$root"
echo "$package"
