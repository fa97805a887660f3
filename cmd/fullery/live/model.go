package live

import (
	"strings"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
)

// model is the view's state: what it was last shown, its size, and what the operator is in the middle of.
type model struct {
	feed    *Feed
	o       Options
	program *controller.Program
	plan    []controller.StagePlan
	now     Picture

	width, height int
	colours       draw.Colours

	asking  controller.Order // the order whose question is open; NoOrder when none is
	note    string           // what became of the last key
	noteFor int              // frames for which the note stays
	breaks  int              // how often ctrl-c was pressed
	since   int              // frames since the last of them
	left    bool
}

// How long things stay, in frames.
const (
	noteFrames = 45 // a note
	leaveAfter = 15 // from asking to abort until ctrl-c leaves, so that a key held down does not
)

// newModel returns a view of what the feed knows now, in the size that every terminal has until it tells its own.
func newModel(feed *Feed, o Options) *model {
	m := &model{feed: feed, o: o, program: feed.program, plan: feed.program.Stages(), width: 80, height: 24}
	feed.Look(&m.now)
	return m
}

// Init asks for nothing: the beat comes from outside.
func (m *model) Init() tea.Cmd { return nil }

// Update takes one message.
func (m *model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case frame:
		m.beat()
	case over:
		m.feed.Look(&m.now)
		return m, tea.Quit
	case tea.WindowSizeMsg:
		m.width, m.height = msg.Width, msg.Height
	case tea.ColorProfileMsg:
		m.colours = coloursOf(msg.Profile)
	case tea.KeyPressMsg:
		return m, m.press(strings.ToLower(msg.String()))
	}
	return m, nil
}

// beat takes the newest picture, and lets notes and questions go whose time is over.
func (m *model) beat() {
	m.feed.Look(&m.now)
	m.since++
	if m.noteFor--; m.noteFor <= 0 {
		m.note = ""
	}
	if m.asking != controller.NoOrder && !m.offers(m.asking) {
		m.asking = controller.NoOrder // the question means nothing any more
	}
}

// View draws the picture on a screen of its own, so that nothing of the shell's is lost by it.
func (m *model) View() tea.View {
	v := tea.NewView(draw.ANSI(m.picture(), m.colours))
	v.AltScreen = true
	return v
}

// coloursOf is what a terminal of a profile can show; where a person asked for no colours, the profile says so.
func coloursOf(p colorprofile.Profile) draw.Colours {
	switch {
	case p >= colorprofile.ANSI256:
		return draw.FullColour
	case p == colorprofile.ANSI:
		return draw.Sixteen
	default:
		return draw.NoColours
	}
}
