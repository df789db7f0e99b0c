package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"
)

// pageOf starts the page of a cave's book as a process of its own and gives
// where it answers.
func (c *cave) pageOf(args ...string) (cmd *exec.Cmd, url string, errs *bytes.Buffer) {
	c.t.Helper()
	at := freeAddress()
	cmd = c.command(append([]string{"page", "--listen", at}, args...)...)
	errs = &bytes.Buffer{}
	cmd.Stderr = errs
	if err := cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { _ = cmd.Process.Kill() })
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		if r, err := http.Get("http://" + at + "/health"); err == nil {
			r.Body.Close()
			return cmd, "http://" + at, errs
		}
	}
	_ = cmd.Process.Kill()
	_ = cmd.Wait()
	c.t.Fatalf("the page does not answer\n%s", errs.String())
	return nil, "", nil
}

// note sends a note of one wheel; ok is true where it was acknowledged.
func sendNote(client *http.Client, url, tag, text string) (ok bool, err error) {
	b, err := json.Marshal(map[string]any{"wheel": tag, "text": text, "id": uuid.Must(uuid.NewV7()).String()})
	if err != nil {
		return false, err
	}
	r, err := client.Post(url+"/api/note", "application/json", bytes.NewReader(b))
	if err != nil {
		return false, err
	}
	defer r.Body.Close()
	said, err := io.ReadAll(r.Body)
	if err == nil && r.StatusCode != 200 && r.StatusCode != 503 {
		err = fmt.Errorf("%d %s", r.StatusCode, said)
	}
	return err == nil && r.StatusCode == 200 && json.Valid(said), err
}

// noted counts what the notes in the book say.
func (c *cave) noted() map[string]int {
	c.t.Helper()
	var log struct{ Entries []struct{ Note string } }
	if err := json.Unmarshal([]byte(c.run("log", "--json", "--most", "0")), &log); err != nil {
		c.t.Fatal(err)
	}
	out := map[string]int{}
	for _, e := range log.Entries {
		out[e.Note]++
	}
	return out
}

func TestAPageKilledInTheMidstOfItsWorkHasLostNothingItAcknowledged(t *testing.T) {
	c := newCave(t).filled(8)
	lives := setting("RINDKEEP_KILLS", 4, 40)
	acked := map[string]bool{}
	var mu sync.Mutex
	for life := range lives {
		cmd, url, _ := c.pageOf()
		client := &http.Client{Transport: &http.Transport{}, Timeout: 20 * time.Second}
		var wg sync.WaitGroup
		for k := range 8 {
			wg.Go(func() {
				for i := 0; ; i++ {
					text := fmt.Sprintf("life %d phone %d entry %d", life, k, i)
					ok, err := sendNote(client, url, fmt.Sprintf("big-%02d", k+1), text)
					if ok {
						mu.Lock()
						acked[text] = true
						mu.Unlock()
					}
					if err != nil {
						return // it was killed
					}
				}
			})
		}
		time.Sleep(time.Duration(300+rand.IntN(700)) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait()
		wg.Wait()
		client.CloseIdleConnections()
		c.sound()
	}
	have := c.noted()
	for text := range acked {
		if have[text] != 1 {
			t.Errorf("%q was acknowledged and is in the book %d times", text, have[text])
		}
	}
	if len(acked) < lives {
		t.Errorf("%d entries in %d lives: the page was hardly at work", len(acked), lives)
	}
	t.Logf("%d kills, %d entries acknowledged, all there", lives, len(acked))
}

func TestThePageAndTheCommandLineWorkOnOneBookAtOnce(t *testing.T) {
	c := newCave(t).filled(4)
	cmd, url, errs := c.pageOf()
	// An open page hears of what the command line writes.
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", url+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	live, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer live.Body.Close()
	c.run("wheel", "note", "big-01", "from the desk")
	heard := false
	for sc := bufio.NewScanner(live.Body); !heard && sc.Scan(); {
		heard = sc.Text() == "event: change"
	}
	if !heard {
		t.Error("the open page heard nothing of it")
	}
	var wg sync.WaitGroup
	for k := range 4 {
		wg.Go(func() {
			for i := range 10 {
				if ok, err := sendNote(http.DefaultClient, url, fmt.Sprintf("big-%02d", k+1), fmt.Sprintf("phone %d entry %d",
					k, i)); !ok {
					t.Errorf("phone %d entry %d: %v", k, i, err)
				}
			}
		})
	}
	for i := range 10 {
		c.run("wheel", "note", "big-02", fmt.Sprint("desk entry ", i))
	}
	wg.Wait()
	have := c.noted()
	for i := range 10 {
		for k := range 4 {
			if s := fmt.Sprintf("phone %d entry %d", k, i); have[s] != 1 {
				t.Errorf("%q is in the book %d times", s, have[s])
			}
		}
		if s := fmt.Sprint("desk entry ", i); have[s] != 1 {
			t.Errorf("%q is in the book %d times", s, have[s])
		}
	}
	c.sound()
	if !canInterrupt {
		return
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil || !strings.HasSuffix(errs.String(), "stopped; every request was finished\n") {
		t.Errorf("told to stop: %v\n%s", err, errs.String())
	}
	if _, err := os.Stat(c.book + ".access"); err == nil {
		t.Error("it made a file of access though nobody has a password")
	}
}
