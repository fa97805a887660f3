package main

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

// weaver puts switches round the pieces of one file, as text: what it does not touch stays where it was, so that the
// lines keep their numbers.
type weaver struct {
	fset  *token.FileSet
	info  *types.Info
	pkg   *types.Package
	file  *ast.File
	path  string
	raw   []byte
	m     *mutation
	seen  map[string]int // keys, for those that stand twice
	in    string         // the function, for the keys
	edits []edit
}

// edit puts text at a place, in the place of what stands up to another.
type edit struct {
	from, to int
	text     string
	rank     int // of edits at one place: closing ones first, inner before outer; then opening ones, outer first
}

func newWeaver(p *packages.Package, file *ast.File, path string, m *mutation, seen map[string]int) (*weaver, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return &weaver{fset: p.Fset, info: p.TypesInfo, pkg: p.Types, file: file, path: path, raw: raw, m: m, seen: seen}, nil
}

// text is the file with everything woven in.
func (w *weaver) text() []byte {
	slices.SortStableFunc(w.edits, func(a, b edit) int { return cmp.Or(a.from-b.from, a.rank-b.rank) })
	var out strings.Builder
	at := 0
	for _, e := range w.edits {
		out.Write(w.raw[at:e.from])
		out.WriteString(e.text)
		at = max(at, e.to)
	}
	out.Write(w.raw[at:])
	return []byte(out.String())
}

func (w *weaver) offset(p token.Pos) int { return w.fset.Position(p).Offset }

// src is a piece of the file as it is written, on one line.
func (w *weaver) src(n ast.Node) string {
	return strings.Join(strings.Fields(string(w.raw[w.offset(n.Pos()):w.offset(n.End())])), " ")
}

// fault notes a new fault and returns its number.
func (w *weaver) fault(n ast.Node, from, to string) int {
	key := fmt.Sprintf("%s: %s → %s", w.in, shorten(from), to)
	if w.seen[key]++; w.seen[key] > 1 {
		key += fmt.Sprintf(" (%d)", w.seen[key])
	}
	f := &fault{id: len(w.m.faults) + 1, key: key, file: filepath.Base(w.path), line: w.fset.Position(n.Pos()).Line}
	w.m.faults = append(w.m.faults, f)
	return f.id
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 90 {
		return string(r[:89]) + "…"
	}
	return s
}

// wrap puts text before and after a node. Nodes come outer first.
func (w *weaver) wrap(n ast.Node, before, after string) {
	rank := len(w.edits) + 1
	from, to := w.offset(n.Pos()), w.offset(n.End())
	w.edits = append(w.edits, edit{from, from, before, rank}, edit{to, to, after, -rank})
}

func (w *weaver) replace(at token.Pos, length int, text string) {
	from := w.offset(at)
	w.edits = append(w.edits, edit{from, from + length, text, len(w.edits) + 1})
}

func (w *weaver) isConst(x ast.Expr) bool { return w.info.Types[x].Value != nil }

func (w *weaver) isBool(x ast.Expr) bool {
	t := w.info.Types[x].Type
	if t == nil {
		return false
	}
	b, ok := t.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsBoolean != 0
}

func (w *weaver) isStruct(x ast.Expr) bool {
	_, ok := w.info.Types[x].Type.Underlying().(*types.Struct)
	return ok
}

func (w *weaver) isNumber(x ast.Expr) bool {
	b, ok := w.info.Types[x].Type.Underlying().(*types.Basic)
	return ok && b.Info()&(types.IsInteger|types.IsFloat) != 0
}

func (w *weaver) isInteger(x ast.Expr) bool {
	b, ok := w.info.Types[x].Type.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsInteger != 0
}

func (w *weaver) global(v *ast.ValueSpec) bool {
	return w.pkg.Scope().Lookup(v.Names[0].Name) != nil && w.pkg.Scope().Lookup(v.Names[0].Name).Pos() == v.Names[0].Pos()
}

// typeName is how the file can write a type; false when it cannot.
func (w *weaver) typeName(x ast.Expr) (string, bool) {
	t := types.Default(w.info.Types[x].Type)
	ok := true
	name := types.TypeString(t, func(p *types.Package) string {
		if p == w.pkg {
			return ""
		}
		ok = ok && slices.ContainsFunc(w.file.Imports, func(i *ast.ImportSpec) bool {
			return i.Name == nil && i.Path.Value == `"`+p.Path()+`"`
		})
		return p.Name()
	})
	switch types.Unalias(t).(type) {
	case *types.Basic, *types.Named:
		return name, ok && name != "untyped nil"
	default:
		return "", false
	}
}

// leaveOut makes a statement one that can be left out.
func (w *weaver) leaveOut(s ast.Stmt) {
	w.wrap(s, fmt.Sprintf("if !mutant(%d) { ", w.fault(s, w.src(s), "left out")), " }")
}

// force makes a condition always true, and never true.
func (w *weaver) force(x ast.Expr, always, never bool) {
	if always {
		w.wrap(x, fmt.Sprintf("(mutant(%d) || (", w.fault(x, w.src(x), "true")), "))")
	}
	if never {
		w.wrap(x, fmt.Sprintf("(!mutant(%d) && (", w.fault(x, w.src(x), "false")), "))")
	}
}

func (w *weaver) not(x ast.Expr) {
	w.wrap(x, "(", fmt.Sprintf(" != mutant(%d))", w.fault(x, "return "+w.src(x), "the other")))
}

// boundary moves the equal case of a comparison to its other side.
func (w *weaver) boundary(x *ast.BinaryExpr) {
	a, b := w.src(x.X), w.src(x.Y)
	switch x.Op {
	case token.LSS, token.GTR:
		id := w.fault(x, w.src(x), x.Op.String()+"=")
		w.wrap(x, "(", fmt.Sprintf(" || mutant(%d) && (%s) == (%s))", id, a, b))
	case token.LEQ, token.GEQ:
		id := w.fault(x, w.src(x), x.Op.String()[:1])
		w.wrap(x, "(", fmt.Sprintf(" && !(mutant(%d) && (%s) == (%s)))", id, a, b))
	}
}

var swaps = map[token.Token][2]string{
	token.ADD: {"mutantAdd", "-"}, token.SUB: {"mutantSub", "+"}, token.MUL: {"mutantMul", "/"}, token.QUO: {"mutantDiv", "*"},
	token.REM: {"mutantRem", "*"}, token.AND: {"mutantAnd", "|"}, token.OR: {"mutantOr", "&"}, token.AND_NOT: {"mutantClear", "|"},
}

// binary changes the sign of a calculation.
func (w *weaver) binary(x *ast.BinaryExpr) {
	swap, ok := swaps[x.Op]
	name, named := w.typeName(x)
	if !ok || !named || !w.isNumber(x) {
		return
	}
	id := w.fault(x, w.src(x), swap[1])
	w.wrap(x, fmt.Sprintf("%s[%s](%d, ", swap[0], name, id), ")")
	w.replace(x.OpPos, len(x.Op.String()), ",")
}

// assignOp changes the sign of a calculation that is written with its assignment.
func (w *weaver) assignOp(s *ast.AssignStmt) {
	op := map[token.Token]token.Token{
		token.ADD_ASSIGN: token.ADD, token.SUB_ASSIGN: token.SUB, token.MUL_ASSIGN: token.MUL, token.QUO_ASSIGN: token.QUO,
		token.REM_ASSIGN: token.REM, token.AND_ASSIGN: token.AND, token.OR_ASSIGN: token.OR, token.AND_NOT_ASSIGN: token.AND_NOT,
	}[s.Tok]
	swap, ok := swaps[op]
	if !ok || !w.isNumber(s.Lhs[0]) {
		return
	}
	id := w.fault(s, w.src(s), swap[1]+"=")
	w.replace(s.TokPos, len(s.Tok.String()), fmt.Sprintf("= %s(%d, %s, ", swap[0], id, w.src(s.Lhs[0])))
	w.wrap(s.Rhs[0], "", ")")
}

func (w *weaver) negate(x *ast.UnaryExpr) {
	id := w.fault(x, w.src(x), "without its sign")
	w.replace(x.OpPos, 1, fmt.Sprintf("mutantNeg(%d, ", id))
	w.wrap(x.X, "", ")")
}

func (w *weaver) minMax(x *ast.CallExpr, name *ast.Ident) {
	to := map[string]string{"min": "max", "max": "min"}[name.Name]
	id := w.fault(x, w.src(x), to)
	w.replace(name.Pos(), 4, fmt.Sprintf("mutant%s%s(%d, ", strings.ToUpper(name.Name[:1]), name.Name[1:], id))
}

// zero forgets a value. A value that is nothing anyway, and a literal whose type is not written, cannot be forgotten.
func (w *weaver) zero(x ast.Expr, said string) {
	tv := w.info.Types[x]
	if tv.IsNil() || isTuple(tv.Type) {
		return
	}
	if lit, ok := x.(*ast.CompositeLit); ok && (lit.Type == nil || len(lit.Elts) == 0) {
		return
	}
	generic := "mutantZero"
	if tv.Value != nil {
		name, ok := w.typeName(x)
		if !ok || isZero(tv.Value) {
			return
		}
		generic += "[" + name + "]"
	}
	w.wrap(x, fmt.Sprintf("%s(%d, ", generic, w.fault(x, said, "zero")), ")")
}

func isTuple(t types.Type) bool {
	_, ok := t.(*types.Tuple)
	return ok
}

func isZero(v constant.Value) bool {
	switch v.Kind() {
	case constant.Bool:
		return !constant.BoolVal(v)
	case constant.String:
		return constant.StringVal(v) == ""
	default:
		return constant.Sign(v) == 0
	}
}

// more makes a number a tenth larger: a span, a threshold, a factor. Numbers of a list of names are left alone.
func (w *weaver) more(x ast.Expr) {
	tv := w.info.Types[x]
	name, ok := w.typeName(x)
	if !ok || !w.isNumber(x) || isZero(tv.Value) {
		return
	}
	if named, ok := types.Unalias(tv.Type).(*types.Named); ok && named.Obj().Name() != "Duration" {
		return
	}
	w.wrap(x, fmt.Sprintf("mutantMore[%s](%d, ", name, w.fault(x, w.src(x), "a tenth more")), ")")
}

// caseNever makes a case of a switch one that is never taken.
func (w *weaver) caseNever(x ast.Expr) {
	name, ok := w.typeName(x)
	if !ok || !w.isConst(x) || !w.isInteger(x) {
		return
	}
	w.wrap(x, fmt.Sprintf("mutantCase[%s](%d, ", name, w.fault(x, "case "+w.src(x), "never")), ")")
}
