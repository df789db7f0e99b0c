package pages

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"rindkeep/cmd/cli/console"
)

// listen opens the address, or says in a sentence why not.
func listen(addr string) (net.Listener, error) {
	host, port, err := net.SplitHostPort(addr)
	if n, perr := strconv.Atoi(port); err != nil || perr != nil || n < 0 || n > 65535 {
		return nil, console.At("--listen", console.Usagef(
			"--listen wants host:port, like localhost:4870 or :4870, and was given %q", console.SafeWord(addr)))
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		err = console.At("--listen", noListener(err, host, port))
	}
	return l, err
}

// noListener says why an address can't be listened on.
func noListener(err error, host, port string) error {
	var dns *net.DNSError
	var se *os.SyscallError
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return console.Hint(fmt.Errorf("port %s is taken", port),
			"is the page already running? If not, use another port: --listen %s:4871", host)
	case errors.Is(err, fs.ErrPermission):
		return console.Hint(fmt.Errorf("you aren't allowed to listen on port %s", port), "use one above 1023")
	case errors.Is(err, syscall.EADDRNOTAVAIL), errors.As(err, &dns):
		return console.Hint(fmt.Errorf("%s isn't an address of this machine", console.SafeWord(host)),
			":%s listens on every address it has", port)
	case errors.As(err, &se):
		err = se.Err
	}
	return fmt.Errorf("can't listen on %s: %w", console.SafeWord(net.JoinHostPort(host, port)), err)
}

// addressOf is where a listener listens, and whether this machine alone reaches it.
func addressOf(l net.Listener) (at *net.TCPAddr, only bool) {
	at, ok := l.Addr().(*net.TCPAddr)
	return at, ok && at.IP.IsLoopback()
}

func isHostName(s string) bool {
	_, _, err := net.SplitHostPort(s)
	return err != nil && s != "" && !strings.ContainsAny(s, "/ @")
}

// ownHosts are the names and addresses a certificate made here is for: those the
// page answers to where it listens. The machine's own name isn't one of them unless it is
// given: a container has another at each start, which would need another authority.
func ownHosts(names []string, at *net.TCPAddr) []string {
	hosts := []string{"127.0.0.1", "::1"}
	for _, n := range names {
		hosts = append(hosts, strings.ToLower(n))
	}
	if at.IP.IsUnspecified() {
		for _, ip := range addresses() {
			hosts = append(hosts, ip.String())
		}
	} else {
		hosts = append(hosts, at.IP.String())
	}
	slices.Sort(hosts)
	return append([]string{"localhost"}, slices.Compact(hosts)...)
}

// addresses are those other machines reach this one at. IPv6 addresses are among them
// only if there's no other: most machines change theirs daily (RFC 8981), and an authority
// that speaks for its own addresses alone would change with them.
func addresses() []net.IP {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var v4, v6 []net.IP
	for _, x := range all {
		switch n, ok := x.(*net.IPNet); {
		case !ok || !n.IP.IsGlobalUnicast():
		case n.IP.To4() != nil:
			v4 = append(v4, n.IP)
		default:
			v6 = append(v6, n.IP)
		}
	}
	if len(v4) > 0 {
		return v4
	}
	return v6
}

// mostShown is how many addresses are printed.
const mostShown = 6

// reachedAt are the addresses to type into a browser.
func (f served) reachedAt(secure bool, at *net.TCPAddr) []string {
	hosts := slices.Clone(f.names)
	switch {
	case at.IP.IsLoopback():
		hosts = append(hosts, "localhost")
	case !at.IP.IsUnspecified():
		hosts = append(hosts, at.IP.String())
	default:
		for _, ip := range addresses() {
			if len(hosts) < mostShown {
				hosts = append(hosts, ip.String())
			}
		}
	}
	scheme := "http://"
	if secure {
		scheme = "https://"
	}
	for i, h := range hosts {
		hosts[i] = scheme + net.JoinHostPort(h, strconv.Itoa(at.Port))
	}
	return hosts
}
