package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"fitsqa/internal/night"
)

// loadConfig reads settings from a TOML file over those that s holds. A key
// that is not known is an error with its line, so that a typing mistake never
// passes as a setting.
func loadConfig(path string, s *night.Settings) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("configuration: %w", err)
	}
	if err := decodeConfig(text, s); err != nil {
		return fmt.Errorf("configuration %s: %w", path, err)
	}
	return nil
}

func decodeConfig(text []byte, s *night.Settings) error {
	d := toml.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	err := d.Decode(s)
	var unknown *toml.StrictMissingError
	var bad *toml.DecodeError
	switch {
	case errors.As(err, &unknown) && len(unknown.Errors) > 0:
		row, col := unknown.Errors[0].Position()
		return fmt.Errorf("line %d, column %d: unknown key %q", row, col, keyName(unknown.Errors[0].Key()))
	case errors.As(err, &bad):
		row, col := bad.Position()
		return fmt.Errorf("line %d, column %d: %w", row, col, err)
	case err != nil:
		return err
	}
	return s.Validate()
}

func keyName(key toml.Key) string { return strings.Join(key, ".") }
