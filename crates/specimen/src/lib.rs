//! Invented blades and seeded scans of them: the truth that the measuring is tested against
