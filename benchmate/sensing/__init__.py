"""The arm angle: bus, chips, mount, estimator."""
