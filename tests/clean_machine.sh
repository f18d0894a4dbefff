#!/usr/bin/env bash
# The README's commands on a Debian that has never seen the project: make clean-machine
#
# Builds a minimal root, carries over this machine's package sources, certificates, proxies and pip
# settings, clones the committed state into it, and types what the README's section "Two commands"
# says: once as root, once as an ordinary user without sudo. That user types, as root, the one command
# that make names when it may not install packages, and then goes on.
#
# DEBIAN=forky make clean-machine: another Debian than this machine's, with its Python.
set -euo pipefail

here=$(cd "$(dirname "$0")/.." && pwd)
self=$here/tests/clean_machine.sh
packages=python3,python3-venv,make,git,passwd  # a new Debian may leave passwd out
person=coach

# --- settings of this machine that a fresh one needs to reach the same packages ---

# The files of apt's sources, for mmdebstrap, which takes old and new format.
sources() { find /etc/apt -maxdepth 2 \( -name '*.sources' -o -name '*.list' \) -size +0 | sort; }

# This machine's Debian from where it has it, or the one of this name from the same mirror.
mirrors_of() {
	if [ -z "${DEBIAN:-}" ]; then sources; return; fi
	apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' | grep -m 1 '/debian/\?$' |
		sed "s/.*/deb & $DEBIAN main/"
}

# How packages are fetched (proxies, dates); nothing of what runs when one is installed.
fetching() { apt-config dump | grep '^Acquire::'; }

# Variables that say how to reach package registries. Folders of certificates stay behind: in the root
# the single file stands in for them.
variables() {
	env | grep -iE '^((PIP|NPM_CONFIG)_[A-Z_]+|[a-z]+_proxy|[A-Z_]*CA_?(BUNDLE|INFO|CERTS)|[A-Z_]*CERT_FILE)=' || true
}

pip_files() {
	local python=$here/.venv/bin/python
	[ -x "$python" ] || python=python3
	"$python" -m pip config debug 2>/dev/null | sed -n 's/^ *\(\/.*\), exists: True$/\1/p'
}

# What pip's files say together, as one file for every user of the root.
pip_settings() {
	pip_files | xargs -r python3 -c 'import configparser, sys
said = configparser.RawConfigParser()
said.read(sys.argv[1:])
said.write(sys.stdout)'
}

# Folders and files that those settings lead to: a list of constraints, wheels, an index, whose links
# lead to folders beside it.
pointed_to() {
	{ variables | cut -d= -f2-; pip_settings; } | sed -E 's#file://(/[^ ]+)/[^/ ]+#\1#g' | { grep -oE '/[A-Za-z0-9._+/-]+' || true; } |
		sort -u | while read -r path; do
			[ ! -e "$path" ] || echo "$path"
		done
}

carry_keys() {
	for folder in /usr/share/keyrings /etc/apt/keyrings /etc/apt/trusted.gpg.d; do
		[ ! -d "$folder" ] || { mkdir -p "$1$folder" && cp -r "$folder/." "$1$folder"; }
	done
}

carry_settings() {
	mkdir -p "$1/etc/ssl/certs" "$1/usr/local/share/ca-certificates"
	cp -rL /usr/local/share/ca-certificates/. "$1/usr/local/share/ca-certificates"
	cp -L /etc/ssl/certs/ca-certificates.crt "$1/etc/ssl/certs/"
	cp -L /etc/resolv.conf /etc/hosts "$1/etc/"
	pip_settings >"$1/etc/pip.conf"
	pointed_to | while read -r path; do
		if [ -f "$path" ]; then mkdir -p "$1$(dirname "$path")" && cp -L "$path" "$1$path"; fi
	done
}

# --- a root ---

build_root() {
	local codename mirrors
	codename=${DEBIAN:-$(. /etc/os-release && echo "$VERSION_CODENAME")}
	mapfile -t mirrors < <(mirrors_of)
	fetching >"$work/fetching.conf"
	mmdebstrap --quiet --variant=apt --include="$packages" --aptopt="$work/fetching.conf" \
		--setup-hook="'$self' --carry-keys \"\$1\"" "$codename" "$1" "${mirrors[@]}"
	carry_settings "$1"
	chroot "$1" useradd --create-home --shell /bin/bash "$person"
}

# Runs "$3" in root $1 as $2, in a namespace whose mounts and processes end with it.
within() {
	unshare --mount --pid --fork --kill-child --propagation private "$self" --within "$@"
}

# The inside of that namespace.
enter() {
	local root=$1 who=$2 command=$3 home=/root settings
	[ "$who" = root ] || home=/home/$who
	mount -t proc proc "$root/proc"
	mount -t sysfs -o ro sysfs "$root/sys"
	mount -t tmpfs -o mode=1777 shm "$root/dev/shm"
	mount -t devpts -o newinstance,mode=620,ptmxmode=666 devpts "$root/dev/pts"
	mount --bind "$root/dev/pts/ptmx" "$root/dev/ptmx"
	pointed_to | while read -r path; do
		if [ -d "$path" ]; then
			mkdir -p "$root$path" && mount --rbind "$path" "$root$path"
			mount -o remount,bind,ro "$root$path"
		fi
	done
	mapfile -t settings < <(variables)
	exec env -i HOME="$home" USER="$who" TERM="${TERM:-dumb}" PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin \
		"${settings[@]}" chroot --userspec="$who:$who" "$root" bash -c "cd && $command"
}

# --- what is typed ---

readme_commands() {
	sed -n '/^## Two commands/,/^## /p' "$here/README.md" | sed -n '/^```sh$/,/^```$/p' | grep -v '^```'
}

# Types each command of the README as $2; where packages are wanted, the one command that is named.
type_readme() {
	local root=$1 who=$2 line wanted log=$work/$2.log
	readme_commands | while read -r line; do
		echo "== $who types: $line"
		if within "$root" "$who" "cd feedscript && $line" 2>&1 </dev/null | tee "$log"; then continue; fi
		wanted=$(grep '^sudo apt-get ' "$log" || true)
		[ -n "$wanted" ] && [ "$who" != root ] || { echo "== $who: failed: $line"; return 1; }
		echo "== someone who may types: $wanted"
		within "$root" root "sudo() { DEBIAN_FRONTEND=noninteractive \"\$@\"; }; yes | { $wanted; }" \
			>/dev/null </dev/null
		echo "== $who types again: $line"
		within "$root" "$who" "cd feedscript && $line" 2>&1 </dev/null ||
			{ echo "== $who: failed: $line"; return 1; }
	done
}

try_as() {
	local root=$work/$1 home=/root
	[ "$1" = root ] || home=/home/$person
	echo "== a fresh root for $1"
	mkdir "$root" && tar -C "$root" -xf "$work/fresh.tar"
	# Root may read the checkout of whoever called sudo.
	git config --file "$work/gitconfig" safe.directory '*'
	GIT_CONFIG_GLOBAL=$work/gitconfig git clone --quiet --no-local "$here" "$root$home/feedscript"
	[ "$1" = root ] || chroot "$root" chown -R "$person:$person" "$home"
	type_readme "$root" "$([ "$1" = root ] && echo root || echo "$person")"
	echo "== $1: every command of the README passed"
	rm -rf --one-file-system "$root"
}

case ${1:-} in
--carry-keys) carry_keys "$2" ;;
--within) shift && enter "$@" ;;
*)
	work=$(mktemp -d "${TMPDIR:-/var/tmp}/clean-machine.XXXXXX")
	trap 'rm -rf --one-file-system "$work"' EXIT
	[ -z "$(git -c safe.directory='*' -C "$here" status --porcelain)" ] || echo "== what is not committed is not tried"
	build_root "$work/base"
	tar -C "$work/base" -cf "$work/fresh.tar" . && rm -rf --one-file-system "$work/base"
	[ $# -gt 0 ] || set -- root user
	for who in "$@"; do try_as "$who"; done
	;;
esac
