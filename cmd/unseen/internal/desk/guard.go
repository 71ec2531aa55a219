package desk

import (
	"crypto/rand"
	"crypto/subtle"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
)

// guard lets in only the person at this machine: requests that name this
// address as their host, come from this page or from nowhere, and carry the
// token. A page of somebody else's that the same browser shows has none of the
// three: a name of its own made to lead here is no host of ours, a form it
// sends says where it came from, and the cookie does not go with it.
type guard struct {
	hosts  []string
	cookie string
	token  string

	mu   sync.Mutex
	once string // opens the page one time; "" when it did
}

// newGuard guards what is served at an address of the loopback. The cookie has
// the port in its name: browsers do not tell ports apart, and two desks may run
// side by side.
func newGuard(address string) *guard {
	_, port, _ := net.SplitHostPort(address)
	g := &guard{cookie: "unseen-" + port, token: rand.Text(), once: rand.Text()}
	for _, name := range []string{"127.0.0.1", "localhost", "::1"} {
		g.hosts = append(g.hosts, net.JoinHostPort(name, port))
	}
	return g
}

// policy is what the page may load and do: what it brings itself, from here.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// entrance is where the token of the address becomes a cookie.
const entrance = "/enter"

// ServeHTTP hands what is allowed on to next.
func (g *guard) wrap(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		// With no referrer at all browsers would call the origin of our own
		// forms null.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		switch {
		case !slices.Contains(g.hosts, r.Host):
			refuse(w, http.StatusMisdirectedRequest, "This address is not the one the page was opened at.")
		case r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodPost:
			refuse(w, http.StatusMethodNotAllowed, "The page is read and its forms are sent; nothing else is done here.")
		case r.URL.Path == entrance && r.Method != http.MethodPost:
			g.enter(w, r)
		case !g.knows(r):
			refuse(w, http.StatusForbidden, "Open the page by the address that unseen printed: it holds the key to it.")
		case !g.fromHere(r):
			refuse(w, http.StatusForbidden, "Another page asked for this. Nothing was done.")
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// fromHere tells whether a request comes from the page itself; one that only
// reads, also whether from the address bar.
func (g *guard) fromHere(r *http.Request) bool {
	if origin := r.Header.Get("Origin"); origin != "" {
		return origin == "http://"+r.Host
	}
	site := r.Header.Get("Sec-Fetch-Site")
	if r.Method == http.MethodPost {
		return site == "same-origin"
	}
	return site == "" || site == "none" || site == "same-origin"
}

func (g *guard) knows(r *http.Request) bool {
	c, err := r.Cookie(g.cookie)
	return err == nil && same(c.Value, g.token)
}

func same(a, b string) bool { return b != "" && subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// enter turns a key into the cookie. The key the browser is started with opens
// once: other users of the machine see the command lines of programs.
func (g *guard) enter(w http.ResponseWriter, r *http.Request) {
	key := r.URL.Query().Get("key")
	g.mu.Lock()
	ok := same(key, g.token) || same(key, g.once)
	if same(key, g.once) {
		g.once = ""
	}
	g.mu.Unlock()
	if !ok {
		refuse(w, http.StatusForbidden, "This key does not open the page, or has opened it before. Use the address that unseen printed.")
		return
	}
	http.SetCookie(w, &http.Cookie{Name: g.cookie, Value: g.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	// A redirect would count as coming from whoever led here, and the cookie
	// would not go with it.
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write([]byte(`<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>unseen</title><meta http-equiv="refresh" content="0; url=/"><p><a href="/">Open the page</a></p></html>`))
}

func refuse(w http.ResponseWriter, code int, why string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(code)
	w.Write([]byte(why + "\n"))
}

// back is the view that a form was sent from, as a path of this page.
func back(r *http.Request) string {
	to := r.PostFormValue("back")
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n") {
		return "/"
	}
	return to
}
