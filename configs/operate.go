package configs

// Operate is how a running bridge is looked at and worked with from its own machine.
type Operate struct {
	// Socket is the Unix socket that commands such as watch, zero and service talk to, open to the bridge's own user and
	// group. Left out: the path of the journal with .sock at its end.
	Socket string `yaml:"socket"`
	// Listen is the address and port at which /healthz and /metrics are answered, without a password, as 127.0.0.1:9464.
	// Left out: nowhere.
	Listen string `yaml:"listen"`
	// ListenAnywhere allows listen to be an address that other machines reach. Whoever reaches it reads the names of
	// instruments and how they are.
	ListenAnywhere bool `yaml:"listen_anywhere"`
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
