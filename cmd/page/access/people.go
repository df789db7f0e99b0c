package access

// Role is what a person may do on the page.
type Role string

// The roles: a writer does the round and all else; a reader, a visitor or an
// inspector, looks and changes nothing; a device posts what it measures.
const (
	Writer Role = "writer"
	Reader Role = "reader"
	Device Role = "device"
)

// Person is who a request comes from. On loopback without a password it is
// nobody in particular, who may write.
type Person struct {
	Name string
	Role Role
}
