// Package natstest runs real NATS servers for tests, on this machine. Each site may publish below its
// own name only.
package natstest

import (
	"bytes"
	_ "embed"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"text/template"
	"time"

	"github.com/google/uuid"
)

//go:embed server.conf
var configuration string

// Servers are servers of one cluster, or a single one.
type Servers struct {
	t     testing.TB
	All   []*Server
	Group uuid.UUID

	// TLS is a folder with ca.pem, client.pem and client.key, where the servers ask for a certificate.
	TLS string
	// Creds is a folder with admin.creds and a file for each site, where these take the passwords' place.
	Creds string
}

// Server is one process.
type Server struct {
	Folder string // of its configuration, log and store
	Port   int
	t      testing.TB
	cmd    *exec.Cmd
}

// Start runs servers on which each site has a user of its own. It skips the test where there is no
// nats-server.
func Start(t testing.TB, count int, group uuid.UUID, sites ...uuid.UUID) *Servers {
	t.Helper()
	c := &Servers{t: t, Group: group}
	c.start(count, "", sites)
	return c
}

// StartSecure runs one server that asks for a certificate and for credentials.
func StartSecure(t testing.TB, group uuid.UUID, sites ...uuid.UUID) *Servers {
	t.Helper()
	c := &Servers{t: t, Group: group, TLS: t.TempDir(), Creds: t.TempDir()}
	certify(t, c.TLS)
	c.start(1, operator(t, c.Creds, group, sites), sites)
	return c
}

func (c *Servers) start(count int, operator string, sites []uuid.UUID) {
	t := c.t
	t.Helper()
	if _, err := exec.LookPath("nats-server"); err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal(err)
		}
		t.Skip("nats-server isn't installed")
	}
	ports := freePorts(t, 2*count)
	var routes []string
	for _, p := range ports[count:] {
		routes = append(routes, fmt.Sprintf("nats://127.0.0.1:%d", p))
	}
	form := template.Must(template.New("").Funcs(template.FuncMap{"may": Permissions}).Parse(configuration))
	for i := range count {
		s := &Server{Folder: t.TempDir(), Port: ports[i], t: t}
		var conf bytes.Buffer
		err := form.Execute(&conf, map[string]any{
			"Name": fmt.Sprintf("log%d", i+1), "Listen": fmt.Sprintf("127.0.0.1:%d", s.Port),
			"Store": filepath.Join(s.Folder, "store"), "Cluster": count > 1,
			"Routes": strings.Join(routes, ", "), "ClusterListen": fmt.Sprintf("127.0.0.1:%d", ports[count+i]),
			"Group": c.Group, "Sites": sites, "TLS": c.TLS, "Operator": operator,
		})
		if err == nil {
			err = os.WriteFile(filepath.Join(s.Folder, "server.conf"), conf.Bytes(), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
		c.All = append(c.All, s)
		s.Start()
		t.Cleanup(s.Kill)
	}
}

// Permissions are the subjects that a site may publish on.
func Permissions(group, site string) []string {
	stream := "rindkeep-" + group
	return []string{
		fmt.Sprintf("rindkeep.%s.%s.>", group, site),
		"$JS.API.STREAM.INFO." + stream,
		"$JS.API.CONSUMER.CREATE." + stream + ".>",
		"$JS.API.CONSUMER.DELETE." + stream + ".>",
		"$JS.API.CONSUMER.MSG.NEXT." + stream + ".>",
		"$JS.API.DIRECT.GET." + stream,
		"$JS.API.DIRECT.GET." + stream + ".>",
	}
}

// freePorts finds ports that nobody has, and that no program gets for a connection while a
// server is down: the systems give those from 32768 on.
func freePorts(t testing.TB, n int) (ports []int) {
	t.Helper()
	for range 1000 {
		l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", 10_000+rand.IntN(20_000)))
		if err != nil {
			continue
		}
		defer l.Close()
		if ports = append(ports, l.Addr().(*net.TCPAddr).Port); len(ports) == n {
			return ports
		}
	}
	t.Fatal("no free ports")
	return nil
}

// Start starts the process, and returns when it takes connections.
func (s *Server) Start() {
	s.t.Helper()
	s.cmd = exec.Command("nats-server", "-c", filepath.Join(s.Folder, "server.conf"), "-l",
		filepath.Join(s.Folder, "log"))
	if err := s.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	for range 6000 { // two minutes: the machine may be busy
		if c, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", s.Port)); err == nil {
			c.Close()
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	said, _ := os.ReadFile(filepath.Join(s.Folder, "log"))
	s.t.Fatalf("nats-server takes no connections:\n%s", said)
}

// Kill ends the process as a power cut would, less what the system still has to write.
func (s *Server) Kill() { s.end(syscall.SIGKILL) }

// Stop ends the process in order.
func (s *Server) Stop() { s.end(os.Interrupt) }

func (s *Server) end(how os.Signal) {
	if s.cmd != nil {
		_ = s.cmd.Process.Signal(how)
		_ = s.cmd.Wait()
		s.cmd = nil
	}
}

// Address is what a site reaches the servers by.
func (c *Servers) Address(site uuid.UUID) string { return c.address(site.String()) }

// Admin is the address with which the stream is made.
func (c *Servers) Admin() string { return c.address("admin") }

func (c *Servers) address(user string) string {
	var hosts []string
	for _, s := range c.All {
		hosts = append(hosts, fmt.Sprintf("127.0.0.1:%d", s.Port))
	}
	where := strings.Join(hosts, ",") + "?sync=always"
	if c.TLS != "" {
		return fmt.Sprintf("tls://%s&ca=%[2]s/ca.pem&cert=%[2]s/client.pem&key=%[2]s/client.key&creds=%s/%s.creds",
			where, c.TLS, c.Creds, user)
	}
	return fmt.Sprintf("nats://%s:secret-of-%s@%s", user, user, where)
}
