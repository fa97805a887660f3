package main

import (
	"fmt"
	"slices"
	"strings"
	"text/template"

	"fullery/recipe"
)

// The files with which a system serves a bench: a unit, the user it runs as, and who may reach the devices.

// unitFacts are what the files depend on.
type unitFacts struct {
	Program   string // path of the binary
	BenchFile string // path of the bench file, as the service will see it
	Bench     string // its name
	Lines     bool   // it has lines of a gpiochip,
	Buses     bool   // I²C buses,
	PWM       bool   // channels of the board's own PWM
}

// factsOf tells what the service of a bench needs to reach.
func factsOf(b recipe.Bench, program, file string) unitFacts {
	f := unitFacts{Program: program, BenchFile: file, Bench: b.Name}
	if b.Simulated {
		return f
	}
	f.Lines, f.Buses = true, len(b.Board.Buses) > 0
	f.PWM = slices.ContainsFunc(b.Board.Outputs[:], func(o recipe.OutputWiring) bool { return o.Fitted && o.Drive == recipe.DrivePWM })
	return f
}

// Groups are those that may reach the devices.
func (f unitFacts) Groups() string {
	var groups []string
	if f.Lines || f.PWM {
		groups = append(groups, "gpio")
	}
	if f.Buses {
		groups = append(groups, "i2c")
	}
	return strings.Join(groups, " ")
}

// installed is one file, where it goes and what it says.
type installed struct{ path, text string }

// Where the service's files go.
const (
	unitPath  = "/etc/systemd/system/fullery.service"
	usersPath = "/etc/sysusers.d/fullery.conf"
	rulesPath = "/etc/udev/rules.d/60-fullery.rules"

	benchFolder = "/etc/fullery/"
)

// unitFiles are the files of a service. Those of the devices are left out where none is needed.
func unitFiles(f unitFacts) ([]installed, error) {
	files := []installed{{unitPath, unitText}, {usersPath, usersText}}
	if f.Groups() != "" {
		files = append(files, installed{rulesPath, rulesText})
	}
	for i := range files {
		t, err := template.New(files[i].path).Funcs(template.FuncMap{"quote": quoteUnit, "percent": percentUnit}).Parse(files[i].text)
		if err != nil {
			return nil, err
		}
		var text strings.Builder
		if err := t.Execute(&text, f); err != nil {
			return nil, err
		}
		files[i].text = text.String()
	}
	return files, nil
}

// quoteUnit writes an argument as a unit's command line has it (systemd.service(5), "Command lines").
func quoteUnit(s string) string {
	s = strings.NewReplacer(`\`, `\\`, `"`, `\"`, `%`, `%%`, `$`, `$$`).Replace(s)
	return fmt.Sprintf(`"%s"`, s)
}

// percentUnit writes text in which a percent sign stands for nothing else.
func percentUnit(s string) string { return strings.ReplaceAll(s, "%", "%%") }

// unitText is the unit. Every restriction stands because the program does without; what it needs is opened again by name.
const unitText = `# The bench {{percent .Bench}}, served. Made by: fullery install-service

[Unit]
Description=Fullery, bench {{percent .Bench}}
After=local-fs.target systemd-udevd.service
# A service that fails again and again must not clatter with the relays: after four starts within ten minutes it stays off
# until a person has looked (systemctl reset-failed fullery).
StartLimitIntervalSec=10min
StartLimitBurst=4

[Service]
Type=notify
NotifyAccess=main
ExecStart={{quote .Program}} serve --bench {{quote .BenchFile}}
# What a dead process leaves on, this switches off; it does nothing where another process owns the bench.
ExecStopPost={{quote .Program}} off --abandoned --bench {{quote .BenchFile}}
# 4: a person must act first; starting anew would not help.
Restart=on-failure
RestartPreventExitStatus=4
RestartSec=15s
# Fed by the control loop itself, four times in this. A process that hangs so that it cannot even die is killed two seconds
# later.
WatchdogSec=5s
TimeoutAbortSec=2s
TimeoutStartSec=2min
# A stop lets the fan clear what burns, for two minutes and six at most, and cool the heater, for five.
TimeoutStopSec=8min
KillMode=mixed

User=fullery
Group=fullery
{{- with .Groups}}
SupplementaryGroups={{.}}
{{- end}}
UMask=0007
StateDirectory=fullery
StateDirectoryMode=0750
Environment=XDG_DATA_HOME=%S
RuntimeDirectory=fullery
RuntimeDirectoryMode=0750

# The loop comes before what else the computer does.
Nice=-10
OOMScoreAdjust=-900

CapabilityBoundingSet=
NoNewPrivileges=yes
ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
PrivateNetwork=yes
RestrictAddressFamilies=AF_UNIX
IPAddressDeny=any
DevicePolicy=closed
{{- if .Lines}}
DeviceAllow=char-gpiochip rw
{{- end}}
{{- if .Buses}}
DeviceAllow=char-i2c rw
{{- end}}
{{- if not .Groups}}
PrivateDevices=yes
{{- end}}
ProtectClock={{if .Groups}}no{{else}}yes{{end}}
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
{{- if .PWM}}
# The board's own PWM is driven through files under /sys.
ProtectKernelTunables=no
{{- else}}
ProtectKernelTunables=yes
{{- end}}
ProtectProc=invisible
LockPersonality=yes
MemoryDenyWriteExecute=yes
RemoveIPC=yes
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
`

// usersText makes the user. Members of its group may give orders to the bench.
const usersText = `# The user that serves the bench. Made by: fullery install-service
u fullery - "Fullery bench" /var/lib/fullery
{{- range $g := .GroupList}}
g {{$g}} - -
m fullery {{$g}}
{{- end}}
`

// rulesText lets groups reach the devices, where the system does not do so already.
const rulesText = `# Who may reach the lines and buses of a bench. Made by: fullery install-service
{{- if .Lines}}
SUBSYSTEM=="gpio", KERNEL=="gpiochip*", GROUP="gpio", MODE="0660"
{{- end}}
{{- if .Buses}}
SUBSYSTEM=="i2c-dev", GROUP="i2c", MODE="0660"
{{- end}}
{{- if .PWM}}
SUBSYSTEM=="pwm", ACTION=="add|change", RUN+="/bin/chgrp -R gpio /sys%p", RUN+="/bin/chmod -R g=u /sys%p"
{{- end}}
`

// GroupList are the groups one by one.
func (f unitFacts) GroupList() []string { return strings.Fields(f.Groups()) }
