package main

import (
	"fmt"
	"go/ast"
	"go/token"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

// fault is one small fault, and what became of it.
type fault struct {
	id      int
	key     string // function and texts: what the list names it by
	file    string
	line    int
	tests   []string // those that reach it
	outcome outcome
	by      string // a test that noticed it
}

// mutation is a package with all its faults in it, each behind its switch.
type mutation struct {
	name   string // of the package
	dir    string
	faults []*fault
	files  map[string][]byte // the changed files by their paths
}

// mutate reads a package and puts the faults into its files.
func mutate(pattern string, only, except []string) (*mutation, error) {
	list, err := packages.Load(&packages.Config{Mode: packages.LoadSyntax}, pattern)
	if err != nil {
		return nil, err
	}
	if len(list) != 1 || len(list[0].Errors) > 0 {
		return nil, fmt.Errorf("%s must be one package that compiles; it is %d packages: %v", pattern, len(list), list)
	}
	p := list[0]
	m := &mutation{name: p.Name, files: map[string][]byte{}}
	seen := map[string]int{}
	for i, file := range p.Syntax {
		path := p.CompiledGoFiles[i]
		m.dir = filepath.Dir(path)
		name := filepath.Base(path)
		if len(only) > 0 && !slices.Contains(only, name) || slices.Contains(except, name) {
			continue
		}
		w, err := newWeaver(p, file, path, m, seen)
		if err != nil {
			return nil, err
		}
		for _, d := range file.Decls {
			w.decl(d)
		}
		m.files[path] = w.text()
	}
	if len(m.faults) == 0 {
		return nil, fmt.Errorf("nothing to put a fault into: is one of the files %v in %s?", only, pattern)
	}
	return m, nil
}

// decl puts faults into functions and into the values of package variables.
func (w *weaver) decl(d ast.Decl) {
	switch d := d.(type) {
	case *ast.FuncDecl:
		w.in = d.Name.Name
		if d.Recv != nil {
			w.in = strings.TrimPrefix(w.src(d.Recv.List[0].Type), "*") + "." + w.in
		}
		if d.Body != nil {
			w.stmts(d.Body.List)
		}
	case *ast.GenDecl:
		w.vars(d)
	}
}

func (w *weaver) vars(d *ast.GenDecl) {
	if d.Tok != token.VAR {
		return
	}
	for _, spec := range d.Specs {
		v := spec.(*ast.ValueSpec)
		if len(v.Values) > 0 && w.global(v) {
			w.in = v.Names[0].Name
		}
		for _, x := range v.Values {
			w.expr(x)
		}
	}
}

func (w *weaver) stmts(list []ast.Stmt) {
	for _, s := range list {
		w.stmt(s)
	}
}

// stmt puts faults into one statement: it is left out, or what it computes is changed.
func (w *weaver) stmt(s ast.Stmt) {
	switch s := s.(type) {
	case *ast.ExprStmt:
		w.leaveOut(s)
		w.inner(s.X)
	case *ast.AssignStmt:
		w.assign(s, true)
	case *ast.IncDecStmt, *ast.BranchStmt:
		w.leaveOut(s)
	case *ast.DeferStmt:
		w.leaveOut(s)
		w.call(s.Call)
	case *ast.GoStmt:
		w.call(s.Call)
	case *ast.ReturnStmt:
		w.results(s)
	case *ast.IfStmt:
		w.simple(s.Init)
		w.condition(s.Cond, true, true)
		w.stmts(s.Body.List)
		if s.Else != nil {
			w.stmt(s.Else)
		}
	case *ast.ForStmt:
		w.simple(s.Init)
		w.condition(s.Cond, false, true) // a loop that never ends is noticed by anybody
		w.stmts(s.Body.List)
	case *ast.DeclStmt:
		w.vars(s.Decl.(*ast.GenDecl))
	default:
		w.block(s)
	}
}

// block goes into the statements that only hold others.
func (w *weaver) block(s ast.Stmt) {
	switch s := s.(type) {
	case *ast.BlockStmt:
		w.stmts(s.List)
	case *ast.LabeledStmt:
		w.stmt(s.Stmt)
	case *ast.RangeStmt:
		w.inner(s.X)
		w.stmts(s.Body.List)
	case *ast.SwitchStmt:
		w.simple(s.Init)
		w.inner(s.Tag)
		for _, c := range s.Body.List {
			w.clause(c.(*ast.CaseClause), s.Tag != nil, s.Body.List)
		}
	case *ast.TypeSwitchStmt:
		for _, c := range s.Body.List {
			w.stmts(c.(*ast.CaseClause).Body)
		}
	case *ast.SelectStmt:
		for _, c := range s.Body.List {
			w.stmts(c.(*ast.CommClause).Body)
		}
	}
}

// clause makes each case of a switch one that is never taken; of one that does nothing, in a switch without a default,
// there is nothing to notice.
func (w *weaver) clause(c *ast.CaseClause, tagged bool, all []ast.Stmt) {
	empty := len(c.Body) == 0 && !slices.ContainsFunc(all, func(s ast.Stmt) bool { return s.(*ast.CaseClause).List == nil })
	for _, x := range c.List {
		if tagged && empty {
			continue
		}
		if tagged {
			w.caseNever(x)
		} else {
			w.condition(x, true, true)
		}
	}
	w.stmts(c.Body)
}

// simple is a statement before a condition, which cannot be left out.
func (w *weaver) simple(s ast.Stmt) {
	if s, ok := s.(*ast.AssignStmt); ok {
		w.assign(s, false)
	}
}

func (w *weaver) assign(s *ast.AssignStmt, whole bool) {
	if whole && s.Tok != token.DEFINE && w.src(s.Lhs[0]) != "_" {
		w.leaveOut(s)
	}
	if s.Tok != token.ASSIGN && s.Tok != token.DEFINE {
		w.assignOp(s)
	}
	for _, x := range s.Rhs {
		w.expr(x)
	}
}

// results: each result of a return is forgotten, or changed.
func (w *weaver) results(s *ast.ReturnStmt) {
	for _, x := range s.Results {
		if w.isConst(x) && w.isBool(x) {
			w.not(x)
			continue
		}
		if !w.isBool(x) {
			w.zero(x, w.src(x))
		}
		w.expr(x)
	}
}

// expr puts faults into an expression and what it is made of.
func (w *weaver) expr(x ast.Expr) {
	switch {
	case x == nil || w.info.Types[x].IsType():
	case w.isConst(x):
		w.more(x)
	case w.isBool(x):
		w.condition(x, true, true)
	default:
		w.inner(x)
	}
}

// inner goes into what an expression is made of.
func (w *weaver) inner(x ast.Expr) {
	switch x := x.(type) {
	case *ast.ParenExpr:
		w.expr(x.X)
	case *ast.BinaryExpr:
		w.binary(x)
		w.expr(x.X)
		w.expr(x.Y)
	case *ast.UnaryExpr:
		if x.Op == token.SUB {
			w.negate(x)
		}
		w.inner(x.X)
	case *ast.CallExpr:
		w.call(x)
	case *ast.SelectorExpr:
		w.inner(x.X)
	case *ast.StarExpr:
		w.inner(x.X)
	case *ast.IndexExpr:
		w.inner(x.X)
		if !w.isConst(x.Index) && !w.info.Types[x.Index].IsType() {
			w.expr(x.Index)
		}
	case *ast.SliceExpr:
		w.inner(x.X)
	case *ast.CompositeLit:
		w.literal(x)
	case *ast.FuncLit:
		w.stmts(x.Body.List)
	}
}

func (w *weaver) call(x *ast.CallExpr) {
	if name, ok := x.Fun.(*ast.Ident); ok && (name.Name == "min" || name.Name == "max") && len(x.Args) == 2 {
		w.minMax(x, name)
	}
	w.inner(x.Fun)
	for _, a := range x.Args {
		w.expr(a)
	}
}

func (w *weaver) literal(x *ast.CompositeLit) {
	fields := w.isStruct(x)
	for _, e := range x.Elts {
		kv, ok := e.(*ast.KeyValueExpr)
		if !ok {
			w.expr(e)
			continue
		}
		if fields {
			w.zero(kv.Value, w.src(kv))
		}
		w.expr(kv.Value)
	}
}

// condition puts the faults of a branch into a condition: it is always true, never true. Of an "and" each side is made
// true, of an "or" each side false: where one side alone decides, that is what a test must notice.
func (w *weaver) condition(x ast.Expr, always, never bool) {
	if x == nil || w.isConst(x) {
		return
	}
	switch e := ast.Unparen(x).(type) {
	case *ast.BinaryExpr:
		switch e.Op {
		case token.LAND:
			w.force(e, false, never)
			w.condition(e.X, true, false)
			w.condition(e.Y, true, false)
			return
		case token.LOR:
			w.force(e, always, false)
			w.condition(e.X, false, true)
			w.condition(e.Y, false, true)
			return
		}
		w.force(e, always, never)
		w.boundary(e)
		w.expr(e.X)
		w.expr(e.Y)
	case *ast.UnaryExpr:
		if isLogic(e.X) {
			w.condition(e.X, never, always)
			return
		}
		w.force(e, always, never)
		w.inner(ast.Unparen(e.X))
	default:
		w.force(e, always, never)
		w.inner(e)
	}
}

func isLogic(x ast.Expr) bool {
	b, ok := ast.Unparen(x).(*ast.BinaryExpr)
	return ok && (b.Op == token.LAND || b.Op == token.LOR)
}
