"""What the registry knows without any tool: values, rules and answers as pure functions."""
