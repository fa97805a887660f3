// Package tomltree reads a TOML 1.0 document into a tree in which every key and every value knows its place, so that
// whoever checks the document can say where a mistake stands.
//
// The syntax is judged by github.com/pelletier/go-toml/v2; this package adds the checks of encoding and size, the
// places, the refusal of what only TOML 1.1 allows, and sentences that a person can act on.
package tomltree

// Kind is what a value is.
type Kind uint8

// The kinds of value.
const (
	Table   Kind = iota // keys with values
	List                // values in order; an array of tables is one too
	Text                // a string
	Integer             // a bare whole number
	Float               // a bare number with a point, an exponent, inf or nan
	Boolean             // true or false
	Date                // a date, a time or both
)

var kindNames = [...]string{"a table", "a list", "a text", "a bare number", "a bare number", "true or false", "a date"}

// String returns the kind with its article, for messages.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "something unknown"
}

// Node is one value of a document.
type Node struct {
	Kind  Kind
	Text  string // the string of a Text; the characters as written of a bare number, boolean or date
	Place Place  // where the value begins; of a table, where its header or its first key does
	Key   Place  // where the value's key stands; the same as Place in a list
	Names []string
	Items []*Node // the values of a List

	values map[string]*Node
}

// Get returns the value of a key of a table, or nil.
func (n *Node) Get(name string) *Node {
	if n == nil {
		return nil
	}
	return n.values[name]
}

// put adds a key to a table. A key that is there already keeps its first value: duplicates are refused elsewhere.
func (n *Node) put(name string, value *Node) *Node {
	if old := n.values[name]; old != nil {
		return old
	}
	if n.values == nil {
		n.values = map[string]*Node{}
	}
	n.values[name] = value
	n.Names = append(n.Names, name)
	return value
}
