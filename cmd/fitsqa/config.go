package main

import (
	"fmt"
	"os"

	"fitsqa/internal/config"
	"fitsqa/internal/night"
)

func loadConfig(path string, s *night.Settings) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("settings: %w", err)
	}
	if err := config.Decode(text, s, s.Consistent); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// set changes single settings, each written as a line of the settings file:
// "stars.threshold = 6".
func set(lines []string, s *night.Settings) error {
	for _, line := range lines {
		if err := config.Decode([]byte(line), s, nil); err != nil {
			return fmt.Errorf("--set %q: %w", line, err)
		}
	}
	return s.Validate()
}
