"""Where alarms are heard."""
