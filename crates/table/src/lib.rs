//! The station table as a document: JSON, CSV, blade figures
