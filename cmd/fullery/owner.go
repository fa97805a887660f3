package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"
)

// owner is the one process that owns a bench: it holds the bench's lock and listens on its socket for what other processes
// ask.
type owner struct {
	lock   *os.File
	listen net.Listener
	answer func(asked string, conn net.Conn)
	wait   sync.WaitGroup
	room   chan struct{} // who may ask at a time
}

// askFor bounds how long the other end of the socket may take.
const askFor = 2 * time.Second

// mostAskers is how many processes may be answered at a time. One that hands over a cycle stays until its end.
const mostAskers = 16

// longestAsked is the longest that a process may ask: a recipe with what goes with it.
const longestAsked = 1 << 20 // bytes

// longestSocket is the longest path that a socket may have on the systems we know, with room to spare.
const longestSocket = 100

// A bench's lock and socket lie beside the record, where every process of this user finds them whatever else is set for it;
// those of a service lie in the folder that the system keeps for it, where the members of its group find them.

// doors returns where this process's lock and socket of a bench lie.
func doors(bench string) (lock, socket string, err error) {
	folder := os.Getenv("RUNTIME_DIRECTORY") // the system sets it for a service
	if folder == "" {
		folder = filepath.Join(dataFolder(), "benches")
		if err := ownFolder(folder); err != nil {
			return "", "", err
		}
	}
	return doorsIn(folder, bench)
}

// serviceFolder is where the system keeps the folder of a service for everybody else.
const serviceFolder = "/run/fullery"

// allDoors returns every lock and socket at which a bench may have an owner: a service's, then this user's. Asking makes no
// folders: whoever only gives orders may have no place of their own.
func allDoors(bench string) (locks, sockets []string, err error) {
	for _, folder := range []string{os.Getenv("RUNTIME_DIRECTORY"), serviceFolder, filepath.Join(dataFolder(), "benches")} {
		if info, err := os.Stat(folder); err != nil || !info.IsDir() {
			continue
		}
		lock, socket, err := doorsIn(folder, bench)
		if err != nil {
			return nil, nil, err
		}
		locks, sockets = append(locks, lock), append(sockets, socket)
	}
	return locks, sockets, nil
}

// doorsIn names both. A socket whose path would be too long lies in the temporary folder.
func doorsIn(folder, bench string) (lock, socket string, err error) {
	sum := sha256.Sum256([]byte(bench))
	base := filepath.Join(folder, hex.EncodeToString(sum[:8]))
	lock, socket = base+".lock", base+".sock"
	if len(socket) > longestSocket {
		folder = filepath.Join("/tmp", fmt.Sprintf("fullery-%d", os.Getuid()))
		if err := ownFolder(folder); err != nil {
			return "", "", err
		}
		sum = sha256.Sum256([]byte(base))
		socket = filepath.Join(folder, hex.EncodeToString(sum[:8])+".sock")
	}
	return lock, socket, nil
}

// ownFolder makes a folder that is this user's alone.
func ownFolder(folder string) error {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return said(statusUsage, "cannot make the folder %s for the bench's lock: %v", folder, plain(err))
	}
	info, err := os.Lstat(folder)
	if err != nil || !info.IsDir() || info.Mode().Perm()&0o077 != 0 {
		return said(statusUsage, "the folder %s for the bench's lock is not this user's alone; remove it", folder)
	}
	return nil
}

// own takes a bench for one that only lets others switch it off. off is called on a goroutine of the owner's.
func own(bench string, off func() string) (*owner, error) {
	return ownAnswering(bench, func(asked string, conn net.Conn) {
		if asked == "off" {
			fmt.Fprintln(conn, off())
			return
		}
		answer{conn}.end(said(statusPersonal, "bench %q is being run by process %d: wait until it has ended, or end it with: "+
			"fullery off", bench, os.Getpid()))
	})
}

// ownAnswering takes a bench, or says who has it. answer is called on a goroutine for each process that asks.
func ownAnswering(bench string, answer func(asked string, conn net.Conn)) (*owner, error) {
	lockPath, socketPath, err := doors(bench)
	if err != nil {
		return nil, err
	}
	lock, err := os.OpenFile(lockPath, os.O_CREATE|os.O_RDWR, 0o640)
	if err != nil {
		return nil, said(statusUsage, "cannot open the lock of bench %q: %v", bench, plain(err))
	}
	if err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder, _ := bufio.NewReader(lock).ReadString('\n')
		lock.Close()
		return nil, said(statusPersonal, "bench %q is being run by process %s: wait until it has ended, or end it with: fullery off",
			bench, strings.TrimSpace(holder))
	}
	o := &owner{lock: lock, answer: answer, room: make(chan struct{}, mostAskers)}
	if err := errors.Join(lock.Truncate(0), writeHolder(lock)); err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	os.Remove(socketPath) // we hold the lock: whoever left a socket behind is gone
	if o.listen, err = net.Listen("unix", socketPath); err != nil {
		return nil, errors.Join(said(statusUsage, "cannot listen for other processes: %v", err), lock.Close())
	}
	o.wait.Go(o.serve)
	return o, nil
}

func writeHolder(lock *os.File) error {
	_, err := fmt.Fprintf(lock, "%d\n", os.Getpid())
	return err
}

// serve answers each asker on a goroutine of its own until the owner closes.
func (o *owner) serve() {
	for {
		conn, err := o.listen.Accept()
		if err != nil {
			return
		}
		select {
		case o.room <- struct{}{}:
			o.wait.Go(func() {
				defer func() { <-o.room }()
				defer conn.Close()
				o.hear(conn)
			})
		default:
			conn.Close()
		}
	}
}

// hear reads the one line that an asker begins with, and has it answered.
func (o *owner) hear(conn net.Conn) {
	_ = conn.SetDeadline(time.Now().Add(askFor))
	line, err := bufio.NewReader(io.LimitReader(conn, longestAsked)).ReadString('\n')
	if err == nil {
		_ = conn.SetDeadline(time.Time{})
		o.answer(strings.TrimSuffix(line, "\n"), conn)
	}
}

// Close gives the bench back.
func (o *owner) Close() error {
	err := o.listen.Close()
	o.wait.Wait()
	return errors.Join(err, o.lock.Close())
}

// held tells whether some process holds a bench's lock.
func held(lockPath string) bool {
	lock, err := os.Open(lockPath)
	if err != nil {
		return false
	}
	defer lock.Close()
	return syscall.Flock(int(lock.Fd()), syscall.LOCK_SH|syscall.LOCK_NB) != nil
}

// dial reaches the owner of a bench. found is false when nobody owns it: then conn is nil.
func dial(bench string) (conn net.Conn, found bool, err error) {
	locks, sockets, err := allDoors(bench)
	if err != nil {
		return nil, true, err
	}
	for i := range sockets {
		conn, err = net.DialTimeout("unix", sockets[i], askFor)
		if err == nil {
			return conn, true, nil
		}
		if held(locks[i]) || errors.Is(err, os.ErrPermission) {
			return nil, true, err // somebody is there and does not answer
		}
	}
	return nil, false, nil
}

// askOff asks the owner of a bench to switch off. found is false when nobody owns it.
func askOff(bench string) (answer string, found bool, err error) {
	conn, found, err := dial(bench)
	if conn == nil {
		return "", found, err
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(askFor))
	if _, err := fmt.Fprintln(conn, "off"); err != nil {
		return "", true, err
	}
	answer, err = bufio.NewReader(conn).ReadString('\n')
	return strings.TrimSpace(answer), true, err
}
