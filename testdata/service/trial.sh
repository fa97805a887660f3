#!/bin/bash
# Runs inside: installs the service, and tries whether it holds what its unit promises. The bench is the simulated one.
unit=fullery.service failed=0
say() { printf '%s\n' "$*"; }
ok() { say "ok: $1"; }
bad() { say "FAILED: $1"; failed=1; }
check() { local what=$1; shift; if "$@" >/run/trial/out 2>&1; then ok "$what"; else bad "$what: $(cat /run/trial/out)"; fi; }
is() { [ "$2" = "$3" ] && ok "$1: $3" || bad "$1: $3, want $2"; }
prop() { systemctl show -P "$1" $unit; }
has() { grep -q -- "$2" /run/trial/out && ok "$1" || bad "$1: $(cat /run/trial/out)"; }
until_is() { # WHAT PROPERTY VALUE: looks again for up to a minute
	for _ in $(seq 240); do [ "$(prop "$2")" = "$3" ] && break; sleep 0.25; done
	is "$1" "$3" "$(prop "$2")"
}

systemctl start systemd-journald.socket dbus.socket 2>/dev/null
install -m 755 /run/trial/fullery /usr/local/bin/fullery
check "the files are written" fullery install-service
check "the user is made" systemd-sysusers
check "somebody is in its group" useradd -G fullery -M steward
# A trial has no time for long pauses between two starts.
mkdir -p /etc/systemd/system/$unit.d
printf '[Service]\nRestartSec=1s\n' >/etc/systemd/system/$unit.d/trial.conf
systemctl daemon-reload

check "it starts and says that it is ready" systemctl start $unit
[ $failed = 0 ] || { systemctl status --no-pager -l $unit; systemctl show $unit | grep -E "^Exec|Status|Result"; systemctl status systemd-journald --no-pager; exit 1; }
is "it runs" running "$(prop SubState)"
pid=$(prop MainPID)
is "as its own user" fullery "$(stat -c %U /proc/"$pid")"
is "without any capability" 0000000000000000 "$(awk '/^CapEff/{print $2}' /proc/"$pid"/status)"
is "without a way to more" 1 "$(awk '/^NoNewPrivs/{print $2}' /proc/"$pid"/status)"
is "system calls are filtered" 2 "$(awk '/^Seccomp:/{print $2}' /proc/"$pid"/status)"
nsenter -t "$pid" -m -r touch /etc/fullery/x 2>/run/trial/out; has "the system is read-only to it" 'Read-only'
nsenter -t "$pid" -m -r ls /root >/run/trial/out 2>&1; [ -s /run/trial/out ] && ! grep -q denied /run/trial/out && bad "it sees homes" || ok "it sees no homes"
is "its record is its own" fullery "$(stat -c %U /var/lib/fullery/fullery.db)"

runuser -u steward -- fullery run dry-only --fast >/run/trial/out 2>&1; has "a member of the group runs a cycle" 'Cycle 1: complete'
runuser -u nobody -- env HOME=/tmp/nobody fullery order stop >/run/trial/out 2>&1; has "nobody else gives orders" 'does not answer'

# Killed in the middle of a cycle: switched off after it, started anew, held.
runuser -u steward -- fullery run water-detergent --fast=20 >/run/trial/cycle 2>&1 &
for _ in $(seq 100); do fullery order hold >/run/trial/out 2>&1 && break; sleep 0.1; done
has "the cycle is held by an order" 'Order taken: hold'
kill -KILL "$pid"
until_is "it is started anew after a kill" NRestarts 1
until_is "and runs" SubState running
runuser -u steward -- fullery run >/run/trial/out 2>&1; has "it comes up held" 'is held. Cycle 2'
journalctl -u $unit -o cat >/run/trial/out; has "the kill is on record" 'status=9/KILL'
has "what comes after it was run" 'has no owner. It is simulated'
runuser -u steward -- fullery order stop >/run/trial/out 2>&1; has "a person ends what was cut short" 'Order taken: stop'

# Hung: the loop no longer feeds the watchdog.
pid=$(prop MainPID)
kill -STOP "$pid"
until_is "a hung one is ended by the watchdog and started anew" NRestarts 2
journalctl -u $unit -o cat >/run/trial/out; has "the watchdog is on record" 'Watchdog timeout'
until_is "and runs again" SubState running

# Told to stop: it ends well and stays so.
check "it stops when told" systemctl stop $unit
is "well" success "$(prop Result)"
journalctl -u $unit -o cat >/run/trial/out; has "everything off" 'is let go; every output is off'

# Again and again: it does not go on for ever.
systemctl reset-failed $unit 2>/dev/null
systemctl start $unit
for _ in 1 2 3 4 5 6; do
	for _ in $(seq 40); do p=$(prop MainPID); [ "$p" != 0 ] && kill -KILL "$p" 2>/dev/null && break; sleep 0.1; done
	sleep 0.3
done
until_is "it stays off after four starts" SubState failed
check "with no process left" test "$(prop MainPID)" = 0

# A bench that is not there: a person must act, and starting anew would not help.
systemctl reset-failed $unit 2>/dev/null
fullery recipes board >/run/board.toml
check "a real bench's files are written" fullery install-service --bench /run/board.toml --force
systemd-sysusers; systemctl daemon-reload
! systemctl start $unit 2>/dev/null
sleep 2
is "a bench that is not there is not tried again" 0 "$(prop NRestarts)"
is "its exit status says why" 4 "$(prop ExecMainStatus)"

[ $failed = 0 ] && say "all passed"
