"""Our own Code 128 decoder: beam search over a blurred profile (ISO/IEC 15417)."""
