//go:build linux || darwin || freebsd

package cli

import "syscall"

// diskOf returns the free bytes, and all, of the disk that holds a folder.
func diskOf(folder string) (free, size uint64, err error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(folder, &st); err != nil {
		return 0, 0, err
	}
	return uint64(st.Bavail) * uint64(st.Bsize), uint64(st.Blocks) * uint64(st.Bsize), nil
}
