package configs

// Publish says where results are sent. A block left out: nothing is sent there.
type Publish struct {
	// MQTT is a broker.
	MQTT *MQTT `yaml:"mqtt"`
	// Series is a time-series store.
	Series *Series `yaml:"series"`
}

// MQTT is a broker that results are published to.
type MQTT struct {
	// URL of the broker, with host and port: tcp:// or mqtt:// plain, ssl://, tls:// or mqtts:// encrypted, ws:// or
	// wss:// over a web server.
	URL string `yaml:"url" schemes:"tcp,mqtt,ssl,tls,mqtts,ws,wss" needed:"true"`
	// Prefix is the first level of every topic.
	Prefix string `yaml:"prefix" name:"true"`
	// ClientID the broker knows this bridge by; no two clients may share one. Left out: prefix, site and bridge joined.
	ClientID string `yaml:"client_id"`
	// Username at the broker.
	Username string `yaml:"username"`
	// PasswordFile is the file that holds the password and nothing else.
	PasswordFile string `yaml:"password_file"`
	// PasswordEnv is the environment variable that holds the password.
	PasswordEnv string `yaml:"password_env" env:"true"`
	// TLS sets the certificates of an encrypted connection.
	TLS *TLS `yaml:"tls"`
	// LiveWithin is how old a result may be and still count as live; an older one goes to the backlog topic.
	LiveWithin Duration `yaml:"live_within" range:"[100ms,10m]"`
	// BacklogPerS is how many results per second of the backlog are sent at most, in 1/s.
	BacklogPerS float64 `yaml:"backlog_per_s" range:"[0.1,100000]"`

	// Requests are the users whose requests about limits are taken from the broker, on LIMIT/request/USER. MQTT hides who
	// publishes: the broker's own access list must let each of them write to that topic alone. Left out: none are taken.
	Requests []string `yaml:"requests" name:"true" min:"1" max:"100"`

	// Password is what password_file or password_env held.
	Password Secret `yaml:"-"`
}

// TLS names the certificates of an encrypted connection.
type TLS struct {
	// CAFile holds the certificates of the authorities that are trusted. Left out: those of the machine.
	CAFile string `yaml:"ca_file"`
	// CertFile holds this bridge's own certificate. Needs key_file.
	CertFile string `yaml:"cert_file"`
	// KeyFile holds the key of that certificate. Needs cert_file.
	KeyFile string `yaml:"key_file"`
}

// Series is a time-series store that takes line protocol.
type Series struct {
	// URL of the store: http:// or https:// with host and port.
	URL string `yaml:"url" schemes:"http,https" needed:"true"`
	// Org the bucket belongs to.
	Org string `yaml:"org"`
	// Bucket the results are written to.
	Bucket string `yaml:"bucket" needed:"true"`
	// TokenFile is the file that holds the access token and nothing else.
	TokenFile string `yaml:"token_file"`
	// TokenEnv is the environment variable that holds the access token.
	TokenEnv string `yaml:"token_env" env:"true"`
	// ReadBack is how often a few results that the store has acknowledged are asked back, to find those that it has dropped:
	// too old for it, or too far in the future. A drop that goes on is found within this time. 0s: never.
	ReadBack Duration `yaml:"read_back" range:"[0s,24h]"`
	// ReadBackURL is where the store is asked, where that is not the url it is written to.
	ReadBackURL string `yaml:"read_back_url" schemes:"http,https"`

	// Token is what token_file or token_env held.
	Token Secret `yaml:"-"`
}
