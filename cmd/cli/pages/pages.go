// Package pages has the commands about the page for phone and desk: it serves it, and
// says who may use it.
package pages

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/netip"
	"strings"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/page"
	"rindkeep/cmd/page/access"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/copies"
)

// served is how the page is served.
type served struct {
	listen    string
	names     []string
	proxy     string
	tls       bool
	cert, key string
}

// Command is page with its subcommands.
func Command(c *console.Console) *cobra.Command {
	var f served
	cmd := c.NowCmd("page", "Serve the page for phone and desk", `
rindkeep page                               on this machine alone: http://localhost:4870
rindkeep page password Nora                 who may log in; from then on everybody must
rindkeep page --listen :4870 --tls          for the phones in the house
rindkeep page --listen :443 --cert cave.pem --key cave.key --name cave.example
rindkeep page device scale-1                a token for a scale or a logger
rindkeep page api                           what programs may send and read`, cobra.ArbitraryArgs,
		func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return console.UnknownCommand(cmd, args)
			}
			if err := f.check(); err != nil {
				return err
			}
			return serve(c, f)
		})
	cmd.SuggestionsMinimumDistance = 2
	cmd.Long = `Serve the page for phone and desk. Only this machine can open it, without a
password, until you say --listen. Other machines always have to log in, and so does
this one as soon as anybody has a password: others may use it too.

Passwords and tokens are in BOOK.access, beside the book and not in it, so you can
hand on the book or its backup without them. If you lose that file, page password
starts a new one. The certificate that --tls makes is in BOOK.tls. Its authority can
speak for the page's own names and addresses only, so give this machine a fixed address:
with a new one, phones have to trust a new authority.

Somebody who guesses passwords is slowed down, but can't lock anybody out: guesses count
by name and address together. All IPv6 addresses of one site (a /48) count as one, and so
does everybody behind a proxy, unless you name the proxy with --proxy.`
	fl := cmd.Flags()
	fl.StringVar(&f.listen, "listen", "localhost:4870", "`ADDR` to listen on, host:port; :4870 is every address")
	fl.StringArrayVar(&f.names, "name", nil, "another host `NAME` of this page, besides localhost and its IP addresses")
	fl.StringVar(&f.proxy, "proxy", "", "IP `ADDR` of your reverse proxy; its X-Forwarded-For header is believed")
	fl.BoolVar(&f.tls, "tls", false, "use TLS, with a certificate made here and kept beside the book")
	fl.StringVar(&f.cert, "cert", "", "use TLS with your own certificate: its PEM `FILE`")
	fl.StringVar(&f.key, "key", "", "the certificate's key: its PEM `FILE`")
	cmd.AddCommand(passwordCmd(c), deviceCmd(c), peopleCmd(c), forgetCmd(c), apiCmd(c))
	return cmd
}

func (f served) check() error {
	if (f.cert == "") != (f.key == "") {
		return console.Usagef("--cert and --key go together")
	}
	if f.tls && f.cert != "" {
		return console.Usagef("give --tls, or --cert and --key, not both")
	}
	if _, err := netip.ParseAddr(f.proxy); f.proxy != "" && err != nil {
		return console.At("--proxy", console.Usagef("--proxy wants an IP address, like 127.0.0.1, and was given %q",
			console.SafeWord(f.proxy)))
	}
	for _, n := range f.names {
		if !isHostName(n) {
			return console.At("--name", console.Usagef("--name wants a host's name alone, like cave.example, and was given %q",
				console.SafeWord(n)))
		}
	}
	return nil
}

// Options are what a page of the book at path needs; who may use it and what it logs
// the caller adds.
func Options(book string, env console.Env) page.Options {
	return page.Options{
		App: &app.App{Book: book, Now: env.Now, Person: env.Person(), Log: zerolog.Nop()},
		Rev: func() (uint64, error) { return bookfile.Revision(book) },
		Now: env.Now, Log: zerolog.Nop(),
	}
}

// accessOf is who may use the page of this book.
func accessOf(c *console.Console) *access.List {
	path := c.Book + ".access"
	return access.Open(path, func(fn func() error) error { return bookfile.Exclusive(path, fn) })
}

// serve serves the page until it is interrupted.
func serve(c *console.Console, f served) error {
	if err := c.App.Check(c.Ctx); err != nil {
		return err
	}
	o := Options(c.Book, c.Env)
	if c.Env.Backups {
		daily, err := backUpDaily(c, &o)
		if err != nil {
			return err
		}
		defer daily.Wait()
	}
	o.Access, o.Names, o.Proxy, o.Log = accessOf(c), f.names, f.proxy, pageLog(c)
	has, err := o.Access.HasPeople()
	if err != nil {
		return console.At(o.Access.Path(), err)
	}
	l, err := listen(f.listen)
	if err != nil {
		return err
	}
	defer l.Close()
	at, only := addressOf(l)
	if o.Beyond = !only || f.proxy != ""; o.Beyond && !has {
		return console.At("--listen", console.Hint(
			fmt.Errorf("other machines can reach %s, and nobody has a password yet", console.SafeWord(f.listen)),
			"give somebody one first: rindkeep page password NAME"))
	}
	warnOfReaders(c, f)
	certificate, err := f.certificate(c, &o, at)
	if err != nil {
		return err
	}
	if o.Beyond && certificate == nil && f.proxy == "" {
		c.Warn("CAUTION: without TLS, anybody listening on the network can read passwords; add --tls")
	}
	stop, err := exchange(c, &o)
	if err != nil {
		return err
	}
	defer stop()
	s, err := page.New(o)
	if err != nil {
		return err
	}
	for _, u := range f.reachedAt(certificate != nil, at) {
		c.Note("the page is at %s", u)
	}
	if has {
		c.Note("everybody has to log in")
	}
	whole, err := s.Serve(c.Ctx, l, certificate)
	if err != nil {
		return err
	}
	// Being interrupted is how a page ends: that is no failure.
	c.Committed = true
	if !whole {
		c.Note("stopped; what was still running after 10 seconds was cut off, " +
			"and each act is in the book whole or not at all")
		return nil
	}
	c.Note("stopped; every request was finished")
	return nil
}

// backUpDaily has the page make the day's backup in the background, and show when the
// last one was made.
func backUpDaily(c *console.Console, o *page.Options) (*app.Daily, error) {
	set, err := console.Ask(c, func(s *app.Session) (store.Settings, error) { return s.Tx.Settings(), nil })
	failed := func(r *app.Refusal) { o.Log.Warn().Msg(c.Words.Refusal(r)) }
	d := &app.Daily{Ctx: c.Ctx, App: o.App, Failed: failed}
	o.App.Backups, o.App.Wrote, o.App.NoBackup = true, d.Wrote, failed
	o.Backup = func() string {
		switch last, on := copies.Last(c.Book, set); {
		case !last.IsZero():
			return "Last backup, found sound: " + last.Format("2006-01-02 15:04")
		case on:
			return "This book has no backup yet."
		}
		return "No backups of this book are made by themselves."
	}
	return d, err
}

// warnOfReaders warns of secrets that others on this machine can read.
func warnOfReaders(c *console.Console, f served) {
	secrets := []string{c.Book + ".access"}
	if f.tls {
		secrets = append(secrets, c.Book+".tls")
	}
	for _, p := range secrets {
		if access.OpenToOthers(p) {
			c.Warn("CAUTION: others on this machine can read %s; run chmod 600 on it", console.SafePath(p))
		}
	}
}

// certificate is what the page shows under TLS; nil without.
func (f served) certificate(
	c *console.Console, o *page.Options, at *net.TCPAddr,
) (func(*tls.ClientHelloInfo) (*tls.Certificate, error), error) {
	switch {
	case f.cert != "":
		own, err := access.OpenCertificate(f.cert, f.key)
		if err != nil {
			return nil, console.At("--cert", fmt.Errorf("can't use the certificate: %s", certificateWords(err)))
		}
		return own.For, nil
	case f.tls:
		made, err := access.NewCertificate(c.Book+".tls", ownHosts(f.names, at), c.Env.Now)
		if err != nil {
			return nil, console.At("--tls", err)
		}
		o.Authority = made.Authority
		if made.Replaced() {
			c.Note("the names or addresses of the page changed, so its authority is a new one: " +
				"phones that trusted the old one have to trust this one, from /authority.crt")
		}
		is, by := made.Fingerprints()
		c.Note("SHA-256 of the certificate made here, to compare with what the browser shows:\n  %s\n"+
			"SHA-256 of its authority, which a phone can trust for good (at /authority.crt):\n  %s", is, by)
		return made.For, nil
	}
	return nil, nil
}

// certificateWords is what is wrong with a certificate's files.
func certificateWords(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return console.SafePath(pe.Path) + ": " + console.PlainOS(err)
	}
	return strings.TrimPrefix(err.Error(), "tls: ")
}

// pageLog is where the page says what it answered: bugs, refused log-ins and what it
// could not answer always, all the rest with --verbose.
func pageLog(c *console.Console) zerolog.Logger {
	if c.Verbose {
		return c.Logger(zerolog.DebugLevel)
	}
	return c.Logger(zerolog.WarnLevel)
}
