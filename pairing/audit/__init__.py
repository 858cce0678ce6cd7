"""Many photographed pieces: grouped, read, judged against each other, reported."""
