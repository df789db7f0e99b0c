package bookfile

import (
	"crypto/rand"
	"os"
	"path/filepath"
)

// Replace writes a whole file or nothing: a hidden one beside it, synced, put in its place. mode
// is a new file's, less what the system masks.
func Replace(path string, b []byte, mode os.FileMode) error {
	part := filepath.Join(filepath.Dir(path), "."+rand.Text()+PartSuffix)
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	defer os.Remove(part) // there only where something failed
	_, err = f.Write(b)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(part, path)
	}
	if err != nil {
		return err
	}
	_ = syncFolder(filepath.Dir(path)) // where a folder can be synced
	return nil
}

// PartSuffix ends the name of a file that Replace is writing, or didn't finish.
const PartSuffix = ".part"
