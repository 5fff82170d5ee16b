#!/bin/bash
# rig.sh OUTDIR COMMAND...
#
# Runs COMMAND, as root and in the present folder, inside a QEMU guest with the distribution's stock kernel, where
# vivid (V4L2 capture and output) and snd-aloop (ALSA) are real drivers. The guest sees this machine's files read-only
# under a layer in memory: nothing it writes reaches the disk, except in OUTDIR, which is /mnt there.
# Exit code: the COMMAND's own; 124 when the guest did not end in time; 77 when the rig cannot work here (says why).
#
# Emulation is by software (TCG): the host's hardware virtualisation often does not fit a stock kernel.
#
# RIG_CACHE    where kernel and modules are kept   (${XDG_CACHE_HOME:-$HOME/.cache}/stopkeeper-device)
# RIG_LIMIT    seconds until the guest is ended    (600)
# RIG_MEMORY   megabytes for the guest             (2048)
# RIG_MODULES  modules loaded before COMMAND       (vivid with two devices, snd-aloop)
# RIG_QEMU     more arguments for QEMU             (none)
set -euo pipefail

(($# >= 2)) || { echo "usage: bash tests/device/rig.sh OUTDIR COMMAND..." >&2; exit 2; }
CACHE=${RIG_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/stopkeeper-device}
LIMIT=${RIG_LIMIT:-600}
MEMORY=${RIG_MEMORY:-2048}
MODULES=${RIG_MODULES:-"vivid n_devs=2;snd-aloop"}
PACKAGES=(qemu-system-x86 busybox-static cpio kmod xz-utils v4l-utils alsa-utils libportaudio2)

skip() { echo "rig: skipped: $*" >&2; exit 77; }

# --- what the rig needs from the system ---------------------------------------------------------------------------
[ "$(uname -m)" = x86_64 ] || skip "only x86-64 machines are supported, this is $(uname -m)"
command -v apt-get >/dev/null && command -v dpkg >/dev/null || skip "needs Debian's apt-get and dpkg"
missing=()
for package in "${PACKAGES[@]}"; do
  [ "$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null)" = installed ] || missing+=("$package")
done
if ((${#missing[@]})); then
  line="apt-get install --no-install-recommends ${missing[*]}"
  ((EUID == 0)) || skip "install first, as root: $line"
  echo "rig: $line"
  { apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -qy --no-install-recommends \
      -o DPkg::Lock::Timeout=300 "${missing[@]}"; } >/dev/null || skip "failed: $line"
fi

# --- kernel: only unpacked, never installed on this machine -------------------------------------------------------
mkdir -p "$CACHE"
exec 9>"$CACHE/lock"
flock 9
if [ ! -f "$CACHE/complete" ]; then
  rm -rf "$CACHE/root"
  kernel=$(apt-cache depends linux-image-amd64 | awk '/Depends: linux-image-/{print $2; exit}')
  [ -n "$kernel" ] || { ((EUID == 0)) && apt-get update -q >/dev/null; \
    kernel=$(apt-cache depends linux-image-amd64 | awk '/Depends: linux-image-/{print $2; exit}'); }
  [ -n "$kernel" ] || skip "apt-cache knows no linux-image-amd64"
  echo "rig: unpacking $kernel into $CACHE"
  (cd "$CACHE" && rm -f ./*.deb && apt-get download -q "$kernel" >/dev/null 2>&1) || skip "cannot download $kernel"
  dpkg -x "$CACHE"/*.deb "$CACHE/root" && rm -f "$CACHE"/*.deb
  [ -d "$CACHE/root/lib/modules" ] || ln -s usr/lib "$CACHE/root/lib"
  depmod -b "$CACHE/root" "$(ls "$CACHE/root/lib/modules")"
  touch "$CACHE/complete"
fi
flock -u 9
VERSION=$(ls "$CACHE/root/lib/modules")

# --- the job, written where the guest finds it --------------------------------------------------------------------
OUT=$(realpath -m "$1"); shift
mkdir -p "$OUT"
rm -f "$OUT/rc"
{
  printf '#!/bin/sh\ncd %q\n' "$PWD"
  printf 'export HOME=/root LANG=C.UTF-8 PYTHONDONTWRITEBYTECODE=1 PATH=%q STOPKEEPER_RIG=/mnt\n' "$PATH"
  IFS=';' read -ra loads <<<"$MODULES"
  printf 'modprobe %s\n' "${loads[@]}"
  printf 'exec'
  printf ' %q' "$@"
  echo
} >"$OUT/job.sh"
echo "$CACHE" >"$OUT/cache"

# --- initial RAM disk: busybox and the modules that reach the host's files ----------------------------------------
RAM=$(mktemp -d)
trap 'rm -rf "$RAM"' EXIT
mkdir -p "$RAM"/{bin,modules,proc,sys,dev,host,layer,new}
cp "$(command -v busybox)" "$RAM/bin/busybox"
for module in virtio_pci 9pnet_virtio 9p overlay; do
  modprobe -d "$CACHE/root" -S "$VERSION" --show-depends "$module"
done | awk '$1 == "insmod" && !seen[$2]++ {print $2}' | while read -r file; do
  name=$(basename "$file" .xz)
  case $file in *.xz) xz -dc "$file" ;; *) cat "$file" ;; esac >"$RAM/modules/$name"
  echo "$name"
done >"$RAM/modules/order"
cat >"$RAM/init" <<'INIT'
#!/bin/busybox sh
b=/bin/busybox
end() { $b sync; $b poweroff -f; }
$b mount -t proc p /proc; $b mount -t sysfs s /sys; $b mount -t devtmpfs d /dev
for name in $($b cat /modules/order); do $b insmod "/modules/$name"; done
share=trans=virtio,version=9p2000.L,msize=512000
$b mount -t 9p -o $share,ro,cache=loose host /host && $b mount -t tmpfs -o size=50% t /layer &&
  $b mkdir /layer/upper /layer/work &&
  $b mount -t overlay -o lowerdir=/host,upperdir=/layer/upper,workdir=/layer/work o /new ||
  { echo "rig: the guest cannot mount the host's files"; end; }
$b mount -t proc p /new/proc; $b mount -t sysfs s /new/sys; $b mount -t devtmpfs d /new/dev
$b mkdir -p /new/dev/shm /new/dev/pts /new/lib/modules /new/mnt
$b mount -t tmpfs t /new/dev/shm; $b mount -t devpts p /new/dev/pts; $b mount -t tmpfs t /new/run
$b mount -t 9p -o $share out /new/mnt
cache=$($b cat /new/mnt/cache)
$b mount --bind "/host$cache/root/lib/modules" /new/lib/modules
$b ip link set lo up
$b chroot /new /bin/sh /mnt/job.sh
echo $? >/new/mnt/rc
end
INIT
chmod +x "$RAM/init"
(cd "$RAM" && find . | cpio -o -H newc --quiet) >"$OUT/initrd.img"

# --- run ----------------------------------------------------------------------------------------------------------
shares() { echo "-fsdev local,id=$1,path=$2,security_model=none$3 -device virtio-9p-pci,fsdev=$1,mount_tag=$1"; }
# shellcheck disable=SC2046
timeout -k 5 "$LIMIT" qemu-system-x86_64 -accel tcg -cpu max -smp 1 -m "$MEMORY" -nodefaults -no-reboot \
  -display none -monitor none -serial stdio -kernel "$CACHE/root/boot/vmlinuz-$VERSION" -initrd "$OUT/initrd.img" \
  -append "console=ttyS0 quiet panic=-1 mitigations=off nokaslr loglevel=3" \
  $(shares host / ,readonly=on,multidevs=remap) \
  -fsdev local,id=out,path="$OUT",security_model=none -device virtio-9p-pci,fsdev=out,mount_tag=out ${RIG_QEMU:-} </dev/null || true
[ -f "$OUT/rc" ] || { echo "rig: the guest did not finish within $LIMIT s" >&2; exit 124; }
exit "$(cat "$OUT/rc")"
