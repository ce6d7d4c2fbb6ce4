"""Following strips and scanners over time, from a log's rows."""
