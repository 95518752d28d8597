package main

import (
	"context"
	"fmt"
	"os"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/zeroing"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// loadConfig reads a configuration as this machine would. skipSecrets is for commands that connect to nothing.
func loadConfig(path string, skipSecrets bool) (*configs.Config, error) {
	host, err := os.Hostname()
	if err != nil {
		host = "" // the configuration must then name the bridge, and says so
	}
	c, err := configs.Load(path, configOptions(host, skipSecrets))
	if err != nil {
		return nil, notStarted(err)
	}
	return c, nil
}

func configOptions(host string, skipSecrets bool) configs.Options {
	return configs.Options{
		HostName:    host,
		SkipSecrets: skipSecrets,
		PressureUnit: func(unit string) error {
			_, err := quantity.ParseDifferentialPressure("1 " + unit)
			return err
		},
	}
}

// instrument is one configured instrument with its converter.
type instrument struct {
	name      string
	converter *convert.Converter
	set       assemble.Set
}

// assembleAll builds every converter, or says which instrument cannot be computed.
func assembleAll(c *configs.Config) (map[string]*instrument, error) {
	all := make(map[string]*instrument, len(c.Instruments))
	for i := range c.Instruments {
		in := &c.Instruments[i]
		conv, err := assemble.Converter(c, in)
		if err != nil {
			return nil, notStarted(fmt.Errorf("configuration: %w", err))
		}
		set, err := assemble.CoefficientSet(c, in)
		if err != nil {
			return nil, notStarted(err)
		}
		all[in.Name] = &instrument{in.Name, conv, set}
	}
	return all, nil
}

// loadHeld is loadConfig with the zeros that were taken on the bridge in the place of those in the file, and what there is
// to say of each.
func loadHeld(ctx context.Context, path string, skipSecrets bool) (*configs.Config, map[string]*zeroing.Held, error) {
	c, err := loadConfig(path, skipSecrets)
	if err != nil {
		return nil, nil, err
	}
	with, held, err := zeroing.Load(ctx, c)
	if err != nil {
		return nil, nil, notStarted(err)
	}
	return with, held, nil
}
