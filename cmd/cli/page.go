package cli

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	network "net"
	"os"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	uc "rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/page"
	"rindkeep/store"
)

// pageFlags are how the page is served.
type pageFlags struct {
	listen    string
	names     []string
	tls       bool
	cert, key string
}

func (a *app) pageCmd() *cobra.Command {
	var f pageFlags
	c := a.nowCmd("page", "Serve the page for phone and desk", `
rindkeep page                               on this machine alone: http://localhost:4870
rindkeep page password Nora                 who may log in; from then on everybody must
rindkeep page --listen :4870 --tls          for the phones in the house
rindkeep page --listen :443 --cert cave.pem --key cave.key --name cave.example
rindkeep page device scale-1                a token for a scale or a logger
rindkeep page api                           what may be sent and read`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return unknown(cmd, args)
		}
		return a.page(f)
	})
	c.SuggestionsMinimumDistance = 2
	c.Long = `Serve the page for phone and desk. Only this machine reaches it, and needs no
password, until you say --listen. Beyond this machine, and as soon as anybody has
a password, everybody must log in, on this machine too: others may use it.

Passwords and tokens lie beside the book, in BOOK.access, and not in it: a book
handed on, or its backup on a stick, carries no secret. Lost, it is made anew by
page password. A certificate made by --tls lies in BOOK.tls.`
	fl := c.Flags()
	fl.StringVar(&f.listen, "listen", "localhost:4870", "`ADDR` to listen on, host:port; :4870 is every address")
	fl.StringArrayVar(&f.names, "name", nil, "a host `NAME` the page goes by, besides localhost and addresses in digits")
	fl.BoolVar(&f.tls, "tls", false, "over TLS, with a certificate made here and kept beside the book")
	fl.StringVar(&f.cert, "cert", "", "over TLS, with your own certificate: its PEM `FILE`")
	fl.StringVar(&f.key, "key", "", "the certificate's key: its PEM `FILE`")
	c.AddCommand(a.pagePasswordCmd(), a.pageDeviceCmd(), a.pagePeopleCmd(), a.pageForgetCmd(), a.pageAPICmd())
	return c
}

// access is who may use the page of this book.
func (a *app) access() *page.Access {
	path := a.book + ".access"
	return page.AccessOf(path, func(fn func() error) error { return store.Exclusive(path, fn) })
}

// page serves the page until it is interrupted.
func (a *app) page(f pageFlags) error {
	if (f.cert == "") != (f.key == "") {
		return usagef("--cert and --key go together")
	}
	if f.tls && f.cert != "" {
		return usagef("give --tls, or --cert and --key, not both")
	}
	for _, n := range f.names {
		if _, _, err := network.SplitHostPort(n); err == nil || n == "" || strings.ContainsAny(n, "/ @") {
			return at("--name", usagef("--name wants a host's name alone, like cave.example, and was given %q", safeWord(n)))
		}
	}
	if err := a.view(func(*session) error { return nil }); err != nil {
		return err
	}
	acc := a.access()
	has, err := acc.HasPeople()
	if err != nil {
		return at(acc.Path(), err)
	}
	l, err := listen(f.listen)
	if err != nil {
		return err
	}
	defer l.Close()
	addr, ok := l.Addr().(*network.TCPAddr)
	beyond := !ok || !addr.IP.IsLoopback()
	if beyond && !has {
		return at("--listen", hint(fmt.Errorf("%s is reached from beyond this machine, and nobody has a password yet", safeWord(f.listen)), "give somebody one first: rindkeep page password NAME"))
	}
	secrets := []string{acc.Path()}
	if f.tls {
		secrets = append(secrets, a.book+".tls")
	}
	for _, p := range secrets {
		if page.OpenToOthers(p) {
			a.note("CAUTION: others on this machine can read %s: chmod 600 it", safePath(p))
		}
	}
	o := PageOptions(a.book, a.env)
	o.Access, o.Names, o.Beyond, o.Log = acc, f.names, beyond, a.pageLog()
	scheme := "http"
	var certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)
	switch {
	case f.cert != "":
		c, err := page.OpenCertificate(f.cert, f.key)
		if err != nil {
			return at("--cert", fmt.Errorf("the certificate cannot be used: %s", certificateWords(err)))
		}
		scheme, certificate = "https", c.For
	case f.tls:
		c, err := page.NewCertificate(a.book+".tls", ownHosts(f.names), a.env.Now)
		if err != nil {
			return at("--tls", err)
		}
		scheme, certificate, o.Authority = "https", c.For, c.Authority
		is, by := c.Fingerprints()
		a.note("certificate made here, SHA-256, to compare with what the browser shows:\n  %s\nits authority, to trust on a phone for good (at /authority.crt), SHA-256:\n  %s", is, by)
	}
	if beyond && certificate == nil {
		a.note("CAUTION: without TLS whoever listens on the network can read passwords: add --tls")
	}
	s, err := page.New(o)
	if err != nil {
		return err
	}
	for _, u := range reachedAt(scheme, addr, f) {
		a.note("the page is at %s", u)
	}
	if has {
		a.note("everybody logs in")
	}
	whole, err := s.Serve(a.ctx, l, certificate)
	if err != nil {
		return err
	}
	// Being interrupted is how a page ends: that is no failure.
	a.Committed = true
	if !whole {
		a.note("stopped; what still ran after 10 seconds was broken off, and is in the book whole or not at all")
		return nil
	}
	a.note("stopped; what was asked before is done")
	return nil
}

// listen opens the address, or says in a sentence why not.
func listen(addr string) (network.Listener, error) {
	host, port, err := network.SplitHostPort(addr)
	if n, perr := strconv.Atoi(port); err != nil || perr != nil || n < 0 || n > 65535 {
		return nil, at("--listen", usagef("--listen wants host:port, like localhost:4870 or :4870, and was given %q", safeWord(addr)))
	}
	l, err := network.Listen("tcp", addr)
	var dns *network.DNSError
	switch {
	case err == nil:
		return l, nil
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, at("--listen", hint(fmt.Errorf("port %s is taken", port), "is the page served already? else give another: --listen %s:4871", host))
	case errors.Is(err, fs.ErrPermission):
		return nil, at("--listen", hint(fmt.Errorf("no permission to listen on port %s", port), "take one above 1023"))
	case errors.Is(err, syscall.EADDRNOTAVAIL), errors.As(err, &dns):
		return nil, at("--listen", hint(fmt.Errorf("%s is no address of this machine", safeWord(host)), ":%s listens on all it has", port))
	}
	return nil, at("--listen", fmt.Errorf("cannot listen on %s: %s", safeWord(addr), plainNet(err)))
}

// plainNet is what the system says of an address, without the rest.
func plainNet(err error) string {
	var se *os.SyscallError
	if errors.As(err, &se) {
		return se.Err.Error()
	}
	return err.Error()
}

// certificateWords is what is wrong with a certificate's files.
func certificateWords(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return safePath(pe.Path) + ": " + plainOS(err)
	}
	return strings.TrimPrefix(err.Error(), "tls: ")
}

// ownHosts are the names and addresses a certificate made here is for: those the
// page answers to. The machine's own name is none of them unless it is given, and
// a container has another at each start, which would want another authority.
func ownHosts(names []string) []string {
	hosts := []string{"localhost"}
	for _, n := range names {
		hosts = append(hosts, strings.ToLower(n))
	}
	hosts = append(hosts, "127.0.0.1", "::1")
	for _, ip := range addresses() {
		hosts = append(hosts, ip.String())
	}
	slices.Sort(hosts[1:])
	return append(hosts[:1], slices.Compact(hosts[1:])...)
}

// addresses are those other machines reach this one at.
func addresses() []network.IP {
	all, err := network.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var out []network.IP
	for _, x := range all {
		if n, ok := x.(*network.IPNet); ok && n.IP.IsGlobalUnicast() {
			out = append(out, n.IP)
		}
	}
	return out
}

// reachedAt are the addresses to type into a browser.
func reachedAt(scheme string, addr *network.TCPAddr, f pageFlags) []string {
	port := strconv.Itoa(addr.Port)
	var out []string
	for _, n := range f.names {
		out = append(out, scheme+"://"+network.JoinHostPort(n, port))
	}
	switch {
	case addr.IP.IsLoopback():
		out = append(out, scheme+"://"+network.JoinHostPort("localhost", port))
	case !addr.IP.IsUnspecified():
		out = append(out, scheme+"://"+addr.String())
	default:
		for _, ip := range addresses() {
			if len(out) < 6 {
				out = append(out, scheme+"://"+network.JoinHostPort(ip.String(), port))
			}
		}
	}
	return out
}

// pageLog is where the page says what it answered: bugs, refused log-ins and what
// it could not answer always, all the rest with --verbose.
func (a *app) pageLog() zerolog.Logger {
	if a.verbose {
		return a.Logger(zerolog.DebugLevel)
	}
	return a.Logger(zerolog.WarnLevel)
}

// PageOptions are what a page of the book at path needs of the program; who may
// use it and what it logs is left to the caller.
func PageOptions(book string, env Env) page.Options {
	c, _ := console.New(context.Background(), env)
	a := &app{Console: c, env: env, book: book}
	return page.Options{
		App: &uc.App{Book: book, Now: env.Now, Person: env.Person(), Log: zerolog.Nop()},
		Run: a.asked, Raw: a.printed, Fed: a.fed, Rev: func() (uint64, error) { return store.Revision(book) },
		Now: env.Now, Log: zerolog.Nop(), Version: Version,
	}
}

// asked runs a command of the program for the page, on the same book.
func (a *app) asked(ctx context.Context, args []string) page.Reply {
	return a.ranFor(ctx, append([]string{"--json"}, args...), nil)
}

// fed runs a command with something on its standard input.
func (a *app) fed(ctx context.Context, args []string, in []byte) page.Reply {
	return a.ranFor(ctx, append([]string{"--json"}, args...), in)
}

// printed runs a command whose standard output is no JSON: a picture, a table,
// a sheet.
func (a *app) printed(ctx context.Context, args []string) page.Reply {
	r := a.ranFor(ctx, args, nil)
	if r.Code != exitDone {
		// Said in text; the same words as the document's.
		said, hint, _ := strings.Cut(r.Said.Error, "\nhint: ")
		r.Said.Error, r.Said.Hint = strings.TrimPrefix(said, "rindkeep: "), hint
	}
	return r
}

func (a *app) ranFor(ctx context.Context, args []string, in []byte) page.Reply {
	var out, errs bytes.Buffer
	e := a.env
	e.In, e.Out, e.Err = bytes.NewReader(in), &out, &errs
	e.InTTY, e.OutTTY = false, false
	code := Run(ctx, append([]string{"--book=" + a.book, "--quiet"}, args...), e)
	r := page.Reply{Code: code}
	if code == exitDone {
		r.Doc = out.Bytes()
		return r
	}
	said := bytes.TrimSpace(errs.Bytes())
	if args[0] != "--json" {
		r.Said = page.Refusal{Error: string(said), Exit: code}
		return r
	}
	if i := bytes.LastIndexByte(said, '\n'); i >= 0 {
		said = said[i+1:]
	}
	if err := json.Unmarshal(said, &r.Said); err != nil {
		r.Said = page.Refusal{Error: "the command gave no reason", Exit: code}
	}
	return r
}
