package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"
)

// owner is the one process that owns a bench: it holds the bench's lock and listens on its socket for "off".
type owner struct {
	lock   *os.File
	listen net.Listener
	off    func() string // switches off and tells the state
	wait   sync.WaitGroup
}

// askFor bounds how long the other end of the socket may take.
const askFor = 2 * time.Second

// longestSocket is the longest path that a socket may have on the systems we know, with room to spare.
const longestSocket = 100

// doors returns where a bench's lock and socket lie: beside the record, where every process of this user finds them
// whatever else is set for it. A socket whose path would be too long lies in the temporary folder.
func doors(bench string) (lock, socket string, err error) {
	folder := filepath.Join(dataFolder(), "benches")
	if err := ownFolder(folder); err != nil {
		return "", "", err
	}
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

// own takes a bench, or says who has it. off is called on a goroutine of the owner's when another process asks.
func own(bench string, off func() string) (*owner, error) {
	lockPath, socketPath, err := doors(bench)
	if err != nil {
		return nil, err
	}
	lock, err := os.OpenFile(lockPath, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, said(statusUsage, "cannot open the lock of bench %q: %v", bench, plain(err))
	}
	if err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder, _ := bufio.NewReader(lock).ReadString('\n')
		lock.Close()
		return nil, said(statusPersonal, "bench %q is being run by process %s: wait until it has ended, or end it with: fullery off",
			bench, strings.TrimSpace(holder))
	}
	o := &owner{lock: lock, off: off}
	if err := errors.Join(lock.Truncate(0), writeHolder(lock)); err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	os.Remove(socketPath) // we hold the lock: whoever left a socket behind is gone
	if o.listen, err = net.Listen("unix", socketPath); err != nil {
		return nil, errors.Join(said(statusUsage, "cannot listen for the command off: %v", err), lock.Close())
	}
	o.wait.Go(o.serve)
	return o, nil
}

func writeHolder(lock *os.File) error {
	_, err := fmt.Fprintf(lock, "%d\n", os.Getpid())
	return err
}

// serve answers one asker at a time until the owner closes.
func (o *owner) serve() {
	for {
		conn, err := o.listen.Accept()
		if err != nil {
			return
		}
		_ = conn.SetDeadline(time.Now().Add(askFor))
		if line, err := bufio.NewReader(conn).ReadString('\n'); err == nil && line == "off\n" {
			fmt.Fprintln(conn, o.off())
		}
		conn.Close()
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

// askOff asks the owner of a bench to switch off. found is false when nobody owns it.
func askOff(bench string) (answer string, found bool, err error) {
	lockPath, socketPath, err := doors(bench)
	if err != nil {
		return "", true, err
	}
	conn, err := net.DialTimeout("unix", socketPath, askFor)
	if err != nil {
		return "", held(lockPath), err // nobody is there, unless somebody holds the lock and does not answer
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(askFor))
	if _, err := fmt.Fprintln(conn, "off"); err != nil {
		return "", true, err
	}
	answer, err = bufio.NewReader(conn).ReadString('\n')
	return strings.TrimSpace(answer), true, err
}
