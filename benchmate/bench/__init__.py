"""The live loop: sampler, tracker, guide, signals; no drawing."""
