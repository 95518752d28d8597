package configs

// Operate is how a running bridge is looked at and worked with from its own machine.
type Operate struct {
	// Socket is the Unix socket that commands such as watch, zero and service talk to, open to the bridge's own user and
	// group. Left out: the path of the journal with .sock at its end.
	Socket string `yaml:"socket"`
}

// SocketPath is the control socket of this configuration.
func (c *Config) SocketPath() string {
	if c.Operate.Socket != "" {
		return c.Operate.Socket
	}
	return c.Journal.Path + ".sock"
}

// Nearest gives the word most like the one a person wrote, empty where none is near.
func Nearest(word string, words []string) string { return nearest(word, words) }
