package main

import (
	"net"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// notifier tells the system's service manager how a service stands: datagrams to the socket that it names in the
// environment (the protocol: sd_notify(3)). Our own few lines, because a datagram must never wait: the watchdog is fed by
// the control loop. Its zero value, where no manager listens, tells nobody.
type notifier struct {
	conn  *net.UnixConn
	raw   syscall.RawConn
	every time.Duration // how often the watchdog is fed; 0: there is none
	fed   time.Time
}

// newNotifier reads where and how often to tell. The two variables are taken out of the environment, so that no child
// speaks for this process.
func newNotifier() *notifier {
	path := os.Getenv("NOTIFY_SOCKET")
	limit, _ := strconv.ParseInt(os.Getenv("WATCHDOG_USEC"), 10, 64)
	if pid := os.Getenv("WATCHDOG_PID"); pid != "" && pid != strconv.Itoa(os.Getpid()) {
		limit = 0
	}
	for _, name := range []string{"NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"} {
		os.Unsetenv(name)
	}
	n := &notifier{every: time.Duration(limit) * time.Microsecond / 4}
	if path == "" {
		return n
	}
	if strings.HasPrefix(path, "@") { // the abstract name space
		path = "\x00" + path[1:]
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return n
	}
	n.conn = conn
	n.raw, _ = conn.SyscallConn()
	return n
}

// tell sends a message, unless the manager does not keep up: then it is lost.
func (n *notifier) tell(message string) {
	if n.raw == nil {
		return
	}
	_ = n.raw.Write(func(fd uintptr) bool {
		_, _ = syscall.Write(int(fd), []byte(message))
		return true // whatever came of it: no waiting
	})
}

// ready, stopping and status tell what people and units that depend on this one want to know.
func (n *notifier) ready()            { n.tell("READY=1") }
func (n *notifier) stopping()         { n.tell("STOPPING=1") }
func (n *notifier) status(now string) { n.tell("STATUS=" + strings.ReplaceAll(now, "\n", " ")) }

// feed feeds the watchdog, four times in its span however often it is called.
func (n *notifier) feed(now time.Time) {
	if n.every > 0 && now.Sub(n.fed) >= n.every {
		n.fed = now
		n.tell("WATCHDOG=1")
	}
}
