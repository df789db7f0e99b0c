package page

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// TestQueueOfThePhone runs the tests of the phone's queue, which is a script of
// the page, in node.
func TestQueueOfThePhone(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal("node is missing")
		}
		t.Skip("node is missing: the queue of the phone was not tried")
	}
	dir := t.TempDir()
	for from, to := range map[string]string{
		"assets/queue.js": "queue.mjs", "assets/tags.js": "tags.mjs", "testdata/queue/queue.test.mjs": "queue.test.mjs",
		"assets/ledger.js": "ledger.mjs", "testdata/queue/ledger.test.mjs": "ledger.test.mjs",
	} {
		b, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, to), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c := exec.CommandContext(t.Context(), node, "--test", "--test-reporter=tap", "queue.test.mjs", "ledger.test.mjs")
	c.Dir = dir
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
