//go:build unix

package intake

import (
	"os"
	"syscall"
)

// tryLock locks a file for this process without waiting; the lock ends with the
// process, however that ends.
func tryLock(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
